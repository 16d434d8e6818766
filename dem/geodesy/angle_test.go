package geodesy

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestSinCosIsExactAtQuarterTurns(t *testing.T) {
	t.Parallel()
	want := [4][2]float64{{0, 1}, {1, 0}, {0, -1}, {-1, 0}}
	for k := -40; k <= 4000; k++ {
		s, c := Degrees(90 * k).SinCos()
		w := want[((k%4)+4)%4]
		if s != w[0] || c != w[1] {
			t.Fatalf("SinCos(%d) = %v, %v; want %v", 90*k, s, c, w)
		}
		if c == 0 && math.Signbit(c) {
			t.Fatalf("cos %d is -0", 90*k)
		}
	}
	s, c := Degrees(45).SinCos()
	assert.InDelta(t, math.Sqrt2/2, s, 2e-16)
	assert.InDelta(t, s, c, 2e-16) // one unit in the last place
	assert.True(t, math.IsInf(Degrees(90).Tan(), 1))
}

func TestSinCosBesideTheEighthTurns(t *testing.T) {
	t.Parallel()
	// The quadrant and the remainder must agree on which side of a half
	// they are, or the sine comes out with the wrong sign.
	const tol = 4e-15 // rounding of 3 000 degrees in radians, in the plain library call
	for k := -33; k <= 33; k++ {
		for _, d := range []float64{float64(45 * k), math.Nextafter(float64(45*k), 1e9), math.Nextafter(float64(45*k), -1e9)} {
			s, c := Degrees(d).SinCos()
			assert.InDelta(t, math.Sin(d*math.Pi/180), s, tol, "sin %v", d)
			assert.InDelta(t, math.Cos(d*math.Pi/180), c, tol, "cos %v", d)
		}
	}
}

func TestSinCosProperties(t *testing.T) {
	t.Parallel()
	const seed = 1
	random := rand.New(rand.NewPCG(seed, seed))
	for range 20000 {
		d := Degrees((random.Float64() - 0.5) * 1440)
		s, c := d.SinCos()
		assert.InDelta(t, 1, s*s+c*c, 4e-16)
		s2, c2 := (-d).SinCos()
		assert.True(t, s2 == -s && c2 == c, "odd and even at %v", d)
		assert.Equal(t, d.Sin(), s)
		assert.Equal(t, d.Cos(), c)
	}
}

func TestBearingsWrap(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ in, want float64 }{
		{0, 0}, {360, 0}, {-1, 359}, {725, 5}, {-1e-17, 0}, {-360, 0}, {359.999999, 359.999999},
	} {
		got := float64(NewTrueBearing(Degrees(c.in)))
		assert.Equal(t, c.want, got, "%v", c.in)
		assert.False(t, math.Signbit(got))
		assert.Equal(t, c.want, float64(NewGridBearing(Degrees(c.in))))
		assert.Equal(t, c.want, float64(NewMagneticBearing(Degrees(c.in))))
	}
	for _, c := range []struct{ in, want float64 }{
		{180, -180}, {-180, -180}, {540, -180}, {190, -170}, {1e-12, 1e-12}, {-1e-12, -1e-12}, {359, -1}, {math.Copysign(0, -1), 0}, {-360, 0},
	} {
		got := wrap180(c.in)
		assert.Equal(t, c.want, got, "%v", c.in)
		assert.Equal(t, c.want < 0, math.Signbit(got), "%v", c.in) // never -0
	}
	// US Army TC 3-25.26: the back azimuth of 92 is 272.
	assert.Equal(t, TrueBearing(272), TrueBearing(92).Back())
	assert.Equal(t, GridBearing(92), GridBearing(272).Back())
	assert.Equal(t, MagneticBearing(0), MagneticBearing(180).Back())
	assert.Equal(t, Degrees(20), Difference(350, 10))
	assert.Equal(t, Degrees(-20), Difference(10, 350))
	assert.Equal(t, Degrees(-180), Difference(0, 180))
}

func TestConvergenceCrossesBetweenTrueAndGrid(t *testing.T) {
	t.Parallel()
	east := Convergence(1.5) // grid north 1.5 degrees east of true north
	assert.Equal(t, GridBearing(8.5), east.Grid(10))
	assert.Equal(t, GridBearing(359.5), east.Grid(1))
	assert.Equal(t, TrueBearing(10), east.True(8.5))
	assert.Equal(t, TrueBearing(1), east.True(359.5))
}
