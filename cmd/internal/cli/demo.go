package cli

import (
	"context"
	"math"

	"github.com/spf13/cobra"

	"crowline/cmd/internal/answer"
	"crowline/cmd/internal/report"
	"crowline/dem/geodesy"
)

// The demo's leg: real ground, invented camp and bench. It was searched for
// over the data: the bench is hidden at first behind a ridge, comes into view
// from there and is lost again; a summit by the ridge can be sighted from the
// camp; and the line climbs out of a canyon over steep ground.
var (
	demoFrom = answer.Place{Name: "Saddle camp", LatLon: geodesy.LatLon{Lat: 34.3297, Lon: -118.0548}, Elevation: math.NaN()}
	demoTo   = answer.Place{Name: "Pine bench", LatLon: geodesy.LatLon{Lat: 34.3008, Lon: -118.0514}, Elevation: math.NaN()}
)

func newDemoCmd(s Streams) *cobra.Command {
	var output outputFlags
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "The main job on the demo data built in",
		Long: `Work out one leg on the elevation data built in: 19 by 19 km of the San
Gabriel Mountains in California (SRTM, public domain). The ground is real; the
camp, the bench and the walk are invented.`,
		Example: `  crowline demo
  crowline demo --units us`,
		Args: exactArgs(0, "no arguments"),
		RunE: func(cmd *cobra.Command, args []string) error { return demoRun(cmd.Context(), s, output) },
	}
	output.add(cmd)
	return cmd
}

func demoRun(ctx context.Context, s Streams, output outputFlags) error {
	q := question{streams: s, output: output, ground: groundFlags{demo: true}}
	u, err := output.system()
	if err != nil {
		return err
	}
	r := answer.LegRequest{From: demoFrom, To: demoTo, Sighting: answer.DefaultSighting(), Walk: answer.DefaultWalk(), Marks: 3}
	if r.Walk.Interval, err = (&intervalFlag{cmd: output.cmd}).request(u); err != nil {
		return err
	}
	if r.Needle, err = (&needleFlags{cmd: output.cmd}).needle(s); err != nil {
		return err
	}
	ctx, g, err := q.open(ctx, r.Reach())
	if err != nil {
		return err
	}
	defer g.Close()
	a, err := answer.Leg(ctx, g, r)
	if err != nil {
		return err
	}
	return output.writeAnswer(s, a, func(p *report.Page) {
		p.Note("A class camps by a saddle in the San Gabriel Mountains. Tomorrow it walks off trail, straight across a canyon and over a ridge to a bench on the far side. The ground is real; camp and bench are invented.")
		p.Raw("\n")
		report.Leg(p, a)
		p.Head("Next")
		p.Raw(`  crowline leg 34.3297,-118.0548 34.3008,-118.0514 --plot leg.svg
  crowline sheet 34.3297,-118.0548 34.3008,-118.0514 --scale 30000 -o leg.pdf
  crowline landmarks 34.3297,-118.0548 --bearing 174
The same on a map, in your browser, to drag and see:
  crowline desk
`)
	})
}
