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
	Landform   landform.Kind `json:"landform"`
	Mark       Place         `json:"mark"`
	Confidence float64       `json:"confidence"`
	ReliefM    float64       `json:"relief_m"`
	SizeM      float64       `json:"size_m"`
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
	others := "kind of landform"
	if len(f.Line) == 0 {
		others = "hilltop, saddle, depression or cliff"
	}
	return &Question{
		Text:    fmt.Sprintf("What is the landform at A: %s?", list),
		Figure:  &Figure{Centre: mark, Marks: []Place{mark}},
		Answer:  fmt.Sprintf("A %s.", f.Kind),
		Working: []string{definitions[f.Kind], "Found here: " + f.Reason + "."},
		Margin:  fmt.Sprintf("confidence %.2f, at least %.2f is asked; no other %s within %s of A", f.Confidence, leastConfidence, others, s.distance(math.Floor(apart/10)*10)),
		Data:    LandformAnswer{Landform: f.Kind, Mark: mark, Confidence: f.Confidence, ReliefM: f.Relief, SizeM: f.Size},
	}, nil
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
// them that no answer but one is right.
func (s *survey) mark(f landform.Feature) (at geodesy.LatLon, apart float64, ok bool) {
	candidates := []landform.Position{{Column: float64(f.Column), Row: float64(f.Row)}}
	line := len(f.Line) > 0
	if line {
		// the middle half of it, where it is most itself
		candidates = f.Line[len(f.Line)/4 : len(f.Line)-len(f.Line)/4]
	}
	apart = -1
	for _, c := range candidates {
		p, err := s.grid.Place(c.Column, c.Row)
		if err != nil {
			continue
		}
		nearest := math.Inf(1)
		for _, o := range s.features {
			if o.Kind == f.Kind {
				continue
			}
			// A hill stands on its ridge and a saddle in it: lines do not
			// compete with points.
			if !line && len(o.Line) > 0 {
				continue
			}
			places := o.Line
			if len(places) == 0 {
				places = []landform.Position{{Column: float64(o.Column), Row: float64(o.Row)}}
			}
			for _, q := range places {
				if math.Hypot(q.Column-c.Column, q.Row-c.Row)*s.spacing > nearest*2 {
					continue
				}
				there, err := s.grid.Place(q.Column, q.Row)
				if err != nil {
					continue
				}
				nearest = min(nearest, geodesy.Inverse(p, there).Distance)
			}
		}
		if nearest > apart {
			apart, at = nearest, p
		}
	}
	apart = min(apart, 2*s.along.Scale) // "within" more than that says nothing
	return at, apart, apart >= 0.3*s.along.Scale
}
