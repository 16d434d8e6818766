package dem

import (
	"fmt"
	"math"

	"crowline/dem/geodesy"
)

const (
	// lookingReach is how far round a place the ground looked at may lie,
	// metres: people write places to a metre or worse, and a hand-held receiver
	// is no better.
	lookingReach = 2.0
	// writtenTo is how far five decimals of a degree may put a place from where
	// it is, metres: half a unit north and half a unit east, at the equator.
	writtenTo = 0.8
	// writtenShare bounds that to a share of the spacing of posts, so that of
	// posts a metre apart a place is never taken for another.
	writtenShare = 0.2
	// lookingSteps are how many bearings the ground round a place is looked at
	// on, beside where edges cross the circle: between two of them a slope is a
	// thousandth lower than at its highest.
	lookingSteps = 64
)

// LookingPoint is the point that is looked at, or from, where a place is named.
//
// A summit written to five decimals falls a step beside its post, behind its own
// edges, and would be hidden from all over. So the point is fixed by the ground
// alone, before anyone looks:
//
//   - the place's nearest post, where that is a top: no lower than any of its
//     eight neighbours, and higher than one of them;
//   - else that post, where the place is the post as five decimals write it
//     (0.8 m off at most, and a fifth of the spacing), so that a post of a
//     viewshed and a sight to it agree;
//   - else the highest ground within 2 m of the place, and of equals the place
//     itself.
//
// Neighbours that are void, or beyond the data's edge, are passed over. It is
// the bare ground that counts (Posts.Under), whatever stands on it. A place on
// no known ground is its own: what cannot be told of it cannot be told of its
// neighbours. The error is the projection's, or that of a failed read.
func LookingPoint(posts Posts, place geodesy.LatLon) (geodesy.LatLon, error) {
	if under := posts.Under(); under != nil {
		posts = under
	}
	f := posts.Layout()
	column, row, err := f.Locate(place)
	if err != nil || !f.Contains(column, row) {
		return place, nil // who asks for the ground there is told
	}
	own := Bilinear(posts, column, row)
	c, r := math.Round(column), math.Round(row)
	if math.IsNaN(own) || column == c && row == r {
		return place, posts.Err()
	}
	alongRow, alongColumn, err := f.Spacing(c, r)
	if err != nil {
		return place, fmt.Errorf("looking point of %s: %w", place, err)
	}
	off := math.Hypot((column-c)*alongRow, (row-r)*alongColumn)
	if off <= min(writtenTo, writtenShare*min(alongRow, alongColumn)) || isTop(posts, int(c), int(r)) {
		column, row = c, r
	} else {
		l := looking{posts: posts, column: column, row: row, reach: lookingReach, alongRow: alongRow, alongColumn: alongColumn, highest: own}
		column, row = l.find(own)
	}
	at, err := f.Place(column, row)
	if err != nil {
		return place, fmt.Errorf("looking point of %s: %w", place, err)
	}
	return at, posts.Err()
}

// isTop reports whether a post is no lower than any of its neighbours that are
// known, and higher than one.
func isTop(posts Posts, column, row int) bool {
	h := posts.Elevation(column, row)
	higher := false
	for dr := -1; dr <= 1; dr++ {
		for dc := -1; dc <= 1; dc++ {
			switch n := posts.Elevation(column+dc, row+dr); {
			case n > h:
				return false
			case n < h:
				higher = true
			}
		}
	}
	return higher
}

// looking is the search for the highest ground round a place.
type looking struct {
	posts                 Posts
	column, row           float64 // of the place
	reach                 float64 // metres
	alongRow, alongColumn float64 // metres between posts
	highest               float64
	bestC, bestR          float64
}

// leastHigher is how much higher ground must be to be looked at in place of the
// place itself, metres: less is rounding.
const leastHigher = 1e-6

// find is the column and row of the highest ground. Between edges the ground
// has no top of its own: it is highest at a post, on an edge or on the circle.
// On an edge within the circle it is highest at a post or where the edge meets
// the circle.
func (l *looking) find(own float64) (column, row float64) {
	l.bestC, l.bestR, l.highest = l.column, l.row, own+leastHigher
	dc, dr := l.reach/l.alongRow, l.reach/l.alongColumn // the circle's half axes, posts
	for i := range lookingSteps {
		sin, cos := geodesy.Degrees(float64(i) / lookingSteps * 360).SinCos()
		l.try(l.column+dc*sin, l.row-dr*cos)
	}
	for c := math.Ceil(l.column - dc); c <= l.column+dc; c++ {
		half := dr * math.Sqrt(max(0, 1-(c-l.column)*(c-l.column)/(dc*dc)))
		l.try(c, l.row-half)
		l.try(c, l.row+half)
		for r := math.Ceil(l.row - half); r <= l.row+half; r++ {
			l.try(c, r)
		}
	}
	for r := math.Ceil(l.row - dr); r <= l.row+dr; r++ {
		half := dc * math.Sqrt(max(0, 1-(r-l.row)*(r-l.row)/(dr*dr)))
		l.try(l.column-half, r)
		l.try(l.column+half, r)
	}
	return l.bestC, l.bestR
}

func (l *looking) try(column, row float64) {
	if h := Bilinear(l.posts, column, row); h > l.highest { // never true of a void
		l.bestC, l.bestR, l.highest = column, row, h
	}
}
