package sun

import (
	"math"
	"time"

	"crowline/dem/geodesy"
)

// Elevations of the sun's centre above the level, degrees, without refraction.
const (
	// RiseSet is where the upper edge touches the level in ordinary air: 34
	// arc-minutes of refraction and 16 of half width, to the digits NOAA uses.
	RiseSet geodesy.Degrees = -0.833
	// CivilTwilight is where it gets too dark to walk rough ground without a
	// lamp (common practice) and the bright stars come out.
	CivilTwilight geodesy.Degrees = -6
)

// HalfWidth is half the angle the sun's disc takes up, degrees; it changes by
// 1.7 % in the year.
const HalfWidth geodesy.Degrees = 16.0 / 60

// Position is where the sun stands as seen from a place.
type Position struct {
	// Azimuth of its centre.
	Azimuth geodesy.TrueBearing
	// Elevation of its centre above the level, degrees, as if there were no air.
	Elevation geodesy.Degrees
	// Declination is its latitude in the sky, degrees.
	Declination geodesy.Degrees
	// EquationOfTime is how far a sundial is ahead of a clock.
	EquationOfTime time.Duration
}

// At is where the sun stands at a moment. At a pole its azimuth is that on the
// place's own meridian.
func At(place geodesy.LatLon, t time.Time) Position {
	declination, equation := orbit(t)
	u := t.UTC()
	day := float64(u.Hour())*60 + float64(u.Minute()) + float64(u.Second())/60 + float64(u.Nanosecond())/60e9
	// minutes of true solar time; four to a degree
	solar := day + equation + 4*float64(place.Lon)
	hour := geodesy.Degrees(math.Remainder(solar/4-180, 360))
	sinLat, cosLat := place.Lat.SinCos()
	sinDec, cosDec := declination.SinCos()
	sinHour, cosHour := hour.SinCos()
	// NOAA takes arc-cosines here; these are the same angles and keep their
	// digits near the zenith, the poles and the meridian
	up := sinLat*sinDec + cosLat*cosDec*cosHour
	east := -cosDec * sinHour
	north := cosLat*sinDec - sinLat*cosDec*cosHour
	return Position{
		Azimuth:        geodesy.NewTrueBearing(geodesy.Atan2(east, north)),
		Elevation:      geodesy.Atan2(up, math.Hypot(east, north)),
		Declination:    declination,
		EquationOfTime: time.Duration(equation * float64(time.Minute)),
	}
}

// orbit is the sun's declination and the equation of time in minutes: columns
// G to V of NOAA's spreadsheet.
func orbit(t time.Time) (declination geodesy.Degrees, equation float64) {
	const j2000 = 946728000 // Unix time of 2000-01-01 12:00, Julian day 2451545
	T := (float64(t.Unix()-j2000) + float64(t.Nanosecond())/1e9) / 86400 / 36525
	L0 := 280.46646 + T*(36000.76983+T*0.0003032)     // mean longitude
	M := 357.52911 + T*(35999.05029-0.0001537*T)      // mean anomaly
	e := 0.016708634 - T*(0.000042037+0.0000001267*T) // eccentricity
	omega := geodesy.Degrees(125.04 - 1934.136*T)     // moon's node: nutation
	sin := func(d float64) float64 { return geodesy.Degrees(d).Sin() }
	C := sin(M)*(1.914602-T*(0.004817+0.000014*T)) + // equation of the centre
		sin(2*M)*(0.019993-0.000101*T) + sin(3*M)*0.000289
	lambda := geodesy.Degrees(L0 + C - 0.00569 - 0.00478*omega.Sin())
	arcSeconds := 21.448 - T*(46.815+T*(0.00059-T*0.001813))
	epsilon := geodesy.Degrees(23 + (26+arcSeconds/60)/60 + 0.00256*omega.Cos()) // obliquity
	sinDec := epsilon.Sin() * lambda.Sin()
	declination = geodesy.Atan2(sinDec, math.Sqrt(1-sinDec*sinDec))
	y := (epsilon / 2).Tan()
	y *= y
	radians := y*sin(2*L0) - 2*e*sin(M) + 4*e*y*sin(M)*geodesy.Degrees(2*L0).Cos() - y*y/2*sin(4*L0) - 1.25*e*e*sin(2*M)
	return declination, 4 * radians * 180 / math.Pi
}

// Refraction is how much higher than it is something above the air is seen,
// degrees, by its elevation without air, degrees: NOAA's formula, for sea
// level. Below -0.575 degrees, where what is seen lies on the level, it stays
// what it is there: NOAA's grows smaller, as of a sun that nobody sees, and real
// air bends light more, so that who looks down on a plain keeps the sun a
// little longer than is said.
func Refraction(elevation geodesy.Degrees) geodesy.Degrees {
	const onLevel = -0.575
	h := math.Max(float64(elevation), onLevel)
	if h > 85 {
		return 0
	}
	var arcSeconds float64
	if h > 5 {
		tan := geodesy.Degrees(h).Tan()
		arcSeconds = 58.1/tan - 0.07/(tan*tan*tan) + 0.000086/(tan*tan*tan*tan*tan)
	} else {
		arcSeconds = 1735 + h*(-518.2+h*(103.4+h*(-12.79+h*0.711)))
	}
	return geodesy.Degrees(arcSeconds / 3600)
}

// UpperEdge is how high the sun's upper edge is seen above the level, degrees:
// what a skyline is held against.
func (p Position) UpperEdge() geodesy.Degrees {
	edge := p.Elevation + HalfWidth
	return edge + Refraction(edge)
}
