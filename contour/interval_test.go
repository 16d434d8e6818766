package contour

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestUsualInterval is the table, at its scales and between them: common
// practice.
func TestUsualInterval(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ scale, metres, feet float64 }{
		{1000, 1, 5}, {5000, 2, 10}, {10000, 5, 20}, {15000, 5, 40}, {20000, 10, 40}, {24000, 10, 40}, {25000, 10, 40},
		{30000, 20, 80}, {50000, 20, 80}, {63360, 20, 80}, {100e3, 50, 100}, {250e3, 100, 200}, {500e3, 200, 500}, {1e6, 500, 1000}, {1e7, 500, 1000},
	} {
		assert.Equal(t, row.metres, UsualInterval(row.scale, Metre), "1:%.0f", row.scale)
		assert.Equal(t, row.feet, UsualInterval(row.scale, Foot), "1:%.0f", row.scale)
	}
	for _, u := range []Unit{Metre, Foot} { // never finer on a smaller map, and always a standard one
		last := 0.0
		for scale := 100.0; scale <= 1e7; scale *= 1.01 {
			v := UsualInterval(scale, u)
			require.GreaterOrEqual(t, v, last)
			require.Contains(t, u.standard(), v)
			last = v
		}
	}
}

// TestSupportedInterval: FGDC-STD-007.3-1998: interval = 3.2898 RMSE. USGS
// 3DEP 1/3 arc-second, 0.82 m RMSE (2022).
func TestSupportedInterval(t *testing.T) {
	t.Parallel()
	assert.InDelta(t, 3.2898, SupportedInterval(1), 5e-5)
	assert.InDelta(t, 2.70, SupportedInterval(0.82), 5e-3)
}

func TestSteepnessOfAPlane(t *testing.T) {
	t.Parallel()
	g := grid(300, 500, func(c, r float64) float64 { return 3 * c })
	dx, _, err := g.Spacing(150, 250)
	require.NoError(t, err)
	s, err := MeasureSteepness(g)
	require.NoError(t, err)
	// the width of a column changes by 1e-3 over these rows
	assert.InDelta(t, 3/dx, s.Median, 1e-3*3/dx)
	assert.InDelta(t, 3/dx, s.Steep, 2e-3*3/dx)
	nan := grid(5, 5, func(c, r float64) float64 { return math.NaN() })
	s, err = MeasureSteepness(nan)
	require.NoError(t, err)
	assert.Zero(t, s.Cells)
}

func TestChoose(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name     string
		q        Question
		interval float64
		warn     string
		reason   string
	}{
		{"usual", Question{Scale: 25000, VerticalError: 0.8}, 10, "", "10 m, as maps at 1:25000 usually have"},
		{"in feet", Question{Scale: 24000, Unit: Foot, VerticalError: 0.8}, 40, "", "40 ft, as maps at 1:24000"},
		{"error unknown", Question{Scale: 25000}, 10, "", "does not state"},
		{"the data decides", Question{Scale: 25000, VerticalError: 5}, 20, "", "maps at 1:25000 usually have 10 m, but with heights good to 5 m"},
		{"coarse data", Question{Scale: 25000, VerticalError: 9.7}, 50, "", "32 m apart would mislead"},
		{"coarse data on a map that has no finer lines", Question{Scale: 100e3, VerticalError: 9.7}, 50, "", "50 m, as"},
		{"exactly a standard interval", Question{Scale: 25000, VerticalError: 20 / 3.2898}, 20, "", "heights good to"},
		{"coarse data, in feet", Question{Scale: 24000, Unit: Foot, VerticalError: 9}, 100, "", "heights good to 30 ft"},
		{"coarser data, in feet", Question{Scale: 24000, Unit: Foot, VerticalError: 10}, 200, "", "108 ft"},
		{"too rough for any", Question{Scale: 24000, Unit: Foot, VerticalError: 100}, 1000, "too fine", "coarsest"},
		{"asked for and finer than the data", Question{Scale: 25000, VerticalError: 5, Interval: 10}, 10, "finer than the data supports", "asked"},
		{"asked for and good", Question{Scale: 25000, VerticalError: 1, Interval: 15}, 15, "", "asked"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := Choose(c.q)
			require.NoError(t, err)
			assert.Equal(t, c.interval, got.Interval, got.Reason)
			assert.Contains(t, got.Reason, c.reason)
			if c.warn == "" {
				assert.Empty(t, got.Warning)
			} else {
				assert.Contains(t, got.Warning, c.warn)
			}
		})
	}
	for _, bad := range []Question{
		{}, {Scale: math.NaN()}, {Scale: 25000, VerticalError: -1}, {Scale: 25000, VerticalError: math.NaN()}, {Scale: 25000, Interval: math.Inf(1)}, {Scale: 25000, Interval: -1},
	} {
		_, err := Choose(bad)
		assert.Error(t, err, "%+v", bad)
	}
}

// TestMergingLinesAreSaidAndStay: a page of steep ground has the interval of
// every other map of its scale, and a warning. 0.25 mm at 1:25 000 is 6.25 m of
// ground, so lines 5 m apart merge over atan(5/6.25) = 38.7 degrees.
func TestMergingLinesAreSaidAndStay(t *testing.T) {
	t.Parallel()
	slope := func(degrees float64) Steepness {
		g := math.Tan(degrees * math.Pi / 180)
		return Steepness{Median: g / 2, Steep: g, Cells: 1000}
	}
	for _, row := range []struct {
		q       Question
		degrees float64
		warn    []string
	}{
		{Question{Scale: 25000, Interval: 5}, 38, nil},
		{Question{Scale: 25000, Interval: 5}, 39, []string{"lines 5 m apart will run together on slopes of 39 degrees", "1:25000 they need 5.1 m", "The interval stays"}},
		{Question{Scale: 25000, VerticalError: 0.8}, 57, nil},
		{Question{Scale: 25000, VerticalError: 0.8}, 60, []string{"lines 10 m apart"}},
		{Question{Scale: 25000, VerticalError: 5, Interval: 5}, 60, []string{"finer than the data supports", ". Lines 5 m apart"}},
		{Question{Scale: 24000, Unit: Foot}, 70, []string{"lines 40 ft apart"}},
	} {
		choice, err := Choose(row.q)
		require.NoError(t, err)
		got := choice.Drawn(slope(row.degrees))
		assert.Equal(t, choice.Interval, got.Interval)
		assert.Equal(t, choice.Reason, got.Reason)
		if row.warn == nil {
			assert.Equal(t, choice.Warning, got.Warning)
		}
		for _, words := range row.warn {
			assert.Contains(t, got.Warning, words)
		}
		assert.Equal(t, choice, choice.Drawn(Steepness{}), "no ground on the page")
	}
}

// TestIntervalBeyondAllGround: 2026-11, an interval of 1e305 m was taken, and
// its metres were no number.
func TestIntervalBeyondAllGround(t *testing.T) {
	t.Parallel()
	for _, unit := range []Unit{Metre, Foot} {
		for _, metres := range []float64{1e305, math.MaxFloat64, math.Inf(1), math.Nextafter(MostInterval, 1e9) * 1.001} {
			interval := metres / unit.Metres()
			_, err := Choose(Question{Scale: 25000, Unit: unit, Interval: interval})
			require.ErrorContains(t, err, "at most 10000 m")
			require.ErrorContains(t, Levels{Interval: interval, Unit: unit}.validate(), "at most 10000 m")
		}
		_, err := Choose(Question{Scale: 25000, Unit: unit, Interval: MostInterval / unit.Metres() * 0.999})
		require.NoError(t, err)
	}
}
