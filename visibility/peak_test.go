package visibility

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// coneGround is level ground with cones on it: each {column, row, radius in
// posts, metres high}.
func coneGround(cones ...[4]float64) *dem.Grid {
	f := testFrames(201, 201)["utm"]
	g := &dem.Grid{Frame: f, Elevations: make([]float32, 201*201)}
	for r := range 201 {
		for c := range 201 {
			h := 100.0
			for _, k := range cones {
				h = max(h, 100+k[3]*(1-math.Hypot(float64(c)-k[0], float64(r)-k[1])/k[2]))
			}
			g.Elevations[r*201+c] = float32(h)
		}
	}
	return g
}

// TestPeaksBreakTheSkyline: of four cones round an observer the one that
// stands alone and the one that stands over a nearer one are on the skyline;
// the nearer one has higher ground behind it, and the last is hidden.
func TestPeaksBreakTheSkyline(t *testing.T) {
	t.Parallel()
	alone, near, over, hidden := [4]float64{100, 40, 12, 200}, [4]float64{140, 100, 8, 50}, [4]float64{180, 100, 12, 300}, [4]float64{20, 100, 10, 60}
	wall := [4]float64{60, 100, 14, 250}
	g := coneGround(alone, near, over, hidden, wall)
	o := observerAt(t, g, 100, 100)
	opts := DefaultSkylineOptions()
	h, err := Skyline(context.Background(), g, o, opts)
	require.NoError(t, err)
	for name, row := range map[string]struct {
		cone [4]float64
		on   bool
	}{"alone": {alone, true}, "before higher ground": {near, false}, "over lower ground": {over, true}, "hidden": {hidden, false}, "the wall": {wall, true}} {
		place, err := g.Place(row.cone[0], row.cone[1])
		require.NoError(t, err)
		top := g.Elevation(int(row.cone[0]), int(row.cone[1]))
		peak, ok := h.Peak(place, top, opts.Refraction, 100)
		assert.Equal(t, row.on, ok, name)
		assert.InDelta(t, geodesy.Inverse(o.Place, place).Distance, peak.Distance, 1e-6, name)
		assert.InDelta(t, float64(geodesy.Inverse(o.Place, place).Start), float64(peak.Bearing), 1e-9, name)
		if ok {
			nearest := h.Points[int(math.Round(float64(peak.Bearing)/float64(opts.Step)))%len(h.Points)]
			// the line of a cone falls by its height over its half width in a
			// few degrees: under 0.2 degrees between bearings a twentieth apart
			assert.InDelta(t, float64(nearest.Angle), float64(peak.Angle), 0.2, name)
			assert.InDelta(t, nearest.Distance, peak.Distance, 100, name)
		}
		_, ok = h.Peak(place, top, opts.Refraction, 1e5)
		assert.False(t, ok, "nearer than the nearest asked for")
	}
	_, ok := h.Peak(o.Place, 200, opts.Refraction, 0)
	assert.False(t, ok, "the observer's own place has no bearing")
	_, ok = h.Peak(geodesy.LatLon{Lat: o.Place.Lat + 0.01, Lon: o.Place.Lon}, math.NaN(), opts.Refraction, 0)
	assert.False(t, ok)
}

// TestPeaksOutsideASector are not known to be on the line.
func TestPeaksOutsideASector(t *testing.T) {
	t.Parallel()
	g := coneGround([4]float64{100, 40, 12, 200}, [4]float64{180, 100, 12, 300})
	o := observerAt(t, g, 100, 100)
	opts := DefaultSkylineOptions()
	opts.Sector = &Sector{From: 60, To: 120}
	h, err := Skyline(context.Background(), g, o, opts)
	require.NoError(t, err)
	north, err := g.Place(100, 40)
	require.NoError(t, err)
	_, ok := h.Peak(north, 300, opts.Refraction, 100)
	assert.False(t, ok)
	east, err := g.Place(180, 100)
	require.NoError(t, err)
	_, ok = h.Peak(east, 400, opts.Refraction, 100)
	assert.True(t, ok)
	_, ok = (&Horizon{}).Peak(east, 400, 0.13, 100)
	assert.False(t, ok)
}
