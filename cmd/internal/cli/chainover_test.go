package cli

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// TestChainOverCover: 2026-11-28. Sightings in a wood were told with no word
// of it. Over a step of the ground with a wall of trees before it, the mark
// above the step is lost; with no cover near the line none is.
func TestChainOverCover(t *testing.T) {
	t.Parallel()
	crs, err := geodesy.NewCRS("EPSG:32616")
	require.NoError(t, err)
	f := &dem.Frame{Columns: 301, Rows: 61, X0: 735000, Y0: 4012000, DX: 10, DY: -10, CRS: crs}
	ground := rasterFile(t, "ground.tif", f, func(column, row int) float64 { return 100 + 0.4*float64(max(column-150, 0)) })
	wood := rasterFile(t, "wood.tif", f, func(column, row int) float64 {
		if column == 100 {
			return 60
		}
		return 0
	})
	bare := rasterFile(t, "bare.tif", f, func(column, row int) float64 { return 0 })
	from, to := written(t, f, 10, 30), written(t, f, 290, 30)
	ask := func(cover string) (legTold, string) {
		arguments := []string{"leg", from, to, "--dem", ground, "--cover", cover, "--vertical-error", "1m", "--target-height", "10m"}
		var v legTold
		a := run(t, append(arguments, "--json")...)
		require.Equal(t, exitOK, a.code, a.err)
		require.NoError(t, json.Unmarshal([]byte(a.out), &v))
		return v, strings.Join(strings.Fields(run(t, arguments...).out), " ")
	}
	v, text := ask(wood)
	require.NotEmpty(t, v.Chain.Steps)
	i := slices.IndexFunc(v.Chain.Steps, func(s stepTold) bool { return s.OverCover != nil })
	require.GreaterOrEqual(t, i, 0, text)
	first := v.Chain.Steps[i]
	assert.Equal(t, "hidden", first.OverCover.Sight.Verdict)
	assert.True(t, first.OverCover.Depends)
	assert.Contains(t, text, "over what stands on it (wood.tif)")
	assert.Contains(t, text, "with what stands on the ground: hidden")
	v, text = ask(bare)
	for _, s := range v.Chain.Steps {
		if s.OverCover != nil {
			assert.False(t, s.OverCover.Depends)
		}
	}
	assert.Contains(t, text, "over what stands on it (bare.tif) each mark is in view from a clearing where it is chosen")
}
