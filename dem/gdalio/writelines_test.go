package gdalio

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
)

// readLine is a line as ogr2ogr reads it back.
type readLine struct {
	Properties map[string]any
	Points     [][]float64
}

func readBack(t *testing.T, path string, args ...string) []readLine {
	t.Helper()
	args = append([]string{"-f", "GeoJSON", "-lco", "COORDINATE_PRECISION=9", "-lco", "RFC7946=NO", "/vsistdout/", path}, args...)
	var read struct {
		Features []struct {
			Properties map[string]any
			Geometry   struct {
				Type        string
				Coordinates json.RawMessage
			}
		}
	}
	require.NoError(t, json.Unmarshal([]byte(tool(t, "", "ogr2ogr", args...)), &read))
	var out []readLine
	for _, f := range read.Features {
		l := readLine{Properties: f.Properties}
		if f.Geometry.Type == "MultiLineString" {
			var many [][][]float64
			require.NoError(t, json.Unmarshal(f.Geometry.Coordinates, &many))
			require.Len(t, many, 1)
			l.Points = many[0]
		} else {
			require.NoError(t, json.Unmarshal(f.Geometry.Coordinates, &l.Points))
		}
		out = append(out, l)
	}
	return out
}

func lineLayer(given, crs *geodesy.CRS, z bool) LineLayer {
	return LineLayer{Name: "lines", Given: given, CRS: crs, ThirdCoordinate: z, KindField: 1,
		Fields: []Field{{"elevation", Real}, {"kind", Text}, {"number", Integer}}}
}

// TestLinesReadBack: some thousand lines in every format, over many batches,
// given in UTM and written in it or in longitude and latitude.
func TestLinesReadBack(t *testing.T) {
	t.Parallel()
	utm, err := geodesy.NewCRS("EPSG:32617")
	require.NoError(t, err)
	const n = 3000
	line := func(i int, driver string) LineString {
		second := map[bool]string{true: "half", false: "intermédiaire"}[driver == DXF] // whose names are not Unicode
		l := LineString{Elevation: float64(i), Values: []any{float64(i) + 0.5, []any{"index", second, nil}[i%3], i}}
		for k := range 2 + i%50 {
			l.X = append(l.X, 600000+float64(10*i+k))
			l.Y = append(l.Y, 4000000+float64(i*k%7))
		}
		return l
	}
	for _, c := range []struct {
		ending string
		crs    *geodesy.CRS
		z      bool
	}{
		{".gpkg", nil, false}, {".gpkg", utm, true}, {".fgb", utm, false}, {".fgb", nil, true}, {".shp", utm, false},
		{".geojson", nil, false}, {".geojson", nil, true}, {".kml", nil, true}, {".gpx", nil, true}, {".dxf", utm, true},
	} {
		t.Run(fmt.Sprintf("%s %v %v", c.ending, c.crs != nil, c.z), func(t *testing.T) {
			t.Parallel()
			folder := t.TempDir()
			path := filepath.Join(folder, "lines"+c.ending)
			driver, err := VectorDriver(path)
			require.NoError(t, err)
			require.NoError(t, WriteLines(t.Context(), path, driver, lineLayer(utm, c.crs, c.z), func(add func(LineString) error) error {
				for i := range n {
					l := line(i, driver)
					if err := add(l); err != nil {
						return err
					}
					for k := range l.X {
						l.X[k], l.Values[0] = math.NaN(), nil // add must have kept no hold
					}
				}
				return nil
			}))
			var args []string
			switch driver {
			case GPX:
				args = []string{"tracks", "--config", "GPX_ELE_AS_25D", "YES"}
			case DXF:
				args = []string{"-a_srs", "EPSG:4326"} // it has no place for a system; numbers as they are
			default:
				if c.crs != nil {
					args = []string{"-a_srs", "EPSG:4326"}
				}
			}
			read := readBack(t, path, args...)
			require.Len(t, read, n)
			seen := map[int]bool{}
			for at, got := range read {
				i := at
				switch driver {
				case FlatGeobuf: // sorts them
					i = int(got.Properties["number"].(float64))
				case GPX:
					assert.InDelta(t, float64(i)+0.5, got.Properties["ogr_elevation"], 1e-9)
				case DXF:
					assert.Equal(t, []string{"lines-index", "lines-half", "lines"}[i%3], got.Properties["Layer"])
				default:
					require.InDelta(t, float64(i)+0.5, got.Properties["elevation"], 1e-9)
					if driver != KML {
						assert.Equal(t, line(i, driver).Values[1], got.Properties["kind"])
					}
				}
				seen[i] = true
				want := line(i, driver)
				require.Len(t, got.Points, len(want.X))
				if c.crs == nil {
					require.NoError(t, utm.ToWGS84(want.X, want.Y))
				}
				// 2e-8 degrees or 2e-4 m: eight decimals in GeoJSON, sixteen digits in DXF
				tolerance := map[bool]float64{true: 2e-8, false: 2e-4}[c.crs == nil]
				for k, p := range got.Points {
					require.InDelta(t, want.X[k], p[0], tolerance)
					require.InDelta(t, want.Y[k], p[1], tolerance)
					require.Equal(t, c.z, len(p) == 3)
					if c.z {
						require.InDelta(t, want.Elevation, p[2], 1e-9)
					}
				}
			}
			assert.Len(t, seen, n)
		})
	}
}

// TestAFailedLineLeavesNothing: whoever fails, and whenever.
func TestAFailedLineLeavesNothing(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	good := LineString{X: []float64{1, 2}, Y: []float64{3, 4}, Values: []any{1.0, "a", 2}}
	stop := errors.New("no more")
	write := func(ctx context.Context, path, driver string, layer LineLayer, last LineString, err error) error {
		return WriteLines(ctx, path, driver, layer, func(add func(LineString) error) error {
			for range 5000 {
				if err := add(good); err != nil {
					return err
				}
			}
			if err != nil {
				return err
			}
			return add(last)
		})
	}
	path := filepath.Join(folder, "a.fgb")
	layer := lineLayer(nil, nil, false)
	require.ErrorIs(t, write(t.Context(), path, FlatGeobuf, layer, good, stop), stop)
	cancelled, cancel := context.WithCancel(t.Context())
	cancel()
	require.ErrorIs(t, write(cancelled, path, FlatGeobuf, layer, good, nil), context.Canceled)
	for _, row := range []struct {
		line LineString
		says string
	}{
		{LineString{X: []float64{1, math.NaN()}, Y: []float64{3, 4}, Values: good.Values}, "not a number"},
		{LineString{X: []float64{1}, Y: []float64{3}, Values: good.Values}, "1 x and 1 y"},
		{LineString{X: good.X, Y: good.Y, Values: []any{1.0}}, "1 values for 3 fields"},
		{LineString{X: good.X, Y: good.Y, Values: []any{1, "a", 2}}, "not its type"},
		{LineString{X: good.X, Y: good.Y, Values: []any{1.0, 'a', 2}}, "holds a int32"},
	} {
		require.ErrorContains(t, write(t.Context(), path, FlatGeobuf, layer, row.line, nil), row.says)
	}
	utm, err := geodesy.NewCRS("EPSG:32617")
	require.NoError(t, err)
	require.ErrorContains(t, write(t.Context(), path, GeoJSON, lineLayer(utm, utm, false), good, nil), "always longitude and latitude")
	away := LineString{X: []float64{1, 1e30}, Y: []float64{3, 4}, Values: good.Values}
	require.ErrorContains(t, write(t.Context(), path, FlatGeobuf, lineLayer(utm, nil, false), away, nil), "cannot be transformed")
	require.Error(t, write(t.Context(), path, "no such driver", layer, good, nil))
	require.ErrorContains(t, write(t.Context(), filepath.Join(folder, "none", "a.fgb"), FlatGeobuf, layer, good, nil), "no folder")
	assert.Empty(t, leftovers(t, folder))
}

// TestLinesArePartedAtTheAntimeridian: the parts by hand, from both ways a
// line may be given, and in a file.
func TestLinesArePartedAtTheAntimeridian(t *testing.T) {
	t.Parallel()
	type points = [][2]float64
	for _, row := range []struct {
		name string
		line points
		want []points
	}{
		{"eastward, running on", points{{179, 10}, {181, 20}}, []points{{{179, 10}, {180, 15}}, {{-180, 15}, {-179, 20}}}},
		{"eastward, jumping", points{{179, 10}, {-179, 20}}, []points{{{179, 10}, {180, 15}}, {{-180, 15}, {-179, 20}}}},
		{"westward", points{{-179, 0}, {-180.5, 3}, {-182, 3}}, []points{{{-179, 0}, {-180, 2}}, {{180, 2}, {179.5, 3}, {178, 3}}}},
		{"beyond", points{{190, 1}, {200, 2}, {210, 1}}, []points{{{-170, 1}, {-160, 2}, {-150, 1}}}},
		{"a point on it", points{{179, 1}, {180, 2}, {181, 3}}, []points{{{179, 1}, {180, 2}}, {{-180, 2}, {-179, 3}}}},
		{"to it and back", points{{179, 1}, {180, 2}, {179, 3}}, []points{{{179, 1}, {180, 2}, {179, 3}}}},
		{"along it from the east", points{{181, 1}, {180, 2}, {180, 3}, {181, 4}}, []points{{{-179, 1}, {-180, 2}, {-180, 3}, {-179, 4}}}},
		{"along it from the west", points{{179, 1}, {180, 2}, {180, 3}, {179, 4}}, []points{{{179, 1}, {180, 2}, {180, 3}, {179, 4}}}},
		{"along it and over", points{{179, 1}, {180, 2}, {180, 3}, {181, 4}}, []points{{{179, 1}, {180, 2}, {180, 3}}, {{-180, 3}, {-179, 4}}}},
		{"closed", points{{179, 0}, {181, 2}, {179, 4}, {178, 2}, {179, 0}},
			[]points{{{180, 3}, {179, 4}, {178, 2}, {179, 0}, {180, 1}}, {{-180, 1}, {-179, 2}, {-180, 3}}}},
		{"the other way round the world", points{{-190, 0}, {-180, 5}, {-170, 0}}, []points{{{170, 0}, {180, 5}}, {{-180, 5}, {-170, 0}}}},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			var x, y []float64
			for _, p := range row.line {
				x, y = append(x, p[0]), append(y, p[1])
			}
			assert.Equal(t, row.want, partLine(x, y))
			path := filepath.Join(t.TempDir(), "parts.geojson")
			require.NoError(t, WriteLines(t.Context(), path, GeoJSON, lineLayer(nil, nil, true), func(add func(LineString) error) error {
				if err := add(LineString{X: []float64{1, 2}, Y: []float64{1, 2}, Elevation: 1, Values: []any{nil, "plain", 1}}); err != nil {
					return err
				}
				return add(LineString{X: x, Y: y, Elevation: 7, Values: []any{7.5, "parted", 2}})
			}))
			read := readBack(t, path)
			over := false
			for i := range x {
				over = over || math.Abs(x[i]) > 180 || i > 0 && math.Abs(x[i]-x[i-1]) > 180
			}
			if !over { // left as it is
				require.Len(t, read, 2)
				return
			}
			require.Len(t, read, 1+len(row.want))
			for i, part := range row.want {
				assert.Equal(t, "parted", read[i+1].Properties["kind"])
				assert.InDelta(t, 7.5, read[i+1].Properties["elevation"], 0)
				require.Len(t, read[i+1].Points, len(part))
				for k, p := range part {
					assert.InDeltaSlice(t, []float64{p[0], p[1], 7}, read[i+1].Points[k], 1e-9)
				}
			}
		})
	}
}
