package cli

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// TestFilesAcrossTheAntimeridian: what every command writes there stays
// within 180 degrees and has no edge round the world.
func TestFilesAcrossTheAntimeridian(t *testing.T) {
	t.Parallel()
	const step = 1.0 / 1200
	f := &dem.Frame{Columns: 161, Rows: 121, X0: 180 - 80*step, Y0: -17, DX: step, DY: -step, CRS: geodesy.WGS84}
	path := rasterFile(t, "date-line.tif", f, func(column, row int) float64 {
		return 400 + 200*math.Cos(float64(row-60)/4) + 0.5*float64(column)
	})
	const place = "17.05S,179.999E"
	for name, arguments := range map[string][]string{
		"seen.geojson": {"viewshed", place}, "forms.geojson": {"dem", "features", "--around", place, "--vertical-error", "3m"},
		"lines.geojson": {"contours", "--interval", "20m"},
	} {
		file := filepath.Join(t.TempDir(), name)
		a := run(t, append(arguments, "--dem", path, "-o", file)...)
		require.Equal(t, exitOK, a.code, a.err)
		body, err := os.ReadFile(file)
		require.NoError(t, err)
		collection, err := geojson.UnmarshalFeatureCollection(body)
		require.NoError(t, err)
		east, west := 0, 0
		check := func(line orb.LineString) {
			for i, p := range line {
				require.LessOrEqual(t, math.Abs(p[0]), 180.0, name)
				if i > 0 {
					require.Less(t, math.Abs(p[0]-line[i-1][0]), 1.0, name)
				}
				if p[0] > 0 {
					east++
				} else {
					west++
				}
			}
		}
		for _, feature := range collection.Features {
			switch g := feature.Geometry.(type) {
			case orb.LineString:
				check(g)
			case orb.MultiLineString:
				for _, line := range g {
					check(line)
				}
			case orb.MultiPolygon:
				for _, polygon := range g {
					for _, ring := range polygon {
						check(orb.LineString(ring))
					}
				}
			}
		}
		assert.Positive(t, east, name)
		assert.Positive(t, west, name)
	}
}
