package contour

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestImhof: E. Imhof, Cartographic Relief Presentation, rule for the
// contour interval, evaluated by hand for 45, 26 and 9 degrees.
func TestImhof(t *testing.T) {
	t.Parallel()
	const tolerance = 0.06 // m; the values have one decimal, the angles are round
	for _, row := range []struct{ scale, alpine, middle, flat float64 }{
		{10000, 11.5, 5.6, 1.8},
		{25000, 20.6, 10.1, 3.3},
		{50000, 32.0, 15.6, 5.1},
		{100000, 49.4, 24.1, 7.8},
	} {
		assert.InDelta(t, row.alpine, ImhofInterval(row.scale, 45), tolerance)
		assert.InDelta(t, row.middle, ImhofInterval(row.scale, 26), tolerance)
		assert.InDelta(t, row.flat, ImhofInterval(row.scale, 9), tolerance)
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
	slope := func(degrees float64) Steepness {
		g := math.Tan(degrees * math.Pi / 180)
		return Steepness{Median: g / 2, Steep: g, Cells: 1000}
	}
	cases := []struct {
		name     string
		q        Question
		interval float64
		warn     string
		reason   string
	}{
		// Imhof's rule by hand: n log10 n is 20.6 m at 1:25 000, 20.1 m at
		// 1:24 000, 32.0 m at 1:50 000; times the tangent.
		{"alpine at 1:25 000", Question{Scale: 25000, Steepness: slope(45)}, 20, "", "21 m for 1:25000 and slopes of 45 degrees"},
		{"middle mountains at 1:25 000", Question{Scale: 25000, Steepness: slope(26)}, 10, "", "26 degrees"},
		{"middle mountains at 1:50 000", Question{Scale: 50000, Steepness: slope(26)}, 20, "", "16 m"},
		{"mountains at 1:24 000 in feet", Question{Scale: 24000, Unit: Foot, Steepness: slope(35)}, 40, "", "46 ft"},
		{"hills at 1:24 000 in feet", Question{Scale: 24000, Unit: Foot, Steepness: slope(15)}, 20, "", "18 ft"},
		{"flat", Question{Scale: 25000, Steepness: slope(2)}, 1, "", "0.72 m"},
		{"level", Question{Scale: 25000, Steepness: slope(0)}, 1, "", ""},
		{"the data decides", Question{Scale: 25000, Steepness: slope(20), VerticalError: 5}, 20, "", "heights good to 5 m"},
		{"the data carries the usual interval", Question{Scale: 25000, Steepness: slope(45), VerticalError: 2}, 20, "", "Imhof"},
		// 2 mm at 1:25 000 is 50 m of ground
		{"a wide gap asked for", Question{Scale: 25000, Steepness: slope(45), LeastGap: 2}, 50, "", "2 mm apart"},
		{"exactly a standard interval", Question{Scale: 25000, Steepness: slope(5), VerticalError: 20 / 3.2898}, 20, "", "heights good to"},
		{"coarse data, in feet", Question{Scale: 24000, Unit: Foot, Steepness: slope(20), VerticalError: 9}, 100, "", "heights good to 30 ft"},
		{"coarser data, in feet", Question{Scale: 24000, Unit: Foot, Steepness: slope(20), VerticalError: 10}, 200, "", "108 ft"},
		{"too rough for any", Question{Scale: 24000, Unit: Foot, Steepness: slope(20), VerticalError: 20}, 200, "too fine", "coarsest"},
		{"asked for and finer than the data", Question{Scale: 25000, Steepness: slope(20), VerticalError: 5, Interval: 10}, 10, "finer than the data supports", "asked"},
		{"asked for and illegible", Question{Scale: 25000, Steepness: slope(45), Interval: 5}, 5, "run together", "asked"},
		{"asked for and good", Question{Scale: 25000, Steepness: slope(45), VerticalError: 1, Interval: 15}, 15, "", "asked"},
	}
	for _, c := range cases {
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
	for _, row := range []struct {
		name     string
		q        Question
		whole    float64 // degrees
		interval float64
		reason   string
		warn     string
	}{
		{"as steep", Question{Scale: 25000, Steepness: slope(15)}, 15, 5, "Imhof", ""},
		{"steeper and still read", Question{Scale: 25000, Steepness: slope(15)}, 38, 5, "Imhof", ""}, // 4.9 m
		{"too steep", Question{Scale: 25000, Steepness: slope(15)}, 45, 10, "10 m: lines 5 m apart will run together: on slopes of 45 degrees", ""},
		{"too steep, in feet", Question{Scale: 25000, Unit: Foot, Steepness: slope(5)}, 45, 40, "lines 5 ft apart", ""},
		{"asked for", Question{Scale: 25000, Steepness: slope(15), Interval: 5}, 45, 5, "asked", "run together"},
		{"finer than the data already", Question{Scale: 25000, Steepness: slope(15), Interval: 5, VerticalError: 5}, 45, 5, "asked", "finer than the data supports"},
		{"no standard interval will do", Question{Scale: 1e6, Steepness: slope(15)}, 45, 100, "95 %", "run together"},
	} {
		t.Run(row.name, func(t *testing.T) {
			choice, err := Choose(row.q)
			require.NoError(t, err)
			got, err := choice.Widen(row.q, slope(row.whole))
			require.NoError(t, err)
			assert.Equal(t, row.interval, got.Interval)
			assert.Contains(t, got.Reason, row.reason)
			if row.warn == "" {
				assert.Empty(t, got.Warning)
			} else {
				assert.Contains(t, got.Warning, row.warn)
			}
		})
	}
	_, err := Choice{Interval: 5}.Widen(Question{Scale: 25000}, Steepness{})
	assert.Error(t, err)
	for _, bad := range []Question{
		{}, {Scale: 25000}, {Scale: math.NaN(), Steepness: slope(3)}, {Scale: 25000, Steepness: slope(3), VerticalError: -1},
		{Scale: 25000, Steepness: slope(3), Interval: math.Inf(1)}, {Scale: 25000, Steepness: slope(3), LeastGap: -1},
	} {
		_, err := Choose(bad)
		assert.Error(t, err, "%+v", bad)
	}
}

// TestIntervalBeyondAllGround: 2026-11, an interval of 1e305 m was taken, and
// its metres were no number.
func TestIntervalBeyondAllGround(t *testing.T) {
	t.Parallel()
	for _, unit := range []Unit{Metre, Foot} {
		for _, metres := range []float64{1e305, math.MaxFloat64, math.Inf(1), math.Nextafter(MostInterval, 1e9) * 1.001} {
			interval := metres / unit.Metres()
			_, err := Choose(Question{Scale: 25000, Unit: unit, Interval: interval, Steepness: Steepness{Cells: 1}})
			require.ErrorContains(t, err, "at most 10000 m")
			require.ErrorContains(t, Levels{Interval: interval, Unit: unit}.validate(), "at most 10000 m")
		}
		_, err := Choose(Question{Scale: 25000, Unit: unit, Interval: MostInterval / unit.Metres() * 0.999, Steepness: Steepness{Cells: 1}})
		require.NoError(t, err)
	}
}
