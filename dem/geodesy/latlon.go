package geodesy

import (
	"fmt"
	"math"
)

// LatLon is a place on WGS 84: geodetic latitude in [-90, 90], longitude in
// [-180, 180), degrees.
type LatLon struct {
	Lat, Lon Degrees
}

// NewLatLon checks a latitude and longitude. Longitudes are accepted in
// [-180, 360) and kept in [-180, 180). Anything else, NaN included, is an
// error that shows the number.
func NewLatLon(lat, lon Degrees) (LatLon, error) {
	if math.IsNaN(float64(lat)) || lat < -90 || lat > 90 {
		return LatLon{}, fmt.Errorf("latitude %v is not between -90 and 90", float64(lat))
	}
	if math.IsNaN(float64(lon)) || lon < -180 || lon >= 360 {
		return LatLon{}, fmt.Errorf("longitude %v is not between -180 and 360", float64(lon))
	}
	return LatLon{Lat: lat, Lon: Degrees(wrap180(float64(lon)))}, nil
}

// String writes latitude and longitude in decimal degrees to five places
// (about a metre), which ParsePlace reads back.
func (p LatLon) String() string { return fmt.Sprintf("%.5f,%.5f", float64(p.Lat), float64(p.Lon)) }
