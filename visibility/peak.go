package visibility

import (
	"math"

	"crowline/dem/geodesy"
)

// skylineWithin is how far below the line a top may stand and still be said to
// make it: an arc-minute, what the eye parts (visual acuity 1.0, ISO 8596).
const skylineWithin geodesy.Degrees = 1.0 / 60

// Peak is how a top would stand on the horizon, and whether it does: ok is
// false where it is below the line by more than an arc-minute (hidden, or in
// front of higher ground), where the horizon there is not known, and nearer
// than nearest metres. elevation is the top's, metres; refraction is what the
// horizon was found with. Between two bearings of the horizon the line is taken
// as straight.
func (h *Horizon) Peak(place geodesy.LatLon, elevation, refraction, nearest float64) (peak HorizonPoint, ok bool) {
	plane := geodesy.NewPlane(h.Observer.Place)
	east, north := plane.Forward(place)
	d := math.Hypot(east, north)
	if !(d >= nearest) || d == 0 || math.IsNaN(elevation) {
		return HorizonPoint{}, false
	}
	slope := (elevation - plane.CurvatureDrop(east, north, refraction) - h.EyeElevation) / d
	peak = HorizonPoint{
		Bearing: geodesy.NewTrueBearing(90 - geodesy.Atan2(north, east)), Verdict: Visible,
		Angle: geodesy.Atan2(slope, 1), Slope: slope, Distance: d, Elevation: elevation, Place: place,
	}
	line, verdict := h.at(peak.Bearing)
	peak.Verdict = verdict
	return peak, peak.Angle >= line-skylineWithin // false for NaN
}

// at is the horizon's angle on any bearing, NaN where it is not known, and the
// lesser of its neighbours' verdicts.
func (h *Horizon) at(bearing geodesy.TrueBearing) (angle geodesy.Degrees, verdict Verdict) {
	nan := geodesy.Degrees(math.NaN())
	n := len(h.Points)
	if n < 2 {
		return nan, Unknown
	}
	lo, hi := 0, n // the last point whose bearing is not above
	for hi-lo > 1 {
		if mid := (lo + hi) / 2; h.Points[mid].Bearing <= bearing {
			lo = mid
		} else {
			hi = mid
		}
	}
	if h.Points[0].Bearing > bearing {
		lo = n - 1
	}
	a, b := h.Points[lo], h.Points[(lo+1)%n]
	from := math.Mod(float64(bearing-a.Bearing)+360, 360)
	gap := math.Mod(float64(b.Bearing-a.Bearing)+360, 360)
	if gap > 90 { // beyond the end of a sector
		return nan, Unknown
	}
	verdict = a.Verdict
	if b.Verdict != Visible {
		verdict = b.Verdict
	}
	if from == 0 {
		return a.Angle, a.Verdict
	}
	return a.Angle + geodesy.Degrees(from/gap)*(b.Angle-a.Angle), verdict
}
