package drill

import (
	"math"

	"crowline/dem/geodesy"
	"crowline/profile"
	"crowline/visibility"
)

// gap is how far a line of sight passes over the ground at a place, metres;
// negative where the ground stands above it.
type gap struct{ distance, clearance float64 }

// clearances of a line of sight over every point of its leg, by the rule of
// visibility.Along: heights lowered by the Earth's curve less refraction, and
// the line straight.
func (s *survey) clearances(leg *profile.Leg, sight visibility.Sight) []gap {
	lowering := 1 - s.o.Refraction
	last := leg.Points[len(leg.Points)-1]
	target := sight.TargetElevation - lowering*last.Drop
	out := make([]gap, len(leg.Points))
	for i, p := range leg.Points {
		line := sight.EyeElevation + (target-sight.EyeElevation)*p.Distance/leg.Distance
		out[i] = gap{p.Distance, line - (p.Elevation - lowering*p.Drop)}
	}
	return out
}

// crest reports whether the ground at point i comes nearer to the line than
// before it and after it. The ends of the line are none: there the line
// starts at the eye and ends on the ground.
func crest(line []gap, i int) bool {
	return i > 0 && i+1 < len(line) && line[i].clearance <= line[i-1].clearance && line[i].clearance < line[i+1].clearance
}

// lowest is the crest of the whole line with the least clearance; false when
// the line has none.
func lowest(line []gap) (at int, ok bool) {
	for i := range line {
		if crest(line, i) && (!ok || line[i].clearance < line[at].clearance) {
			at, ok = i, true
		}
	}
	return at, ok
}

// above is the stretch of ground over a line of sight that holds a distance.
func above(line []gap, at float64) span {
	out := span{at, at}
	for _, g := range line {
		switch {
		case g.clearance >= 0 && g.distance > at:
			return out
		case g.clearance >= 0:
			out.low = g.distance
		}
		out.high = max(at, g.distance)
	}
	return out
}

// noneAbove reports whether no ground stands above the line outside a stretch.
func noneAbove(line []gap, but span) bool {
	for _, g := range line {
		if g.clearance < 0 && (g.distance < but.low || g.distance > but.high) {
			return false
		}
	}
	return true
}

// oneHider reports whether the ground at a distance, over which a line of
// sight does not pass, is all that hides its end: no other ground stands over
// the line, and none comes within margin of it, metres, that is parted from
// it by a dip of margin or of a good reading's error, the less. The ends of
// the line are left aside, where it starts and stops at the ground, unless
// the ground rises towards it there and falls again.
func (s *survey) oneHider(line []gap, at, margin float64) bool {
	if !noneAbove(line, above(line, at)) {
		return false
	}
	here := 0
	for i, g := range line {
		if math.Abs(g.distance-at) < math.Abs(line[here].distance-at) {
			here = i
		}
	}
	parted := min(margin, readingError*s.interval())
	length := line[len(line)-1].distance
	another := func(step int) bool {
		dip := line[here].clearance // the deepest between there and here
		for i := here + step; i >= 0 && i < len(line); i += step {
			d, c := line[i].distance, line[i].clearance
			end := d < s.inside() || d > length-s.inside()
			if c < margin && dip >= c+parted && (!end || crest(line, i)) {
				return true
			}
			dip = max(dip, c)
		}
		return false
	}
	return !another(1) && !another(-1)
}

const (
	// readingError of a height between contours, of the interval, is what the
	// quarter rule of the elevation questions comes to on an even slope.
	readingError = 0.25
	// worstClearance is how far a clearance read off a well drawn profile may
	// lie from the ground's, of the interval: three heights go into it. Where
	// it lies farther off, the contours do not show the ground that counts.
	worstClearance = 0.75
)

// readings of a leg are its profiles as drawn from the contours, well: the
// contours where they are crossed, the ends between theirs, and half an
// interval for a top or a hollow between two crossings of one contour; the
// ends and the tops read too high and too low by readingError.
func (s *survey) readings(leg *profile.Leg) []*profile.Leg {
	crossed := crossings(leg, s.levels)
	last := leg.Points[len(leg.Points)-1]
	end := func(p profile.Point, slip float64) profile.Point {
		j := s.levels.Below(p.Elevation)
		p.Elevation = min(max(p.Elevation+slip*s.interval(), s.levels.Elevation(j)), s.levels.Elevation(j+1))
		return p
	}
	point := func(distance, elevation float64) profile.Point {
		share := distance / leg.Distance
		return profile.Point{Distance: distance, Elevation: elevation, Drop: last.Drop * share * share}
	}
	var out []*profile.Leg
	for n := range 8 {
		slip := func(bit int) float64 {
			if n&bit != 0 {
				return readingError
			}
			return -readingError
		}
		drawn := *leg
		drawn.Points = []profile.Point{end(leg.Points[0], slip(1))}
		for i, c := range crossed {
			if i > 0 && crossed[i-1].level == c.level {
				top := (0.5 + slip(4)) * s.interval()
				if c.up {
					top = -top
				}
				drawn.Points = append(drawn.Points, point((crossed[i-1].distance+c.distance)/2, s.levels.Elevation(c.level)+top))
			}
			drawn.Points = append(drawn.Points, point(c.distance, s.levels.Elevation(c.level)))
		}
		drawn.Points = append(drawn.Points, end(last, slip(2)))
		out = append(out, &drawn)
	}
	return out
}

// span is from the least to the most that good readings come to.
type span struct{ low, high float64 }

// readClearance is what students' profiles make of a sight's clearance over its
// crest, truth. It is not ok when one gives another verdict than the ground does, passes the
// ground by less than a reading's error, or lies too far from the ground.
func (s *survey) readClearance(leg *profile.Leg, verdict visibility.Verdict, truth float64) (out span, ok bool, err error) {
	out = span{truth, truth}
	for _, drawn := range s.readings(leg) {
		sight, err := visibility.Along(drawn, s.observer(leg.From), s.conditions())
		if err != nil {
			return out, false, err
		}
		line := s.clearances(drawn, sight)
		i, any := lowest(line)
		if sight.Verdict != verdict || !any || math.Abs(line[i].clearance) < readingError*s.interval() {
			return out, false, nil
		}
		out = span{min(out.low, line[i].clearance), max(out.high, line[i].clearance)}
	}
	return out, max(truth-out.low, out.high-truth) <= worstClearance*s.interval(), nil
}

// readDestination is where a destination comes into view on a student's
// profiles. It is not ok where one has it in view from the start, more than
// once, or hidden by ground that does not stand over the line.
func (s *survey) readDestination(leg *profile.Leg, a geodesy.LatLon, hider span) (out span, ok bool, err error) {
	out = span{math.Inf(1), math.Inf(-1)}
	for _, drawn := range s.readings(leg) {
		sight, err := visibility.Along(drawn, s.observer(a), s.conditions())
		if err != nil {
			return out, false, err
		}
		if sight.Verdict != visibility.Hidden || sight.BlockedAt < hider.low || sight.BlockedAt > hider.high {
			return out, false, nil
		}
		at, once, err := s.comesIntoView(drawn, a, 0)
		if err != nil || !once {
			return out, false, err
		}
		out = span{min(out.low, at), max(out.high, at)}
	}
	return out, true, nil
}
