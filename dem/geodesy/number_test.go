package geodesy

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestParseNumber(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]float64{
		"36.3264": 36.3264, "-84.396": -84.396, "+5": 5, "007": 7, "5.": 5, ".5": 0.5, "-0": 0, "1e3": 1000, "-8.4E-05": -8.4e-05, "1e-400": 0,
	} {
		v, ok := ParseNumber(text)
		assert.True(t, ok, text)
		assert.Equal(t, want, v+0, text)
	}
	for _, text := range []string{
		"", " ", ".", "-", "+-5", "36,3264", "84.396W", "N36", "20 ft", " 20", "20 ", "abc", "12a", "1 000", "1_000", "1'000",
		"0x10", "0x1p-2", "inf", "-Inf", "Infinity", "nan", "NaN", "1e", "1e+", "e5", "1e400", "1.2.3", "1e5.5", "٣٦", "36\x00", "20\n",
	} {
		_, ok := ParseNumber(text)
		assert.False(t, ok, "%q", text)
	}
}

// FuzzParseNumber: what is taken is finite, of no other characters than a
// decimal number's, and reads back the same when written out.
func FuzzParseNumber(f *testing.F) {
	for _, s := range []string{"36.3264", "-8.4e-05", "36,3264", "84.396W", "0x1p-2", "1_000", "inf", "nan", "1e400", "20 ft"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		v, ok := ParseNumber(text)
		if !ok {
			return
		}
		assert.False(t, math.IsNaN(v) || math.IsInf(v, 0), "%q", text)
		assert.Empty(t, strings.Trim(text, "+-.0123456789eE"), "%q", text)
		again, ok := ParseNumber(strconv.FormatFloat(v, 'g', -1, 64))
		assert.True(t, ok && again == v, "%q: %g, then %g", text, v, again)
	})
}
