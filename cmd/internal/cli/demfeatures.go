package cli

import (
	"context"

	"github.com/spf13/cobra"

	"crowline/cmd/internal/answer"
	"crowline/cmd/internal/report"
)

const (
	// defaultFeatureRadius is how far round a place landforms are listed,
	// metres: about what a class walks in a morning.
	defaultFeatureRadius = 3000.0
	// maxFeatureRadius bounds the ground read, metres.
	maxFeatureRadius = 100e3
)

type demFeaturesOptions struct {
	streams Streams
	ground  groundFlags
	places  placeFlags
	output  outputFlags

	around        string
	radius        float64
	scale         float64
	relief        float64
	minConfidence float64
	kinds         []string
	out           string
	most          int
}

func newDEMFeaturesCmd(s Streams, runF func(context.Context, *demFeaturesOptions) error) *cobra.Command {
	o := &demFeaturesOptions{streams: s}
	if runF == nil {
		runF = demFeaturesRun
	}
	cmd := &cobra.Command{
		Use:   "features --around PLACE",
		Short: "List the landforms round a place",
		Long: `Find hills, saddles, ridges, spurs, valleys, draws, depressions and cliffs in
the elevation data: where each is, how large, by how much it stands out, how
sure that is and why. They are found at a scale, the distance within which a
shape must show, and stand out by a least relief; both are in the answer. One
is listed if any part of it is within --radius, and told from its nearest part.

They are told as a leg tells those it passes and a drill those it asks about.
The least relief is three times the data's stated vertical error and at least
20 m, unless --min-relief says otherwise. Less shows more and finds noise.

With -o the landforms are written as points, and ridges, spurs, valleys and
draws as lines too: GeoJSON and GeoPackage with every figure, GPX with names.
Figures in files are in metres, and reasons too but for GPX and KML. A .shp or
.fgb holds one shape: give it --kinds that are points
(hill,saddle,depression,cliff) or --kinds that are lines
(ridge,spur,valley,draw).`,
		Example: `  crowline dem features --around 34.3297,-118.0548 --radius 2km
  crowline dem features --around Camp --places trip.gpx --kinds hill,saddle
  crowline dem features --around 34.3297,-118.0548 -o landforms.geojson`,
		Args: exactArgs(0, "no places: say where with --around PLACE"),
		RunE: func(cmd *cobra.Command, _ []string) error { return runF(cmd.Context(), o) },
	}
	o.ground.add(cmd)
	o.places.add(cmd)
	o.output.add(cmd)
	cmd.Flags().StringVar(&o.around, "around", "", "the `place` to look round")
	cmd.Flags().Var(newLength(defaultFeatureRadius, &o.radius).within(above(0, maxFeatureRadius)), "radius", "how far round it")
	cmd.Flags().Var(newLength(0, &o.scale).within(above(0, maxFeatureRadius)), "scale", "distance within which a shape must show (default 500m, or six post spacings if that is more)")
	cmd.Flags().Lookup("scale").DefValue = ""
	cmd.Flags().Var(newLength(0, &o.relief).within(above(0, 10e3)), "min-relief", "least a landform must stand out by (default: three times the data's vertical error, at least 20m)")
	cmd.Flags().Lookup("min-relief").DefValue = ""
	cmd.Flags().Var(newNumber(0.5, &o.minConfidence, "a share", from(0, 1)), "min-confidence", "leave out landforms less sure than this `share`, from 0 to 1")
	cmd.Flags().StringSliceVar(&o.kinds, "kinds", nil, "only these `kinds`: hill, saddle, ridge, spur, valley, draw, depression, cliff")
	cmd.Flags().StringVarP(&o.out, "out", "o", "", "write them to `FILE`.geojson, .gpkg, .gpx, .kml, .fgb or .shp")
	namesFiles(cmd, filesWritten, "out")
	cmd.Flags().Var(newCount(8, &o.most, 0, mostInList), "most", "list at most this `number` of a kind in text")
	return cmd
}

// request is what the flags ask for.
func (o *demFeaturesOptions) request() (answer.FeaturesRequest, error) {
	r := answer.FeaturesRequest{Radius: o.radius, Scale: o.scale, MinRelief: o.relief, MinConfidence: o.minConfidence}
	if o.around == "" {
		return r, usageErrorf("say where to look with --around PLACE")
	}
	var err error
	if r.Kinds, err = answer.ParseLandformKinds(o.kinds); err != nil {
		return r, usageErrorf("--kinds %w", err)
	}
	if o.out != "" {
		if err := r.CheckFile(o.out); err != nil {
			return r, asked(err)
		}
		if err := checkFolder(o.out); err != nil {
			return r, err
		}
	}
	if r.Around, err = o.places.place(o.around); err != nil {
		return r, err
	}
	return r, asked(r.Check())
}

func demFeaturesRun(ctx context.Context, o *demFeaturesOptions) error {
	u, err := o.output.system()
	if err != nil {
		return err
	}
	r, err := o.request()
	if err != nil {
		return err
	}
	ctx, g, err := o.ground.ask(ctx, o.streams, r.Reach())
	if err != nil {
		return err
	}
	defer g.Close()
	a, err := answer.Features(ctx, g, r)
	if err != nil {
		if answer.IsWrongRequest(err) {
			return usageErrorf("--scale: %w", err) // all else is in range
		}
		return err
	}
	if o.out != "" {
		if err := a.Export(ctx, o.out, u); err != nil {
			return err
		}
	}
	return o.output.writeAnswer(o.streams, a, func(p *report.Page) { report.Features(p, a, o.most) })
}
