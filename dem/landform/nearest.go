package landform

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// Nearest is where a feature comes nearest to a place or a path.
type Nearest struct {
	// Part is the nearest point of the feature, Place the same on the globe.
	Part  Position
	Place geodesy.LatLon
	// From is the point of the path that Part is nearest to: Share of the way
	// from path point Piece to the next. For a place, the place.
	From  Position
	Piece int
	Share float64
	// Distance from From to Part, metres; 0 where they touch, or From lies on
	// ground that the feature covers. Bearing is the way there, 0 where it is
	// no way at all.
	Distance float64
	Bearing  geodesy.TrueBearing
}

// Ruler measures from a place, or from the nearest point of a path, to the
// nearest part of features: to the pieces of a line, to the ground that a
// cliff, depression or flat top covers, to the post of anything else. It is
// the one rule by which a feature is near, within a distance, or passed. Not
// safe for concurrent use.
type Ruler struct {
	frame *dem.Frame
	m     metric
	reach float64
	path  []Position
	known []bool // pieces of the path that are measured from; nil for all
	boxes []box  // of every chunk of pieces
	exact bool   // a place, on whose plane posts are placed
	plane geodesy.Plane
	fit   *dem.Placement
	round box // what lies within reach of a place
}

// chunk is how many pieces of a path have one box.
const chunk = 16

// box holds columns and rows.
type box struct{ c0, c1, r0, r1 float64 }

func boxOf(positions []Position) box {
	b := box{math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)}
	for _, p := range positions {
		b = box{min(b.c0, p.Column), max(b.c1, p.Column), min(b.r0, p.Row), max(b.r1, p.Row)}
	}
	return b
}

// gap is how far apart two boxes are along the row and along the column.
func (b box) gap(o box) (columns, rows float64) {
	return max(0, b.c0-o.c1, o.c0-b.c1), max(0, b.r0-o.r1, o.r0-b.r1)
}

// NewRuler measures as far as reach, metres, from a path of positions on a
// frame, straight from each to the next, or from a place when there is one.
// From a place distances are geodesic; along a path the nearest point is
// found by the spacing of posts there, good to 0.1 % as package distances
// are, and the distance to it is geodesic. The error tells an empty path, a
// reach that is not above zero, or a position off the globe.
func NewRuler(f *dem.Frame, reach float64, path ...Position) (*Ruler, error) {
	return newRuler(f, reach, path, nil)
}

func newRuler(f *dem.Frame, reach float64, path []Position, known []bool) (*Ruler, error) {
	if len(path) == 0 {
		return nil, errors.New("landform: no place to measure from")
	}
	if !(reach > 0) {
		return nil, fmt.Errorf("landform: a reach of %g m holds nothing", reach)
	}
	m, err := newMetric(f)
	if err != nil {
		return nil, err
	}
	r := &Ruler{frame: f, m: m, reach: reach, path: path, known: known, exact: len(path) == 1}
	if !r.exact {
		for i := 0; i < len(path)-1; i += chunk {
			r.boxes = append(r.boxes, boxOf(path[i:min(i+chunk+1, len(path))]))
		}
		return r, nil
	}
	centre, err := f.Place(path[0].Column, path[0].Row)
	if err != nil {
		return nil, fmt.Errorf("landform: %w", err)
	}
	r.plane = geodesy.NewPlane(centre)
	r.round = r.within(boxOf(path))
	// a part that is met at its end reaches this much farther
	const more = longestPart + 1
	w := dem.Window{Column: clamped(r.round.c0-more, f.Columns), Row: clamped(r.round.r0-more, f.Rows)}
	w.Columns, w.Rows = clamped(r.round.c1+more, f.Columns)-w.Column+1, clamped(r.round.r1+more, f.Rows)-w.Row+1
	if w.Columns > 1 && w.Rows > 1 {
		// where no fit will do, near a pole, posts are placed one by one
		if fit, err := dem.NewPlacement(f, r.plane, w); err == nil {
			r.fit = fit
		}
	}
	return r, nil
}

func clamped(v float64, n int) int { return int(math.Max(0, math.Min(math.Round(v), float64(n-1)))) }

// within is what may lie within reach of a box: no less, and a little more,
// for spacing varies.
func (r *Ruler) within(b box) box {
	const more = 1.05 // spacing along a row of a projected grid is that of its middle column
	leastRow, leastColumn := math.Inf(1), math.Inf(1)
	for i := range r.m.alongColumn {
		leastColumn = min(leastColumn, r.m.alongColumn[i])
	}
	rows := more*r.reach/leastColumn + 1
	b.r0, b.r1 = b.r0-rows, b.r1+rows
	for i := clamped(b.r0, len(r.m.alongRow)); i <= clamped(b.r1, len(r.m.alongRow)); i++ {
		leastRow = min(leastRow, r.m.alongRow[i])
	}
	columns := more*r.reach/leastRow + 1
	b.c0, b.c1 = b.c0-columns, b.c1+columns
	return b
}

// Nearest is where a feature comes nearest, and whether that is within reach.
func (r *Ruler) Nearest(f *Feature) (Nearest, bool, error) {
	best := Nearest{Distance: math.Inf(1)}
	var err error
	f.eachPart(func(corners []Position) {
		if err == nil && best.Distance > 0 {
			err = r.look(corners, &best)
		}
	})
	if err != nil || math.IsInf(best.Distance, 1) {
		return Nearest{}, false, err
	}
	if best.Place, err = r.frame.Place(best.Part.Column, best.Part.Row); err != nil {
		return Nearest{}, false, fmt.Errorf("landform: %w", err)
	}
	if best.Distance > 0 {
		from, err := r.frame.Place(best.From.Column, best.From.Row)
		if err != nil {
			return Nearest{}, false, fmt.Errorf("landform: %w", err)
		}
		way := geodesy.Inverse(from, best.Place)
		best.Distance, best.Bearing = way.Distance, way.Start
	}
	return best, best.Distance <= r.reach, nil
}

// look makes best nearer where a part is nearer than it.
func (r *Ruler) look(corners []Position, best *Nearest) error {
	if r.exact {
		columns, rows := r.round.gap(boxOf(corners))
		if columns > 0 || rows > 0 {
			return nil
		}
		return r.compare(0, r.path[0], r.path[0], corners, best)
	}
	of := boxOf(corners)
	x, y := r.m.at((of.r0 + of.r1) / 2)
	for i, b := range r.boxes {
		columns, rows := b.gap(of)
		// the spacing of a path's pieces is that beside the part, nearly
		const less = 0.9
		if less*math.Hypot(columns*x, rows*y) > min(best.Distance, r.reach) {
			continue
		}
		for j := i * chunk; j < min((i+1)*chunk, len(r.path)-1); j++ {
			if r.known != nil && !r.known[j] {
				continue
			}
			if err := r.compare(j, r.path[j], r.path[j+1], corners, best); err != nil {
				return err
			}
		}
	}
	return nil
}

// compare measures from one piece of the path to one part.
func (r *Ruler) compare(piece int, a, b Position, corners []Position, best *Nearest) error {
	if s, _, ok := meet(a, b, corners); ok {
		at := between(a, b, s)
		*best = Nearest{Part: at, From: at, Piece: piece, Share: s}
		return nil
	}
	var flat [4][2]float64
	var from, to [2]float64
	if r.exact {
		for i, c := range corners {
			east, north, err := r.place(c)
			if err != nil {
				return err
			}
			flat[i] = [2]float64{east, north}
		}
	} else {
		x, y := r.m.at((a.Row + b.Row) / 2)
		for i, c := range corners {
			flat[i] = [2]float64{(c.Column - a.Column) * x, (c.Row - a.Row) * y}
		}
		to = [2]float64{(b.Column - a.Column) * x, (b.Row - a.Row) * y}
	}
	try := func(s float64, p [2]float64, i, j int, t float64, q [2]float64) {
		if d := math.Hypot(p[0]-q[0], p[1]-q[1]); d < best.Distance {
			*best = Nearest{Part: between(corners[i], corners[j], t), From: between(a, b, s), Piece: piece, Share: s, Distance: d}
		}
	}
	for i := range corners {
		j := (i + 1) % len(corners)
		// two lengths that do not meet are nearest at an end of one
		for s, p := range [][2]float64{from, to} {
			t, q := nearestOn(flat[i], flat[j], p)
			try(float64(s), p, i, j, t, q)
		}
		s, p := nearestOn(from, to, flat[i])
		try(s, p, i, i, 0, flat[i])
	}
	return nil
}

// place is a position on the plane round the place measured from.
func (r *Ruler) place(p Position) (east, north float64, err error) {
	if r.fit != nil {
		east, north = r.fit.At(p.Column, p.Row)
		return east, north, nil
	}
	at, err := r.frame.Place(p.Column, p.Row)
	if err != nil {
		return 0, 0, fmt.Errorf("landform: %w", err)
	}
	east, north = r.plane.Forward(at)
	return east, north, nil
}

// contact is a stretch of a path, from and to along it, metres, that lies on
// a feature.
type contact struct{ from, to float64 }

// contacts are where the path touches a feature, in order; at holds how far
// along it the path's points lie. Stretches no more than join metres apart
// are one.
func (r *Ruler) contacts(f *Feature, at []float64, join float64) []contact {
	var out []contact
	f.eachPart(func(corners []Position) {
		of := boxOf(corners)
		for i, b := range r.boxes {
			if columns, rows := b.gap(of); columns > touch || rows > touch {
				continue
			}
			for j := i * chunk; j < min((i+1)*chunk, len(r.path)-1); j++ {
				if r.known != nil && !r.known[j] {
					continue
				}
				if s, t, ok := meet(r.path[j], r.path[j+1], corners); ok {
					out = append(out, contact{dem.Lerp(at[j], at[j+1], s), dem.Lerp(at[j], at[j+1], t)})
				}
			}
		}
	})
	return joined(out, join)
}

func between(a, b Position, s float64) Position {
	return Position{dem.Lerp(a.Column, b.Column, s), dem.Lerp(a.Row, b.Row, s)}
}

// nearestOn is the point of the length a to b nearest to p, and its share of
// the way.
func nearestOn(a, b, p [2]float64) (share float64, at [2]float64) {
	dx, dy := b[0]-a[0], b[1]-a[1]
	if n := dx*dx + dy*dy; n > 0 {
		share = math.Max(0, math.Min(1, ((p[0]-a[0])*dx+(p[1]-a[1])*dy)/n))
	}
	return share, [2]float64{a[0] + share*dx, a[1] + share*dy}
}

// touch is how near things meet that touch, in cells: the rounding of places
// (dem.Frame.Locate), well under anything a map shows.
const touch = 1e-6

// meet is the share of the way from a to b, from s to t, that lies on a
// convex part, and whether any does. A part of one or two corners, and the
// rim of others, is touch wide.
func meet(a, b Position, corners []Position) (s, t float64, ok bool) {
	s, t = 0, 1
	dc, dr := b.Column-a.Column, b.Row-a.Row
	// keep what lies on the inner side of a line through p, normal outwards
	keep := func(p Position, nc, nr float64) bool {
		n := math.Hypot(nc, nr)
		nc, nr = nc/n, nr/n
		out := (a.Column-p.Column)*nc + (a.Row-p.Row)*nr - touch // of a, in cells
		grows := dc*nc + dr*nr
		switch {
		case grows > 0:
			t = min(t, -out/grows)
		case grows < 0:
			s = max(s, -out/grows)
		case out > 0:
			return false
		}
		return s <= t
	}
	p := corners[0]
	switch len(corners) {
	case 1:
		ok = keep(p, 1, 0) && keep(p, -1, 0) && keep(p, 0, 1) && keep(p, 0, -1)
	case 2:
		q := corners[1]
		ec, er := q.Column-p.Column, q.Row-p.Row
		if ec == 0 && er == 0 {
			return meet(a, b, corners[:1])
		}
		ok = keep(p, -er, ec) && keep(p, er, -ec) && keep(p, -ec, -er) && keep(q, ec, er)
	default:
		turn := 0.0
		for i, p := range corners {
			q := corners[(i+1)%len(corners)]
			turn += p.Column*q.Row - q.Column*p.Row
		}
		for i, p := range corners {
			q := corners[(i+1)%len(corners)]
			if ec, er := q.Column-p.Column, q.Row-p.Row; !keep(p, math.Copysign(1, turn)*er, -math.Copysign(1, turn)*ec) {
				return 0, 0, false
			}
		}
		ok = true
	}
	return s, t, ok
}

// joined puts stretches in order and joins those no more than some metres
// apart.
func joined(stretches []contact, apart float64) []contact {
	slices.SortFunc(stretches, func(a, b contact) int { return cmp.Or(cmp.Compare(a.from, b.from), cmp.Compare(a.to, b.to)) })
	var out []contact
	for _, c := range stretches {
		if n := len(out); n > 0 && c.from-out[n-1].to <= apart {
			out[n-1].to = max(out[n-1].to, c.to)
			continue
		}
		out = append(out, c)
	}
	return out
}
