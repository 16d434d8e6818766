package profile

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestNaismithLangmuir(t *testing.T) {
	t.Parallel()
	// Naismith 1892, metric form; Langmuir 1984: 1 km legs. The formulas are
	// the books', the figures arithmetic from them.
	for _, row := range []struct{ length, rise, seconds float64 }{
		{1000, 100, 1320},
		{1000, -100, 520},
		{1000, -150, 420},
		{1000, -300, 1320},
		{1000, -50, 720},
		{10000, 600, 180 * 60},
		{16000, 900, 282 * 60},
		{5000, 300, 90 * 60},
		{20000, 1600, 400 * 60}, // 6 h 40 min by the metric form
	} {
		assert.InDelta(t, row.seconds, NaismithLangmuir(Move{row.length, row.rise}), 1e-9, "%v", row)
	}
}

func TestToblerSpeed(t *testing.T) {
	t.Parallel()
	// Tobler 1993, NCGIA TR 93-1, the formula evaluated to four places.
	for _, row := range [][2]float64{{-0.3, 2.5012}, {-0.1, 5.0367}, {-0.05, 6}, {0, 5.0367}, {0.05, 4.2281},
		{0.1, 3.5493}, {0.2, 2.5012}, {0.3, 1.7625}, {0.5, 0.8753}} {
		assert.InDelta(t, row[1], ToblerSpeed(row[0]), 5e-5, "%v", row)
	}
}

func TestDIN33466(t *testing.T) {
	t.Parallel()
	// DIN 33466: 8 km and 900 m up is its worked example, 4 h; the others are
	// arithmetic from the rule.
	for _, row := range []struct{ length, up, down, hours float64 }{
		{8000, 900, 0, 4}, {10000, 1200, 0, 5.25}, {10000, 0, 1200, 3.70}, {8000, 600, 600, 4.2},
	} {
		assert.InDelta(t, row.hours*3600, DIN33466(row.length, row.up, row.down), 1e-6, "%v", row)
	}
}

func TestDoublePaces(t *testing.T) {
	t.Parallel()
	assert.InDelta(t, 975, DoublePaces(1500, 65), 1e-9)
}
