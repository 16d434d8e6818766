package answer

import (
	"cmp"
	"context"
	"slices"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/units"
	"crowline/profile/magnetic"
	"crowline/visibility/scene"
)

// ThingInView is something that can be picked out by looking, all round.
type ThingInView struct {
	// Its place in the list, from 1.
	Rank int `json:"rank"`
	SceneThing
	// Where it is.
	At Spot `json:"place"`

	view  *scene.View
	thing scene.Thing
}

// In says the same in a reader's units.
func (t *ThingInView) In(u units.System) string { return t.view.Describe(t.thing, u) }

// unsure is more than anything in view is worth: what may well not be seen comes
// after what will be.
const unsure = 1000

// inView are the things that can be picked out from a place, best first, no
// farther than the air lets one see: those more likely seen than not, where that
// is known.
func (g *Ground) inView(ctx context.Context, r LandmarksRequest, reach float64, grid *dem.Grid, field magnetic.Field, fieldError error) ([]ThingInView, error) {
	s, view, err := g.looking(ctx, r, reach, grid, field, fieldError)
	if err != nil {
		return nil, err
	}
	things := slices.Clone(view.Things)
	slices.SortStableFunc(things, func(a, b scene.Thing) int { return cmp.Compare(sightWorth(b, 0), sightWorth(a, 0)) })
	out := []ThingInView{}
	for _, t := range things {
		if t.Distance > s.far {
			continue
		}
		likely, seen, err := s.likely(ctx, view, t)
		if err != nil {
			return nil, err
		}
		if !seen {
			continue
		}
		out = append(out, ThingInView{SceneThing: *toldThing(view, t, nan, likely), At: spot(PlaceAt(t.Place), t.Elevation), view: view, thing: t})
		if len(out) == policy.InView {
			break
		}
	}
	worth := func(t ThingInView) float64 {
		w := sightWorth(t.thing, 0) * t.Likely.sure()
		if t.Likely.sure() < policy.SureEnough {
			w -= unsure
		}
		return w
	}
	slices.SortStableFunc(out, func(a, b ThingInView) int { return cmp.Compare(worth(b), worth(a)) })
	for i := range out {
		out[i].Rank = i + 1
		if out[i].Saddle, err = g.saddleOf(ctx, view, out[i].thing); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// seenAs are the things in view that marks are, by their places on the ground: a
// mark and a thing that stand within two posts of one another, or look the same
// way within a quarter of a degree and are as far off within a tenth, are one.
func seenAs(marks []Mark, things []ThingInView, spacing float64) {
	const apart, nearly = 0.25, 0.1 // degrees; of the distance
	for i := range marks {
		m := &marks[i]
		for k := range things {
			t := &things[k].thing
			off := geodesy.Difference(geodesy.TrueBearing(m.TrueDeg), t.Bearing)
			same := off >= -apart && off <= apart && t.Distance >= m.DistanceM*(1-nearly) && t.Distance <= m.DistanceM*(1+nearly)
			if m.TooSmall || t.Kind != scene.Top && t.Kind != scene.Known {
				continue
			}
			if same || geodesy.Inverse(t.Place, m.landmark.LookedAt).Distance <= 2*spacing {
				m.InViewRank = &things[k].Rank
				break
			}
		}
	}
}
