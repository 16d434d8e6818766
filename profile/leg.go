package profile

import (
	"context"
	"fmt"
	"math"
	"sort"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// MaxLength is the longest leg that is traced, metres. Nobody walks or
// sights 500 km; beyond it the parabola that stands for the Earth's curve
// would be off by metres (see geodesy.Plane.CurvatureDrop).
const MaxLength = 500e3

// Point is a place on a leg's profile.
type Point struct {
	// Distance from the start, metres.
	Distance float64
	// Elevation of the ground, metres; NaN in a void. Over ground with cover
	// on it (dem.Covered) that of its top; NaN too where the cover is not known.
	Elevation float64
	// Cover is how much of Elevation is what stands on the ground, metres: 0
	// on bare ground; NaN where only what stands there is not known.
	Cover float64
	// Drop is how far the Earth's curve alone, with no refraction, takes this
	// point below the start's level plane, metres.
	Drop float64
	// Column and Row of the place in the elevation data.
	Column, Row float64
	// Filled: a post that was void and has been filled in (dem.Filled) has a
	// part in Elevation.
	Filled bool

	ground float64 // the bare ground's elevation where Cover is not 0
}

// Bare is the elevation of the ground without what stands on it, metres; NaN
// in a void.
func (p Point) Bare() float64 {
	if p.Cover == 0 {
		return p.Elevation
	}
	return p.ground
}

// stand says how much of the point's elevation stands on the bare ground.
func (p *Point) stand(bare float64) {
	if p.Cover = dem.Standing(p.Elevation, bare); p.Cover != 0 {
		p.ground = bare
	}
}

// Leg is a straight leg and the ground under it.
type Leg struct {
	From, To geodesy.LatLon
	geodesy.Geodesic
	// Points are the two ends and every crossing between, by distance. Where
	// the data ends before the leg does, the last point is where it ends.
	Points []Point
	// Covered is the distance from the start, metres, over which there is
	// data (voids in it aside). It equals Distance for a leg on the data.
	Covered float64
	// Spacing is the distance between posts near the leg's middle, metres:
	// the larger of along a row and along a column.
	Spacing float64
	// Radius is the Earth's at the start in the leg's direction, metres (see
	// geodesy.Plane.Radius): what Drop is of.
	Radius float64

	posts dem.Posts
	bare  dem.Posts // under what stands on posts; nil when nothing does
}

// Trace lays the geodesic from one place to another over the ground. Errors:
// identical places; a leg over MaxLength; a start outside the data or on a
// void (dem.ErrOutside, dem.ErrVoid). A leg that ends outside the data is
// not an error: Covered says how far it goes.
func Trace(ctx context.Context, posts dem.Posts, from, to geodesy.LatLon) (*Leg, error) {
	g := geodesy.Inverse(from, to)
	if g.Distance < 2*dem.NearLimit {
		return nil, fmt.Errorf("start and destination are the same place, %s; give two places", from)
	}
	if g.Distance > MaxLength {
		return nil, fmt.Errorf("from %s to %s is %.0f km; a leg is at most %.0f km", from, to, g.Distance/1000, MaxLength/1000)
	}
	start, err := dem.ElevationAt(posts, from)
	if err != nil {
		return nil, fmt.Errorf("start: %w", err)
	}
	f := posts.Layout()
	window, err := legWindow(f, from, to)
	if err != nil {
		return nil, err
	}
	placement, err := dem.NewPlacement(f, geodesy.NewPlane(from), window)
	if err != nil {
		return nil, err
	}
	leg := &Leg{From: from, To: to, Geodesic: g, Radius: placement.Plane.Radius(g.Start), posts: posts, bare: posts.Under()}
	column, row := placement.Origin()
	first := Point{Elevation: start, Column: column, Row: row, Filled: leg.startFilled()}
	if leg.bare != nil {
		bare, err := dem.ElevationAt(leg.bare, from) // the same way, for the same rounding
		if err != nil {
			return nil, fmt.Errorf("start: %w", err)
		}
		first.stand(bare)
	}
	leg.Points = append(leg.Points, first)
	sin, cos := geodesy.Degrees(g.Start).SinCos()
	count := 0
	covered, left := placement.Walk(g.Distance*sin, g.Distance*cos, func(c dem.Crossing) bool {
		if count++; count%4096 == 0 && ctx.Err() != nil {
			return false
		}
		leg.append(placement, c)
		return true
	})
	if err := ctx.Err(); err != nil {
		return nil, fmt.Errorf("leg from %s to %s: %w", from, to, err)
	}
	leg.Covered = covered
	if !left {
		column, row, err := f.Locate(to)
		if err != nil {
			return nil, err
		}
		leg.Covered = g.Distance
		last := Point{
			Distance: g.Distance, Elevation: dem.Bilinear(posts, column, row),
			Drop: placement.Plane.CurvatureDrop(g.Distance*sin, g.Distance*cos, 0), Column: column, Row: row,
			Filled: dem.FilledAt(posts, column, row),
		}
		if leg.bare != nil {
			last.stand(dem.Bilinear(leg.bare, column, row))
		}
		leg.Points = append(leg.Points, last)
	}
	if err := posts.Err(); err != nil {
		return nil, fmt.Errorf("leg from %s to %s: %w", from, to, err)
	}
	// at the middle of the way, not of the list: the same walked backwards
	middleColumn, middleRow, err := f.Locate(leg.PlaceAt(leg.Covered / 2))
	if err != nil {
		return nil, err
	}
	alongRow, alongColumn, err := f.Spacing(middleColumn, middleRow)
	if err != nil {
		return nil, err
	}
	leg.Spacing = max(alongRow, alongColumn)
	return leg, nil
}

// samePlace is how near two crossings, metres, are one point of the profile:
// a line through a post crosses two of its edges at rounding's distance.
const samePlace = 1e-6

func (l *Leg) append(p *dem.Placement, c dem.Crossing) {
	qc, qr := c.Q()
	pe, pn := p.Post(c.Column, c.Row)
	qe, qn := p.Post(qc, qr)
	column, row := c.Position()
	point := Point{
		Distance:  c.Distance,
		Elevation: c.Elevation(l.posts),
		Drop:      dem.Lerp(p.Plane.CurvatureDrop(pe, pn, 0), p.Plane.CurvatureDrop(qe, qn, 0), c.Fraction),
		Column:    column, Row: row,
		Filled: c.IsFilled(l.posts),
	}
	if l.bare != nil {
		point.stand(c.Elevation(l.bare))
	}
	last := &l.Points[len(l.Points)-1]
	if point.Distance-last.Distance < samePlace && len(l.Points) > 1 {
		if math.IsNaN(point.Elevation) { // any void met there counts
			bare := last.Bare()
			if math.IsNaN(point.Bare()) {
				bare = math.NaN()
			}
			last.Elevation = point.Elevation
			last.stand(bare)
		}
		last.Filled = last.Filled || point.Filled
		return
	}
	l.Points = append(l.Points, point)
}

// legWindow is the block of posts round a leg, clipped to the frame.
func legWindow(f *dem.Frame, from, to geodesy.LatLon) (dem.Window, error) {
	const pieces = 16
	minC, maxC := math.Inf(1), math.Inf(-1)
	minR, maxR := math.Inf(1), math.Inf(-1)
	for _, p := range geodesy.Waypoints(from, to, pieces) {
		c, r, err := f.Locate(p)
		if err != nil {
			continue // off the projection: certainly off the data
		}
		minC, maxC = min(minC, c), max(maxC, c)
		minR, maxR = min(minR, r), max(maxR, r)
	}
	// between waypoints the line bows by at most an eighth of the second
	// difference; a tenth of the block and two posts are far over that
	marginC, marginR := (maxC-minC)/10+2, (maxR-minR)/10+2
	w := dem.Window{Column: int(math.Max(minC-marginC, 0)), Row: int(math.Max(minR-marginR, 0))}
	w.Columns = int(math.Min(maxC+marginC, float64(f.Columns-1))) - w.Column + 1
	w.Rows = int(math.Min(maxR+marginR, float64(f.Rows-1))) - w.Row + 1
	if w.Columns < 2 || w.Rows < 2 {
		return dem.Window{}, fmt.Errorf("leg from %s to %s: fewer than two rows or columns of elevation data there", from, to)
	}
	return w, nil
}

// EffectiveRadius is the radius, metres, of the Earth over which a line of
// sight bent by refraction is straight: R/(1-k). It is infinite for k = 1, and
// below 0 where light bends more than the Earth.
func (l *Leg) EffectiveRadius(refraction float64) float64 { return l.Radius / (1 - refraction) }

// Unknown is the length of the leg, metres, over which the data has no
// elevation: voids, and all beyond Covered.
func (l *Leg) Unknown() float64 {
	u := l.Distance - l.Covered
	for i := 1; i < len(l.Points); i++ {
		a, b := l.Points[i-1], l.Points[i]
		if math.IsNaN(a.Elevation) || math.IsNaN(b.Elevation) {
			u += b.Distance - a.Distance
		}
	}
	return u
}

// startFilled looks where ElevationAt did: the placement's own column and row
// are off by rounding.
func (l *Leg) startFilled() bool {
	column, row, err := l.posts.Layout().Locate(l.From)
	return err == nil && dem.FilledAt(l.posts, column, row)
}

// Filled are the stretches of the leg that lie on ground with a filled post
// in it (dem.Filled): between two points of which either has one. Nil when
// there are none.
func (l *Leg) Filled() []Stretch {
	var out []Stretch
	for i := 1; i < len(l.Points); i++ {
		a, b := l.Points[i-1], l.Points[i]
		switch {
		case !a.Filled && !b.Filled:
		case len(out) > 0 && out[len(out)-1].To == a.Distance:
			out[len(out)-1].To = b.Distance
		default:
			out = append(out, Stretch{From: a.Distance, To: b.Distance})
		}
	}
	return out
}

// Unfilled is the leg with its filled ground not known (NaN), as the data has
// it: the leg itself when none is filled. Its posts stay the leg's.
func (l *Leg) Unfilled() *Leg {
	if len(l.Filled()) == 0 {
		return l
	}
	out := *l
	out.Points = make([]Point, len(l.Points))
	for i, p := range l.Points {
		if p.Filled {
			p.Elevation, p.Cover, p.Filled = math.NaN(), 0, false
		}
		out.Points[i] = p
	}
	return &out
}

// Bare is the leg over the ground alone, without what stands on it: the leg
// itself when nothing does.
func (l *Leg) Bare() *Leg {
	if l.bare == nil {
		return l
	}
	out := *l
	out.posts, out.bare = l.bare, nil
	out.Points = make([]Point, len(l.Points))
	for i, p := range l.Points {
		p.Elevation, p.Cover = p.Bare(), 0
		out.Points[i] = p
	}
	return &out
}

// CoverUnknown is the length of the leg, metres, along which there is ground
// and what stands on it is not known.
func (l *Leg) CoverUnknown() float64 { return l.Unknown() - l.Bare().Unknown() }

// FilledAt reports whether the ground at a distance along the leg, metres,
// has a filled post in it; false beyond either end, and for NaN.
func (l *Leg) FilledAt(distance float64) bool {
	n := len(l.Points)
	if n == 0 || !(distance >= 0 && distance <= l.Points[n-1].Distance) {
		return false
	}
	i := sort.Search(n, func(i int) bool { return l.Points[i].Distance >= distance })
	if i == 0 || l.Points[i].Distance == distance {
		return l.Points[i].Filled
	}
	return l.Points[i-1].Filled || l.Points[i].Filled
}

// ElevationAt is the ground at a distance along the leg, metres; NaN in a
// void or beyond the data. Between crossings it is linear.
func (l *Leg) ElevationAt(distance float64) float64 {
	n := len(l.Points)
	if n == 0 || distance < 0 || distance > l.Points[n-1].Distance {
		return math.NaN()
	}
	i := sort.Search(n, func(i int) bool { return l.Points[i].Distance >= distance })
	b := l.Points[i]
	if i == 0 || b.Distance == distance {
		return b.Elevation
	}
	a := l.Points[i-1]
	return a.Elevation + (distance-a.Distance)/(b.Distance-a.Distance)*(b.Elevation-a.Elevation)
}

// PlaceAt is the place at a distance along the leg.
func (l *Leg) PlaceAt(distance float64) geodesy.LatLon {
	p, _ := geodesy.Direct(l.From, l.Start, distance)
	return p
}

// Highest and Lowest points of the leg with data.
func (l *Leg) Extremes() (lowest, highest Point) {
	lowest.Elevation, highest.Elevation = math.Inf(1), math.Inf(-1)
	for _, p := range l.Points {
		if p.Elevation < lowest.Elevation {
			lowest = p
		}
		if p.Elevation > highest.Elevation {
			highest = p
		}
	}
	return lowest, highest
}

// known returns the points with an elevation.
func (l *Leg) known() []Point {
	out := make([]Point, 0, len(l.Points))
	for _, p := range l.Points {
		if !math.IsNaN(p.Elevation) {
			out = append(out, p)
		}
	}
	return out
}
