package visibility

import (
	"context"
	"fmt"
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
)

// SummitsAlong finds the summits within some degrees of a bearing and as far
// as reach metres, of at least a prominence (see landform.SummitOptions), as
// landform.Summits finds them in a window of posts, but reads no more of the
// window than that takes (see landform.SummitsIn).
func SummitsAlong(ctx context.Context, posts dem.Posts, window dem.Window, from geodesy.LatLon,
	bearing geodesy.TrueBearing, within geodesy.Degrees, reach, minProminence float64) ([]landform.Summit, error) {
	if !(within > 0 && within < 90) {
		return nil, fmt.Errorf("%v degrees off a bearing is not between 0 and 90", float64(within))
	}
	if !(reach > 0) || math.IsInf(reach, 1) {
		return nil, fmt.Errorf("reach %v m is not a distance", reach)
	}
	spans := sectorSpans(posts.Layout(), window, from, bearing, within, reach)
	summits, err := landform.SummitsIn(ctx, posts, window, spans, minProminence)
	if err != nil {
		return nil, err
	}
	kept := summits[:0]
	for _, s := range summits {
		line := geodesy.Inverse(from, s.Place)
		if line.Distance <= reach && math.Abs(float64(geodesy.Difference(bearing, line.Start))) <= float64(within) {
			kept = append(kept, s)
		}
	}
	return kept, nil
}

const (
	// borderStep is how far apart, metres, the border of a sector is laid out:
	// between, it bows by under a metre on any map of the ground below the
	// polar circles.
	borderStep = 2000.0
	// borderPosts are added to a sector on every side, for the bow.
	borderPosts = 3
)

// sectorSpans are the posts of a window in a sector, and some more. Its
// border is laid out on the ground and drawn on the posts; each row is taken
// from the first to the last column the border meets in it.
func sectorSpans(f *dem.Frame, window dem.Window, from geodesy.LatLon, bearing geodesy.TrueBearing,
	within geodesy.Degrees, reach float64) []landform.Span {
	var places []geodesy.LatLon
	at := func(turn geodesy.Degrees, distance float64) {
		p, _ := geodesy.Direct(from, bearing+geodesy.TrueBearing(turn), distance)
		places = append(places, p)
	}
	along := int(math.Ceil(reach/borderStep)) + 1
	across := int(math.Ceil(2*reach*within.Sin()/borderStep))*2 + int(math.Ceil(float64(within)))*2
	places = append(places, from)
	for i := 1; i <= along; i++ {
		at(-within, reach*float64(i)/float64(along))
	}
	for i := 1; i <= across; i++ {
		at(-within+2*within*geodesy.Degrees(i)/geodesy.Degrees(across), reach)
	}
	for i := along - 1; i >= 0; i-- {
		at(within, reach*float64(i)/float64(along))
	}
	r := sectorRows{window: window, spans: make([]landform.Span, window.Rows)}
	for i := range r.spans {
		r.spans[i] = landform.Span{Row: window.Row + i, First: math.MaxInt, Last: math.MinInt}
	}
	var before [2]float64
	for i, p := range places {
		column, row, err := f.Locate(p)
		if err != nil { // the projection cannot show it: leave nothing out
			r.all()
			break
		}
		if i > 0 {
			if math.Abs(column-before[0]) > float64(f.Columns)/2+float64(window.Columns) { // round the back of the globe
				r.all()
				break
			}
			r.line(before[0], before[1], column, row)
		}
		before = [2]float64{column, row}
	}
	out := r.spans[:0]
	for _, s := range r.spans {
		s.First, s.Last = max(s.First, window.Column), min(s.Last, window.Column+window.Columns-1)
		if s.First <= s.Last {
			out = append(out, s)
		}
	}
	return out
}

// sectorRows are the columns of each row of a window that a border meets.
type sectorRows struct {
	window dem.Window
	spans  []landform.Span
}

func (r *sectorRows) all() {
	for i := range r.spans {
		r.spans[i].First, r.spans[i].Last = r.window.Column, r.window.Column+r.window.Columns-1
	}
}

// line draws a piece of the border, three posts wide on each side.
func (r *sectorRows) line(c0, r0, c1, r1 float64) {
	if r0 > r1 {
		c0, r0, c1, r1 = c1, r1, c0, r0
	}
	first := max(int(math.Floor(r0))-borderPosts, r.window.Row)
	last := min(int(math.Ceil(r1))+borderPosts, r.window.Row+r.window.Rows-1)
	column := func(row float64) float64 {
		if r1 == r0 {
			return c0
		}
		return c0 + (c1-c0)*min(1, max(0, (row-r0)/(r1-r0)))
	}
	for row := first; row <= last; row++ {
		a, b := column(float64(row-borderPosts)), column(float64(row+borderPosts))
		if r1 == r0 {
			a, b = c0, c1
		}
		s := &r.spans[row-r.window.Row]
		s.First = min(s.First, int(math.Floor(min(a, b)))-borderPosts)
		s.Last = max(s.Last, int(math.Ceil(max(a, b)))+borderPosts)
	}
}
