package answer

import (
	"math"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/testdata/cumberland"
	"crowline/visibility"
)

// wholeCumberland is the tests' own ground.
func wholeCumberland(t *testing.T) *dem.Grid {
	t.Helper()
	r, err := gdalio.Open(cumberland.Path(), gdalio.Options{})
	require.NoError(t, err)
	defer r.Close()
	g, err := r.Read(t.Context(), r.Layout().Whole())
	require.NoError(t, err)
	return g
}

// tile writes a window of a grid to a file.
func tile(t *testing.T, path string, g *dem.Grid, w dem.Window) {
	t.Helper()
	frame := g.Sub(w)
	heights := make([]float32, 0, w.Columns*w.Rows)
	for r := range w.Rows {
		heights = append(heights, g.Elevations[(w.Row+r)*g.Columns+w.Column:][:w.Columns]...)
	}
	require.NoError(t, gdalio.WriteGeoTIFF(t.Context(), path, &frame, []gdalio.Band{{Float32: heights}}))
}

// TestGroundBehindIsReadFromTiles: what rises behind a radius stands in another
// tile of a folder, or of a server, and is looked at all the same.
func TestGroundBehindIsReadFromTiles(t *testing.T) {
	t.Parallel()
	g := wholeCumberland(t)
	folder := t.TempDir()
	const split = 200
	tile(t, filepath.Join(folder, "west.tif"), g, dem.Window{Columns: split, Rows: g.Rows})
	tile(t, filepath.Join(folder, "east.tif"), g, dem.Window{Column: split, Columns: g.Columns - split, Rows: g.Rows})
	one := filepath.Join(t.TempDir(), "whole.tif")
	tile(t, one, g, g.Whole())
	server := httptest.NewServer(http.FileServer(http.Dir(folder)))
	t.Cleanup(server.Close)
	at, err := g.Place(split-40, 170)
	require.NoError(t, err)
	s := DefaultSighting()
	const radius = 1500.0 // m: the tiles part 3 km off
	skyline := SkylineRequest{From: PlaceAt(at), Sighting: s, Needle: Needle{Day: lookDay}, Radius: radius, Step: 1}
	ask := func(reach Reach, paths ...string) *SkylineAnswer {
		d := Data{Paths: paths, Remote: gdalio.RemoteOptions{CacheFolder: t.TempDir()}}
		ground, err := Open(t.Context(), d, reach)
		require.NoError(t, err)
		defer ground.Close()
		a, err := Skyline(t.Context(), ground, skyline)
		require.NoError(t, err)
		return a
	}
	want := ask(Reach{}, one)
	beyond := 0
	for _, h := range want.Horizon {
		if h.DistanceM > 3500 {
			beyond++
		}
	}
	require.Greater(t, beyond, 30, "a skyline in the other tile")
	differ := func(a *SkylineAnswer, within float64) (n int) {
		for i, h := range want.Horizon {
			if h.DistanceM < within && math.Abs(h.AngleDeg-a.Horizon[i].AngleDeg) > 1e-6 {
				n++
			}
		}
		return n
	}
	reach := skyline.Reach()
	require.True(t, reach.Behind)
	assert.Zero(t, differ(ask(reach, folder), math.Inf(1)), "folder")
	remote := policy.LookBehindRemote
	assert.Zero(t, differ(ask(reach, server.URL+"/west.tif", server.URL+"/east.tif"), remote), "addresses, as far as they are looked at")
	reach.Behind = false
	assert.Zero(t, differ(ask(reach, folder), math.Inf(1)), "a folder opened for the radius alone")
	assert.Positive(t, differ(ask(reach, server.URL+"/west.tif", server.URL+"/east.tif"), math.Inf(1)), "without it the test sees nothing")
}

// TestOneGroundOverTilesOfTwoSpacings: 2026-11-30. A view whose radius meets a
// finer tile is of that tile's lattice: so is every sight, mark and skyline that
// comes near the tile, and they agree post by post. A sight that keeps clear of it
// is of the coarse posts, which answers over both say, and differs by a hair.
func TestOneGroundOverTilesOfTwoSpacings(t *testing.T) {
	t.Parallel()
	g := wholeCumberland(t)
	folder := t.TempDir()
	tile(t, filepath.Join(folder, "coarse.tif"), g, g.Whole())
	const finer, columns, rows = 3, 60, 60
	fine := &dem.Grid{Frame: g.Frame, Elevations: make([]float32, columns*rows)}
	fine.Columns, fine.Rows = columns, rows
	fine.DX, fine.DY = g.DX/finer, g.DY/finer
	fine.X0, fine.Y0 = g.X0+230*g.DX, g.Y0+150*g.DY
	random := rand.New(rand.NewPCG(8, 8))
	for i := range fine.Elevations {
		c, r := 230+float64(i%columns)/finer, 150+float64(i/columns)/finer
		fine.Elevations[i] = g.Elevations[int(r)*g.Columns+int(c)] + float32(random.NormFloat64()*3)
	}
	tile(t, filepath.Join(folder, "fine.tif"), fine, fine.Whole())
	at, err := g.Place(150.3, 160.6)
	require.NoError(t, err)
	from, s := PlaceAt(at), DefaultSighting()
	const radius = 8000.0
	const hair = 0.5 // m: between the ground along coarse edges and across their cells
	view := ViewshedRequest{From: []Place{from}, Sighting: s, Radius: radius, HeightNeeded: true}
	open := func(reach Reach) *Ground {
		ground, err := Open(t.Context(), Data{Paths: []string{folder}}, reach)
		require.NoError(t, err)
		t.Cleanup(func() { assert.NoError(t, ground.Close()) })
		return ground
	}
	a, err := Viewshed(t.Context(), open(view.Reach()), view)
	require.NoError(t, err)
	v := a.views[0]
	asked, differ, coarse := 0, 0, 0
	for asked < 100 {
		i := random.IntN(len(v.Verdicts))
		place, err := v.Frame.Place(float64(i%v.Frame.Columns), float64(i/v.Frame.Columns))
		require.NoError(t, err)
		d := geodesy.Inverse(at, place)
		critical := v.HeightNeeded[i] > 0 && v.HeightNeeded[i] < 0.5 || v.Verdicts[i] == visibility.Visible && random.IntN(4) == 0
		if v.Verdicts[i] == visibility.OutOfRange || !critical || d.Distance < 500 {
			continue
		}
		asked++
		q := SightRequest{From: from, To: PlaceAt(place), Sighting: s, Needle: Needle{Day: lookDay}}
		one, err := Sight(t.Context(), open(q.Reach()), q)
		require.NoError(t, err)
		if one.ElevationData.SpacingM > 60 {
			coarse++
			if one.Sight.Verdict != v.Verdicts[i] {
				differ++
				assert.Less(t, math.Abs(one.Sight.ClearanceM), hair)
			}
			continue
		}
		require.Equal(t, v.Verdicts[i], one.Sight.Verdict, "%v", place)
	}
	t.Logf("%d of %d sights were of the coarse lattice, %d of them differ", coarse, asked, differ)
	assert.Greater(t, coarse, 20)
	assert.Less(t, coarse, asked-20)
	assert.Contains(t, strings.Join(a.ElevationData.Warnings, " "), "a question that keeps clear of the finest")

	// a skyline and marks as far as the view, over the same lattice
	sky := SkylineRequest{From: from, Sighting: s, Needle: Needle{Day: lookDay}, Radius: radius, Step: 1}
	horizon, err := Skyline(t.Context(), open(sky.Reach()), sky)
	require.NoError(t, err)
	assert.Less(t, horizon.ElevationData.SpacingM, 60.0)
	marks := LandmarksRequest{From: from, Sighting: s, Needle: Needle{Day: lookDay}, Radius: radius, Within: 2, Hidden: true}
	listed, err := Landmarks(t.Context(), open(marks.Reach()), marks)
	require.NoError(t, err)
	assert.Less(t, listed.ElevationData.SpacingM, 60.0)
	seen := 0
	for _, m := range listed.Marks {
		q := SightRequest{From: from, To: PlaceAt(m.Full().Place), Sighting: s, Needle: Needle{Day: lookDay}}
		one, err := Sight(t.Context(), open(q.Reach()), q)
		require.NoError(t, err)
		if one.ElevationData.SpacingM < 60 {
			seen++
			assert.Equal(t, m.Sight.Verdict, one.Sight.Verdict, m.Why)
		}
	}
	assert.Positive(t, seen)
}
