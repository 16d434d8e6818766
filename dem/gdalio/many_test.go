package gdalio

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// cut writes a window of a grid as a GeoTIFF.
func cut(t testing.TB, g *dem.Grid, path string, w dem.Window) {
	t.Helper()
	require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
	f := g.Sub(w)
	values := make([]float32, 0, w.Columns*w.Rows)
	for r := range w.Rows {
		at := (w.Row+r)*g.Columns + w.Column
		values = append(values, g.Elevations[at:at+w.Columns]...)
	}
	require.NoError(t, WriteGeoTIFF(context.Background(), path, &f, []Band{{Name: "elevation", Float32: values}}))
}

func openCumberland(t testing.TB) *dem.Grid {
	t.Helper()
	r, err := Open(cumberland, Options{})
	require.NoError(t, err)
	defer r.Close()
	g, err := r.Read(context.Background(), r.Layout().Whole())
	require.NoError(t, err)
	return g
}

// tiled cuts the Cumberland ground into tiles of side x side posts, in folders by
// row, and returns the folder.
func tiled(t testing.TB, g *dem.Grid, side int) string {
	t.Helper()
	folder := t.TempDir()
	for r := 0; r < g.Rows; r += side {
		for c := 0; c < g.Columns; c += side {
			w := dem.Window{Column: c, Row: r, Columns: side, Rows: side}.Intersect(g.Whole())
			cut(t, g, filepath.Join(folder, fmt.Sprintf("row%03d", r), fmt.Sprintf("tile_%03d_%03d.tif", r, c)), w)
		}
	}
	return folder
}

func manyOptions(t testing.TB) ManyOptions { return ManyOptions{IndexFolder: t.TempDir()} }

func groundOf(t *testing.T, m *dem.Mosaic, margin float64, places ...geodesy.LatLon) *dem.Grid {
	t.Helper()
	j, err := m.For(t.Context(), places, margin)
	require.NoError(t, err)
	g, err := j.Read(t.Context(), j.Layout().Whole())
	require.NoError(t, err)
	return g
}

var jacksboro = geodesy.LatLon{Lat: 36.45, Lon: -84.25} // inside the demo ground

// TestFolderAnswersAsTheFile: by folder, glob and list, every post is that
// of the file the tiles were cut from.
func TestFolderAnswersAsTheFile(t *testing.T) {
	t.Parallel()
	whole := openCumberland(t)
	folder := tiled(t, whole, 100)
	list, err := filepath.Glob(filepath.Join(folder, "*", "*.tif"))
	require.NoError(t, err)
	for name, paths := range map[string][]string{"folder": {folder}, "glob": {filepath.Join(folder, "*", "*.tif")}, "list": list, "folder and a file in it": {folder, list[3]}} {
		opts := manyOptions(t)
		for range 2 { // with the index made, and with the index found
			m, err := OpenMany(t.Context(), paths, opts)
			require.NoError(t, err, name)
			g := groundOf(t, m, 1e5, jacksboro)
			require.Equal(t, [2]int{whole.Columns, whole.Rows}, [2]int{g.Columns, g.Rows}, name)
			assert.Equal(t, whole.Elevations, g.Elevations, name)
			require.NoError(t, m.Close())
		}
	}
	// a small question opens the tiles it touches and no others
	m, err := OpenMany(t.Context(), []string{folder}, manyOptions(t))
	require.NoError(t, err)
	defer m.Close()
	place, err := whole.Place(250, 250)
	require.NoError(t, err)
	groundOf(t, m, 1000, place)
	assert.Equal(t, 1, m.Opened())
	extent, err := whole.Extent()
	require.NoError(t, err)
	assert.True(t, m.Extent().Meets(extent))
	_, err = m.For(t.Context(), []geodesy.LatLon{{Lat: 10, Lon: 10}}, 1000)
	require.ErrorIs(t, err, dem.ErrOutside)
}

// resampled is a ground sampled on another CRS's lattice over some of its
// columns.
func resampled(t *testing.T, whole *dem.Grid, crsCode string, spacing float64, fromColumn, toColumn int) *dem.Grid {
	t.Helper()
	crs, err := geodesy.NewCRS(crsCode)
	require.NoError(t, err)
	x0, x1, y0, y1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, corner := range [][2]int{{fromColumn, 0}, {toColumn, 0}, {fromColumn, whole.Rows - 1}, {toColumn, whole.Rows - 1}} {
		at, err := whole.Place(float64(corner[0]), float64(corner[1]))
		require.NoError(t, err)
		x, y, err := crs.Coordinates(at)
		require.NoError(t, err)
		x0, x1, y0, y1 = min(x0, x), max(x1, x), min(y0, y), max(y1, y)
	}
	g := &dem.Grid{Frame: dem.Frame{Columns: int((x1-x0)/spacing) + 1, Rows: int((y1-y0)/spacing) + 1, X0: x0, Y0: y1, DX: spacing, DY: -spacing, CRS: crs}}
	for i := range g.Columns * g.Rows {
		at, err := g.Place(float64(i%g.Columns), float64(i/g.Columns))
		require.NoError(t, err)
		c, r, err := whole.Locate(at)
		require.NoError(t, err)
		g.Elevations = append(g.Elevations, float32(dem.Bilinear(whole, c, r)))
	}
	return g
}

// TestTilesInOtherCRSsAnswerAsTheFile: the ground in three pieces, one in
// longitude and latitude, one in UTM metres and one in state-plane feet with
// heights in feet. Every post has a height, and it is that of the single
// file within what sampling it on a finer lattice moves it.
func TestTilesInOtherCRSsAnswerAsTheFile(t *testing.T) {
	t.Parallel()
	whole := openCumberland(t)
	folder := t.TempDir()
	cut(t, whole, filepath.Join(folder, "a.tif"), dem.Window{Columns: 150, Rows: whole.Rows})
	b := resampled(t, whole, "EPSG:32616", 30, 140, 280)
	cut(t, b, filepath.Join(folder, "b.tif"), b.Whole())
	c := resampled(t, whole, "EPSG:2274", 100, 270, whole.Columns-1) // coordinates in US survey feet
	feet := make([]float32, len(c.Elevations))
	for i, h := range c.Elevations {
		feet[i] = float32(float64(h) / 0.3048)
	}
	inFeet := rawRaster{
		columns: c.Columns, rows: c.Rows, dataType: "Float32", bytes: float32s(feet...), crs: "EPSG:2274",
		geotransform: fmt.Sprintf("%.9f,%v,0,%.9f,0,%v", c.X0-c.DX/2, c.DX, c.Y0-c.DY/2, c.DY),
		bandExtra:    "<NoDataValue>nan</NoDataValue><UnitType>ft</UnitType>",
	}.write(t)
	m, err := OpenMany(t.Context(), []string{folder, inFeet}, manyOptions(t))
	require.NoError(t, err)
	defer m.Close()
	places := []geodesy.LatLon{jacksboro}
	for _, column := range []float64{75, 375} {
		p, err := whole.Place(column, 170)
		require.NoError(t, err)
		places = append(places, p)
	}
	j, err := m.For(t.Context(), places, 8000)
	require.NoError(t, err)
	g, err := j.Read(t.Context(), j.Layout().Whole())
	require.NoError(t, err)
	var differences []float64
	voids := 0
	for i, h := range g.Elevations {
		if h == h && i%11 != 0 { // all voids, and some of the rest
			continue
		}
		at, err := g.Place(float64(i%g.Columns), float64(i/g.Columns))
		require.NoError(t, err)
		// UTM and state-plane tiles are turned, so their corners miss a
		// strip of the file's border
		col, row, err := whole.Locate(at)
		require.NoError(t, err)
		if col < 8 || row < 8 || col > float64(whole.Columns)-9 || row > float64(whole.Rows)-9 {
			continue
		}
		if h != h {
			voids++
			continue
		}
		differences = append(differences, math.Abs(float64(h)-dem.Bilinear(whole, col, row)))
	}
	assert.Zero(t, voids)
	sum, worst := 0.0, 0.0
	for _, d := range differences {
		sum, worst = sum+d, max(worst, d)
	}
	mean := sum / float64(len(differences))
	t.Logf("%d posts: mean difference %.3f m, largest %.2f m", len(differences), mean, worst)
	// m: sampling 74 x 92 m posts on a 30 m lattice and that again cuts the
	// edges of the ground: at most a share of the bend at an edge
	const meanTolerance, tolerance = 0.3, 12
	assert.Less(t, mean, meanTolerance)
	assert.Less(t, worst, float64(tolerance))
	shares, _ := j.Shares()
	assert.Len(t, shares, 3)
	for _, s := range shares {
		assert.Positive(t, s.Posts+s.Sampled, "%v", s.Names)
	}
}

// TestIndexIsKeptAndMended: files that come and go are noticed; a changed
// one is refused until indexed again.
func TestIndexIsKeptAndMended(t *testing.T) {
	t.Parallel()
	whole := openCumberland(t)
	folder := tiled(t, whole, 200)
	opts := manyOptions(t)
	indexed := int64(0)
	opts.Progress = func(done, total int64) {
		if done == total {
			indexed = total
		}
	}
	paths := []string{folder}
	center := func(column, row float64) geodesy.LatLon {
		p, err := whole.Place(column, row)
		require.NoError(t, err)
		return p
	}
	open := func() *dem.Mosaic {
		indexed = 0
		m, err := OpenMany(t.Context(), paths, opts)
		require.NoError(t, err)
		t.Cleanup(func() { m.Close() })
		return m
	}
	open()
	assert.EqualValues(t, 6, indexed)
	open()
	assert.Zero(t, indexed, "found, not made again")

	// one goes: its ground is void, and the others stand
	gone := filepath.Join(folder, "row000", "tile_000_000.tif")
	require.NoError(t, os.Rename(gone, filepath.Join(folder, "row000", "tile.away")))
	m := open()
	assert.EqualValues(t, 5, indexed)
	_, err := m.For(t.Context(), []geodesy.LatLon{center(100, 100)}, 500)
	require.ErrorIs(t, err, dem.ErrOutside)
	require.NoError(t, os.Rename(filepath.Join(folder, "row000", "tile.away"), gone))
	groundOf(t, open(), 500, center(100, 100))

	// one byte changes, with the size and modification time put back
	stat, err := os.Stat(gone)
	require.NoError(t, err)
	data, err := os.ReadFile(gone)
	require.NoError(t, err)
	data[len(data)/2] ^= 1
	require.NoError(t, os.WriteFile(gone, data, 0o600))
	require.NoError(t, os.Chtimes(gone, time.Time{}, stat.ModTime()))
	j, err := open().For(t.Context(), []geodesy.LatLon{center(100, 100)}, 500)
	require.NoError(t, err)
	_, err = j.Read(t.Context(), j.Layout().Whole())
	require.ErrorContains(t, err, "has changed since it was indexed")
	require.ErrorContains(t, err, "tile_000_000.tif")
	groundOf(t, open(), 500, center(300, 300)) // no business of another tile

	n, warnings, err := IndexMany(t.Context(), paths, opts)
	require.NoError(t, err)
	assert.Equal(t, 6, n)
	assert.Empty(t, warnings)
	j, err = open().For(t.Context(), []geodesy.LatLon{center(100, 100)}, 500)
	require.NoError(t, err)
	_, err = j.Read(t.Context(), j.Layout().Whole())
	if err != nil { // the changed byte may be one GDAL notices
		assert.NotContains(t, err.Error(), "indexed")
	}
}

// TestChecksumsOfTheFolder: a file that does not match its line is refused,
// by itself or in a folder; a new file that matches is taken at once.
func TestChecksumsOfTheFolder(t *testing.T) {
	t.Parallel()
	whole := openCumberland(t)
	folder := t.TempDir()
	path := filepath.Join(folder, "tile.tif")
	cut(t, whole, path, dem.Window{Columns: 50, Rows: 50})
	cut(t, whole, filepath.Join(folder, "other.tif"), dem.Window{Column: 50, Columns: 50, Rows: 50})
	list := func(sum string) {
		require.NoError(t, os.WriteFile(filepath.Join(folder, ChecksumsFile), []byte("# fetched\n"+sum+"  tile.tif\n"), 0o600))
	}
	list(strings.Repeat("0", 64))
	_, err := OpenMany(t.Context(), []string{path}, manyOptions(t))
	require.ErrorContains(t, err, "does not match")
	opts := manyOptions(t)
	m, err := OpenMany(t.Context(), []string{folder}, opts)
	require.NoError(t, err)
	place, err := whole.Place(75, 25)
	require.NoError(t, err)
	j, err := m.For(t.Context(), []geodesy.LatLon{place}, 100)
	require.NoError(t, err)
	assert.Contains(t, strings.Join(j.Info().Warnings, "\n"), "does not match", "the other tile answers, and says so")
	require.NoError(t, m.Close())

	sum, err := checksum(t.Context(), path)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path+ChecksumEnding, []byte(strings.Repeat("0", 64)+"  tile.tif\n"), 0o600))
	list(sum)
	_, err = OpenMany(t.Context(), []string{path}, manyOptions(t))
	require.ErrorContains(t, err, "does not match", "the line beside the file counts first")
	require.NoError(t, os.Remove(path+ChecksumEnding))
	_, _, err = IndexMany(t.Context(), []string{folder}, opts)
	require.NoError(t, err)
	// fetched again: new content, new line
	require.NoError(t, os.Remove(path))
	cut(t, whole, path, dem.Window{Columns: 50, Rows: 49})
	sum, err = checksum(t.Context(), path)
	require.NoError(t, err)
	list(sum)
	m, err = OpenMany(t.Context(), []string{folder}, opts)
	require.NoError(t, err)
	defer m.Close()
	place, err = whole.Place(25, 25)
	require.NoError(t, err)
	h, err := dem.ElevationAt(groundOf(t, m, 1e5, place), place)
	require.NoError(t, err)
	assert.InDelta(t, whole.Elevation(25, 25), h, 1e-3)
}

// TestTwoRunsOnOneIndex: many at once, the index removed under them and made
// again, all get the right answer.
func TestTwoRunsOnOneIndex(t *testing.T) {
	t.Parallel()
	whole := openCumberland(t)
	folder := tiled(t, whole, 150)
	opts := manyOptions(t)
	var wait sync.WaitGroup
	for i := range 6 {
		wait.Add(1)
		go func() {
			defer wait.Done()
			for range 3 {
				if i == 0 {
					_, _, err := IndexMany(t.Context(), []string{folder}, opts)
					assert.NoError(t, err)
					continue
				}
				m, err := OpenMany(t.Context(), []string{folder}, opts)
				if !assert.NoError(t, err) {
					return
				}
				j, err := m.For(t.Context(), []geodesy.LatLon{jacksboro}, 3000)
				if assert.NoError(t, err) {
					_, err = j.Read(t.Context(), j.Layout().Whole())
					assert.NoError(t, err)
				}
				assert.NoError(t, m.Close())
			}
		}()
	}
	wait.Wait()
	left, err := os.ReadDir(opts.IndexFolder)
	require.NoError(t, err)
	assert.Len(t, left, 1, "the index and nothing half-written")
}

func TestManyRefusals(t *testing.T) {
	t.Parallel()
	empty := t.TempDir()
	pictures := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(pictures, "notes.tif"), []byte("climb to the saddle"), 0o600))
	for path, want := range map[string]string{
		empty: "no elevation file", pictures: "cannot be read as elevation data", filepath.Join(empty, "*.tif"): "no such file",
		filepath.Join(empty, "none.tif"): "no such file",
	} {
		_, err := OpenMany(t.Context(), []string{path}, manyOptions(t))
		require.ErrorContains(t, err, want)
		assert.NotContains(t, err.Error(), "\n")
	}
	_, err := OpenMany(t.Context(), nil, manyOptions(t))
	require.Error(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	opts := manyOptions(t)
	_, err = OpenMany(ctx, []string{tiled(t, openCumberland(t), 200)}, opts)
	require.ErrorIs(t, err, context.Canceled)
	left, err := os.ReadDir(opts.IndexFolder)
	require.NoError(t, err)
	assert.Empty(t, left)
}

// TestWhatReadingFindsIsSaid: a void value that the tile does not declare,
// found only by reading it.
func TestWhatReadingFindsIsSaid(t *testing.T) {
	t.Parallel()
	whole := openCumberland(t)
	folder := t.TempDir()
	copied := *whole
	copied.Elevations = append([]float32(nil), whole.Elevations...)
	copied.Elevations[20*whole.Columns+20] = -9999
	cut(t, &copied, filepath.Join(folder, "tile.tif"), dem.Window{Columns: 50, Rows: 50})
	m, err := OpenMany(t.Context(), []string{folder}, manyOptions(t))
	require.NoError(t, err)
	defer m.Close()
	place, err := whole.Place(25, 25)
	require.NoError(t, err)
	g := groundOf(t, m, 1e5, place)
	assert.True(t, math.IsNaN(g.Elevation(20, 20)))
	assert.Contains(t, strings.Join(g.Source.Warnings, "\n"), "-9999")
}

// TestWithoutAPlaceForTheIndex: the answer stands, with a warning.
func TestWithoutAPlaceForTheIndex(t *testing.T) {
	t.Parallel()
	file := writeFile(t, "not a folder", "x")
	whole := openCumberland(t)
	m, err := OpenMany(t.Context(), []string{tiled(t, whole, 200)}, ManyOptions{IndexFolder: file})
	require.NoError(t, err)
	defer m.Close()
	g := groundOf(t, m, 1e5, jacksboro)
	assert.Equal(t, whole.Elevations, g.Elevations)
	assert.Contains(t, g.Source.Warnings[0], "cannot be kept")
}

// TestLargeFilesAreReadThroughOnlyWhenWrittenTo after their checksum was
// kept.
func TestLargeFilesAreReadThroughOnlyWhenWrittenTo(t *testing.T) {
	t.Parallel()
	path := writeFile(t, "tile.tif", "content")
	assert.True(t, writtenSinceListed(path), "no checksum")
	require.NoError(t, os.WriteFile(path+ChecksumEnding, []byte("sum"), 0o600))
	assert.False(t, writtenSinceListed(path))
	earlier := time.Now().Add(-time.Hour)
	require.NoError(t, os.Chtimes(path+ChecksumEnding, earlier, earlier))
	assert.True(t, writtenSinceListed(path))
	require.NoError(t, os.Chtimes(path, earlier, earlier))
	if stat, err := os.Stat(path); assert.NoError(t, err) && changeTime(stat) != 0 {
		assert.True(t, writtenSinceListed(path), "a modification time put back does not hide a change")
	}
}
