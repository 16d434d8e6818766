package dem

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"crowline/dem/geodesy"
)

// Known is a place whose elevation is known from elsewhere: a map, a sign, a
// list of summits.
type Known struct {
	Name  string
	Place geodesy.LatLon
	// Elevation, metres.
	Elevation float64
}

const (
	feetInAMetre = 1 / 0.3048
	// unitShare is how near the ratio of heights must come to that of the
	// units. A post beside a summit or a stream is off by less, in any ground
	// high enough to be judged.
	unitShare = 0.15
	// leastKnown, metres: lower places are not judged, where a few metres are
	// a large share.
	leastKnown = 100
)

// UnitDoubt compares ground with places of known elevation and says in a
// sentence when one of them looks to be in another unit than it was taken
// in: when the middle one (median) of the ratios is within 15 % of the ratio
// of feet and metres. unit is what the ground's heights were taken in
// (Info.VerticalUnit). Ground that comes out too high was in feet and taken
// as metres; too low, in metres and taken as feet, or, where it was taken as
// metres already, the places' own elevations are in feet. "" when nothing
// looks so, or when no known place is on the ground and at least 100 m high.
func UnitDoubt(posts Posts, unit string, known []Known) string {
	type ratio struct {
		of     float64
		known  Known
		ground float64
	}
	var ratios []ratio
	for _, k := range known {
		ground, err := ElevationAt(posts, k.Place)
		if err != nil || !(k.Elevation >= leastKnown) || ground <= 0 {
			continue
		}
		ratios = append(ratios, ratio{ground / k.Elevation, k, ground})
	}
	if len(ratios) == 0 {
		return ""
	}
	slices.SortStableFunc(ratios, func(a, b ratio) int { return cmp.Compare(a.of, b.of) })
	middle := ratios[len(ratios)/2]
	name := middle.known.Name
	if name == "" {
		name = middle.known.Place.String()
	}
	near := func(ratio float64) bool { return math.Abs(middle.of/ratio-1) <= unitShare }
	switch metres := unit == metreUnit; {
	case near(feetInAMetre) && metres:
		return fmt.Sprintf("the heights look to be in feet and were taken as metres: %s should be %.0f m high and comes out as %.0f m; try --height-unit ft",
			name, middle.known.Elevation, middle.ground)
	case near(1/feetInAMetre) && !metres:
		return fmt.Sprintf("the heights look to be in metres and were taken as feet: %s should be %.0f m high and comes out as %.0f m; try --height-unit m",
			name, middle.known.Elevation, middle.ground)
	case near(1 / feetInAMetre):
		return fmt.Sprintf("the elevations of the places look to be in feet and were taken as metres: %s is given as %.0f and the ground there is %.0f m; or the heights of the data are wrong",
			name, middle.known.Elevation, middle.ground)
	}
	return ""
}

// metreUnit is what Info.VerticalUnit says of heights in metres.
const metreUnit = "metre"

// RangeDoubt says in a sentence when heights taken as metres are higher than
// any land, but would not be in feet; "" otherwise. unit is what they were
// taken in, lowest and highest the extremes of them, metres.
func RangeDoubt(unit string, lowest, highest float64) string {
	if unit != metreUnit || !(highest > HighestLand && highest <= HighestLand*feetInAMetre && lowest >= LowestLand*feetInAMetre) {
		return ""
	}
	return fmt.Sprintf("heights up to %.0f m are beyond any land on Earth: they may be in feet and taken as metres; try --height-unit ft", highest)
}
