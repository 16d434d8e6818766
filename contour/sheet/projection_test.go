package sheet

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/contour/page"
	"crowline/dem"
	"crowline/dem/geodesy"
)

// The scale away from the centre departs from the stated one by no more than
// the package's documentation says.
func TestScaleTenKilometresFromTheCentre(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		north North
		most  float64 // share
	}{{GridNorth, 1e-4}, {TrueNorth, 1e-6}} {
		for _, at := range []geodesy.LatLon{ll(0, 0.01), ll(0, 3), ll(46, 11.99), ll(-60, -58), ll(79, 8.9)} {
			p, err := newProjection(at, c.north, 25000)
			require.NoError(t, err)
			for b := geodesy.TrueBearing(0); b < 360; b += 45 {
				far, _ := geodesy.Direct(at, b, 10000)
				for along := geodesy.TrueBearing(0); along < 180; along += 45 {
					near, _ := geodesy.Direct(far, along, 200)
					q, err := p.place(far)
					require.NoError(t, err)
					r, err := p.place(near)
					require.NoError(t, err)
					assert.InDelta(t, 1, q.Away(r)/8, c.most, "%v %v %v %v", at, c.north, b, along)
				}
			}
		}
	}
}

func TestProjectionInverts(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(1, 2))
	for _, north := range []North{GridNorth, TrueNorth} {
		for _, at := range []geodesy.LatLon{ll(36.3, -84.2), ll(-45, 179.99), ll(-0.01, 5), ll(70, -179.99)} {
			p, err := newProjection(at, north, 25000)
			require.NoError(t, err)
			q, err := p.place(at)
			require.NoError(t, err)
			const tolerance = 1e-4 // mm: 2.5 mm of ground
			assert.InDelta(t, 0, math.Hypot(q.X, q.Y), tolerance)
			for range 100 {
				want := page.At(random.Float64()*300-150, random.Float64()*300-150)
				place, err := p.inverse(want)
				require.NoError(t, err)
				got, err := p.place(place)
				require.NoError(t, err)
				require.InDelta(t, 0, want.Away(got), tolerance, "%v %v", at, want)
			}
		}
	}
}

// The mesh under relief and hatching stays within the stated hundredth of a
// millimetre at 1:25 000, and within a millimetre at 1:250 000.
func TestLatticeError(t *testing.T) {
	t.Parallel()
	frame := &dem.Frame{Columns: 7200, Rows: 7200, X0: 10, Y0: 70, DX: 1. / 3600, DY: -1. / 3600, CRS: geodesy.WGS84}
	random := rand.New(rand.NewPCG(3, 4))
	area := page.Box(-90, -120, 180, 240)
	for _, c := range []struct{ scale, most float64 }{{25000, 0.01}, {250000, 0.1}} {
		for _, north := range []North{GridNorth, TrueNorth} {
			p, err := newProjection(ll(69, 11.9), north, c.scale)
			require.NoError(t, err)
			l := newLattice(p, frame, area)
			for range 200 {
				q := page.At(area.X+random.Float64()*area.Width, area.Y+random.Float64()*area.Height)
				column, row, ok := l.at(q)
				require.True(t, ok)
				at, err := frame.Place(column, row)
				require.NoError(t, err)
				got, err := p.place(at)
				require.NoError(t, err)
				require.LessOrEqual(t, q.Away(got), c.most, "1:%g %v", c.scale, north)
			}
		}
	}
}

func TestGridInterval(t *testing.T) {
	t.Parallel()
	for scale, want := range map[float64]float64{1000: 100, 5000: 100, 10000: 500, 16000: 500, 24000: 1000, 25000: 1000, 50000: 1000,
		100000: 1000, 250000: 10000, 1e6: 10000} {
		assert.Equal(t, want, gridInterval(scale), "1:%g", scale)
	}
}

// Edges of zones that are not 6 degrees wide are found too.
func TestZoneEdgeIsDrawnAndSaid(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		at          geodesy.LatLon
		zone, other int
	}{
		{ll(46, 11.99), 32, 33}, {ll(46, 12.01), 33, 32}, {ll(60, 3.01), 32, 31}, {ll(60, 6), 32, 0},
		{ll(78, 8.98), 31, 33}, {ll(0.5, 179.99), 60, 1}, {ll(-20, -179.99), 1, 60}, {ll(46, 9), 32, 0},
	} {
		d := compose(t, Plan{Title: "Edge", Scale: 25000, Centre: &c.at})
		_, texts := readSVG(t, svgOf(t, d))
		joined := fmt.Sprint(texts)
		assert.Contains(t, joined, fmt.Sprintf("UTM zone %d", c.zone))
		if c.other == 0 {
			assert.NotContains(t, joined, "begins at the dash-dotted line")
			continue
		}
		assert.Contains(t, joined, fmt.Sprintf("UTM zone %d begins at the dash-dotted line", c.other))
	}
}

// A teacher's own pens reach the paper.
func TestStyleIsUsed(t *testing.T) {
	t.Parallel()
	p := demoPlan(t)
	p.Style.Index = page.Pen{Color: page.RGB(0xAA0000), Width: 0.5}
	p.Style.Intermediate = page.Pen{Color: page.RGB(0x0000AA)}
	paths, _ := readSVG(t, svgOf(t, compose(t, p)))
	seen := map[string]bool{}
	for _, q := range inGroup(paths, "contours") {
		seen[q.stroke] = true
	}
	assert.Equal(t, map[string]bool{"#aa0000": true, "#0000aa": true}, seen)
	assert.Equal(t, DefaultStyle().Intermediate.Width, Style{}.filled().Intermediate.Width)
}
