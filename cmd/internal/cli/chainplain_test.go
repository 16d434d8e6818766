package cli

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
)

// TestALegOverAPlainIsWalkedOnTheCompass: nothing on level ground is offered
// as a mark, and what is done instead is said; on real ground nothing of it
// is.
func TestALegOverAPlainIsWalkedOnTheCompass(t *testing.T) {
	t.Parallel()
	const n = 400
	f := &dem.Frame{Columns: n, Rows: n, X0: -87, Y0: 36.1, DX: 1.0 / 3600, DY: -1.0 / 3600, CRS: geodesy.WGS84}
	level := make([]float32, n*n)
	for i := range level {
		level[i] = 12
	}
	path := filepath.Join(t.TempDir(), "plain.tif")
	require.NoError(t, gdalio.WriteGeoTIFF(t.Context(), path, f, []gdalio.Band{{Float32: level}}))

	arguments := []string{"leg", "36.00000,-86.98000", "36.08500,-86.91000", "--dem", path, "--vertical-error", "0.1m"}
	var a legTold
	demoFillJSON(t, &a, append(arguments, "--json")...)
	require.Len(t, a.Chain.Steps, 2)
	assert.False(t, a.Chain.Complete)
	assert.True(t, a.Chain.Steps[0].Plain)
	assert.Nil(t, a.Chain.Steps[0].Mark)
	assert.Equal(t, "destination", a.Chain.Steps[1].Mark.Kind)
	assert.True(t, a.Chain.Steps[1].Mark.Plain)
	// the horizon of an eye of 1.6 m is 4.84 km off; from nearer by far, over ground that
	// may be a hand higher or lower, the goal is likely to be seen
	assert.LessOrEqual(t, a.Chain.PlainM, a.DistanceM-200)
	assert.GreaterOrEqual(t, a.Chain.PlainM, a.DistanceM-4940)
	assert.Equal(t, a.Chain.UnguidedM, a.Chain.PlainM)

	text := flat(run(t, append(arguments, "--chain")...).out)
	assert.Contains(t, text, "The ground there is too level to sight on. Keep the line by counting paces and by bearings back")
	assert.Contains(t, text, "the ground ahead is in view, but nothing stands out to be sighted, and nothing behind")
	assert.NotContains(t, text, "the slope")
	assert.NotContains(t, text, "the brow")

	demoFillJSON(t, &a, "leg", filledFrom, filledTo, "--json")
	assert.Zero(t, a.Chain.PlainM)
	assert.NotContains(t, flat(run(t, "leg", filledFrom, filledTo).out), "too level")
}
