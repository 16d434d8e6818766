package profile

import (
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// Piece is a short stretch of a leg with its gradient.
type Piece struct {
	From, To float64 // metres from the start
	Rise     float64 // metres, negative downhill; NaN where unknown
}

// Slope is the piece's slope, degrees, positive uphill.
func (p Piece) Slope() geodesy.Degrees { return geodesy.Atan2(p.Rise, p.To-p.From) }

// steepness is its slope up or down, degrees.
func (p Piece) steepness() geodesy.Degrees {
	s := p.Slope()
	return max(s, -s)
}

// pieceSlack is how much longer than one post spacing, as a share of the leg,
// a piece may be: a leg from post to post has as many pieces as spaces, and the
// same number walked either way, whatever rounding makes of its length.
const pieceSlack = 1e-6

// Pieces cuts the leg into equal pieces no longer than one post spacing and
// gives the rise of each. They begin at the start, touch, and end exactly where
// the leg's data does. Averages over a spacing are what the data can say about
// steepness: a shorter step is not in it.
func (l *Leg) Pieces() []Piece {
	if len(l.Points) == 0 || l.Covered <= 0 {
		return nil
	}
	end := l.Points[len(l.Points)-1].Distance
	n := max(1, int(math.Ceil(end/l.Spacing*(1-pieceSlack))))
	out := make([]Piece, n)
	at, elevation := 0.0, l.Points[0].Elevation
	for i := range out {
		to := dem.Lerp(0, end, float64(i+1)/float64(n)) // end*n/n may round above end, where no ground is known
		h := l.ElevationAt(to)
		out[i] = Piece{From: at, To: to, Rise: h - elevation}
		at, elevation = to, h
	}
	return out
}

// SteepLimit is the slope from which a stretch is flagged, degrees, and from
// which a time on foot stands with a word of caution. Common practice: from 30
// degrees a slip may not stop by itself, and slab avalanches begin to be likely.
const SteepLimit geodesy.Degrees = 30

// WalkingLimit is the slope along the line, degrees, over which ground is no
// walking ground: hands are needed, and no rule for the time on foot holds.
// Common practice.
const WalkingLimit geodesy.Degrees = 40

// slopeBounds are the limits between slope classes, degrees. 5 and 12 are
// Langmuir's; 20 is common practice.
var slopeBounds = []geodesy.Degrees{5, 12, 20, SteepLimit}

// SlopeClass is the share of a leg between two slopes, up and down alike.
type SlopeClass struct {
	From, To geodesy.Degrees // To is 90 for the last
	Share    float64         // of the leg's length with data, 0 to 1
}

// Stretch is part of a leg, metres from the start.
type Stretch struct{ From, To float64 }

// Gradient is how steep a leg is along its line.
type Gradient struct {
	// Steepest is the largest slope along the line, degrees, positive; At is
	// where its piece begins, metres from the start; Uphill its sense.
	Steepest geodesy.Degrees
	At       float64
	Uphill   bool
	// Baseline is the length slopes are averaged over, metres.
	Baseline float64
	Classes  []SlopeClass
	// Steep are the stretches at or over SteepLimit.
	Steep []Stretch
	// GroundSteepest is the steepest ground under the line in any direction,
	// degrees: a line across a slope is level, the slope is not. GroundAt is
	// where, metres from the start; GroundSteep where it is over SteepLimit.
	GroundSteepest geodesy.Degrees
	GroundAt       float64
	GroundSteep    []Stretch
}

// Gradient measures the leg's pieces.
func (l *Leg) Gradient() Gradient {
	pieces := l.Pieces()
	g := gradientOf(pieces)
	for _, p := range pieces {
		if math.IsNaN(p.Rise) {
			continue
		}
		middle := (p.From + p.To) / 2
		if ground := l.groundSlope(middle); ground > 0 {
			if ground > g.GroundSteepest {
				g.GroundSteepest, g.GroundAt = ground, middle
			}
			if ground >= SteepLimit {
				g.GroundSteep = extend(g.GroundSteep, p)
			}
		}
	}
	return g
}

// gradientOf measures pieces along the line; what the ground is under it is
// left out.
func gradientOf(pieces []Piece) Gradient {
	g := Gradient{}
	for i := 0; i <= len(slopeBounds); i++ {
		c := SlopeClass{To: 90}
		if i > 0 {
			c.From = slopeBounds[i-1]
		}
		if i < len(slopeBounds) {
			c.To = slopeBounds[i]
		}
		g.Classes = append(g.Classes, c)
	}
	if len(pieces) == 0 {
		return g
	}
	g.Baseline = pieces[0].To - pieces[0].From
	total := 0.0
	for _, p := range pieces {
		if math.IsNaN(p.Rise) {
			continue
		}
		steep := p.steepness()
		length := p.To - p.From
		total += length
		class := 0
		for class < len(slopeBounds) && steep >= slopeBounds[class] {
			class++
		}
		g.Classes[class].Share += length
		if steep > g.Steepest {
			g.Steepest, g.At, g.Uphill = steep, p.From, p.Rise > 0
		}
		if steep >= SteepLimit {
			g.Steep = extend(g.Steep, p)
		}
	}
	if total > 0 {
		for i := range g.Classes {
			g.Classes[i].Share /= total
		}
	}
	return g
}

// extend adds a piece to the last stretch if they touch.
func extend(s []Stretch, p Piece) []Stretch {
	if n := len(s); n > 0 && p.From-s[n-1].To < samePlace {
		s[n-1].To = p.To
		return s
	}
	return append(s, Stretch{p.From, p.To})
}

// onEdge is how near to an edge between two cells, as a share of a cell, a
// place is under both: rounding alone puts it in one of them.
const onEdge = 1e-6

// groundSlope is the slope of the cell under a distance along the leg, in its
// steepest direction; of a place on an edge between cells, of the steeper one.
// 0 where a corner is void.
func (l *Leg) groundSlope(distance float64) geodesy.Degrees {
	f := l.posts.Layout()
	column, row, err := f.Locate(l.PlaceAt(distance))
	if err != nil {
		return 0
	}
	cells := func(at float64, posts int) (first, last int) {
		clamp := func(i float64) int { return min(max(int(math.Floor(i)), 0), posts-2) }
		return clamp(at - onEdge), clamp(at + onEdge)
	}
	c0, c1 := cells(column, f.Columns)
	r0, r1 := cells(row, f.Rows)
	steepest := geodesy.Degrees(0)
	for c := c0; c <= c1; c++ {
		for r := r0; r <= r1; r++ {
			steepest = max(steepest, l.cellSlope(f, c, r))
		}
	}
	return steepest
}

// cellSlope is the slope of a cell in its steepest direction: the mean of the
// rises along its two row edges and along its two column edges. 0 where a
// corner is void.
func (l *Leg) cellSlope(f *dem.Frame, c, r int) geodesy.Degrees {
	a, b := l.posts.Elevation(c, r), l.posts.Elevation(c+1, r)
	d, e := l.posts.Elevation(c, r+1), l.posts.Elevation(c+1, r+1)
	alongRow, alongColumn, err := f.Spacing(float64(c), float64(r))
	if err != nil {
		return 0
	}
	x := (b - a + e - d) / 2 / alongRow
	y := (d - a + e - b) / 2 / alongColumn
	slope := geodesy.Atan2(math.Hypot(x, y), 1)
	if math.IsNaN(float64(slope)) {
		return 0
	}
	return slope
}
