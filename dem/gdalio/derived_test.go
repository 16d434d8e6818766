package gdalio

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// realMountain is the test data's mountain ground, in metres on UTM.
func realMountain(t *testing.T) string {
	t.Helper()
	folder := os.Getenv("CROWLINE_TERRAIN")
	if folder == "" {
		folder = "../../../../shared/dem"
	}
	path := filepath.Join(folder, "bigtujunga_srtm30.tif")
	if _, err := os.Stat(path); err != nil {
		t.Skip("no bigtujunga_srtm30.tif (CROWLINE_TERRAIN)")
	}
	return path
}

// onUTM is a file on UTM, so that gdaldem's slopes are right.
func onUTM(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "utm.tif")
	tool(t, "", "gdalwarp", "-q", "-t_srs", "EPSG:32616", "-tr", "90", "90", "-r", "bilinear", cumberland, path)
	return path
}

func folderOf(t *testing.T, files map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	for name, from := range files {
		data, err := os.ReadFile(from)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), data, 0o600))
	}
	return dir
}

func groundRound(t *testing.T, margin float64, at geodesy.LatLon, paths ...string) (*dem.Grid, error) {
	t.Helper()
	m, err := OpenMany(t.Context(), paths, ManyOptions{IndexFolder: t.TempDir()})
	require.NoError(t, err)
	defer m.Close()
	j, err := m.For(t.Context(), []geodesy.LatLon{at}, margin)
	if err != nil {
		return nil, err
	}
	return j.Read(context.Background(), j.Layout().Whole())
}

func centreOf(t *testing.T, path string) geodesy.LatLon {
	t.Helper()
	r, err := Open(path, Options{})
	require.NoError(t, err)
	defer r.Close()
	f := r.Layout()
	p, err := f.Place(float64(f.Columns/2), float64(f.Rows/2))
	require.NoError(t, err)
	return p
}

// TestDerivedRastersAreNotGround: 2026-11-30, a hillshade or a slope map in a
// folder with its own ground, first by name, was taken for the ground.
func TestDerivedRastersAreNotGround(t *testing.T) {
	t.Parallel()
	for name, ground := range map[string]func(*testing.T) string{"mountains": realMountain, "hills": onUTM} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			whole := ground(t)
			at := centreOf(t, whole)
			_, want := openAll(t, whole, Options{})
			for derived, args := range map[string][]string{
				"hillshade": nil, "slope": nil, "aspect": nil, "roughness": nil, "TRI": nil,
				"slope in percent": {"-p"}, "hillshade at 10 degrees": {"-alt", "10"},
			} {
				made := filepath.Join(t.TempDir(), "made.tif")
				kind, _, _ := strings.Cut(derived, " ")
				tool(t, "", "gdaldem", append([]string{kind, "-q", whole, made}, args...)...)
				float := filepath.Join(t.TempDir(), "float.tif")
				tool(t, "", "gdal_translate", "-q", "-ot", "Float32", made, float)
				for _, made := range []string{made, float} {
					for _, first := range []string{"a.tif", "z.tif"} {
						folder := folderOf(t, map[string]string{"m.tif": whole, first: made})
						for _, margin := range []float64{200, 5000} {
							_, err := groundRound(t, margin, at, folder)
							require.Error(t, err, "%s %s %v", derived, first, margin)
							assert.Contains(t, err.Error(), "m.tif")
							assert.Contains(t, err.Error(), first)
							assert.Contains(t, err.Error(), "not of the same ground")
							assert.NotContains(t, err.Error(), "\n")
						}
						// named, the ground counts
						named := filepath.Join(folder, "m.tif")
						for _, paths := range [][]string{{folder, named}, {named, folder}, {folder, folder + "/./m.tif"}} {
							g, err := groundRound(t, 2000, at, paths...)
							require.NoError(t, err)
							h, err := dem.ElevationAt(g, at)
							require.NoError(t, err)
							truth, err := dem.ElevationAt(want, at)
							require.NoError(t, err)
							assert.InDelta(t, truth, h, 1e-3)
							assert.Contains(t, strings.Join(g.Source.Warnings, " "), first+" was left out")
						}
						_, err := groundRound(t, 2000, at, named, filepath.Join(folder, first))
						require.ErrorContains(t, err, "give one of them only")
					}
				}
			}
		})
	}
}

// TestOverlapsOfOneGroundAreJoined: what differs as surveys of one ground do.
func TestOverlapsOfOneGroundAreJoined(t *testing.T) {
	t.Parallel()
	for name, ground := range map[string]func(*testing.T) string{"mountains": realMountain, "hills": onUTM} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			whole := ground(t)
			at := centreOf(t, whole)
			warp := func(args ...string) string {
				to := filepath.Join(t.TempDir(), "warped.tif")
				tool(t, "", "gdalwarp", append(append([]string{"-q"}, args...), whole, to)...)
				return to
			}
			translate := func(args ...string) string { return translate(t, whole, args...) }
			others := map[string]string{
				"10 m":                    warp("-tr", "10", "10", "-r", "cubic", "-te_srs", "EPSG:4326", "-te", fmt.Sprint(at.Lon-0.05), fmt.Sprint(at.Lat-0.05), fmt.Sprint(at.Lon+0.05), fmt.Sprint(at.Lat+0.05)),
				"100 m, averaged":         warp("-tr", "100", "100", "-r", "average"),
				"1 km, averaged":          warp("-tr", "1000", "1000", "-r", "average"),
				"degrees":                 warp("-t_srs", "EPSG:4326", "-r", "bilinear"),
				"a forest of 30 m":        translate("-ot", "Float32", "-scale", "0", "1000", "30", "1030"),
				"the geoid for ellipsoid": translate("-ot", "Float32", "-scale", "0", "1000", "-32", "968"),
				"a copy":                  translate(),
			}
			for what, other := range others {
				for _, first := range []string{"a.tif", "z.tif"} {
					folder := folderOf(t, map[string]string{"m.tif": whole, first: other})
					for _, margin := range []float64{300, 4000} {
						_, err := groundRound(t, margin, at, folder)
						require.NoError(t, err, "%s %s %v", what, first, margin)
					}
				}
			}
			feet := translate("-ot", "Float32", "-scale", "0", "1000", "0", "3280.84")
			_, err := groundRound(t, 4000, at, folderOf(t, map[string]string{"m.tif": whole, "a.tif": feet}))
			require.ErrorContains(t, err, "the heights of a.tif look to be in feet and taken as metres")
			_, err = groundRound(t, 4000, at, folderOf(t, map[string]string{"m.tif": translate("-a_nodata", "0"), "a.tif": translate("-ot", "Float32", "-scale", "0", "10000", "0", "0")}))
			require.ErrorContains(t, err, "not of the same ground", "zeros for ground")
		})
	}
}

// TestTilesThatShareAnEdge: as SRTM's do, and none is opened for it.
func TestTilesThatShareAnEdge(t *testing.T) {
	t.Parallel()
	west, east := translate(t, cumberland, "-srcwin", "0", "0", "200", "300"), translate(t, cumberland, "-srcwin", "199", "0", "200", "300")
	at := centreOf(t, west)
	_, err := groundRound(t, 20000, at, folderOf(t, map[string]string{"a.tif": west, "b.tif": east}))
	require.NoError(t, err)
}

// TestBytesAreDoubted: a raster of bytes alone is told of.
func TestBytesAreDoubted(t *testing.T) {
	t.Parallel()
	made := filepath.Join(t.TempDir(), "made.tif")
	tool(t, "", "gdaldem", "hillshade", "-q", onUTM(t), made)
	r, err := Open(made, Options{})
	require.NoError(t, err)
	defer r.Close()
	assert.Contains(t, strings.Join(r.Info().Warnings, " "), "the file holds bytes")
}
