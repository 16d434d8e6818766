package cli

import (
	"crowline/dem/landform"
	"crowline/visibility"
)

// markFlags choose what may serve as a mark.
const (
	// leastProminence is how far a summit must stand above its saddle to be a
	// mark, metres, when the data's error does not ask for more.
	leastProminence = 20.0
	// markMargin is how far beyond a leg marks are looked for, metres: half
	// the leg again, and not under this.
	markMargin = 5000.0
)

// withPlaces are summits and the user's named places.
func withPlaces(summits []landform.Summit, places *placeFlags) ([]visibility.Candidate, error) {
	out := visibility.SummitCandidates(summits)
	named, err := places.all()
	if err != nil {
		return nil, err
	}
	for _, p := range named {
		c := visibility.PlaceCandidate(p.Name, p.LatLon)
		if p.Kind != "" {
			c.Kind = p.Kind
		}
		if p.Elevation != nil {
			c.Elevation = *p.Elevation
		}
		out = append(out, c)
	}
	return out, nil
}

// prominence is the least a summit needs: twice the data's error, so that it
// is not a wiggle of it, and leastProminence.
func (g *ground) prominence() float64 { return max(leastProminence, 2*g.verticalError) }
