package cli

import (
	"context"

	"github.com/spf13/cobra"

	"crowline/cmd/internal/answer"
	"crowline/cmd/internal/report"
)

type declinationOptions struct {
	streams Streams
	places  placeFlags
	output  outputFlags
	needle  needleFlags

	place     string
	elevation float64
}

func newDeclinationCmd(s Streams, runF func(context.Context, *declinationOptions) error) *cobra.Command {
	o := &declinationOptions{streams: s}
	if runF == nil {
		runF = declinationRun
	}
	cmd := &cobra.Command{
		Use:   "declination PLACE",
		Short: "Magnetic declination and grid convergence at a place",
		Long: `Give the magnetic declination at a place on a day by the World Magnetic Model
2025 (NOAA NCEI and BGS), with its error and yearly change; the convergence of
the UTM grid there; and the angle between grid and magnetic north, which is
what a map's north diagram shows. Angles are positive east. With --declination
it is your figure that is turned, on any day.`,
		Example: `  crowline declination 34.3297,-118.0548
  crowline declination -41.3,174.7 --date 2027-06-01 --json`,
		Args: exactArgs(1, "one place"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.place = args[0]
			return runF(cmd.Context(), o)
		},
	}
	o.places.add(cmd)
	o.output.add(cmd)
	o.needle.add(cmd)
	cmd.Flags().Var(newLength(0, &o.elevation).within(from(-100e3, 100e3)), "elevation", "elevation of the place; 1 km of it moves the answer by about 0.01°")
	return cmd
}

func declinationRun(_ context.Context, o *declinationOptions) error {
	place, err := o.places.place(o.place)
	if err != nil {
		return err
	}
	needle, err := o.needle.needle(o.streams)
	if err != nil {
		return err
	}
	if _, err := o.output.system(); err != nil {
		return err
	}
	a, err := answer.Declination(answer.DeclinationRequest{Place: place, Elevation: o.elevation, Needle: needle})
	if err != nil {
		return err
	}
	return o.output.writeAnswer(o.streams, a, func(p *report.Page) { report.Declination(p, a) })
}
