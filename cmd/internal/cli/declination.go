package cli

import (
	"context"
	"fmt"
	"math"
	"time"

	"github.com/spf13/cobra"

	"crowline/dem/geodesy"
	"crowline/profile/magnetic"
)

// declinationJSON is the declination part of an answer.
type declinationJSON struct {
	Deg             float64 `json:"deg"`
	SigmaDeg        float64 `json:"sigma_deg"`
	AnnualChangeDeg float64 `json:"annual_change_deg"`
	Model           string  `json:"model"`
	Date            string  `json:"date"`
	Zone            string  `json:"zone"`
}

// describeDeclination is nil where the model has no answer.
func describeDeclination(f magnetic.Field, err error, day time.Time) *declinationJSON {
	if err != nil {
		return nil
	}
	return &declinationJSON{
		Deg: *rounded(float64(f.Declination), 3), SigmaDeg: *rounded(float64(f.DeclinationSigma), 2),
		AnnualChangeDeg: *rounded(float64(f.AnnualChange), 3), Model: "WMM2025", Date: day.Format("2006-01-02"), Zone: f.Zone.String(),
	}
}

// zoneWarning is the model's caution for weak horizontal fields, or "".
func zoneWarning(f magnetic.Field) string {
	if f.Zone == magnetic.Caution {
		return "the horizontal field here is weak (2000 to 6000 nT): a compass swings slowly and may be off by more than stated"
	}
	return ""
}

type declinationOptions struct {
	streams Streams
	places  placeFlags
	output  outputFlags
	date    dateFlag

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
what a map's north diagram shows. Angles are positive east.`,
		Example: `  crowline declination 36.26,-84.295
  crowline declination -41.3,174.7 --date 2027-06-01 --json`,
		Args: exactArgs(1, "one place"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.place = args[0]
			return runF(cmd.Context(), o)
		},
	}
	o.places.add(cmd)
	o.output.add(cmd)
	o.date.add(cmd)
	cmd.Flags().Var(newLength(0, &o.elevation).within(from(-100e3, 100e3)), "elevation", "elevation of the place; 1 km of it moves the answer by about 0.01°")
	return cmd
}

type declinationAnswer struct {
	Place           place           `json:"place"`
	Declination     declinationJSON `json:"declination"`
	InclinationDeg  float64         `json:"inclination_deg"`
	HorizontalNT    float64         `json:"horizontal_nt"`
	Grid            string          `json:"grid,omitempty"`
	ConvergenceDeg  *float64        `json:"convergence_deg"`
	GridMagneticDeg *float64        `json:"grid_magnetic_deg"`
}

func declinationRun(_ context.Context, o *declinationOptions) error {
	if _, err := o.output.choose(); err != nil {
		return err
	}
	p, err := o.places.resolve(o.place)
	if err != nil {
		return err
	}
	day, err := o.date.day(o.streams)
	if err != nil {
		return err
	}
	field, err := magnetic.WMM2025.At(p.LatLon, o.elevation, day)
	if err != nil {
		return err
	}
	a := declinationAnswer{
		Place: describePlace(p, math.NaN()), Declination: *describeDeclination(field, nil, day),
		InclinationDeg: *rounded(float64(field.Inclination), 2), HorizontalNT: *rounded(field.Horizontal, 1),
	}
	b := magnetic.Follow(geodesy.Geodesic{}, p.LatLon, p.LatLon, o.elevation, day)
	if b.GridError == nil {
		a.Grid, a.ConvergenceDeg = b.GridName, rounded(float64(b.Convergence), 3)
		a.GridMagneticDeg = rounded(float64(field.Declination.GridMagnetic(b.Convergence)), 3)
	}
	if o.output.json {
		return writeJSON(o.streams.Out, a)
	}
	out := &page{w: o.streams.Out}
	out.head("Declination")
	out.line("place", "%s", a.Place.text(units{}))
	out.line("magnetic", "%s of true north on %s, ± %.1f (one standard deviation), moving %s a year; WMM2025",
		eastWest(a.Declination.Deg), a.Declination.Date, a.Declination.SigmaDeg, eastWestFine(a.Declination.AnnualChangeDeg))
	if b.GridError == nil {
		out.line("grid", "north of %s is %s of true north", a.Grid, eastWest(*a.ConvergenceDeg))
		out.line("grid to mag", "magnetic north is %s of grid north", eastWest(*a.GridMagneticDeg))
	} else {
		out.line("grid", "none: %v", b.GridError)
	}
	switch field.Zone {
	case magnetic.Blackout:
		out.line("warning", "%v", magnetic.ErrBlackout)
	case magnetic.Caution:
		out.line("warning", "%s", zoneWarning(field))
	}
	out.head("In use")
	d := a.Declination.Deg
	out.note("From true to magnetic: %s. From magnetic to true: %s.", rule(-d), rule(d))
	if a.GridMagneticDeg != nil {
		out.note("From grid to magnetic: %s. From magnetic to grid: %s.", rule(-*a.GridMagneticDeg), rule(*a.GridMagneticDeg))
	}
	out.note("Local iron, rock and power lines pull a compass further; the model knows nothing of them.")
	return out.err
}

// rule says what to do with a bearing to change its north.
func rule(d float64) string {
	r := math.Round(math.Abs(d)*10) / 10
	switch {
	case r == 0:
		return "no change"
	case d > 0:
		return fmt.Sprintf("add %.1f°", r)
	}
	return fmt.Sprintf("take away %.1f°", r)
}
