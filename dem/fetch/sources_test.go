package fetch

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
)

// TestOwnSources: what a user may add, and what is refused.
func TestOwnSources(t *testing.T) {
	t.Parallel()
	good := `[{"name":"county-lidar","title":"County lidar","url":"https://tiles.example.org/{ns}{lat}/{ew}{lon}/dem.tif","degrees":2,"corner":"north-west","licence":"open","attribution":"the county","surface":"bare earth"}]`
	own, err := ParseSources([]byte(good))
	require.NoError(t, err)
	s, err := Find("county-lidar", own)
	require.NoError(t, err)
	tiles, err := s.Tiles(geodesy.LatLon{Lat: 47.5, Lon: -120.5}, 0)
	require.NoError(t, err)
	require.Len(t, tiles, 1)
	assert.Equal(t, "https://tiles.example.org/n48/w122/dem.tif", tiles[0].URL)
	assert.Equal(t, "N48W122_dem.tif", tiles[0].Name)
	_, err = Find("nonsense", own)
	require.ErrorContains(t, err, "county-lidar, copernicus-glo-30")
	for text, want := range map[string]string{
		`{}`: "data sources", `[{"nom":1}]`: "unknown field", `[{"name":"A b"}]`: "lower-case",
		strings.Replace(good, "https:", "file:", 1):                            "not an http",
		strings.Replace(good, "{lat}", "", 1):                                  "lacks {lat}",
		strings.Replace(good, "{lat}", "{lat}{zoom}", 1):                       "none of",
		strings.Replace(good, "tiles.example", "{ns}", 1):                      "not an http",
		strings.Replace(good, `"licence":"open",`, "", 1):                      "no licence",
		strings.Replace(good, "north-west", "centre", 1):                       "corner",
		strings.Replace(good, "bare earth", "bare", 1):                         "surface",
		strings.Replace(good, `"degrees":2`, `"degrees":-1`, 1):                "not possible; degrees is from 1 to 90",
		strings.Replace(good, `"degrees":2`, `"spacing_arc_seconds":1e305`, 1): "spacing_arc_seconds is 1e+305, not from 0 to 3600",
		strings.Replace(good, `"degrees":2`, `"vertical_error_m":-4`, 1):       "vertical_error_m is -4, not from 0 to 1000",
	} {
		_, err := ParseSources([]byte(text))
		require.ErrorContains(t, err, want)
	}
	for _, s := range Sources() {
		require.NoError(t, s.Validate())
	}
}

// FuzzParseSources: what parses makes safe file names.
func FuzzParseSources(f *testing.F) {
	f.Add([]byte(`[{"name":"a","url":"https://h/{ns}{lat}{ew}{lon}.tif","licence":"l","attribution":"a"}]`), 10.5, 20.5)
	f.Add([]byte(`[{"name":"a","url":"https://h/{ns}{lat}{ew}{lon}/../..","licence":"l","attribution":"a"}]`), -10.5, -170.5)
	f.Fuzz(func(t *testing.T, data []byte, lat, lon float64) {
		sources, err := ParseSources(data)
		if err != nil {
			assert.NotContains(t, err.Error(), "\n")
			return
		}
		at, err := geodesy.NewLatLon(geodesy.Degrees(lat), geodesy.Degrees(lon))
		if err != nil {
			return
		}
		for _, s := range sources {
			tiles, err := s.Tiles(at, 1000)
			if err != nil {
				continue
			}
			assert.NotEmpty(t, tiles)
			for _, tile := range tiles {
				assert.NotContains(t, tile.Name, "/")
				assert.NotContains(t, []string{"", ".", ".."}, tile.Name)
			}
		}
	})
}
