package geodesy

/*
#cgo pkg-config: proj
#cgo LDFLAGS: -lm
#include <geodesic.h>
#include <proj.h>

static const char *proj_version(void) { return proj_info().release; }

static struct geod_geodesic wgs84;
static void wgs84_init(void) { geod_init(&wgs84, 6378137.0, 1/298.257223563); }

static void inverse(double lat1, double lon1, double lat2, double lon2, double *out) {
	geod_inverse(&wgs84, lat1, lon1, lat2, lon2, &out[0], &out[1], &out[2]);
}
static void direct(double lat1, double lon1, double azi1, double s12, double *out) {
	geod_direct(&wgs84, lat1, lon1, azi1, s12, &out[0], &out[1], &out[2]);
}
// plane_forward turns n pairs of lon, lat into distance and azimuth from
// (lat0, lon0), in place.
static void polar_all(double lat0, double lon0, double *lon, double *lat, int n) {
	for (int i = 0; i < n; i++) {
		double s, a, b;
		geod_inverse(&wgs84, lat0, lon0, lat[i], lon[i], &s, &a, &b);
		lon[i] = s;
		lat[i] = a;
	}
}
*/
import "C"

import "unsafe"

// WGS 84's defining constants (NGA.STND.0036, table 3.1).
const (
	// EquatorialRadius is the semi-major axis of WGS 84, metres.
	EquatorialRadius = 6378137.0
	// Flattening is the flattening of WGS 84.
	Flattening = 1 / 298.257223563
)

// eccentricitySquared of WGS 84, f(2-f).
const eccentricitySquared = Flattening * (2 - Flattening)

func init() { C.wgs84_init() }

// Geodesic is the shortest line between two places on WGS 84.
type Geodesic struct {
	Distance float64     // metres along the ellipsoid
	Start    TrueBearing // bearing of the line where it leaves the first place
	End      TrueBearing // bearing of the line, still going forward, at the second
}

// Inverse finds the geodesic from a to b, with PROJ's geodesic.h: Karney
// 2013, J. Geodesy 87:43-55, accurate to 15 nm. For identical places the
// distance is 0 and both bearings are 0 (they are undefined; the library
// says 180, which reads as if it meant something). For nearly antipodal
// places it is one of the shortest lines.
func Inverse(a, b LatLon) Geodesic {
	var out [3]C.double
	C.inverse(C.double(a.Lat), C.double(a.Lon), C.double(b.Lat), C.double(b.Lon), &out[0])
	if out[0] == 0 {
		return Geodesic{}
	}
	return Geodesic{
		Distance: float64(out[0]),
		Start:    NewTrueBearing(Degrees(out[1])),
		End:      NewTrueBearing(Degrees(out[2])),
	}
}

// Direct follows the geodesic that leaves a on bearing for distance metres
// (which may be negative) and returns the place reached and the line's
// forward bearing there. Same source and accuracy as Inverse.
func Direct(a LatLon, bearing TrueBearing, distance float64) (LatLon, TrueBearing) {
	var out [3]C.double
	C.direct(C.double(a.Lat), C.double(a.Lon), C.double(bearing), C.double(distance), &out[0])
	p := LatLon{Lat: Degrees(out[0]), Lon: Degrees(wrap180(float64(out[1])))}
	return p, NewTrueBearing(Degrees(out[2]))
}

// Waypoints returns n+1 places equally spaced along the geodesic from a to
// b, both ends included and exact. Panics if n < 1.
func Waypoints(a, b LatLon, n int) []LatLon {
	if n < 1 {
		panic("geodesy: Waypoints needs n >= 1")
	}
	g := Inverse(a, b)
	places := make([]LatLon, n+1)
	places[0], places[n] = a, b
	for i := 1; i < n; i++ {
		places[i], _ = Direct(a, g.Start, g.Distance*float64(i)/float64(n))
	}
	return places
}

// polarAll replaces lon[i], lat[i] by the distance (metres) and azimuth
// (degrees) of that place from origin.
func polarAll(origin LatLon, lon, lat []float64) {
	if len(lon) == 0 {
		return
	}
	C.polar_all(C.double(origin.Lat), C.double(origin.Lon),
		(*C.double)(unsafe.Pointer(&lon[0])), (*C.double)(unsafe.Pointer(&lat[0])), C.int(len(lon)))
}

// ProjVersion is PROJ's own line on the release that is linked, such as
// "Rel. 9.1.1, December 1st, 2022".
func ProjVersion() string { return C.GoString(C.proj_version()) }
