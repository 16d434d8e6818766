package cli

import (
	"cmp"
	"context"
	"math"
	"slices"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// mostKnown is how many places of known elevation the data is held against:
// enough for a middle one, and few enough to read.
const mostKnown = 15

// doubtUnit holds the data against places of known elevation given by the
// user, those nearest to what is asked about, and keeps the doubt there is.
func (g *ground) doubtUnit(ctx context.Context, given *placeFlags, about []geodesy.LatLon) error {
	if given == nil {
		return nil
	}
	places, err := given.all()
	if err != nil {
		return err
	}
	layout := g.source.Layout()
	var known []dem.Known
	for _, p := range places {
		if p.Elevation == nil {
			continue
		}
		if column, row, err := layout.Locate(p.LatLon); err == nil && layout.Contains(column, row) {
			known = append(known, dem.Known{Name: p.Name, Place: p.LatLon, Elevation: *p.Elevation})
		}
	}
	if len(known) == 0 {
		return nil
	}
	if len(known) > mostKnown {
		if len(about) == 0 { // all of the data is asked about: all over it
			step := len(known) / mostKnown
			for i := range mostKnown {
				known[i] = known[i*step]
			}
		} else {
			off := func(k dem.Known) float64 {
				nearest := math.Inf(1)
				for _, p := range about {
					nearest = min(nearest, geodesy.Inverse(p, k.Place).Distance)
				}
				return nearest
			}
			slices.SortStableFunc(known, func(a, b dem.Known) int { return cmp.Compare(off(a), off(b)) })
		}
		known = known[:mostKnown]
	}
	g.doubt = dem.UnitDoubt(g.posts(ctx), g.source.Info().VerticalUnit, known)
	return ctx.Err()
}

// warnings are the data's, and what the user's places make doubtful.
func (g *ground) warnings(info dem.Info) []string {
	if g.doubt == "" {
		return info.Warnings
	}
	return append(slices.Clone(info.Warnings), g.doubt)
}
