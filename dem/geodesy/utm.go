package geodesy

/*
#include <proj.h>

static PJ_CONTEXT *tm_context;
static PJ *tm;

// tm_open makes UTM's projection about longitude 0, the zones being the same
// projection turned about the axis. Its parameters are all given, so PROJ
// opens no database.
static int tm_open(void) {
	tm_context = proj_context_create();
	proj_log_level(tm_context, PJ_LOG_NONE);
	proj_context_set_enable_network(tm_context, 0);
	tm = proj_create(tm_context,
		"+proj=tmerc +algo=poder_engsager +lat_0=0 +lon_0=0 +k=0.9996 +x_0=500000 +y_0=0 +ellps=WGS84 +units=m");
	return tm != NULL;
}

// out: easting, northing from the equator.
static void tm_forward(double lon, double lat, double *out) {
	proj_errno_reset(tm);
	PJ_COORD c = proj_trans(tm, PJ_FWD, proj_coord(proj_torad(lon), proj_torad(lat), 0, 0));
	out[0] = c.xy.x;
	out[1] = c.xy.y;
}

// out: convergence in degrees as PROJ signs it, scale.
static void tm_factors(double lon, double lat, double *out) {
	proj_errno_reset(tm);
	PJ_FACTORS f = proj_factors(tm, proj_coord(proj_torad(lon), proj_torad(lat), 0, 0));
	out[0] = proj_todeg(f.meridian_convergence);
	out[1] = f.meridional_scale;
}

// out: longitude from the central meridian, latitude, degrees.
static void tm_inverse(double x, double y, double *out) {
	proj_errno_reset(tm);
	PJ_COORD c = proj_trans(tm, PJ_INV, proj_coord(x, y, 0, 0));
	out[0] = proj_todeg(c.lp.lam);
	out[1] = proj_todeg(c.lp.phi);
}
*/
import "C"

import (
	"fmt"
	"math"
	"sync"
)

// UTM is a place on the Universal Transverse Mercator grid of WGS 84.
type UTM struct {
	// Zone is the zone's number, 1 to 60.
	Zone int
	// North is true for the northern hemisphere, whose northings count from
	// the equator; southern ones count from 10 000 000 m at the equator.
	North bool
	// Easting and Northing are metres on the grid.
	Easting, Northing float64
}

// The grid's limits (NGA.SIG.0012, "The Universal Grids and the Transverse
// Mercator and Polar Stereographic Map Projections", 2014).
const (
	utmSouthLimit    = -80.0 // degrees
	utmNorthLimit    = 84.0  // degrees
	utmFalseNorthing = 10e6  // metres, in the south
	utmEastingLimit  = 1e6   // metres; half that either side of the central meridian
)

// limitTolerance lets a position rounded to whole metres stand on a limit,
// degrees; about a metre.
const limitTolerance = 1e-5

var transverseMercator struct {
	once  sync.Once
	mutex sync.Mutex // a PJ may be used by one thread at a time
}

// lockTransverseMercator returns with the projection open and locked.
func lockTransverseMercator() {
	transverseMercator.once.Do(func() {
		if C.tm_open() == 0 {
			// It needs nothing from outside, so only a broken PROJ fails.
			panic("geodesy: PROJ cannot make the transverse Mercator projection")
		}
	})
	transverseMercator.mutex.Lock()
}

// CentralMeridian is the longitude of a UTM zone's middle, degrees.
func CentralMeridian(zone int) Degrees { return Degrees(6*zone - 183) }

// UTMZone is the zone a place belongs to, with the wide zone 32 of
// south-west Norway and the four of Svalbard (NGA.SIG.0012).
func UTMZone(p LatLon) int {
	zone := min(int(math.Floor((wrap180(float64(p.Lon))+180)/6))+1, 60)
	switch lon := wrap180(float64(p.Lon)); {
	case p.Lat >= 56 && p.Lat < 64 && lon >= 3 && lon < 12:
		return 32
	case p.Lat >= 72 && lon >= 0 && lon < 9:
		return 31
	case p.Lat >= 72 && lon >= 9 && lon < 21:
		return 33
	case p.Lat >= 72 && lon >= 21 && lon < 33:
		return 35
	case p.Lat >= 72 && lon >= 33 && lon < 42:
		return 37
	}
	return zone
}

// checkUTM refuses what the grid does not cover.
func checkUTM(p LatLon) error {
	if p.Lat < utmSouthLimit-limitTolerance || p.Lat > utmNorthLimit+limitTolerance || math.IsNaN(float64(p.Lat)) {
		return fmt.Errorf("latitude %.5f is outside the UTM grid, which runs from 80°S to 84°N; the polar grid (UPS) is not supported: give the place as latitude and longitude", float64(p.Lat))
	}
	return nil
}

// ToUTM projects a place into its own zone. Beyond 84°N and 80°S, where the
// polar grid (UPS) takes over, it is an error. The projection is PROJ's
// transverse Mercator after Poder and Engsager, good to a nanometre-size
// error within a zone.
func ToUTM(p LatLon) (UTM, error) { return ToUTMZone(p, UTMZone(p)) }

// ToUTMZone projects a place into a zone that need not be its own, as for a
// map that runs over a zone's edge. It is an error if the zone is not 1 to
// 60, or the place is beyond the grid's latitudes or more than 500 km from
// the zone's central meridian.
func ToUTMZone(p LatLon, zone int) (UTM, error) {
	if err := checkZone(zone); err != nil {
		return UTM{}, err
	}
	if err := checkUTM(p); err != nil {
		return UTM{}, err
	}
	lon := wrap180(float64(p.Lon - CentralMeridian(zone)))
	far := func() error {
		return fmt.Errorf("%v is more than 500 km from the middle of UTM zone %d; its own zone is %d", p, zone, UTMZone(p))
	}
	if math.Abs(lon) > 45 { // keep well inside what the series can show
		return UTM{}, far()
	}
	var out [2]C.double
	lockTransverseMercator()
	C.tm_forward(C.double(lon), C.double(p.Lat), &out[0])
	transverseMercator.mutex.Unlock()
	u := UTM{Zone: zone, North: p.Lat >= 0, Easting: float64(out[0]), Northing: float64(out[1])}
	if !(u.Easting >= 0 && u.Easting <= utmEastingLimit) { // NaN too
		return UTM{}, far()
	}
	if !u.North {
		u.Northing += utmFalseNorthing
	}
	return u, nil
}

func checkZone(zone int) error {
	if zone < 1 || zone > 60 {
		return fmt.Errorf("there is no UTM zone %d; zones run from 1 to 60", zone)
	}
	return nil
}

// LatLon is the WGS 84 place of a grid position. It is an error if the zone
// is not 1 to 60, the easting is not between 0 and 1 000 000 m, or the place
// is beyond the grid's latitudes. A northing may run over the equator, as
// one corner of a map can.
func (u UTM) LatLon() (LatLon, error) {
	if err := checkZone(u.Zone); err != nil {
		return LatLon{}, err
	}
	if !(u.Easting >= 0 && u.Easting <= utmEastingLimit) {
		return LatLon{}, fmt.Errorf("easting %.0f m is not between 0 and 1000000; the easting comes first, then the northing", u.Easting)
	}
	northing := u.Northing
	if !u.North {
		northing -= utmFalseNorthing
	}
	if !(math.Abs(northing) <= utmFalseNorthing) {
		return LatLon{}, fmt.Errorf("northing %.0f m is not between 0 and 10000000", u.Northing)
	}
	lon, lat := inverseTransverseMercator(u.Easting, northing)
	p := LatLon{Lat: Degrees(lat), Lon: Degrees(wrap180(lon + float64(CentralMeridian(u.Zone))))}
	if math.IsInf(lon, 0) || math.IsInf(lat, 0) {
		return LatLon{}, fmt.Errorf("%v has no place on the Earth", u)
	}
	if err := checkUTM(p); err != nil {
		return LatLon{}, err
	}
	return p, nil
}

// inverseTransverseMercator returns degrees east of the central meridian and
// latitude, from an easting and a northing counted from the equator.
func inverseTransverseMercator(easting, northing float64) (lon, lat float64) {
	var out [2]C.double
	lockTransverseMercator()
	C.tm_inverse(C.double(easting), C.double(northing), &out[0])
	transverseMercator.mutex.Unlock()
	if northing == 0 { // on the equator, exactly, by the projection's symmetry
		return float64(out[0]), 0
	}
	return float64(out[0]), float64(out[1])
}

// String writes zone, latitude band, easting and northing in whole metres,
// for example "16S 735000 4040000", which ParsePlace reads back. Places with
// no band (a grid position that is not on the Earth) have "north" or "south"
// after the zone.
func (u UTM) String() string {
	after := "south"
	if u.North {
		after = "north"
	}
	// The band is that of the rounded position, so that it reads back.
	rounded := UTM{u.Zone, u.North, math.Round(u.Easting), math.Round(u.Northing)}
	if p, err := rounded.LatLon(); err == nil && (p.Lat >= 0) == u.North {
		after = string(latitudeBand(p.Lat))
	}
	return fmt.Sprintf("%d%s %.0f %.0f", u.Zone, after, rounded.Easting, rounded.Northing)
}

// GridFactors says how the UTM grid lies at a place.
type GridFactors struct {
	// UTM is the place on the grid.
	UTM UTM
	// Convergence is the angle from true north to grid north.
	Convergence Convergence
	// Scale is grid distance over ground distance on the ellipsoid: 0.9996
	// on the central meridian.
	Scale float64
}

// GridAt returns convergence and scale at a place in its own UTM zone, from
// PROJ, to 1e-7 degree and 1e-8. The errors are ToUTM's.
func GridAt(p LatLon) (GridFactors, error) { return GridInZone(p, UTMZone(p)) }

// GridInZone is GridAt on the grid of a zone that need not be the place's
// own. The errors are ToUTMZone's.
func GridInZone(p LatLon, zone int) (GridFactors, error) {
	u, err := ToUTMZone(p, zone)
	if err != nil {
		return GridFactors{}, err
	}
	var out [2]C.double
	lockTransverseMercator()
	C.tm_factors(C.double(wrap180(float64(p.Lon-CentralMeridian(zone)))), C.double(p.Lat), &out[0])
	transverseMercator.mutex.Unlock()
	return GridFactors{UTM: u, Convergence: Convergence(out[0]), Scale: float64(out[1])}, nil
}

// ConvergenceAt is the angle from true north to the UTM grid north of the
// place's own zone. The errors are ToUTM's.
func ConvergenceAt(p LatLon) (Convergence, error) {
	g, err := GridAt(p)
	return g.Convergence, err
}
