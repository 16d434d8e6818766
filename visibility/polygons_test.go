package visibility

import (
	"context"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// unitFrame has posts at whole degrees, so that a cell's area is 1.
func unitFrame(columns, rows int, down bool) dem.Frame {
	f := dem.Frame{Columns: columns, Rows: rows, X0: 0, Y0: 0, DX: 1, DY: 1, CRS: geodesy.WGS84}
	if down {
		f.Y0, f.DY = float64(rows-1), -1
	}
	return f
}

// TestOutlinesHoldExactlyTheirCells: area, membership, orientation and
// nesting of random sets.
func TestOutlinesHoldExactlyTheirCells(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(3, 3))
	for round := range 60 {
		columns, rows := 1+random.IntN(12), 1+random.IntN(12)
		f := unitFrame(columns, rows, round%2 == 0)
		set := make([]bool, columns*rows)
		n := 0
		for i := range set {
			if set[i] = random.Float64() < 0.55; set[i] {
				n++
			}
		}
		polygons, err := Outlines(context.Background(), &f, func(i int) bool { return set[i] })
		require.NoError(t, err)
		assert.InDelta(t, float64(n), planar.Area(polygons), 1e-9)
		for _, p := range polygons {
			require.NotEmpty(t, p)
			for k, ring := range p {
				require.GreaterOrEqual(t, len(ring), 5)
				assert.Equal(t, ring[0], ring[len(ring)-1])
				want := orb.CCW
				if k > 0 {
					want = orb.CW
				}
				assert.Equal(t, want, ring.Orientation())
			}
		}
		for i, in := range set {
			x, y := f.X0+float64(i%columns)*f.DX, f.Y0+float64(i/columns)*f.DY
			assert.Equal(t, in, planar.MultiPolygonContains(polygons, orb.Point{x + 0.01, y + 0.02}))
		}
	}
}
