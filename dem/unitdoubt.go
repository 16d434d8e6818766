package dem

import (
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
// sentence when its heights look to be feet taken as metres, or metres taken
// as feet: when the middle one (median) of the ratios is within 15 % of the
// ratio of the units. "" when they do not, or when no known place is on the
// ground and at least 100 m high.
func UnitDoubt(posts Posts, known []Known) string {
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
	slices.SortStableFunc(ratios, func(a, b ratio) int {
		switch {
		case a.of < b.of:
			return -1
		case a.of > b.of:
			return 1
		}
		return 0
	})
	middle := ratios[len(ratios)/2]
	for _, u := range []struct {
		ratio     float64
		is, taken string
		advice    string
	}{
		{feetInAMetre, "feet", "metres", "--height-unit ft"},
		{1 / feetInAMetre, "metres", "feet", "--height-unit m"},
	} {
		if math.Abs(middle.of/u.ratio-1) <= unitShare {
			name := middle.known.Name
			if name == "" {
				name = middle.known.Place.String()
			}
			return fmt.Sprintf("the heights look to be in %s and were taken as %s: %s should be %.0f m high and comes out as %.0f m; try %s",
				u.is, u.taken, name, middle.known.Elevation, middle.ground, u.advice)
		}
	}
	return ""
}
