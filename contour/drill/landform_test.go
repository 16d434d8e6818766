package drill

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
)

// TestNoOtherLandformIsNearerThanTheKeySays: 2026-11-30. A key said "no other
// kind of landform within 310 m" 21 m from a cliff, whose steepest post alone
// was looked at. Cliffs are looked for here in the elevations, the rest at
// the corners of all their parts.
func TestNoOtherLandformIsNearerThanTheKeySays(t *testing.T) {
	t.Parallel()
	folder := os.Getenv("CROWLINE_TERRAIN")
	if folder == "" {
		folder = filepath.Join("..", "..", "..", "shared", "dem")
	}
	path := filepath.Join(folder, "bigtujunga_srtm30.tif")
	if _, err := os.Stat(path); err != nil {
		t.Skip("no elevation files; set CROWLINE_TERRAIN to the folder that has bigtujunga_srtm30.tif")
	}
	raster, err := gdalio.Open(path, gdalio.Options{})
	require.NoError(t, err)
	defer raster.Close()
	grid, err := raster.Read(context.Background(), raster.Layout().Whole())
	require.NoError(t, err)
	asked := 0
	for seed := range uint64(2) {
		set, err := Make(context.Background(), grid, Options{Around: geodesy.LatLon{Lat: 34.32, Lon: -118.15}, Radius: 7000, Seed: seed, Level: Intermediate, Count: 8, Kinds: []Kind{Landform}})
		require.NoError(t, err)
		for _, q := range set.Questions {
			said := regexp.MustCompile(`; no (.*) within (\d+) m of A$`).FindStringSubmatch(q.Margin)
			if said == nil {
				assert.Regexp(t, `within 1\.\d\d km of A$`, q.Margin)
				said = []string{"", "", "1000"}
			}
			within, err := strconv.ParseFloat(said[2], 64)
			require.NoError(t, err)
			mark := q.Figure.Marks[0].At()
			kind := q.Data.(LandformAnswer).Landform
			line := kind != landform.Hill && kind != landform.Saddle && kind != landform.Depression && kind != landform.Cliff
			const rounding = 0.05 // m; marks keep all their figures, distances along a grid err by less
			for _, f := range set.survey.features {
				if f.Kind == kind || len(f.Line) > 0 && !line || f.Kind == landform.Cliff {
					continue
				}
				places := append([]landform.Position{{Column: float64(f.Column), Row: float64(f.Row)}}, f.Line...)
				for _, p := range f.Parts {
					places = append(places, p...)
				}
				for _, p := range places {
					there, err := grid.Place(p.Column, p.Row)
					require.NoError(t, err)
					assert.GreaterOrEqual(t, geodesy.Inverse(mark, there).Distance, within-rounding, "%s: %s", q.Answer, f.Kind)
				}
			}
			if kind != landform.Cliff {
				asked++
				assert.GreaterOrEqual(t, nearestCliff(t, grid, mark, set.survey.along.MinRelief), within-rounding, q.Answer)
			}
		}
	}
	assert.Greater(t, asked, 12)
}

// nearestCliff is how far from a place the nearest post is that stands or
// falls some relief or more, at 45 degrees or more, over its neighbour.
func nearestCliff(t *testing.T, grid *dem.Grid, at geodesy.LatLon, relief float64) float64 {
	column, row, err := grid.Locate(at)
	require.NoError(t, err)
	least := math.Inf(1)
	for r := int(row) - 60; r < int(row)+60; r++ {
		for c := int(column) - 60; c < int(column)+60; c++ {
			for _, d := range [][2]int{{1, 0}, {0, 1}, {1, 1}, {1, -1}} {
				drop := math.Abs(grid.Elevation(c, r) - grid.Elevation(c+d[0], r+d[1]))
				if !(drop >= max(relief, 1.001*30.02*math.Hypot(float64(d[0]), float64(d[1])))) {
					continue
				}
				for _, p := range [][2]int{{c, r}, {c + d[0], r + d[1]}} {
					there, err := grid.Place(float64(p[0]), float64(p[1]))
					require.NoError(t, err)
					least = min(least, geodesy.Inverse(at, there).Distance)
				}
			}
		}
	}
	return least
}
