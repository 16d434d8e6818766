package drill

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"crowline/dem/geodesy"
)

// Size of a map that questions share, millimetres: over half of an A4 or
// letter page with its bands and scale bar, and nearly its width.
const (
	sharedWidth  = 178
	sharedHeight = 122
)

const (
	// mostShared questions on one map: with more, their legs and letters hide
	// the ground.
	mostShared = 6
	// edgeMM is how far a mark stands from the edge of a shared map, with room
	// for its letter, and marksMM from the marks of other questions:
	// two letters side by side.
	edgeMM  = 8
	marksMM = 8
	// legMM is how far a mark stands from the legs of other questions: its dot
	// and letter hide no contour that is counted on them.
	legMM = 6
	// triesOnShared are made for a place on a map that others are on, with so
	// many sight lines at most, before the whole ground is tried.
	triesOnShared = 300
	legsOnShared  = 6000
	// fullEnough is how many minutes of a sheet may be left over unsaid: fewer
	// than the longest question takes.
	fullEnough = 6
)

// MinutesOf is how long a question of a kind takes a class, minutes: common
// practice, rounded up.
func MinutesOf(k Kind) int {
	switch k {
	case Landform, BackBearing:
		return 1
	case Elevation, Norths, SlopeShape:
		return 2
	case Profile, PageBearing, GridReference, Water:
		return 3
	case Destination, DrawProfile:
		return 5
	}
	return 4 // Sight, Climb, Slope, WalkTime, Tracing, Resection, Intersection
}

// PointsOf is what a right answer to a question of a kind counts: one for what
// is seen or worked out at once, two for what is measured, three for what is
// drawn or counted along a line.
func PointsOf(k Kind) int {
	switch k {
	case Landform, BackBearing:
		return 1
	case Elevation, Norths, Profile, PageBearing, GridReference, SlopeShape:
		return 2
	}
	return 3
}

// answerLines are the lines a question of a kind leaves to write on.
func answerLines(k Kind) int {
	switch k {
	case Sight, Destination, SlopeShape, WalkTime:
		return 2 // two answers
	}
	return 1
}

func progressed(questions, spent int, o Options) (done, total int64) {
	if o.Minutes > 0 {
		return int64(spent), int64(o.Minutes)
	}
	return int64(questions), int64(o.Count)
}

// sharedMap is a map that several questions are asked on.
type sharedMap struct {
	centre    geodesy.LatLon
	plane     geodesy.Plane
	questions int
	marks     []geodesy.LatLon
	legs      [][2]geodesy.LatLon
}

// open is a new map about a question's figure; nil where the ground or the
// grid does not fill one.
func (s *survey) open(f *Figure) *sharedMap {
	centre := f.Centre.At()
	if s.zone == 0 || geodesy.UTMZone(centre) != s.zone || !s.covered(centre, sharedWidth, sharedHeight) {
		return nil
	}
	m := &sharedMap{centre: centre, plane: geodesy.NewPlane(centre)}
	if !s.holds(m, f) {
		return nil
	}
	return m
}

// holds reports whether a figure lies on a shared map, clear of its edge and
// of the other questions' marks.
func (s *survey) holds(m *sharedMap, f *Figure) bool {
	// One grid for the map and for every bearing read off it.
	if geodesy.UTMZone(f.Centre.At()) != s.zone {
		return false
	}
	centre, err := geodesy.ToUTMZone(m.centre, s.zone)
	if err != nil {
		return false
	}
	inside := func(place geodesy.LatLon) bool {
		at, err := geodesy.ToUTMZone(place, s.zone)
		return err == nil && math.Abs(at.Easting-centre.Easting) <= s.paper(sharedWidth/2-edgeMM) &&
			math.Abs(at.Northing-centre.Northing) <= s.paper(sharedHeight/2-edgeMM)
	}
	for _, place := range f.Within {
		if !inside(place) {
			return false
		}
	}
	for _, k := range f.Outline {
		if !inside(k.At()) {
			return false
		}
	}
	for _, k := range f.Marks {
		if !inside(k.At()) {
			return false
		}
		for _, other := range m.marks {
			if geodesy.Inverse(other, k.At()).Distance < s.paper(marksMM) {
				return false
			}
		}
		for _, leg := range m.legs {
			if toLeg(k.At(), leg) < s.paper(legMM) {
				return false
			}
		}
	}
	for _, l := range f.Legs {
		for _, other := range m.marks {
			if toLeg(other, [2]geodesy.LatLon{f.Marks[l[0]].At(), f.Marks[l[1]].At()}) < s.paper(legMM) {
				return false
			}
		}
	}
	return true
}

// toLeg is how far a place is from a straight leg, metres, on a plane about
// the place.
func toLeg(at geodesy.LatLon, leg [2]geodesy.LatLon) float64 {
	plane := geodesy.NewPlane(at)
	ax, ay := plane.Forward(leg[0])
	bx, by := plane.Forward(leg[1])
	dx, dy := bx-ax, by-ay
	t := min(1, max(0, -(ax*dx+ay*dy)/(dx*dx+dy*dy)))
	return math.Hypot(ax+t*dx, ay+t*dy)
}

// add puts a figure on a shared map, the ith.
func (s *survey) add(m *sharedMap, i int, f *Figure) {
	m.questions++
	for _, k := range f.Marks {
		m.marks = append(m.marks, k.At())
	}
	for _, l := range f.Legs {
		m.legs = append(m.legs, [2]geodesy.LatLon{f.Marks[l[0]].At(), f.Marks[l[1]].At()})
	}
	f.Map = i + 1
}

// share puts the questions in the order they are printed in, those of a map
// together, and numbers them. A map with one question is a small one.
func (s *survey) share(set *Set) {
	number := make([]int, len(s.maps)+1)
	for i, m := range s.maps {
		if m.questions > 1 {
			set.Maps = append(set.Maps, s.place("", m.centre))
			number[i+1] = len(set.Maps)
		}
	}
	order := func(q Question) int {
		switch {
		case q.Figure == nil:
			return len(s.maps) + 2
		case q.Figure.Map == 0:
			return len(s.maps) + 1
		}
		return q.Figure.Map
	}
	for _, q := range set.Questions {
		if q.Figure != nil {
			q.Figure.Map = number[q.Figure.Map]
		}
	}
	// A choice of profiles takes half a column: last, it leaves no hole under
	// the map.
	tall := func(q Question) int {
		if q.Figure == nil {
			return 0
		}
		return len(q.Figure.Profiles)
	}
	slices.SortStableFunc(set.Questions, func(a, b Question) int {
		return cmp.Or(cmp.Compare(order(a), order(b)), cmp.Compare(tall(a), tall(b)))
	})
	for i := range set.Questions {
		set.Questions[i].Number = i + 1
	}
}

// within says how far from an answer is right, in a few words.
func (s *survey) within(q *Question) string {
	switch d := q.Data.(type) {
	case ElevationAnswer:
		return fmt.Sprintf("± %s %s", number(s.levels.Interval/4), s.levels.Unit)
	case ClimbAnswer:
		return "± 1 contour"
	case SlopeAnswer:
		return fmt.Sprintf("%.0f to %.0f %%", d.LowPercent, d.HighPercent)
	case BearingAnswer:
		if d.ToleranceM > 0 {
			return fmt.Sprintf("± %.0f°, ± %s", d.ToleranceDeg, s.distance(d.ToleranceM))
		}
	case DestinationAnswer:
		return fmt.Sprintf("%s to %s from A", s.distance(d.EarliestM), s.distance(d.LatestM))
	case WaterAnswer:
		return fmt.Sprintf("that point of the compass; the line: %.0f mm", streamNear)
	case TracingAnswer:
		return fmt.Sprintf("that many; lines: %d mm", tracedNear)
	case CrossBearingsAnswer:
		return fmt.Sprintf("%.0f mm", math.Ceil(s.mm(d.MajorM)))
	case SightAnswer:
		return "yes or no as here"
	case GridReferenceAnswer:
		return "six figures: one out in the third or the last; the cross: 2 mm"
	case DrawProfileAnswer:
		return fmt.Sprintf("yes or no as here; heights ± %s %s", number(s.levels.Interval/4), s.levels.Unit)
	case WalkTimeAnswer:
		return fmt.Sprintf("%.0f to %.0f min, %.0f to %.0f double paces", d.LeastMinutes, d.MostMinutes, d.LeastPaces, d.MostPaces)
	}
	return "as here"
}
