package answer

import (
	"testing"

	"github.com/stretchr/testify/require"

	"crowline/contour/sheet"
	"crowline/dem"
	"crowline/dem/geodesy"
)

// TestASheetAtTheDataEdge: a page that reaches beyond the data on one side
// shows all the data on the other (2026-11: only the far corner was read).
func TestASheetAtTheDataEdge(t *testing.T) {
	t.Parallel()
	g, err := Open(t.Context(), Data{}, Reach{})
	require.NoError(t, err)
	defer g.Close()
	f := g.Layout()
	at := func(column, row float64) geodesy.LatLon {
		p, err := f.Place(column, row)
		require.NoError(t, err)
		return p
	}
	middle := float64(f.Rows-1) / 2
	from, to := at(20, middle), at(60, middle)
	plan := sheet.Plan{Scale: 40000, Leg: &sheet.Leg{From: sheet.Place{Name: "A", At: from}, To: sheet.Place{Name: "B", At: to}}}
	frames, err := plan.Frames()
	require.NoError(t, err)
	grid, err := g.framed(t.Context(), frames, 0, sheetPostBytes)
	require.NoError(t, err)
	for _, p := range []geodesy.LatLon{from, to} {
		_, err := dem.ElevationAt(grid, p)
		require.NoError(t, err)
	}
	require.Zero(t, grid.Window.Column, "the data's west edge is on the page")
}
