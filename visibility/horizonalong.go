package visibility

import (
	"math"

	"crowline/dem/geodesy"
	"crowline/profile"
)

// HorizonAlong is the skyline on the one bearing of a leg, from its start: what
// Skyline finds on that bearing within the leg's length, for who wants a few
// bearings and not a sector. It is Unknown where a void on the leg has data
// behind it. The leg must be laid from the observer's place.
func HorizonAlong(leg *profile.Leg, observer Observer, refraction float64) (HorizonPoint, error) {
	s, err := newSection(leg, observer, Conditions{Refraction: refraction})
	if err != nil {
		return HorizonPoint{}, err
	}
	nan := math.NaN()
	point := HorizonPoint{
		Bearing: leg.Start, Verdict: Visible, Angle: geodesy.Degrees(nan), Slope: nan, Distance: nan, Elevation: nan,
		Place: geodesy.LatLon{Lat: geodesy.Degrees(nan), Lon: geodesy.Degrees(nan)},
	}
	end := len(s.lowered)
	if leg.Covered >= leg.Distance {
		end-- // the leg's end lies between the edges that make the ground
	}
	top, void := -1, false
	for i := 1; i < end; i++ {
		if math.IsNaN(s.lowered[i]) {
			void = true
			continue
		}
		if void {
			point.Verdict = Unknown
		}
		if slope := (s.lowered[i] - s.eye) / s.distance[i]; top < 0 || slope > point.Slope {
			top, point.Slope = i, slope
		}
	}
	if top < 0 {
		point.Verdict = Unknown
		return point, nil
	}
	p := leg.Points[top]
	point.Angle, point.Distance, point.Elevation, point.Cover, point.Filled = geodesy.Atan2(point.Slope, 1), p.Distance, p.Elevation, p.Cover, p.Filled
	point.Place = leg.PlaceAt(p.Distance)
	return point, nil
}
