package answer

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/contour"
	"crowline/dem/geodesy"
)

// TestTintAgreesWithHowSure: what a tint calls seen or hidden for sure is as likely
// by the draws along one line of sight, and what it leaves open is between. The two
// draw the same model of errors, of which a tint takes few: one in ten may differ.
func TestTintAgreesWithHowSure(t *testing.T) {
	g, err := Open(t.Context(), Data{}, Reach{})
	require.NoError(t, err)
	defer g.Close()
	require.NoError(t, g.Hold(t.Context()))
	u, err := g.Unjudged(t.Context())
	require.NoError(t, err)
	c, err := u.Chart(t.Context(), contour.Metre)
	require.NoError(t, err)
	from := PlaceAt(geodesy.LatLon{Lat: 34.3297, Lon: -118.0548})
	tint, err := c.Tint(t.Context(), TintRequest{From: from, Sighting: DefaultSighting(), Radius: 5000, HowSure: true})
	require.NoError(t, err)
	require.True(t, tint.HowSure)
	layout := u.Layout()
	asked, agree := map[byte]int{}, map[byte]int{}
	for i := 0; i < len(tint.Cells); i += 97 {
		class := tint.Cells[i]
		if class == TintUnlooked || asked[class] >= 15 {
			continue
		}
		p, err := c.Place(tint.West+(float64(i%tint.Columns)+0.5)*tint.Cell, tint.North-(float64(i/tint.Columns)+0.5)*tint.Cell)
		require.NoError(t, err)
		column, row, err := layout.Locate(p)
		require.NoError(t, err)
		p, err = layout.Place(math.Round(column), math.Round(row))
		require.NoError(t, err)
		a, err := Sight(t.Context(), u, SightRequest{From: from, To: PlaceAt(p), Sighting: DefaultSighting()})
		require.NoError(t, err)
		asked[class]++
		likely := a.Sight.Likely.Probability
		if class == TintSeen && likely > 0.75 || class == TintHidden && likely < 0.25 || class == TintWithinError && likely > 0.01 && likely < 0.99 {
			agree[class]++
		}
	}
	for _, class := range []byte{TintSeen, TintHidden, TintWithinError} {
		require.GreaterOrEqual(t, asked[class], 10, "cells of class %d", class)
		assert.GreaterOrEqual(t, float64(agree[class]), 0.9*float64(asked[class])-1, "%d of %d cells of class %d", agree[class], asked[class], class)
	}
}
