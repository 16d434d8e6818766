package gdalio

import (
	"math"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/clip"

	"crowline/dem/geodesy"
)

// partedLayer is a layer in longitude and latitude with every geometry within
// [-180, 180], cut where it crosses that meridian (RFC 7946, section 3.1.9):
// readers draw a line from 180 to -180 round the world. A layer in another
// reference system is left as it is.
func partedLayer(l Layer) Layer {
	if l.CRS != nil && l.CRS != geodesy.WGS84 {
		return l
	}
	var features []Feature
	for i, f := range l.Features {
		g, cut := partGeometry(f.Geometry)
		if !cut {
			continue
		}
		if features == nil {
			features = append(features, l.Features...)
		}
		features[i].Geometry = g
	}
	if features != nil {
		l.Features = features
	}
	return l
}

// Parted is a geometry in longitude and latitude with all of it within
// [-180, 180]: lines and polygons across that meridian are cut there.
func Parted(g orb.Geometry) orb.Geometry {
	parted, _ := partGeometry(g)
	return parted
}

// partGeometry cuts lines and polygons; cut is false, and the geometry the
// one given, where there is nothing to cut.
func partGeometry(g orb.Geometry) (parted orb.Geometry, cut bool) {
	switch g := g.(type) {
	case orb.Point:
		if x := math.Remainder(g[0], 360); math.Abs(g[0]) > 180 {
			return orb.Point{x, g[1]}, true
		}
	case orb.LineString:
		if leavesRange(g) {
			return partedLines(g), true
		}
	case orb.MultiLineString:
		var out orb.MultiLineString
		for _, line := range g {
			if leavesRange(line) {
				out, cut = append(out, partedLines(line)...), true
			} else {
				out = append(out, line)
			}
		}
		return out, cut
	case orb.Polygon:
		if len(g) > 0 && leavesRange(orb.LineString(g[0])) {
			return partedPolygons(g), true
		}
	case orb.MultiPolygon:
		var out orb.MultiPolygon
		for _, p := range g {
			if len(p) > 0 && leavesRange(orb.LineString(p[0])) {
				out, cut = append(out, partedPolygons(p)...), true
			} else {
				out = append(out, p)
			}
		}
		return out, cut
	}
	return g, false
}

// leavesRange reports whether a line leaves [-180, 180] or steps over half a
// turn.
func leavesRange(line orb.LineString) bool {
	for i, p := range line {
		if math.Abs(p[0]) > 180 || i > 0 && math.Abs(p[0]-line[i-1][0]) > 180 {
			return true
		}
	}
	return false
}

func partedLines(line orb.LineString) orb.MultiLineString {
	var x, y []float64
	for _, p := range line {
		x, y = append(x, p[0]), append(y, p[1])
	}
	var out orb.MultiLineString
	for _, part := range partLine(x, y) {
		cut := make(orb.LineString, len(part))
		for i, p := range part {
			cut[i] = p
		}
		out = append(out, cut)
	}
	return out
}

// partedPolygons cuts a polygon whose rings may run on past 180 or jump by
// whole turns.
func partedPolygons(p orb.Polygon) orb.MultiPolygon {
	unrolled := make(orb.Polygon, len(p))
	for i, ring := range p {
		near := ring[0][0]
		if i > 0 { // a hole lies in its own outline, not a turn away
			near = unrolled[0].Bound().Center()[0]
		}
		for _, q := range ring {
			x := near + math.Remainder(q[0]-near, 360)
			near = x
			unrolled[i] = append(unrolled[i], orb.Point{x, q[1]})
		}
	}
	bound := unrolled[0].Bound()
	var out orb.MultiPolygon
	for k := math.Floor((bound.Min[0] + 180) / 360); 360*k-180 < bound.Max[0]; k++ {
		part := clip.Polygon(orb.Bound{Min: orb.Point{360*k - 180, -90}, Max: orb.Point{360*k + 180, 90}}, unrolled.Clone())
		for _, ring := range part {
			for i := range ring {
				ring[i][0] -= 360 * k
			}
		}
		if len(part) > 0 && len(part[0]) > 3 {
			out = append(out, part)
		}
	}
	return out
}
