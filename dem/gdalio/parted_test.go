package gdalio

import (
	"path/filepath"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestFeaturesArePartedAtTheAntimeridian: 2026-11-28. Lines of landforms ran
// from 180 to -180, round the world, and polygons of seen ground past 180.
func TestFeaturesArePartedAtTheAntimeridian(t *testing.T) {
	t.Parallel()
	square := func(west, south, side float64) orb.Ring {
		return orb.Ring{{west, south}, {west + side, south}, {west + side, south + side}, {west, south + side}, {west, south}}
	}
	wrap := func(r orb.Ring) orb.Ring { // as places are kept, from -180 up to 180
		out := r.Clone()
		for i := range out {
			if out[i][0] >= 180 {
				out[i][0] -= 360
			}
		}
		return out
	}
	area := func(g orb.Geometry) float64 { return planar.Area(g) }
	for _, c := range []struct {
		name  string
		given orb.Geometry
		parts int
	}{
		{"a line past 180", orb.LineString{{179, 1}, {180.5, 2}, {181, 3}}, 2},
		{"a line that jumps", orb.LineString{{179, 1}, {-179.5, 2}, {-179, 3}}, 2},
		{"lines, one of which does", orb.MultiLineString{{{10, 1}, {11, 1}}, {{179, 1}, {-179, 2}}}, 3},
		{"a polygon past 180 with a hole across it", orb.Polygon{square(178, 10, 4), square(179, 11, 2)}, 2},
		{"a polygon that jumps, a hole on the far side", orb.Polygon{wrap(square(178, 10, 4)), wrap(square(180.5, 11, 1))}, 2},
		{"polygons, one of which does", orb.MultiPolygon{{square(10, 10, 1)}, {square(-181, 10, 2)}}, 3},
	} {
		g, cut := partGeometry(c.given)
		assert.True(t, cut, c.name)
		b := g.Bound()
		assert.True(t, b.Min[0] >= -180 && b.Max[0] <= 180, "%s: %v", c.name, g)
		switch g := g.(type) {
		case orb.MultiLineString:
			require.Len(t, g, c.parts, c.name)
			for _, line := range g {
				assert.False(t, leavesRange(line), "%s: %v", c.name, line)
			}
		case orb.MultiPolygon:
			require.Len(t, g, c.parts, c.name)
			want := map[int]float64{2: 16 - 4, 3: 1 + 4}[c.parts]
			if c.name == "a polygon that jumps, a hole on the far side" {
				want = 16 - 1
			}
			assert.InDelta(t, want, area(g), 1e-9, c.name)
			for _, p := range g {
				for _, ring := range p {
					assert.False(t, leavesRange(orb.LineString(ring)), "%s: %v", c.name, ring)
				}
			}
		default:
			t.Fatalf("%s: a %T", c.name, g)
		}
	}
	for _, g := range []orb.Geometry{orb.Point{180, 1}, orb.LineString{{-180, 1}, {-10, 1}, {150, 2}, {180, 1}}, orb.Polygon{square(-180, 0, 90)}} {
		same, cut := partGeometry(g)
		assert.False(t, cut)
		assert.Equal(t, g, same)
	}
	p, cut := partGeometry(orb.Point{181, 5})
	assert.True(t, cut)
	assert.Equal(t, orb.Point{-179, 5}, p)

	path := filepath.Join(t.TempDir(), "lines.geojson")
	require.NoError(t, WriteFeatures(t.Context(), path, GeoJSON, Layer{Name: "ridges", Shape: Lines,
		Features: []Feature{{Geometry: orb.LineString{{179.9, -17}, {-179.9, -17.1}}}}}))
	lines, err := ReadLines(path)
	require.NoError(t, err)
	total := 0
	for _, l := range lines {
		total += len(l.Points)
	}
	assert.Equal(t, 4, total)
}
