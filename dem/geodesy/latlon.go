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
// error that shows the number, and asks whether the two are the wrong way round
// where that would explain it.
func NewLatLon(lat, lon Degrees) (LatLon, error) {
	if math.IsNaN(float64(lat)) || lat < -90 || lat > 90 {
		swapped := ""
		if math.Abs(float64(lat)) <= 180 && math.Abs(float64(lon)) <= 90 {
			swapped = "; are latitude and longitude the wrong way round?"
		}
		return LatLon{}, fmt.Errorf("latitude %v is not between -90 and 90%s", float64(lat), swapped)
	}
	if math.IsNaN(float64(lon)) || lon < -180 || lon >= 360 {
		return LatLon{}, fmt.Errorf("longitude %v is not between -180 and 360", float64(lon))
	}
	return LatLon{Lat: lat, Lon: Degrees(wrap180(float64(lon)))}, nil
}

// String writes latitude and longitude in decimal degrees to five places
// (half a metre either way), which ParsePlace reads back.
func (p LatLon) String() string {
	return fmt.Sprintf("%.5f,%.5f", roundedTo(p.Lat, 1e5), wrap180(roundedTo(p.Lon, 1e5)))
}

// roundedTo rounds to a whole number of 1/n degree, never to -0.
func roundedTo(d Degrees, n float64) float64 { return math.Round(float64(d)*n)/n + 0 }

// DMS writes degrees, minutes and seconds with hemisphere letters, to a
// tenth of an arc-second (1.5 m either way), for example
// 36°27'10.0"N 84°13'05.0"W. ParsePlace reads it back.
func (p LatLon) DMS() string {
	return dms(float64(p.Lat), 'N', 'S') + " " + dms(float64(p.Lon), 'E', 'W')
}

// dms rounds once, in tenths of a second, so that no part can read 60.
func dms(d float64, positive, negative rune) string {
	letter := positive
	tenths := int64(math.Round(d * 36000))
	if tenths < 0 {
		letter, tenths = negative, -tenths
	}
	return fmt.Sprintf("%d°%02d'%02d.%d\"%c", tenths/36000, tenths/600%60, tenths/10%60, tenths%10, letter)
}
