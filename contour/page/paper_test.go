package page

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestParsePaper(t *testing.T) {
	t.Parallel()
	for s, want := range map[string]Paper{"a4": A4, "A3": A3, "letter": Letter, "Tabloid": Tabloid,
		"a4-landscape": {Name: "A4 landscape", Width: 297, Height: 210, Fixed: true}, "Letter-Landscape": {Name: "Letter landscape", Width: 279.4, Height: 215.9, Fixed: true},
		"a3-portrait": {Name: "A3 portrait", Width: 297, Height: 420, Fixed: true},
		"250x400":     {Name: "250 x 400 mm", Width: 250, Height: 400, Fixed: true}} {
		got, err := ParsePaper(s)
		require.NoError(t, err)
		assert.Equal(t, want, got)
	}
	for _, s := range []string{"", "a9", "x", "10x10", "250x", "1e9x1e9", "NaNxNaN", "-210x297", "infxinf", "1_000x300", "a4-", "a4-sideways", "-landscape", "a4-landscape-x", "250x400-landscape"} {
		_, err := ParsePaper(s)
		assert.Error(t, err, s)
	}
}

// FuzzParsePaper: what is read can be printed on.
func FuzzParsePaper(f *testing.F) {
	for _, s := range []string{"a4", "Tabloid", "250x400", "250 x 1e3", "a4-landscape", "x", "NaNx300"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if p, err := ParsePaper(s); err == nil {
			require.NoError(t, p.Validate())
		}
	})
}
