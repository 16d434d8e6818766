package cli

import (
	"context"

	"github.com/spf13/cobra"

	"crowline/dem/geodesy"
)

// The demo's leg: real ground, invented camp and hollow.
var (
	demoFrom = namedPlace{"Ridge camp", geodesy.LatLon{Lat: 36.32640, Lon: -84.39600}}
	demoTo   = namedPlace{"Fern hollow", geodesy.LatLon{Lat: 36.37180, Lon: -84.38220}}
)

func newDemoCmd(s Streams) *cobra.Command {
	var output outputFlags
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "The main job on the demo data built in",
		Long: `Work out one leg on the elevation data built in: 29 by 32 km of the Cumberland
Mountains in Tennessee (SRTM, public domain). The ground is real; the camp,
the hollow and the walk are invented.`,
		Example: `  crowline demo
  crowline demo --units us`,
		Args: exactArgs(0, "no arguments"),
		RunE: func(cmd *cobra.Command, args []string) error { return demoRun(cmd.Context(), s, output) },
	}
	output.add(cmd)
	return cmd
}

func demoRun(ctx context.Context, s Streams, output outputFlags) error {
	u, err := output.choose()
	if err != nil {
		return err
	}
	o := &legOptions{question: question{streams: s, output: output}, walk: defaultWalk(), marks: 3}
	o.sight, o.ground.demo = defaultSight(), true
	g, err := o.ground.openLeg(ctx, s, demoFrom.LatLon, demoTo.LatLon)
	if err != nil {
		return err
	}
	defer g.Close()
	a, err := answerLeg(ctx, o, g, u, demoFrom, demoTo)
	if err != nil {
		return err
	}
	if output.json {
		return writeJSON(s.Out, a)
	}
	p := &page{w: s.Out}
	p.note("A class camps on a spur in the Cumberland Mountains. Tomorrow it walks off trail, straight to a hollow on the far side of the ridge. The ground is real; camp and hollow are invented.")
	a.write(p, u, o.marks)
	p.head("Next")
	p.printf(`  crowline leg    36.32640,-84.39600 36.37180,-84.38220 --plot leg.svg
  crowline sheet  36.32640,-84.39600 36.37180,-84.38220 -o leg.pdf
  crowline landmarks 36.32640,-84.39600 --bearing 14
`)
	return p.err
}
