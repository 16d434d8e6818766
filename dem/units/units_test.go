package units

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

func TestDistance(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		metres     float64
		metric, us string
	}{
		{0, "0 m", "0 ft"}, {-0.2, "0 m", "-1 ft"}, {16, "16 m", "52 ft"}, {620, "620 m", "0.39 mi"}, {999.4, "999 m", "0.62 mi"},
		{999.6, "1.00 km", "0.62 mi"}, {5190, "5.19 km", "3.22 mi"}, {9994, "9.99 km", "6.21 mi"}, {9996, "10.0 km", "6.21 mi"},
		{160, "160 m", "525 ft"}, {161, "161 m", "0.10 mi"}, {20e3, "20.0 km", "12.4 mi"},
	} {
		assert.Equal(t, c.metric, Metric.Distance(c.metres), "%g", c.metres)
		assert.Equal(t, c.us, US.Distance(c.metres), "%g", c.metres)
	}
}

func TestHeight(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		metres     float64
		metric, us string
	}{
		{0, "0 m", "0 ft"}, {2.54, "2.5 m", "8 ft"}, {9.94, "9.9 m", "33 ft"}, {9.96, "10 m", "33 ft"}, {-3, "-3.0 m", "-10 ft"}, {0.04, "0 m", "0 ft"},
		{1894.2, "1894 m", "6215 ft"}, {12345, "12 345 m", "40 502 ft"},
	} {
		assert.Equal(t, c.metric, Metric.Height(c.metres), "%g", c.metres)
		assert.Equal(t, c.us, US.Height(c.metres), "%g", c.metres)
	}
	assert.Equal(t, "under 0.1 m", Metric.Need(0.01))
	assert.Equal(t, "1.6 m", Metric.Small(1.6))
	assert.Equal(t, "5.2 ft", US.Small(1.6))
}

func TestAnglesAndTimes(t *testing.T) {
	t.Parallel()
	assert.Equal(t, "000.0", Bearing(359.97))
	assert.Equal(t, "007.3", Bearing(7.26))
	assert.Equal(t, "000", Dial(359.6))
	assert.Equal(t, "N", Towards(355))
	assert.Equal(t, "5.2 W", EastWest(-5.2))
	assert.Equal(t, "level", UpDown(0.04))
	assert.Equal(t, "43 min", Clock(43*time.Minute))
	assert.Equal(t, "1 h 05 min", Clock(65*time.Minute))
	assert.Equal(t, "at 1.00 km", Metric.Stretch(1000, 1001))
	assert.Equal(t, "0 m to 1.19 km", Metric.Stretch(0, 1190))
	assert.Equal(t, "10.9 km to 11.0 km", Metric.Stretch(10900, 11000))
	assert.Equal(t, "at 0.35 mi", US.Stretch(563, 566))
	assert.Equal(t, "98 ft to 197 ft", US.Stretch(30, 60))
}

// FuzzParse: what is read is written back as it was.
func FuzzParse(f *testing.F) {
	for _, text := range []string{"metric", "us", "US", ""} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		s, err := Parse(text)
		if err == nil {
			assert.Equal(t, text, s.String())
		}
	})
}

// TestAboutHasTwoFigures: an estimate is written no finer than it is known.
func TestAboutHasTwoFigures(t *testing.T) {
	t.Parallel()
	for metres, want := range map[float64][2]string{
		4: {"10 m", "10 ft"}, 32: {"30 m", "100 ft"}, 159: {"160 m", "520 ft"}, 162: {"160 m", "0.10 mi"}, 222: {"220 m", "0.14 mi"}, 651: {"650 m", "0.40 mi"}, 1340: {"1.3 km", "0.83 mi"}, -96: {"100 m", "310 ft"},
	} {
		assert.Equal(t, want[0], Metric.About(metres))
		assert.Equal(t, want[1], US.About(metres))
	}
	assert.Equal(t, Unknown, Metric.About(math.NaN()))
}

// TestWalking: speeds, paces and short lengths.
func TestWalking(t *testing.T) {
	t.Parallel()
	assert.Equal(t, "4 km/h", Metric.Speed(4000.0/3600))
	assert.Equal(t, "2.5 mph", US.Speed(2.5*Mile/3600))
	assert.Equal(t, "65 in 100 m", Metric.PaceCount(65))
	assert.Equal(t, "59.4 in 100 yd", US.PaceCount(65))
	assert.Equal(t, "62 in 100 yd", US.PaceCount(62/Yard))
	assert.Equal(t, "1.6 m", Metric.Tenth(1.6))
	assert.Equal(t, "5.2 ft", US.Tenth(1.6))
	assert.Equal(t, Unknown, US.Tenth(math.NaN()))
}

// TestNoHundredthsOfAMile: whatever the length, feet are written under a tenth
// of a mile and miles above.
func TestNoHundredthsOfAMile(t *testing.T) {
	t.Parallel()
	for metres := 0.3; metres < 5000; metres *= 1.01 {
		for _, text := range []string{US.Distance(metres), US.About(metres)} {
			assert.NotRegexp(t, `^0\.0\d* mi`, text)
			assert.Equal(t, metres < Mile/10, strings.HasSuffix(text, " ft"), "%g m: %s", metres, text)
		}
	}
}
