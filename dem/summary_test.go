package dem

import (
	"context"
	"errors"
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// summaryTiles are thirty like tiles, side by side, and some that are not.
func summaryTiles(t *testing.T) []Tile {
	t.Helper()
	var tiles []Tile
	add := func(name string, g *Grid, open func() error) {
		tiles = append(tiles, Tile{Name: name, Frame: g.Frame, Info: g.Source, Order: len(tiles), Open: func(context.Context) (Source, error) {
			if open != nil {
				if err := open(); err != nil {
					return nil, err
				}
			}
			return &memorySource{grid: g}, nil
		}})
	}
	like := func(i int) *Grid {
		f := lonLatFrame(40, 30)
		f.X0 += float64(i) * 40 * f.DX
		g := &Grid{Frame: f, Elevations: make([]float32, 40*30), Source: Info{Driver: "GTiff", DataType: "Int16", VerticalUnit: "metre", VerticalUnitStated: true, Surface: BareEarth, Attribution: "a survey"}}
		for k := range g.Elevations {
			g.Elevations[k] = float32(100 + i)
		}
		return g
	}
	for i := range 30 {
		g := like(i)
		if i == 7 {
			g.Elevations[5] = float32(math.NaN())
		}
		if i == 9 {
			g.Elevations[45] = 900 // a spike
		}
		add(fmt.Sprintf("tile %d", i), g, nil)
	}
	feet := like(30)
	feet.Source.VerticalUnit, feet.Source.Surface, feet.Source.Attribution = "foot", "", ""
	add("feet", feet, nil)
	utm := &Grid{Frame: utmFrame(t, 20, 20), Elevations: make([]float32, 400), Source: like(0).Source}
	add("utm", utm, nil)
	empty := like(31)
	for k := range empty.Elevations {
		empty.Elevations[k] = float32(math.NaN())
	}
	add("empty", empty, nil)
	add("damaged", like(32), func() error { return errors.New("damaged: its checksum does not match") })
	return tiles
}

func TestSummaryOfTiles(t *testing.T) {
	t.Parallel()
	tiles := summaryTiles(t)
	var last int64
	s, err := Summarise(t.Context(), tiles, SummaryOptions{Progress: func(done, total int64) {
		assert.Equal(t, int64(33*1200+400), total)
		assert.GreaterOrEqual(t, done, last)
		last = done
	}})
	require.NoError(t, err)
	assert.Equal(t, int64(33*1200+400), last, "also what could not be read is done with")
	assert.Equal(t, 34, s.Files)
	assert.True(t, s.Counted)
	assert.Equal(t, int64(32*1200+400), s.Posts)
	assert.Equal(t, int64(1201), s.Voids)
	assert.Equal(t, 1, s.VoidFiles)
	require.Len(t, s.Systems, 2)
	assert.Equal(t, 33, s.Systems[0].Files)
	assert.Equal(t, []string{"tile 0", "tile 1", "tile 2"}, s.Systems[0].First)
	assert.Equal(t, []string{"utm"}, s.Systems[1].First)
	assert.Equal(t, []string{"a survey"}, s.Attributions)
	assert.Equal(t, 1, s.RefusedFiles)
	assert.Equal(t, []FileNote{{"damaged", "damaged: its checksum does not match"}}, s.Refused)
	odd := map[string]string{}
	for _, n := range s.Odd {
		odd[n.File] = n.Text
	}
	assert.Equal(t, 3, s.OddFiles)
	require.Len(t, odd, 3)
	assert.Equal(t, "unit of heights foot, not metre; kind of model not stated, not bare earth", odd["feet"])
	assert.Contains(t, odd["utm"], "reference system ")
	assert.Contains(t, odd["utm"], "; spacing ")
	assert.Equal(t, "no post of it has an elevation", odd["empty"])
	assert.Equal(t, "tile 9", s.Highest.File)
	assert.InDelta(t, 900, s.Highest.Elevation, 0)
	assert.Equal(t, "utm", s.Lowest.File)
	assert.Equal(t, 1, s.SuspectFiles)
	assert.Equal(t, int64(1), s.SuspectPosts)
	assert.Contains(t, s.Suspects[0].Text, "stands out")
	whole, err := TileList(tiles).Within(t.Context(), s.Extent)
	require.NoError(t, err)
	assert.Len(t, whole, len(tiles), "all lie in the extent")
	for _, workers := range []int{1, 3} {
		again, err := Summarise(t.Context(), tiles, SummaryOptions{Concurrency: workers})
		require.NoError(t, err)
		assert.Equal(t, s, again)
	}
	headers, err := Summarise(t.Context(), tiles, SummaryOptions{HeadersOnly: true})
	require.NoError(t, err)
	assert.False(t, headers.Counted)
	assert.Nil(t, headers.Highest)
	assert.Zero(t, headers.RefusedFiles, "nothing is opened")
	assert.Equal(t, 2, headers.OddFiles)
}

// TestTwoFilesAreNotOddToEachOther, nor is a third of the files to the rest.
func TestTwoFilesAreNotOddToEachOther(t *testing.T) {
	t.Parallel()
	tiles := summaryTiles(t)
	for _, few := range [][]Tile{{tiles[0], tiles[31]}, {tiles[0], tiles[1], tiles[30]}} {
		s, err := Summarise(t.Context(), few, SummaryOptions{HeadersOnly: true})
		require.NoError(t, err)
		assert.Empty(t, s.Odd)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := Summarise(ctx, tiles, SummaryOptions{})
	require.ErrorIs(t, err, context.Canceled)
}
