package dem

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
)

// groundTile is a tile whose posts stand on a given ground.
func groundTile(t *testing.T, name string, order int, f Frame, ground func(p geodesy.LatLon) float64) Tile {
	t.Helper()
	g := &Grid{Frame: f, Elevations: make([]float32, f.Columns*f.Rows)}
	for r := range f.Rows {
		for c := range f.Columns {
			p, err := f.Place(float64(c), float64(r))
			require.NoError(t, err)
			g.Elevations[r*f.Columns+c] = float32(ground(p))
		}
	}
	return gridTile(name, order, g)
}

func gridTile(name string, order int, g *Grid) Tile {
	return Tile{
		Name: name, Frame: g.Frame, Order: order, Info: Info{Name: name, VerticalUnit: "metre", VerticalUnitStated: true},
		Open: func(context.Context) (Source, error) { return &memorySource{grid: g}, nil },
	}
}

func window(g *Grid, w Window) *Grid {
	s := &Grid{Frame: g.Sub(w), Window: w}
	for r := range w.Rows {
		at := (w.Row+r)*g.Columns + w.Column
		s.Elevations = append(s.Elevations, g.Elevations[at:at+w.Columns]...)
	}
	return s
}

// turned is the same posts with rows, or columns, stored the other way.
func turned(g *Grid, columns, rows bool) *Grid {
	s := &Grid{Frame: g.Frame, Elevations: make([]float32, len(g.Elevations))}
	if columns {
		s.X0, s.DX = g.X0+float64(g.Columns-1)*g.DX, -g.DX
	}
	if rows {
		s.Y0, s.DY = g.Y0+float64(g.Rows-1)*g.DY, -g.DY
	}
	for r := range g.Rows {
		for c := range g.Columns {
			tc, tr := c, r
			if columns {
				tc = g.Columns - 1 - c
			}
			if rows {
				tr = g.Rows - 1 - r
			}
			s.Elevations[tr*g.Columns+tc] = g.Elevations[r*g.Columns+c]
		}
	}
	return s
}

func readAll(t *testing.T, j *Joined) *Grid {
	t.Helper()
	g, err := j.Read(t.Context(), j.Layout().Whole())
	require.NoError(t, err)
	return g
}

func joined(t *testing.T, opts MosaicOptions, margin float64, places []geodesy.LatLon, tiles ...Tile) *Joined {
	t.Helper()
	m := NewMosaic(TileList(tiles), opts)
	t.Cleanup(func() { require.NoError(t, m.Close()) })
	j, err := m.For(t.Context(), places, margin)
	require.NoError(t, err)
	return j
}

// TestTilesJoinAsTheyWere: one grid cut up, with a shared edge row, tiles
// that abut, one south up and one with its columns reversed, gives back the
// very same posts.
func TestTilesJoinAsTheyWere(t *testing.T) {
	t.Parallel()
	for name, f := range map[string]Frame{"lon lat": lonLatFrame(120, 90), "utm": utmFrame(t, 120, 90)} {
		whole := &Grid{Frame: f, Elevations: make([]float32, f.Columns*f.Rows)}
		random := rand.New(rand.NewPCG(5, 5))
		for i := range whole.Elevations {
			whole.Elevations[i] = random.Float32() * 1000
		}
		tiles := []Tile{
			gridTile("north west", 0, window(whole, Window{0, 0, 61, 46})),  // shares column 60 and row 45
			gridTile("north east", 1, window(whole, Window{60, 0, 60, 46})), // shares row 45
			gridTile("south west", 2, turned(window(whole, Window{0, 45, 60, 45}), false, true)),
			gridTile("south east", 3, turned(window(whole, Window{60, 45, 60, 45}), true, false)), // abuts
		}
		place, err := f.Place(60, 45)
		require.NoError(t, err)
		m := NewMosaic(TileList(tiles), MosaicOptions{})
		all, err := m.Whole(t.Context())
		require.NoError(t, err)
		assert.Equal(t, whole.Elevations, readAll(t, all).Elevations, name)
		require.NoError(t, m.Close())
		j := joined(t, MosaicOptions{}, 1e5, []geodesy.LatLon{place}, tiles...)
		g := readAll(t, j)
		require.Equal(t, [2]int{120, 90}, [2]int{g.Columns, g.Rows}, name)
		assert.Equal(t, whole.Elevations, g.Elevations, name)
		shares, bridged := j.Shares()
		assert.Len(t, shares, 1)
		assert.EqualValues(t, 120*90, shares[0].Posts)
		assert.Zero(t, bridged)
		assert.Empty(t, j.Info().Warnings)
		at, err := g.Place(17, 71)
		require.NoError(t, err)
		c, r, err := f.Locate(at)
		require.NoError(t, err)
		assert.Equal(t, [2]float64{17, 71}, [2]float64{c, r})
	}
}

// slope is a plane in latitude and longitude: about 0.1 m a metre each way.
func slope(p geodesy.LatLon) float64 {
	return 500 + 9000*float64(p.Lat-36.5) + 11000*float64(p.Lon+84.3)
}

// TestMixedTilesHaveNoSeams: longitudes at two spacings, shifted by half a
// cell, and a UTM tile, abutting: every post between the outermost ones has
// an elevation, and it is the ground's.
func TestMixedTilesHaveNoSeams(t *testing.T) {
	t.Parallel()
	const second = 1.0 / 3600
	utm, err := geodesy.NewCRS("EPSG:32616")
	require.NoError(t, err)
	// areas: west [-84.40, -84.35] at 1", middle [-84.35, -84.30] at 3" and
	// so half a cell off, east from -84.30 on in UTM at 25 m
	area := func(west, south float64, n, m int, step float64) Frame {
		return Frame{Columns: n, Rows: m, X0: west + step/2, Y0: south + (float64(m)-0.5)*step, DX: step, DY: -step, CRS: geodesy.WGS84}
	}
	x, y, err := utm.Coordinates(geodesy.LatLon{Lat: 36.5, Lon: -84.30})
	require.NoError(t, err)
	tiles := []Tile{
		groundTile(t, "west", 0, area(-84.40, 36.45, 180, 180, second), slope),
		groundTile(t, "middle", 1, area(-84.35, 36.45, 60, 60, 3*second), slope),
		groundTile(t, "east", 2, Frame{Columns: 150, Rows: 250, X0: math.Round(x) - 100, Y0: math.Round(y) + 100, DX: 25, DY: -25, CRS: utm}, slope),
	}
	j := joined(t, MosaicOptions{}, 1e5, []geodesy.LatLon{{Lat: 36.47, Lon: -84.38}}, tiles...)
	assert.InDelta(t, second, j.Layout().DX, 1e-15)
	g := readAll(t, j)
	voids, worst := 0, 0.0
	for r := range g.Rows {
		for c := range g.Columns {
			p, err := g.Place(float64(c), float64(r))
			require.NoError(t, err)
			// away from the outer edge of what is there
			if p.Lon < -84.3998 || p.Lon > -84.27 || p.Lat > 36.4992 || p.Lat < 36.4508 {
				continue
			}
			h := g.Elevation(c, r)
			if math.IsNaN(h) {
				voids++
				continue
			}
			worst = max(worst, math.Abs(h-slope(p)))
		}
	}
	assert.Zero(t, voids)
	// m: a plane in degrees is curved in UTM by 25^2/8R per metre; float32
	const tolerance = 2e-3
	assert.Less(t, worst, tolerance)
	shares, bridged := j.Shares()
	require.Len(t, shares, 3)
	assert.Equal(t, []string{"east"}, shares[0].Names, "25 m is finer than a second")
	assert.Positive(t, shares[0].Sampled)
	assert.EqualValues(t, 180*180, shares[1].Posts)
	assert.Positive(t, shares[2].Sampled)
	assert.Positive(t, bridged)
	assert.Contains(t, j.Info().Warnings[len(j.Info().Warnings)-1], "sampled from east")
}

// TestHalfCellShift: two halves of one data set, one with its posts on the
// lines between the other's, abut without a step or a void.
func TestHalfCellShift(t *testing.T) {
	t.Parallel()
	const step = 1.0 / 1200
	point := Frame{Columns: 61, Rows: 121, X0: -84.40, Y0: 36.55, DX: step, DY: -step, CRS: geodesy.WGS84}
	shifted := Frame{Columns: 60, Rows: 120, X0: -84.35 + step/2, Y0: 36.55 - step/2, DX: step, DY: -step, CRS: geodesy.WGS84}
	j := joined(t, MosaicOptions{}, 1e5, []geodesy.LatLon{{Lat: 36.5, Lon: -84.38}},
		groundTile(t, "points", 0, point, slope), groundTile(t, "areas", 1, shifted, slope))
	g := readAll(t, j)
	for r := 1; r < 120; r++ {
		for c := range 120 {
			p, err := g.Place(float64(c), float64(r))
			require.NoError(t, err)
			require.InDelta(t, slope(p), g.Elevation(c, r), 1e-3, "%d %d", c, r) // m, float32 of a plane
		}
	}
}

// TestPrecedence: finest first, then the order given; a void of the finer
// takes the coarser's height, and it is counted.
func TestPrecedence(t *testing.T) {
	t.Parallel()
	flat := func(h float64) func(geodesy.LatLon) float64 { return func(geodesy.LatLon) float64 { return h } }
	coarse := lonLatFrame(31, 31)
	fine := Frame{Columns: 31, Rows: 31, X0: coarse.X0 + 5*coarse.DX, Y0: coarse.Y0 + 5*coarse.DY, DX: coarse.DX / 3, DY: coarse.DY / 3, CRS: coarse.CRS}
	holed := groundTile(t, "fine", 2, fine, flat(130))
	source, err := holed.Open(t.Context())
	require.NoError(t, err)
	source.(*memorySource).grid.Elevations[15*31+15] = float32(math.NaN())
	centre, err := fine.Place(15, 15)
	require.NoError(t, err)
	first, second := groundTile(t, "first", 0, coarse, flat(100)), groundTile(t, "second", 1, coarse, flat(110))
	j := joined(t, MosaicOptions{}, 100, []geodesy.LatLon{centre}, first, second, holed)
	g := readAll(t, j)
	assert.InDelta(t, fine.DX, g.DX, 1e-15)
	for i, h := range g.Elevations {
		p, err := g.Place(float64(i%g.Columns), float64(i/g.Columns))
		require.NoError(t, err)
		if geodesy.Inverse(p, centre).Distance < 1e-3 {
			assert.InDelta(t, 100, h, 0) // not 110: the first given of equally fine ones
		} else {
			assert.InDelta(t, 130, h, 0)
		}
	}
	shares, _ := j.Shares()
	require.Len(t, shares, 2)
	assert.EqualValues(t, 1, shares[1].Sampled)
	assert.Equal(t, []string{"first", "second"}, shares[1].Names)

	// asked not to go finer, the coarse frame is taken and the fine sampled
	j = joined(t, MosaicOptions{LeastSpacing: shares[0].SpacingMetres * 1.5}, 100, []geodesy.LatLon{centre}, second, holed, first)
	assert.InDelta(t, coarse.DX, j.Layout().DX, 1e-15)
	corner, err := coarse.Place(8, 8)
	require.NoError(t, err)
	whole := readAll(t, j)
	h, err := ElevationAt(whole, corner)
	require.NoError(t, err)
	assert.InDelta(t, 130, h, 0)
}

// TestTheFinestGroundIsOneForAllQuestions: a finer tile inside coarser ground is
// the ground of a view from outside it as it is of a line of sight into it; one
// too large for a view is left to the coarser, with a word.
func TestTheFinestGroundIsOneForAllQuestions(t *testing.T) {
	t.Parallel()
	coarse := lonLatFrame(31, 31)
	fine := Frame{Columns: 31, Rows: 31, X0: coarse.X0 + 5*coarse.DX, Y0: coarse.Y0 + 5*coarse.DY, DX: coarse.DX / 3, DY: coarse.DY / 3, CRS: coarse.CRS}
	bumps := func(p geodesy.LatLon) float64 { return slope(p) + 20*math.Sin(float64(p.Lat)*5e4) }
	tiles := []Tile{groundTile(t, "coarse", 0, coarse, slope), groundTile(t, "fine", 1, fine, bumps)}
	outside, err := coarse.Place(25, 25)
	require.NoError(t, err)
	inside, err := fine.Place(14, 16)
	require.NoError(t, err)
	const margin = 10000 // m: over all of it
	view := joined(t, MosaicOptions{}, margin, []geodesy.LatLon{outside}, tiles...)
	line := joined(t, MosaicOptions{}, margin, []geodesy.LatLon{outside, inside}, tiles...)
	assert.InDelta(t, fine.DX, view.Layout().DX, 1e-15)
	one, other := readAll(t, view), readAll(t, line)
	same := 0
	for i, h := range one.Elevations {
		p, err := one.Place(float64(i%one.Columns), float64(i/one.Columns))
		require.NoError(t, err)
		if at, err := ElevationAt(other, p); err == nil && h == h {
			require.InDelta(t, at, h, 1e-3) // m, float32
			same++
		}
	}
	assert.Greater(t, same, 2000)
	assert.NotContains(t, strings.Join(view.Info().Warnings, " "), "too large")

	dense := Frame{Columns: 3, Rows: 3, X0: fine.X0, Y0: fine.Y0, DX: coarse.DX / 1000, DY: coarse.DY / 1000, CRS: coarse.CRS}
	view = joined(t, MosaicOptions{}, margin, []geodesy.LatLon{outside}, append(tiles, groundTile(t, "dense", 2, dense, slope))...)
	assert.InDelta(t, fine.DX, view.Layout().DX, 1e-15)
	assert.Contains(t, strings.Join(view.Info().Warnings, " "), "dense (posts ")
}

// TestPostsReadAgainAreCountedOnce in what a ground says it is made of.
func TestPostsReadAgainAreCountedOnce(t *testing.T) {
	t.Parallel()
	coarse := lonLatFrame(31, 31)
	fine := Frame{Columns: 31, Rows: 31, X0: coarse.X0 + 5*coarse.DX, Y0: coarse.Y0 + 5*coarse.DY, DX: coarse.DX / 3, DY: coarse.DY / 3, CRS: coarse.CRS}
	centre, err := fine.Place(15, 15)
	require.NoError(t, err)
	j := joined(t, MosaicOptions{}, 10000, []geodesy.LatLon{centre}, groundTile(t, "coarse", 0, coarse, slope), groundTile(t, "fine", 1, fine, slope))
	whole := readAll(t, j)
	once, _ := j.Shares()
	said := j.Info().Warnings
	readAll(t, j)
	_, err = j.Read(t.Context(), Window{Column: 3, Row: 2, Columns: 20, Rows: 30})
	require.NoError(t, err)
	again, _ := j.Shares()
	assert.Equal(t, once, again)
	assert.Equal(t, said, j.Info().Warnings)
	assert.Contains(t, strings.Join(said, " "), fmt.Sprintf("of %d posts read", len(whole.Elevations)))
	assert.Positive(t, again[1].Sampled)

	// in parts that overlap it comes to the same
	j = joined(t, MosaicOptions{}, 10000, []geodesy.LatLon{centre}, groundTile(t, "coarse", 0, coarse, slope), groundTile(t, "fine", 1, fine, slope))
	for _, w := range []Window{{0, 0, 40, whole.Rows}, {60, 0, whole.Columns - 60, whole.Rows}, {30, 0, 50, whole.Rows}} {
		_, err = j.Read(t.Context(), w)
		require.NoError(t, err)
	}
	parts, _ := j.Shares()
	assert.Equal(t, once, parts)
}

// TestUnitsOfTiles: a ground of tiles in several units says which are in which;
// one of tiles all alike does not.
func TestUnitsOfTiles(t *testing.T) {
	t.Parallel()
	flat := func(geodesy.LatLon) float64 { return 100 }
	f := lonLatFrame(31, 31)
	fine := Frame{Columns: 31, Rows: 31, X0: f.X0, Y0: f.Y0, DX: f.DX / 2, DY: f.DY / 2, CRS: f.CRS}
	a, b, c := groundTile(t, "a", 0, f, flat), groundTile(t, "b", 1, f, flat), groundTile(t, "c", 2, fine, flat)
	at, err := fine.Place(15, 15)
	require.NoError(t, err)
	units := func(j *Joined) string {
		for _, w := range j.Info().Warnings {
			if strings.Contains(w, "different units") {
				return w
			}
		}
		return ""
	}
	assert.Empty(t, units(joined(t, MosaicOptions{}, 100, []geodesy.LatLon{at}, a, b, c)))
	b.Info.VerticalUnitStated, c.Info.VerticalUnit = false, "foot"
	j := joined(t, MosaicOptions{}, 100, []geodesy.LatLon{at}, a, b, c)
	assert.Equal(t, "the files' heights are in different units (foot in c; metre in a; metre (assumed: not stated) in b) and were brought to metres", units(j))
	assert.Equal(t, "metre", j.Info().VerticalUnit)
	assert.False(t, j.Info().VerticalUnitStated)
}

// TestAGapStaysVoid: tiles that stand more than their half cells apart are
// not joined, and nothing is made up beyond the outer edge.
func TestAGapStaysVoid(t *testing.T) {
	t.Parallel()
	const step = 1.0 / 1200
	a := Frame{Columns: 20, Rows: 20, X0: -84.4, Y0: 36.5, DX: step, DY: -step, CRS: geodesy.WGS84}
	b := a
	b.X0 += 21.5 * step // the strip is 2.5 cells between posts
	j := joined(t, MosaicOptions{}, 1e5, []geodesy.LatLon{{Lat: 36.495, Lon: -84.395}},
		groundTile(t, "a", 0, a, slope), groundTile(t, "b", 1, b, slope))
	g := readAll(t, j)
	for r := range 20 {
		assert.False(t, math.IsNaN(g.Elevation(19, r)))
		assert.True(t, math.IsNaN(g.Elevation(20, r)))
		assert.True(t, math.IsNaN(g.Elevation(21, r)))
		assert.False(t, math.IsNaN(g.Elevation(22, r)))
		assert.True(t, math.IsNaN(g.Elevation(41, r)), "beyond the last post of b, at column 40.5")
	}
	_, bridged := j.Shares()
	assert.Zero(t, bridged)
}

func TestMosaicAcrossTheAntimeridian(t *testing.T) {
	t.Parallel()
	const step = 1.0 / 120
	level := func(p geodesy.LatLon) float64 {
		return 100 + 50*math.Remainder(float64(p.Lon)-180, 360) + 3*float64(p.Lat)
	}
	west := Frame{Columns: 120, Rows: 60, X0: 179 + step/2, Y0: -16.75, DX: step, DY: -step, CRS: geodesy.WGS84}
	east := west
	east.X0 = -180 + step/2
	for name, tiles := range map[string][]Tile{
		"two sides": {groundTile(t, "w", 0, west, level), groundTile(t, "e", 1, east, level)},
		"0 to 360":  {groundTile(t, "w", 0, west, level), groundTile(t, "e", 1, func() Frame { f := east; f.X0 += 360; return f }(), level)},
	} {
		for _, lon := range []geodesy.Degrees{179.99, -179.99} {
			j := joined(t, MosaicOptions{}, 20000, []geodesy.LatLon{{Lat: -17, Lon: lon}}, tiles...)
			g := readAll(t, j)
			assert.Greater(t, g.Columns, 30, name)
			for i, h := range g.Elevations {
				p, err := g.Place(float64(i%g.Columns), float64(i/g.Columns))
				require.NoError(t, err)
				require.InDelta(t, level(p), h, 1e-3, "%s %v", name, p)
			}
		}
	}
	// a raster of the whole turn is joined to itself
	world := Frame{Columns: 720, Rows: 41, X0: -179.75, Y0: 10, DX: 0.5, DY: -0.5, CRS: geodesy.WGS84}
	j := joined(t, MosaicOptions{}, 2e5, []geodesy.LatLon{{Lat: 0, Lon: 180 - 0.1}}, groundTile(t, "world", 0, world, level))
	for _, h := range readAll(t, j).Elevations {
		require.False(t, math.IsNaN(float64(h)))
	}
}

// TestOnlyTheTilesOfAQuestionAreOpened among ten thousand, and no more are
// kept open than asked.
func TestOnlyTheTilesOfAQuestionAreOpened(t *testing.T) {
	t.Parallel()
	open, most, opened := 0, 0, map[string]int{}
	var tiles []Tile
	const side, step = 10, 1.0 / 1000
	for i := range 100 {
		for k := range 100 {
			f := Frame{Columns: side, Rows: side, X0: -84 + float64(i*side)*step, Y0: 36 - float64(k*side)*step, DX: step, DY: -step, CRS: geodesy.WGS84}
			name := fmt.Sprintf("%d %d", i, k)
			tiles = append(tiles, Tile{Name: name, Frame: f, Info: Info{Name: name}, Open: func(context.Context) (Source, error) {
				opened[name]++
				open++
				most = max(most, open)
				g := &Grid{Frame: f, Elevations: make([]float32, side*side)}
				return &closing{memorySource{grid: g}, func() { open-- }}, nil
			}})
		}
	}
	m := NewMosaic(TileList(tiles), MosaicOptions{OpenFiles: 4})
	j, err := m.For(t.Context(), []geodesy.LatLon{{Lat: 35.5, Lon: -83.5}}, 3000)
	require.NoError(t, err)
	assert.Empty(t, opened, "nothing is opened before a post is read")
	g := readAll(t, j)
	for _, h := range g.Elevations {
		require.False(t, math.IsNaN(float64(h)))
	}
	assert.LessOrEqual(t, len(opened), 64) // a circle of 3 km is some 7 x 6 tiles of 1.1 x 0.9 km
	assert.Equal(t, len(opened), m.Opened(), "each once")
	assert.LessOrEqual(t, most, 4+1)
	require.NoError(t, m.Close())
	assert.Zero(t, open)
	_, err = j.Read(t.Context(), Window{Columns: 1, Rows: 1})
	require.ErrorContains(t, err, "closed")
}

type closing struct {
	memorySource
	onClose func()
}

func (c *closing) Close() error { c.onClose(); return nil }

func TestMosaicRefusals(t *testing.T) {
	t.Parallel()
	f := lonLatFrame(50, 50)
	tile := groundTile(t, "tile", 0, f, slope)
	place, err := f.Place(25, 25)
	require.NoError(t, err)
	m := NewMosaic(TileList{tile}, MosaicOptions{MaxBytes: 1000})
	_, err = m.For(t.Context(), []geodesy.LatLon{{Lat: 10, Lon: 10}}, 100)
	require.ErrorIs(t, err, ErrOutside)
	_, err = m.For(t.Context(), nil, 100)
	require.Error(t, err)
	_, err = m.For(t.Context(), []geodesy.LatLon{place}, math.NaN())
	require.Error(t, err)
	j, err := m.For(t.Context(), []geodesy.LatLon{place}, 1e5)
	require.NoError(t, err)
	_, err = j.Read(t.Context(), j.Layout().Whole())
	var tooLarge *TooLargeError
	require.ErrorAs(t, err, &tooLarge)
	assert.EqualValues(t, 10000, tooLarge.Bytes)
	assert.Contains(t, err.Error(), "limit")
	_, err = j.Read(t.Context(), Window{Column: 49, Row: 0, Columns: 2, Rows: 1})
	require.Error(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err = j.Read(ctx, Window{Columns: 5, Rows: 5})
	require.ErrorIs(t, err, context.Canceled)

	smaller := tile
	smaller.Frame.Columns = 40
	j = joined(t, MosaicOptions{}, 1e5, []geodesy.LatLon{place}, smaller)
	_, err = j.Read(t.Context(), j.Layout().Whole())
	require.ErrorContains(t, err, "has changed")
	moved := tile
	moved.Frame.X0 += moved.Frame.DX
	j = joined(t, MosaicOptions{}, 1e5, []geodesy.LatLon{place}, moved)
	_, err = j.Read(t.Context(), j.Layout().Whole())
	require.ErrorContains(t, err, "has changed")

	wide := lonLatFrame(300, 70)
	b := Bounded(&memorySource{grid: tilted(wide)}, 9*300*69, 9)
	_, err = b.Read(t.Context(), wide.Whole())
	require.ErrorAs(t, err, &tooLarge)
	_, err = b.Read(t.Context(), Window{Columns: 300, Rows: 69})
	require.NoError(t, err)
	_, err = Bounded(b, 1, 4).Read(t.Context(), Window{Columns: BlockColumns, Rows: BlockRows})
	require.NoError(t, err, "a block is let through")
}

func TestExtentsMeetAndJoin(t *testing.T) {
	t.Parallel()
	box := func(west, east geodesy.Degrees) Extent { return Extent{South: -1, North: 1, West: west, East: east} }
	cases := []struct {
		a, b  Extent
		meet  bool
		whole Extent
	}{
		{box(10, 20), box(15, 30), true, box(10, 30)},
		{box(10, 20), box(21, 30), false, box(10, 30)},
		{box(179, -179), box(-179.5, -178), true, box(179, -178)},
		{box(170, 175), box(-179.5, -178), false, box(170, -178)},
		{box(-180, 180), box(5, 6), true, box(-180, 180)},
		{box(10, 20), box(12, 13), true, box(10, 20)},
	}
	for _, c := range cases {
		assert.Equal(t, c.meet, c.a.Meets(c.b), "%v %v", c.a, c.b)
		assert.Equal(t, c.meet, c.b.Meets(c.a))
		assert.Equal(t, c.whole, c.a.Join(c.b))
		assert.Equal(t, c.whole, c.b.Join(c.a))
	}
	north := Extent{South: 2, North: 3, West: 10, East: 20}
	assert.False(t, box(10, 20).Meets(north))
}

// TestRandomTilings: tiles cut anywhere, overlapping, turned, some across the
// antimeridian: every post some tile has is the whole's, and the others are
// void, whatever window is read.
func TestRandomTilings(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(77, 77))
	for trial := range 60 {
		f := lonLatFrame(90, 70)
		if trial%3 == 1 {
			f = utmFrame(t, 90, 70)
		}
		if trial%3 == 2 {
			f.X0 = 180 - 45*f.DX
		}
		whole := &Grid{Frame: f, Elevations: make([]float32, f.Columns*f.Rows)}
		for i := range whole.Elevations {
			whole.Elevations[i] = random.Float32()
		}
		has := make([]bool, len(whole.Elevations))
		var tiles []Tile
		for i := range 1 + random.IntN(8) {
			w := Window{Column: random.IntN(80), Row: random.IntN(60), Columns: 1 + random.IntN(60), Rows: 1 + random.IntN(60)}.Intersect(f.Whole())
			for r := w.Row; r < w.Row+w.Rows; r++ {
				for c := w.Column; c < w.Column+w.Columns; c++ {
					has[r*f.Columns+c] = true
				}
			}
			g := turned(window(whole, w), random.IntN(2) == 0, random.IntN(2) == 0)
			if trial%3 == 2 && random.IntN(2) == 0 {
				g.X0 -= 360
			}
			tiles = append(tiles, gridTile(fmt.Sprint(i), i, g))
		}
		m := NewMosaic(TileList(tiles), MosaicOptions{OpenFiles: 2})
		middle, err := f.Place(45, 35)
		require.NoError(t, err)
		j, err := m.For(t.Context(), []geodesy.LatLon{middle}, 1e5)
		require.NoError(t, err)
		layout := j.Layout()
		for range 10 {
			w := Window{Column: random.IntN(layout.Columns), Row: random.IntN(layout.Rows), Columns: 1 + random.IntN(50), Rows: 1 + random.IntN(50)}.Intersect(layout.Whole())
			g, err := j.Read(t.Context(), w)
			require.NoError(t, err)
			for i, h := range g.Elevations {
				p, err := g.Place(float64(i%g.Columns), float64(i/g.Columns))
				require.NoError(t, err)
				c, r, err := f.Locate(p)
				require.NoError(t, err)
				require.True(t, f.Contains(c, r) && c == math.Floor(c) && r == math.Floor(r), "%v %v", c, r)
				at := int(r)*f.Columns + int(c)
				if has[at] {
					require.InDelta(t, whole.Elevations[at], h, 0, "trial %d", trial)
				} else {
					require.True(t, h != h, "trial %d", trial)
				}
			}
		}
		require.NoError(t, m.Close())
	}
}
