package contour

import (
	"context"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
)

// gridSource hands out windows of a grid and counts the posts read.
type gridSource struct {
	grid *dem.Grid
	read int
}

func (s *gridSource) Info() dem.Info     { return dem.Info{} }
func (s *gridSource) Layout() *dem.Frame { return &s.grid.Frame }
func (s *gridSource) Close() error       { return nil }
func (s *gridSource) Read(_ context.Context, w dem.Window) (*dem.Grid, error) {
	g := &dem.Grid{Frame: s.grid.Sub(w), Window: w}
	for r := w.Row; r < w.Row+w.Rows; r++ {
		g.Elevations = append(g.Elevations, s.grid.Elevations[r*s.grid.Columns+w.Column:][:w.Columns]...)
	}
	s.read += len(g.Elevations)
	return g, nil
}

// TestSteepnessOfRows: rows given in any portions have the steepness of the
// whole.
func TestSteepnessOfRows(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(8, 1))
	for _, g := range []*dem.Grid{fractal(90, 130, 100, 3), fractal(700, 900, 300, 4), rough(random, 50, 60, 9, 0.1)} {
		want, err := MeasureSteepness(g)
		require.NoError(t, err)
		require.Positive(t, want.Cells)
		s := NewSteepnessSampler(&g.Frame)
		for at := 0; at < g.Rows; {
			n := min(random.IntN(20), g.Rows-at)
			require.NoError(t, s.Add(at, g.Elevations[at*g.Columns:(at+n)*g.Columns]))
			at += n
		}
		assert.Equal(t, want, s.Steepness())
		source := &gridSource{grid: g}
		sampled, err := SampleSteepness(t.Context(), source, g.Whole())
		require.NoError(t, err)
		assert.Equal(t, want, sampled)
	}
}

// TestSteepnessOfVeryLargeGroundIsSampled: no more is read than said, and the
// figures are the ground's.
func TestSteepnessOfVeryLargeGroundIsSampled(t *testing.T) {
	t.Parallel()
	g := grid(3000, 12000, func(c, r float64) float64 { return c + 100*float64(int(r)%1000)/1000 })
	want, err := MeasureSteepness(g)
	require.NoError(t, err)
	source := &gridSource{grid: g}
	got, err := SampleSteepness(t.Context(), source, g.Whole())
	require.NoError(t, err)
	assert.LessOrEqual(t, source.read, sampledPosts)
	assert.Greater(t, got.Cells, want.Cells/4)
	const tolerance = 0.01 // of the figure; a column's width changes with latitude
	assert.InEpsilon(t, want.Median, got.Median, tolerance)
	assert.InEpsilon(t, want.Steep, got.Steep, tolerance)
}
