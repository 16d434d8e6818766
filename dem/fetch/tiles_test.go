package fetch

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
)

// TestTileNames against names of the publishers' own tiles, from memory.
func TestTileNames(t *testing.T) {
	t.Parallel()
	cases := []struct {
		source string
		at     geodesy.LatLon
		name   string
	}{
		{"copernicus-glo-30", geodesy.LatLon{Lat: 46.5, Lon: 7.5}, "Copernicus_DSM_COG_10_N46_00_E007_00_DEM.tif"},
		{"copernicus-glo-30", geodesy.LatLon{Lat: -41.3, Lon: 174.7}, "Copernicus_DSM_COG_10_S42_00_E174_00_DEM.tif"},
		{"copernicus-glo-90", geodesy.LatLon{Lat: 36.5, Lon: -84.5}, "Copernicus_DSM_COG_30_N36_00_W085_00_DEM.tif"},
		{"usgs-3dep-13", geodesy.LatLon{Lat: 46.85, Lon: -121.76}, "USGS_13_n47w122.tif"},
		{"usgs-3dep-1", geodesy.LatLon{Lat: 36.5, Lon: -84.5}, "USGS_1_n37w085.tif"},
	}
	for _, c := range cases {
		s, err := Find(c.source, nil)
		require.NoError(t, err)
		tiles, err := s.Tiles(c.at, 100)
		require.NoError(t, err)
		require.Len(t, tiles, 1, c.name)
		assert.Equal(t, c.name, tiles[0].Name)
		assert.True(t, strings.HasSuffix(tiles[0].URL, c.name))
	}
}

// TestTilesAreThoseInReach against a search of every degree by distance to
// points along its border.
func TestTilesAreThoseInReach(t *testing.T) {
	t.Parallel()
	s := copernicus(t)
	for _, c := range []struct {
		at     geodesy.LatLon
		radius float64
	}{
		{alps, 1000}, {alps, 3000}, {alps, 90000}, {geodesy.LatLon{Lat: -17, Lon: 179.99}, 5000}, {geodesy.LatLon{Lat: 0.001, Lon: -0.001}, 1000},
		{geodesy.LatLon{Lat: 71.3, Lon: 25.8}, 60000}, {geodesy.LatLon{Lat: 89.9, Lon: 10}, 20000}, {geodesy.LatLon{Lat: -89.99, Lon: 0}, 200000},
	} {
		tiles, err := s.Tiles(c.at, c.radius)
		require.NoError(t, err)
		got := map[[2]int]bool{}
		for _, tile := range tiles {
			got[[2]int{tile.South, tile.West}] = true
		}
		assert.Len(t, got, len(tiles), "each once")
		for south := -90; south < 90; south++ {
			if math.Abs(float64(south)+0.5-float64(c.at.Lat)) > 4 {
				continue
			}
			for west := -180; west < 180; west++ {
				// far in longitude, but for the poles
				if d := math.Remainder(float64(west)+0.5-float64(c.at.Lon), 360); math.Abs(d) > 6 && math.Abs(float64(c.at.Lat)) < 85 {
					assert.False(t, got[[2]int{south, west}])
					continue
				}
				nearest := math.Inf(1)
				for i := range 51 {
					f := float64(i) / 50
					for _, p := range [][2]float64{{f, 0}, {f, 1}, {0, f}, {1, f}} {
						q, err := geodesy.NewLatLon(geodesy.Degrees(float64(south)+p[0]), geodesy.Degrees(math.Remainder(float64(west)+p[1], 360)))
						require.NoError(t, err)
						nearest = min(nearest, geodesy.Inverse(c.at, q).Distance)
					}
				}
				dx := math.Mod(float64(c.at.Lon)-float64(west)+360, 360)
				inside := dx <= 1 && float64(c.at.Lat) >= float64(south) && float64(c.at.Lat) <= float64(south)+1
				key := [2]int{south, west}
				if inside || nearest <= c.radius {
					assert.True(t, got[key], "%v %v lacks %v, %.0f m off", c.at, c.radius, key, nearest)
				} else if nearest > c.radius+reach+1500 { // border points are up to 1.2 km from the nearest
					assert.False(t, got[key], "%v %v has %v, %.0f m off", c.at, c.radius, key, nearest)
				}
			}
		}
	}
	_, err := s.Tiles(alps, 2e6)
	require.Error(t, err)
	_, err = s.Tiles(alps, math.NaN())
	require.Error(t, err)
}
