package cli

import (
	"context"

	"crowline/dem/geodesy"
	"crowline/visibility"
	"crowline/visibility/chain"
)

// lookOver looks at each mark of the chain over the cover from where it is
// chosen: the chain itself is made over the bare ground.
func (a *legAnswer) lookOver(ctx context.Context, g *ground, over *cover, observer visibility.Observer) error {
	posts := g.posts(ctx)
	for i, s := range a.wayside.plan.Steps {
		if s.Mark == nil {
			continue
		}
		chosen := visibility.Observer{Place: a.leg.PlaceAt(s.From), EyeAboveGround: observer.EyeAboveGround}
		at := a.placeOf(*s.Mark)
		if geodesy.Inverse(chosen.Place, at).Distance < samePlace {
			continue
		}
		seen, err := over.look(ctx, posts, at, chosen, a.conditions, visibility.Visible)
		if err != nil {
			return err
		}
		a.Chain.Steps[i].OverCover = seen
	}
	return nil
}

// placeOf is where a mark of the chain stands.
func (a *legAnswer) placeOf(m chain.Mark) geodesy.LatLon {
	at := a.leg.PlaceAt(m.Distance)
	if m.Distance < 0 || m.Distance > a.leg.Distance {
		at, _ = geodesy.Direct(a.leg.From, a.leg.Start, m.Distance)
	}
	if m.Offset == 0 {
		return at
	}
	onward := a.leg.Start
	if m.Distance > samePlace {
		onward = geodesy.Inverse(at, a.leg.From).Start + 180
	}
	beside, _ := geodesy.Direct(at, onward+90, m.Offset)
	return beside
}
