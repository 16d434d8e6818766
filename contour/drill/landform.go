package drill

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"crowline/dem/geodesy"
	"crowline/dem/landform"
)

// LandformAnswer is the data of a question of kind Landform.
type LandformAnswer struct {
	Landform   landform.Kind `json:"landform" means:"What it is."`
	Mark       Place         `json:"mark" means:"The point."`
	Confidence float64       `json:"confidence" means:"How sure that is, from 0 to 1."`
	ReliefM    float64       `json:"relief_m" means:"By how much it stands out."`
	SizeM      float64       `json:"size_m" means:"How wide or long it is."`
}

// leastConfidence of a landform that is asked for.
const leastConfidence = 0.9

// definitions are the handbook's (TC 3-25.26), in a line each.
var definitions = map[landform.Kind]string{
	landform.Hill:       "Hill: from its top the ground falls in all directions; contours close round it, the highest in the middle.",
	landform.Saddle:     "Saddle: the low point between two higher places: high in two opposite directions, low in the two others; contours like an hourglass.",
	landform.Ridge:      "Ridge: a line of high ground, low on three sides; contours like a U or V whose closed end points away from high ground.",
	landform.Spur:       "Spur: a short, falling line of high ground off the side of a ridge; contours like a U or V that points away from high ground.",
	landform.Valley:     "Valley: high on three sides, with some level floor; contours like a U or V whose closed end points upstream, to high ground.",
	landform.Draw:       "Draw: like a valley with no level floor, sloping up on three sides; contours like a V that points to high ground.",
	landform.Depression: "Depression: from its bottom the ground rises in all directions; closed contours with ticks toward the low ground.",
	landform.Cliff:      "Cliff: ground so steep that contours touch or nearly touch.",
}

// majors are the landforms a beginner is asked for.
var majors = []landform.Kind{landform.Hill, landform.Saddle, landform.Ridge, landform.Valley, landform.Depression}

func (s *survey) landform(_ context.Context, r *rand.Rand) (*Question, error) {
	allowed, list := majors, "hill, saddle, ridge, valley or depression"
	if s.o.Level != Beginner {
		allowed = append(append([]landform.Kind{}, majors...), landform.Spur, landform.Draw, landform.Cliff)
		list = "hill, saddle, ridge, valley, depression, spur, draw or cliff"
	}
	// A kind first, so that the many draws do not crowd out the few hills.
	kind := allowed[r.IntN(len(allowed))]
	var of []landform.Feature
	for _, f := range s.features {
		if f.Kind == kind && f.Confidence >= leastConfidence && (kind != landform.Cliff || s.drawnCliff(f)) {
			of = append(of, f)
		}
	}
	if len(of) == 0 {
		return nil, nil
	}
	f := of[r.IntN(len(of))]
	at, apart, ok := s.mark(f)
	if !ok || geodesy.Inverse(s.o.Around, at).Distance > s.o.Radius || !s.mapped(at) || !s.measured(at, s.along.Scale) {
		return nil, nil
	}
	mark := s.place("A", at)
	others := "no other kind of landform"
	if len(f.Line) == 0 {
		others = "no " + otherPlaces[f.Kind]
	}
	return &Question{
		Text:    fmt.Sprintf("What is the landform at A: %s?", list),
		Figure:  &Figure{Centre: mark, Marks: []Place{mark}},
		Answer:  fmt.Sprintf("A %s.", f.Kind),
		Working: []string{definitions[f.Kind], "Found here: " + f.Reason.Text(s.lengths()) + "."},
		Margin:  fmt.Sprintf("confidence %.2f, at least %.2f is asked; %s within %s of A", f.Confidence, leastConfidence, others, s.distance(math.Floor(apart/10)*10)),
		Data:    LandformAnswer{Landform: f.Kind, Mark: mark, Confidence: f.Confidence, ReliefM: f.Relief, SizeM: f.Size},
	}, nil
}

// otherPlaces are the landforms that are no lines, but for one kind.
var otherPlaces = map[landform.Kind]string{
	landform.Hill: "saddle, depression or cliff", landform.Saddle: "hilltop, depression or cliff",
	landform.Depression: "hilltop, saddle or cliff", landform.Cliff: "hilltop, saddle or depression",
}

// drawnCliff reports whether the map shows a cliff as the handbook has it:
// three lines or more that all but touch. The data knows steep posts that at
// the map's scale and interval look like any slope.
func (s *survey) drawnCliff(f landform.Feature) bool {
	const touching = 0.5 // mm from line to line
	return f.Relief >= 3*s.interval() && s.interval()/f.Relief*s.spacing <= s.paper(touching)
}

// mark is where to put the letter of a feature: its own place, or of a line
// the post farthest from features of other kinds. It must be far enough from
// every part of them that no answer but one is right.
func (s *survey) mark(f landform.Feature) (at geodesy.LatLon, apart float64, ok bool) {
	candidates := []landform.Position{{Column: float64(f.Column), Row: float64(f.Row)}}
	line := len(f.Line) > 0
	if line {
		// the middle half of it, where it is most itself
		candidates = f.Line[len(f.Line)/4 : len(f.Line)-len(f.Line)/4]
	}
	rivals, err := s.near(candidates, func(o *landform.Feature) bool {
		// A hill stands on its ridge and a saddle in it: lines do not
		// compete with points.
		return o.Kind != f.Kind && (line || len(o.Line) == 0)
	})
	if err != nil {
		return at, 0, false
	}
	apart = -1
	for _, c := range candidates {
		p, err := s.grid.Place(c.Column, c.Row)
		if err != nil {
			continue
		}
		if nearest, err := s.clear(c, rivals); err == nil && nearest > apart {
			apart, at = nearest, p
		}
	}
	return at, apart, apart >= 0.3*s.along.Scale
}

// near are the features, of those that count, that come near enough to a path
// to matter to clear.
func (s *survey) near(path []landform.Position, counts func(*landform.Feature) bool) ([]*landform.Feature, error) {
	const more = 1.01 // a path's ruler is good to 0.1 %
	ruler, err := landform.NewRuler(&s.grid.Frame, more*2*s.along.Scale, path...)
	if err != nil {
		return nil, err
	}
	var out []*landform.Feature
	for i := range s.features {
		if f := &s.features[i]; counts(f) {
			_, near, err := ruler.Nearest(f)
			if err != nil {
				return nil, err
			}
			if near {
				out = append(out, f)
			}
		}
	}
	return out, nil
}

// clear is how far a place on the grid is from the nearest part of some
// features, and no more than twice the scale: "within" more than that says
// nothing.
func (s *survey) clear(at landform.Position, features []*landform.Feature) (float64, error) {
	nearest := 2 * s.along.Scale
	ruler, err := landform.NewRuler(&s.grid.Frame, nearest, at)
	if err != nil {
		return 0, err
	}
	for _, f := range features {
		n, near, err := ruler.Nearest(f)
		if err != nil {
			return 0, err
		}
		if near {
			nearest = min(nearest, n.Distance)
		}
	}
	return nearest, nil
}
