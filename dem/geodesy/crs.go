package geodesy

/*
#include <stdlib.h>
#include <string.h>
#include <math.h>
#include <proj.h>

typedef struct {
	PJ_CONTEXT *ctx;
	PJ *transform; // CRS to WGS 84 longitude, latitude, in degrees
	int geographic;
	double metres_per_unit; // of a projected CRS
	char name[256];
	char datum[256];
	char code[64];
} crs_handle;

static void crs_close(crs_handle *h) {
	if (!h) return;
	if (h->transform) proj_destroy(h->transform);
	if (h->ctx) proj_context_destroy(h->ctx);
	free(h);
}

static void copy(char *to, size_t n, const char *from) {
	if (!from) from = "";
	strncpy(to, from, n - 1);
	to[n - 1] = 0;
}

// crs_open fills message and returns NULL on failure.
static crs_handle *crs_open(const char *definition, char *message, size_t n) {
	crs_handle *h = calloc(1, sizeof *h);
	h->ctx = proj_context_create();
	proj_log_level(h->ctx, PJ_LOG_NONE);
	proj_context_set_enable_network(h->ctx, 0);
	PJ *crs = proj_create(h->ctx, definition);
	if (!crs) {
		copy(message, n, proj_context_errno_string(h->ctx, proj_context_errno(h->ctx)));
		crs_close(h);
		return NULL;
	}
	if (!proj_is_crs(crs)) {
		copy(message, n, "it is not a coordinate reference system");
		proj_destroy(crs);
		crs_close(h);
		return NULL;
	}
	copy(h->name, sizeof h->name, proj_get_name(crs));
	if (proj_get_type(crs) == PJ_TYPE_COMPOUND_CRS) {
		PJ *horizontal = proj_crs_get_sub_crs(h->ctx, crs, 0);
		if (horizontal) { proj_destroy(crs); crs = horizontal; }
	}
	const char *authority = proj_get_id_auth_name(crs, 0), *code = proj_get_id_code(crs, 0);
	if (authority && code && strlen(authority) + strlen(code) + 2 < sizeof h->code) {
		strcpy(h->code, authority); strcat(h->code, ":"); strcat(h->code, code);
	}
	PJ *base = proj_get_source_crs(h->ctx, crs); // of a bound CRS
	PJ_TYPE type = proj_get_type(crs);
	PJ *typed = crs;
	if (type == PJ_TYPE_BOUND_CRS && base) { typed = base; type = proj_get_type(base); }
	if (type == PJ_TYPE_GEOCENTRIC_CRS || type == PJ_TYPE_VERTICAL_CRS || type == PJ_TYPE_TEMPORAL_CRS || type == PJ_TYPE_ENGINEERING_CRS) {
		copy(message, n, "it has neither longitude and latitude nor a map's easting and northing");
		if (base) proj_destroy(base);
		proj_destroy(crs);
		crs_close(h);
		return NULL;
	}
	h->geographic = type == PJ_TYPE_GEOGRAPHIC_2D_CRS || type == PJ_TYPE_GEOGRAPHIC_3D_CRS;
	h->metres_per_unit = 1;
	PJ *cs = proj_crs_get_coordinate_system(h->ctx, typed);
	if (cs) {
		double factor = 1;
		if (proj_cs_get_axis_info(h->ctx, cs, 0, NULL, NULL, NULL, &factor, NULL, NULL, NULL))
			h->metres_per_unit = factor;
		proj_destroy(cs);
	}
	PJ *datum = proj_crs_get_datum_forced(h->ctx, typed);
	if (datum) { copy(h->datum, sizeof h->datum, proj_get_name(datum)); proj_destroy(datum); }
	if (base) proj_destroy(base);

	PJ *wgs84 = proj_create(h->ctx, "EPSG:4326");
	PJ *raw = wgs84 ? proj_create_crs_to_crs_from_pj(h->ctx, crs, wgs84, NULL, NULL) : NULL;
	if (raw) {
		h->transform = proj_normalize_for_visualization(h->ctx, raw);
		proj_destroy(raw);
	}
	if (wgs84) proj_destroy(wgs84);
	proj_destroy(crs);
	if (!h->transform) {
		copy(message, n, "there is no way from it to WGS 84");
		crs_close(h);
		return NULL;
	}
	return h;
}

// crs_operation says what the transform at x, y is: its accuracy in metres, below
// 0 where PROJ states none, whether it is a mere guess that two datums are one,
// and its name. It returns 0 where nothing can be said.
static int crs_operation(crs_handle *h, double x, double y, double *accuracy, int *ballpark, char *name, size_t n) {
	proj_errno_reset(h->transform);
	PJ_COORD at = proj_coord(x, y, 0, HUGE_VAL);
	proj_trans(h->transform, PJ_FWD, at);
	PJ *used = proj_trans_get_last_used_operation(h->transform);
	if (!used) return 0;
	*accuracy = proj_coordoperation_get_accuracy(h->ctx, used);
	*ballpark = proj_coordoperation_has_ballpark_transformation(h->ctx, used);
	copy(name, n, proj_get_name(used));
	proj_destroy(used);
	return 1;
}

// crs_apply transforms n pairs in place; direction 1 to WGS 84, -1 from it.
static void crs_apply(crs_handle *h, int direction, double *x, double *y, int n) {
	proj_errno_reset(h->transform);
	proj_trans_generic(h->transform, direction > 0 ? PJ_FWD : PJ_INV,
		x, sizeof *x, n, y, sizeof *y, n, NULL, 0, 0, NULL, 0, 0);
}
*/
import "C"

import (
	"fmt"
	"math"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"sync"
	"unsafe"
)

// CRS is a horizontal coordinate reference system with a way to WGS 84.
// Coordinates are x (east or longitude) then y (north or latitude), in the
// CRS's own unit, whatever axis order its authority states. A compound CRS
// counts by its horizontal part.
//
// Transforms come from PROJ with its network off, so a datum shift that
// needs a grid file which is not installed falls back to a coarser one.
// Safe for concurrent use; one transform runs at a time.
type CRS struct {
	// Name is the full name, for example "WGS 84 / UTM zone 17N".
	Name string
	// Code is the authority's code, for example "EPSG:32617", or "".
	Code string
	// Datum is the geodetic datum's name.
	Datum string
	// Geographic tells longitude and latitude in degrees from metres or feet.
	Geographic bool
	// MetresPerUnit is the length of the unit of x and y in metres; for a
	// geographic CRS it is radians per unit and of no use.
	MetresPerUnit float64

	definition string
	mutex      sync.Mutex
	handle     *C.crs_handle
}

// WGS84 is longitude and latitude on WGS 84 itself. Its transforms are the
// identity and call nothing.
var WGS84 = &CRS{Name: "WGS 84", Code: "EPSG:4326", Datum: "World Geodetic System 1984",
	Geographic: true, MetresPerUnit: radiansPerDegree, definition: "EPSG:4326"}

// A code; or the beginning of WKT, of a PROJ string or of PROJ's JSON. A bare
// name is not taken: PROJ finds it within any name that it knows.
var (
	codePattern       = regexp.MustCompile(`^[A-Za-z]+:\S+$`)
	definitionPattern = regexp.MustCompile(`^\s*([A-Za-z_0-9]+\s*[\[(]|\+|\{|[a-z]+=)`)
)

// NewCRS reads a definition: an authority's code ("EPSG:32617"), WKT, or a
// PROJ string. The error shows the definition's beginning.
func NewCRS(definition string) (*CRS, error) {
	fail := func(reason string) (*CRS, error) {
		shown := definition
		if len(shown) > 60 {
			shown = shown[:60] + "..."
		}
		return nil, fmt.Errorf("coordinate reference system %q: %s", shown, reason)
	}
	if err := CheckDefinition(definition); err != nil {
		return fail(err.Error())
	}
	isCode := codePattern.MatchString(definition)
	text := C.CString(definition)
	defer C.free(unsafe.Pointer(text))
	var message [512]C.char
	handle := C.crs_open(text, &message[0], C.size_t(len(message)))
	if handle == nil {
		reason := C.GoString(&message[0])
		switch {
		case isCode && strings.HasPrefix(reason, "Unknown error"):
			reason = "no such code is known"
		case strings.HasPrefix(reason, "Unknown error"), strings.Contains(reason, "PROJ string") && !strings.HasPrefix(definition, "+"):
			reason = "it cannot be understood"
		}
		return fail(reason)
	}
	c := &CRS{
		Name:          C.GoString(&handle.name[0]),
		Code:          C.GoString(&handle.code[0]),
		Datum:         C.GoString(&handle.datum[0]),
		Geographic:    handle.geographic != 0,
		MetresPerUnit: float64(handle.metres_per_unit),
		definition:    definition,
		handle:        handle,
	}
	if c.Code == "EPSG:4326" || c.Code == "OGC:CRS84" {
		C.crs_close(handle)
		return WGS84, nil
	}
	runtime.SetFinalizer(c, func(c *CRS) { C.crs_close(c.handle) })
	return c, nil
}

// Operation is a way from a reference system to WGS 84.
type Operation struct {
	// Name is PROJ's, for example "Inverse of UTM zone 17N + NAD27 to WGS 84 (4)".
	Name string
	// Accuracy is what PROJ states for it, metres; NaN where it states none.
	Accuracy float64
	// Ballpark: the datum's shift is not known or needs a grid that is not
	// installed, and places are taken unshifted.
	Ballpark bool
}

// Operation is the one that places near x, y are brought to WGS 84 by. PROJ
// chooses it by the place, of those whose grids are installed.
func (c *CRS) Operation(x, y float64) Operation {
	if c.handle == nil {
		return Operation{Name: "none, they are on WGS 84"}
	}
	c.mutex.Lock()
	defer c.mutex.Unlock()
	var accuracy C.double
	var ballpark C.int
	var name [512]C.char
	if C.crs_operation(c.handle, C.double(x), C.double(y), &accuracy, &ballpark, &name[0], C.size_t(len(name))) == 0 {
		return Operation{Accuracy: math.NaN()}
	}
	steps := slices.DeleteFunc(strings.Split(C.GoString(&name[0]), " + "), func(step string) bool { return strings.HasPrefix(step, "axis order change") })
	out := Operation{Name: strings.Join(steps, " + "), Accuracy: float64(accuracy), Ballpark: ballpark != 0}
	if out.Accuracy < 0 || out.Ballpark {
		out.Accuracy = math.NaN()
	}
	runtime.KeepAlive(c)
	return out
}

// Doubt says what is doubtful about where an operation puts places of a datum,
// or "". Datums lie up to some hundred metres from WGS 84, and a few on islands
// and at the rim of continents over a kilometre (from memory).
func (o Operation) Doubt(datum string) string {
	if !o.Ballpark {
		return ""
	}
	if slices.ContainsFunc([]string{"GRS80", "GRS 80", "GRS 1980", "WGS 84", "WGS84"}, func(e string) bool { return strings.Contains(datum, e) }) {
		return "the datum of its places is not known, only its ellipsoid, which newer datums use: they are taken as on WGS 84, and are most likely off by no more than some metres"
	}
	if strings.HasPrefix(strings.ToLower(datum), "unknown") || datum == "" {
		return "the datum of its places is not known, only its ellipsoid: they are taken as on WGS 84, and may be off by some hundred metres, in a few regions by over a kilometre"
	}
	return "no way is known here from its datum (" + datum + ") to WGS 84: places are taken unshifted, and may be off by some hundred metres, in a few regions by over a kilometre"
}

// Definition is the text the CRS was made from.
func (c *CRS) Definition() string { return c.definition }

// ToWGS84 replaces x[i], y[i] by longitude and latitude in degrees. Points
// outside the projection's domain are an error that shows the first one.
func (c *CRS) ToWGS84(x, y []float64) error { return c.apply(1, x, y) }

// FromWGS84 replaces longitude x[i] and latitude y[i], degrees, by the
// CRS's coordinates. Points the projection cannot show are an error.
func (c *CRS) FromWGS84(x, y []float64) error { return c.apply(-1, x, y) }

func (c *CRS) apply(direction int, x, y []float64) error {
	if len(x) != len(y) {
		panic("geodesy: x and y differ in length")
	}
	if len(x) == 0 || c.handle == nil {
		return nil
	}
	firstX, firstY := x[0], y[0]
	c.mutex.Lock()
	C.crs_apply(c.handle, C.int(direction), (*C.double)(unsafe.Pointer(&x[0])),
		(*C.double)(unsafe.Pointer(&y[0])), C.int(len(x)))
	c.mutex.Unlock()
	runtime.KeepAlive(c)
	for i := range x {
		if math.IsInf(x[i], 0) || math.IsNaN(x[i]) || math.IsInf(y[i], 0) || math.IsNaN(y[i]) {
			where := fmt.Sprintf("point %d of %d", i+1, len(x))
			if i == 0 {
				where = fmt.Sprintf("(%g, %g)", firstX, firstY)
			}
			return fmt.Errorf("%s cannot be transformed between %s and WGS 84", where, c.Name)
		}
	}
	return nil
}

// Place is the WGS 84 place of the CRS's (x, y).
func (c *CRS) Place(x, y float64) (LatLon, error) {
	xs, ys := []float64{x}, []float64{y}
	if err := c.ToWGS84(xs, ys); err != nil {
		return LatLon{}, err
	}
	return LatLon{Lat: Degrees(ys[0]), Lon: Degrees(wrap180(xs[0]))}, nil
}

// Coordinates is the CRS's (x, y) of a WGS 84 place.
func (c *CRS) Coordinates(p LatLon) (x, y float64, err error) {
	xs, ys := []float64{float64(p.Lon)}, []float64{float64(p.Lat)}
	if err := c.FromWGS84(xs, ys); err != nil {
		return 0, 0, err
	}
	return xs[0], ys[0], nil
}
