package drill

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"crowline/dem/geodesy"
	"crowline/profile"
)

// ClimbAnswer is the data of a question of kind Climb.
type ClimbAnswer struct {
	// Least is the letter of the destination that climbs least.
	Least string      `json:"least" means:"The letter of the destination that climbs least."`
	Legs  []ClimbedBy `json:"legs" means:"The legs."`
}

// ClimbedBy is one leg of a question of kind Climb.
type ClimbedBy struct {
	To string `json:"to" means:"The letter of its destination."`
	// Up and Down are the contours crossed; AscentM is what they come to and
	// TrueM the ground's ascent as a leg counts it (profile.DeadBand), metres.
	Up      int     `json:"contours_up" means:"Contour lines crossed upwards."`
	Down    int     `json:"contours_down" means:"Contour lines crossed downwards."`
	AscentM float64 `json:"counted_ascent_m" means:"What the lines crossed upwards come to."`
	TrueM   float64 `json:"ascent_m" means:"The ascent of the ground, as leg counts it: wiggles under the dead band left out."`
	SigmaM  float64 `json:"sigma_m" means:"One standard deviation of that."`
}

const (
	// linesApart is how many contours the least climb is below the next.
	linesApart = 2
	// climbsApart is how many of its standard deviations the difference is.
	climbsApart = 3
	// mostLines crossed on a leg that a student can be asked to count.
	mostLines = 40
)

// legsAsked is how many legs there are to choose from.
func (s *survey) legsAsked() int {
	switch s.o.Level {
	case Beginner:
		return 2
	case Intermediate:
		return 3
	}
	return 4
}

func (s *survey) climb(ctx context.Context, r *rand.Rand) (*Question, error) {
	a, ok := s.post(r)
	if !ok || !s.mapped(a) {
		return nil, nil
	}
	n := s.legsAsked()
	figure := &Figure{Centre: s.place("", a), Marks: []Place{s.place("A", a)}}
	var legs []*profile.Leg
	turn := 360 * r.Float64()
	length := s.paper(fanLeg * (0.75 + 0.25*r.Float64()))
	for i := range n {
		bearing := turn + float64(i)*360/float64(n) + (r.Float64()-0.5)*180/float64(n)
		far, _ := geodesy.Direct(a, geodesy.NewTrueBearing(geodesy.Degrees(bearing)), length*(0.85+0.15*r.Float64()))
		b, ok := s.nearestPost(far)
		if !ok {
			return nil, nil
		}
		leg, err := profile.Trace(ctx, s.grid, a, b)
		if err != nil {
			return nil, err
		}
		legs = append(legs, leg)
		figure.Marks = append(figure.Marks, s.place(string(rune('B'+i)), b))
		figure.Legs = append(figure.Legs, [2]int{0, i + 1})
	}
	for _, leg := range legs {
		if !s.countable(leg) {
			return nil, nil
		}
	}
	data := ClimbAnswer{}
	least, next := 0, -1
	var sigma []float64
	for i, leg := range legs {
		lines := s.levels.CountAlong(s.grid, positions(leg))
		up, down := lines.Up, lines.Down
		c := leg.Climb(s.deadBand, s.o.VerticalError)
		if up+down > mostLines || lines.AtLeast {
			return nil, nil
		}
		// Where small rises between two lines come to more than the count can
		// be out by, a right count is not the climb of the ground.
		ascent := float64(up) * s.interval()
		if within := s.levels.Climb(lines, 0).AscentWithin; math.Abs(c.Ascent-ascent) > max(s.interval(), within) {
			return nil, nil
		}
		data.Legs = append(data.Legs, ClimbedBy{To: figure.Marks[i+1].Name, Up: up, Down: down, AscentM: ascent, TrueM: c.Ascent, SigmaM: c.Error})
		sigma = append(sigma, c.Error)
		if up < data.Legs[least].Up {
			least = i
		}
	}
	if data.Legs[least].Up == 0 {
		return nil, nil // nothing to count
	}
	clear := math.Inf(1)
	for i, l := range data.Legs {
		if i == least {
			continue
		}
		apart := l.TrueM - data.Legs[least].TrueM
		if l.Up < data.Legs[least].Up+linesApart || apart < climbsApart*math.Hypot(sigma[i], sigma[least]) {
			return nil, nil
		}
		clear = min(clear, apart)
		if next < 0 || l.Up < data.Legs[next].Up {
			next = i
		}
	}
	data.Least = data.Legs[least].To
	var names, working []string
	for _, l := range data.Legs {
		names = append(names, "A–"+l.To)
		working = append(working, fmt.Sprintf("A–%s: %s up, %d down: climbs %s. (On the ground, rises under %s left out: %s ± %s%s.)",
			l.To, contours(l.Up), l.Down, s.climbed(l.Up), s.vertical(s.deadBand), s.vertical(l.TrueM), s.vertical(l.SigmaM), s.ifAssumed(", assumed")))
	}
	best := data.Legs[least]
	return &Question{
		Text: fmt.Sprintf("Which of the straight legs %s climbs least? How much does it climb, counting contours? The interval is %s %s.", list(names), number(s.levels.Interval), s.levels.Unit),
		Reading: fmt.Sprintf("Count every contour crossed going up, and none crossed going down. A count one contour out, %s %s, is right.",
			number(s.levels.Interval), s.levels.Unit),
		Figure: figure,
		Answer: fmt.Sprintf("A–%s: %s up, %s.", best.To, contours(best.Up), s.climbed(best.Up)),
		Working: append(working,
			fmt.Sprintf("The next is A–%s, %d contours more.", data.Legs[next].To, data.Legs[next].Up-best.Up)),
		Margin: fmt.Sprintf("the next climbs %s more, at least %d contours and %d standard deviations are asked", s.vertical(clear), linesApart, climbsApart),
		Data:   data,
	}, nil
}

const (
	// endMM is how far from a leg's end the first contour is, millimetres.
	endMM = 0.8
	// grazing is how near to a contour, of the interval, a leg must not turn.
	grazing = 0.05
)

// countable reports whether the contours a leg crosses can be counted without
// doubt: none under the dots at its ends, none that it only grazes, none on
// filled ground.
func (s *survey) countable(leg *profile.Leg) bool {
	if len(leg.Filled()) > 0 {
		return false
	}
	profiled := crossings(leg, s.levels)
	// A line only clipped, in a saddle's corner or along an edge that just
	// touches a level, shows in one and not in the other.
	if lines := s.levels.CountAlong(s.grid, positions(leg)); lines.Up+lines.Down != len(profiled) {
		return false
	}
	for _, c := range profiled {
		if c.distance < s.paper(endMM) || c.distance > leg.Distance-s.paper(endMM) {
			return false
		}
	}
	points := leg.Points
	for i, p := range points {
		end := i == 0 || i == len(points)-1
		if !end && (p.Elevation-points[i-1].Elevation)*(points[i+1].Elevation-p.Elevation) > 0 {
			continue // neither an end nor a turn
		}
		over := (p.Elevation - s.levels.Elevation(s.levels.Below(p.Elevation))) / s.interval()
		if over < grazing || over > 1-grazing {
			return false
		}
	}
	return true
}

func contours(n int) string {
	if n == 1 {
		return "1 contour"
	}
	return fmt.Sprintf("%d contours", n)
}

func list(names []string) string {
	out := names[0]
	for i, n := range names[1:] {
		if i == len(names)-2 {
			out += " and " + n
		} else {
			out += ", " + n
		}
	}
	return out
}
