package dem

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
)

// TestWindowOver: a box that reaches beyond the frame on any side takes in
// all the frame has of it.
func TestWindowOver(t *testing.T) {
	t.Parallel()
	frames := map[string]Frame{"lon lat": lonLatFrame(200, 200), "utm": utmFrame(t, 200, 200)}
	for name, f := range frames {
		whole, err := f.Extent()
		require.NoError(t, err)
		width, height := whole.East-whole.West, whole.North-whole.South
		box := func(west, south, east, north geodesy.Degrees) Extent {
			return Extent{West: whole.West + west*width, South: whole.South + south*height, East: whole.West + east*width, North: whole.South + north*height}
		}
		for _, e := range []Extent{box(-0.5, -0.5, 1.5, 1.5), box(-0.3, 0.2, 0.6, 0.7), box(0.4, 0.5, 0.6, 3), box(0.3, 0.3, 0.5, 0.6)} {
			w, err := WindowOver(&f, e)
			require.NoError(t, err, name)
			inside := 0
			for r := range f.Rows {
				for c := range f.Columns {
					p, err := f.Place(float64(c), float64(r))
					require.NoError(t, err)
					in := p.Lat >= e.South && p.Lat <= e.North && p.Lon >= e.West && p.Lon <= e.East
					within := c >= w.Column && c < w.Column+w.Columns && r >= w.Row && r < w.Row+w.Rows
					if in {
						inside++
						require.True(t, within, "%s: post %d,%d", name, c, r)
					}
				}
			}
			assert.Positive(t, inside)
		}
		_, err = WindowOver(&f, box(2, 2, 3, 3))
		require.ErrorIs(t, err, ErrOutside)
		turned := box(0.3, 0.3, 0.5, 0.6)
		straight, err := WindowOver(&f, turned)
		require.NoError(t, err)
		turned.West, turned.East = turned.West+360, turned.East+360
		if f.CRS.Geographic {
			again, err := WindowOver(&f, turned)
			require.NoError(t, err)
			assert.Equal(t, straight, again)
		}
	}
}
