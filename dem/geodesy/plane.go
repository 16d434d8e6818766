package geodesy

import "math"

// Plane is the azimuthal equidistant plane of an observer: a place at
// distance s on true bearing a stands at east = s sin a, north = s cos a.
// Geodesics through the observer are straight in it, angle is true bearing
// and distance is ground distance, exactly, on WGS 84.
//
// Model: Snyder, Map Projections: A Working Manual (USGS PP 1395, 1987),
// chapter 25, with geodesics of the ellipsoid instead of great circles.
// Safe for concurrent use. Undefined at the antipode.
type Plane struct {
	Centre LatLon

	meridian float64 // radius of curvature in the meridian at Centre, metres
	prime    float64 // radius of curvature in the prime vertical, metres
}

// NewPlane centres a plane on a place.
func NewPlane(centre LatLon) Plane {
	m, n := RadiiOfCurvature(centre.Lat)
	return Plane{Centre: centre, meridian: m, prime: n}
}

// RadiiOfCurvature returns the radii of curvature of WGS 84 in the meridian
// and in the prime vertical at a latitude, metres (Snyder 1987, eqs 4-18 and
// 4-20).
func RadiiOfCurvature(lat Degrees) (meridian, primeVertical float64) {
	s := lat.Sin()
	w := 1 - eccentricitySquared*s*s
	primeVertical = EquatorialRadius / math.Sqrt(w)
	meridian = primeVertical * (1 - eccentricitySquared) / w
	return meridian, primeVertical
}

// Radius is Euler's radius of curvature of the ellipsoid at the centre in a
// direction, metres: 1/R = cos²a/M + sin²a/N.
func (p Plane) Radius(direction TrueBearing) float64 {
	s, c := Degrees(direction).SinCos()
	return 1 / (c*c/p.meridian + s*s/p.prime)
}

// Forward places q on the plane, metres east and north of the centre.
func (p Plane) Forward(q LatLon) (east, north float64) {
	g := Inverse(p.Centre, q)
	s, c := Degrees(g.Start).SinCos()
	return g.Distance * s, g.Distance * c
}

// Inverse is the place at (east, north) metres on the plane.
func (p Plane) Inverse(east, north float64) LatLon {
	q, _ := Direct(p.Centre, NewTrueBearing(90-Atan2(north, east)), math.Hypot(east, north))
	return q
}

// ForwardAll replaces lon[i], lat[i] (degrees) by east, north (metres).
// Panics if the lengths differ.
func (p Plane) ForwardAll(lon, lat []float64) {
	if len(lon) != len(lat) {
		panic("geodesy: ForwardAll needs as many latitudes as longitudes")
	}
	polarAll(p.Centre, lon, lat)
	for i, d := range lon {
		s, c := Degrees(lat[i]).SinCos()
		lon[i], lat[i] = d*s, d*c
	}
}

// CurvatureDrop is how far below the observer's level plane the Earth's
// curve, less refraction, takes a place at (east, north) metres:
// (1-k) d²/2R, metres, with R Euler's radius of curvature in that direction
// (1/R = cos²a/M + sin²a/N). refraction is k = R/r, 0.13 by common practice
// (Gauss), 0 for none. The parabola departs from the circle by d⁴/8R³: 5 cm
// at 100 km.
func (p Plane) CurvatureDrop(east, north, refraction float64) float64 {
	return (1 - refraction) / 2 * (north*north/p.meridian + east*east/p.prime)
}
