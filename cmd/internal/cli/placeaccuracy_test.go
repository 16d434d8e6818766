package cli

import (
	"encoding/json"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
)

// TestHowGoodPlacesAreIsSaid: of data on an old datum every answer says how well
// its places are brought to WGS 84, and of one known by its ellipsoid alone that
// they may be far off.
func TestHowGoodPlacesAreIsSaid(t *testing.T) {
	t.Parallel()
	write := func(name, definition string) string {
		crs, err := geodesy.NewCRS(definition)
		require.NoError(t, err)
		frame := dem.Frame{Columns: 30, Rows: 30, X0: -84, Y0: 36, DX: 1.0 / 1200, DY: -1.0 / 1200, CRS: crs}
		path := filepath.Join(t.TempDir(), name)
		require.NoError(t, gdalio.WriteGeoTIFF(t.Context(), path, &frame, []gdalio.Band{{Float32: make([]float32, 900)}}))
		return path
	}
	type told struct {
		Accuracy  *float64 `json:"place_accuracy_m"`
		Operation string   `json:"place_operation"`
		Warnings  []string `json:"warnings"`
	}
	for _, row := range []struct {
		name, definition, operation, warning string
		known, always                        bool // PROJ states the accuracy; it is in every answer
	}{
		{"nad27.tif", "EPSG:4267", "NAD27 to WGS 84", "", true, true},
		{"clarke.tif", "+proj=longlat +ellps=clrk66 +type=crs", "Ballpark", "only its ellipsoid", false, false},
		{"wgs84.tif", "EPSG:4326", "none", "", true, false},
	} {
		path := write(row.name, row.definition)
		var info told
		a := run(t, "dem", "info", path, "--json")
		require.Equal(t, exitOK, a.code, a.err)
		require.NoError(t, json.Unmarshal([]byte(a.out), &info))
		assert.Equal(t, row.known, info.Accuracy != nil, row.name)
		assert.Contains(t, info.Operation, row.operation)
		var sight struct {
			Data told `json:"elevation_data"`
		}
		a = run(t, "sight", "35.99,-83.99", "35.985,-83.985", "--dem", path, "--json")
		require.Equal(t, exitOK, a.code, a.err)
		require.NoError(t, json.Unmarshal([]byte(a.out), &sight))
		assert.Equal(t, row.always, sight.Data.Accuracy != nil, row.name)
		for _, list := range [][]string{info.Warnings, sight.Data.Warnings} {
			if row.warning == "" {
				assert.NotContains(t, strings.Join(list, " "), "places", row.name)
			} else {
				assert.Contains(t, strings.Join(list, " "), row.warning, row.name)
			}
		}
		if row.always {
			text := run(t, "sight", "35.99,-83.99", "35.985,-83.985", "--dem", path)
			assert.Contains(t, strings.Join(strings.Fields(text.out), " "), "; places good to ")
		}
	}
	// of files in several systems each is told, and an answer rests on the worst
	old, plain := write("old.tif", "EPSG:4267"), write("plain.tif", "EPSG:4326")
	a := run(t, "dem", "info", plain, old, "--json")
	require.Equal(t, exitOK, a.code, a.err)
	var both struct {
		Placed []struct {
			CRS      string   `json:"crs"`
			Accuracy *float64 `json:"place_accuracy_m"`
		} `json:"places_by_crs"`
	}
	require.NoError(t, json.Unmarshal([]byte(a.out), &both))
	require.Len(t, both.Placed, 2)
	for _, p := range both.Placed {
		require.NotNil(t, p.Accuracy)
		assert.Equal(t, strings.Contains(p.CRS, "NAD27"), *p.Accuracy > 1, p.CRS)
	}
	assert.Contains(t, strings.Join(strings.Fields(run(t, "dem", "info", plain, old).out), " "), "1 file: places good to ")
	for _, order := range [][]string{{plain, old}, {old, plain}} {
		a = run(t, "sight", "35.99,-83.99", "35.985,-83.985", "--dem", order[0], "--dem", order[1], "--json")
		require.Equal(t, exitOK, a.code, a.err)
		var sight struct {
			Data told `json:"elevation_data"`
		}
		require.NoError(t, json.Unmarshal([]byte(a.out), &sight))
		assert.NotNil(t, sight.Data.Accuracy)
	}
}
