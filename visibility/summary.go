package visibility

import (
	"bytes"
	"context"
	"encoding/binary"
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// Summary counts a viewshed's posts.
type Summary struct {
	Visible, Hidden, Unknown int64
	// VoidPosts of the Unknown have no elevation themselves; DependOnVoids
	// are the rest of them: known ground whose line of sight meets a void or
	// leaves the data.
	VoidPosts, DependOnVoids int64
	// AreaSeen is the area of the visible posts' cells on the ellipsoid,
	// square metres (map area: a slope counts for what it covers).
	AreaSeen float64
	// Farthest is the visible post farthest from the observer, nil if none
	// but the observer's own.
	Farthest *Farthest
}

// Farthest is ground seen from far away.
type Farthest struct {
	Place       geodesy.LatLon
	Column, Row int // in the grid
	Distance    float64
	Bearing     geodesy.TrueBearing
	Elevation   float64
}

// areaColumns is how many columns share one cell area. Over 64 cells the
// area changes by less than a ten-thousandth at any spacing dem places.
const areaColumns = 64

// eightHidden is Hidden as eight bytes in a row.
const eightHidden = uint64(Hidden) * 0x0101010101010101

// summarise counts strips of blockCells rows, and adds them up in order, so
// that the sums have the same bits at any concurrency.
func (v *Viewed) summarise(ctx context.Context, g *dem.Grid, c *cells) error {
	w := v.Window
	type part struct {
		counts      [4]int64
		voids       int64
		area        float64
		far         float64
		column, row int
	}
	codes := v.Codes()
	parts := make([]part, (w.Rows+blockCells-1)/blockCells)
	err := parallel(ctx, len(parts), v.Options.Concurrency, func(_, j int) {
		p := &parts[j]
		r0, r1 := j*blockCells, min((j+1)*blockCells, w.Rows)
		for c0 := 0; c0 < w.Columns; c0 += areaColumns {
			c1 := min(c0+areaColumns, w.Columns)
			var counts [4]int64
			counts[Hidden] = int64((c1 - c0) * (r1 - r0))
			for r := r0; r < r1; r++ {
				line := codes[r*w.Columns+c0 : r*w.Columns+c1]
				for len(line) > 0 {
					if len(line) >= 8 && binary.NativeEndian.Uint64(line) == eightHidden { // most are
						line = line[8:]
						continue
					}
					n := min(8, len(line))
					for _, code := range line[:n] {
						counts[code&3]++
						counts[Hidden]--
					}
					line = line[n:]
				}
			}
			for k := range p.counts {
				p.counts[k] += counts[k]
			}
			if n := counts[Visible]; n > 0 {
				p.area += float64(n) * c.cellArea(float64(w.Column)+float64(c0+c1-1)/2, float64(w.Row)+float64(r0+r1-1)/2)
			}
		}
		for r := r0; r < r1; r++ {
			line := v.Verdicts[r*w.Columns : (r+1)*w.Columns]
			// along a row the distance falls and then rises, so the farthest
			// is the first or the last
			consider := func(i int) {
				x, y := c.rows.at(w.Row+r, w.Column+i)
				if d := c.distance(x, y); d > p.far {
					p.far, p.column, p.row = d, w.Column+i, w.Row+r
				}
			}
			seen := codes[r*w.Columns : (r+1)*w.Columns]
			if first := bytes.IndexByte(seen, byte(Visible)); first >= 0 {
				consider(first)
				consider(bytes.LastIndexByte(seen, byte(Visible)))
			}
			if p.counts[Unknown] > 0 {
				heights := g.Elevations[(w.Row+r)*g.Columns+w.Column:]
				for i, verdict := range line {
					if verdict == Unknown && heights[i] != heights[i] {
						p.voids++
					}
				}
			}
		}
	})
	if err != nil {
		return err
	}
	s := Summary{}
	best := part{far: dem.NearLimit}
	for _, p := range parts {
		s.Visible += p.counts[Visible]
		s.Hidden += p.counts[Hidden]
		s.Unknown += p.counts[Unknown]
		s.VoidPosts += p.voids
		s.AreaSeen += p.area
		if p.far > best.far {
			best = p
		}
	}
	s.DependOnVoids = s.Unknown - s.VoidPosts
	if best.far > dem.NearLimit {
		east, north := c.placement.At(float64(best.column), float64(best.row))
		s.Farthest = &Farthest{
			Place:  c.placement.Plane.Inverse(east, north),
			Column: best.column, Row: best.row,
			Distance:  best.far,
			Bearing:   geodesy.NewTrueBearing(90 - geodesy.Atan2(north, east)),
			Elevation: g.Elevation(best.column, best.row),
		}
	}
	v.Summary = s
	return nil
}

// cellArea is the area of a cell on the ellipsoid, square metres: its area
// on the observer's plane, which stretches across the line of sight by
// d/(R sin(d/R)), put back. R is the Gaussian radius at the observer, which
// leaves an error of order (d/R)² times the flattening: 1e-6 at 100 km.
func (c *cells) cellArea(column, row float64) float64 {
	const h = 0.5
	e0, n0 := c.placement.At(column-h, row)
	e1, n1 := c.placement.At(column+h, row)
	e2, n2 := c.placement.At(column, row-h)
	e3, n3 := c.placement.At(column, row+h)
	area := math.Abs((e1-e0)*(n3-n2) - (e3-e2)*(n1-n0))
	m, n := geodesy.RadiiOfCurvature(c.placement.Plane.Centre.Lat)
	angle := math.Hypot((e0+e1)/2, (n0+n1)/2) / math.Sqrt(m*n)
	if angle < 1e-6 {
		return area
	}
	return area * math.Sin(angle) / angle
}
