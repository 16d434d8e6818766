package geodesy

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestCRSAxisOrderIsEastThenNorth(t *testing.T) {
	t.Parallel()
	// EPSG:4258 (ETRS89) states latitude first; ours is longitude first.
	c, err := NewCRS("EPSG:4258")
	require.NoError(t, err)
	p, err := c.Place(7.6, 46)
	require.NoError(t, err)
	assert.InDelta(t, 46, float64(p.Lat), 1e-9)
	assert.InDelta(t, 7.6, float64(p.Lon), 1e-9)
	assert.True(t, c.Geographic)

	utm, err := NewCRS("EPSG:32638")
	require.NoError(t, err)
	x, y, err := utm.Coordinates(LatLon{Lat: 33.3, Lon: 44.4})
	require.NoError(t, err)
	// GeographicLib, GeoConvert(1): 33.3 44.4 is 38N 444140.6 3684706.3.
	assert.InDelta(t, 444140.5449, x, 1e-4)
	assert.InDelta(t, 3684706.3555, y, 1e-4)
	assert.Equal(t, "EPSG:32638", utm.Code)
	assert.False(t, utm.Geographic)
}

func TestNewCRSRefusesNonsense(t *testing.T) {
	t.Parallel()
	_, err := NewCRS("EPSG:999999")
	require.Error(t, err)
	assert.Contains(t, err.Error(), "EPSG:999999")
	for definition, says := range map[string]string{
		"+proj=pipeline +step +proj=merc": "not a coordinate reference system",
		"EPSG:99999":                      "no such code",
		"foo":                             "write a code, as EPSG:32617", // within "Amersfoort", if names were taken
		"32617":                           "write a code",
		"WGS84":                           "write a code",
		"":                                "write a code",
		"EPSG:5703":                       "neither longitude and latitude nor", // heights
		"EPSG:4978":                       "neither longitude and latitude nor", // from the Earth's centre
		`PROJCS["x"]`:                     "cannot be understood",
	} {
		_, err := NewCRS(definition)
		require.ErrorContains(t, err, says, definition)
		assert.NotContains(t, err.Error(), "Unknown error")
	}
}

func TestCRSReportsUnit(t *testing.T) {
	t.Parallel()
	c, err := NewCRS("EPSG:2274") // NAD83 / Tennessee (ftUS)
	require.NoError(t, err)
	// US survey foot 1200/3937 m (NIST Handbook 44, Appendix C).
	assert.InDelta(t, 1200.0/3937.0, c.MetresPerUnit, 1e-12)
}
