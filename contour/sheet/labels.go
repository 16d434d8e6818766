package sheet

import (
	"cmp"
	"math"
	"slices"

	"crowline/contour/page"
)

// Reading says which way up labels stand. The conventions of map-making
// conflict, so it is a choice.
type Reading int

const (
	// TowardReader keeps figures upright on the page.
	TowardReader Reading = iota
	// Uphill turns the tops of the figures toward higher ground, even where
	// that stands them on their heads.
	Uphill
)

// String is the setting's name.
func (r Reading) String() string {
	if r == Uphill {
		return "uphill"
	}
	return "reader"
}

// PageLine is a line already on the page: an index contour to label, cut to
// the frame, with higher ground on its right as seen; or another line that
// the labels have to do with.
type PageLine struct {
	Points []page.Point
	// Number of the level; labelled lines of neighbouring numbers form ladders.
	Number int
	// TextWidth of its label, millimetres; 0 for a line without one.
	TextWidth float64
	// Yields: the line makes room for a label where there is none better, and
	// is broken there (Clear). No label stands on a line that does not.
	Yields bool
}

// LabelOptions of PlaceLabels. TextHeight is needed.
type LabelOptions struct {
	// TextHeight is the height of the figures, millimetres.
	TextHeight float64
	Reading    Reading
	// Margin is the gap left before and after a label, millimetres; half
	// the text height when zero.
	Margin float64
	// Spacing is the length of line, millimetres, from one label to the
	// next on the same line; 120 when zero.
	Spacing float64
	// Reach is how far apart, millimetres, labels of neighbouring levels
	// may stand and still be lined up in a ladder; 40 when zero.
	Reach float64
	// Keep clear of these rectangles, each given by two opposite corners.
	Avoid [][2]page.Point
}

// Label is a contour's figures in a gap of the line.
type Label struct {
	// Line is the index of the labelled line.
	Line int
	// X, Y is the middle of the text, millimetres on the page.
	X, Y float64
	// Angle of the text, degrees counter-clockwise from level as seen.
	Angle float64
	// From and To are where the gap starts and ends, millimetres along the
	// line from its first point.
	From, To float64
	// Length and Height of the rectangle round the figures, turned as they
	// are, that no line may enter, millimetres.
	Length, Height float64
}

func (l *Label) figures() box {
	s, c := math.Sincos(l.Angle * math.Pi / 180)
	return box{page.At(l.X, l.Y), page.At(c, -s), l.Length / 2, l.Height / 2}
}

// Meets reports whether a straight piece enters the label's rectangle.
func (l *Label) Meets(p, q page.Point) bool { return l.figures().cuts(p, q) }

// candidate is one place a label could stand.
type candidate struct {
	label     Label
	at, along page.Point // middle, and direction of the text
	bend      float64    // farthest the line strays from it, text heights
	crowd     float64    // length of yielding lines in its way, text widths
	box       box
}

const (
	// maxBend is the farthest a line may stray from straight under its
	// label, in text heights. More, and the figures leave the line.
	maxBend = 0.3
	// neighbourGap is the room kept round a label, in text heights.
	neighbourGap = 0.35
	// figureGap is the least room that lines leave round figures, in text
	// heights.
	figureGap = 0.2
	// crowded is what breaking other lines counts for, beside 2 for standing
	// out of the ladder and 1 for the sharpest bend: a label goes where there
	// is room if there is any along its line.
	crowded = 4
	// maxCrowd is the most length of other lines, in text widths, that is
	// broken for a label: about so many lines on end. Closer than that, the
	// hole would hide the shape of the ground.
	maxCrowd = 5
)

// PlaceLabels finds places for labels along lines. Each label stands on a
// straight stretch, in a gap of its line, clear of other labels, of what is to
// be avoided and of lines that do not yield; a line with no such place gets
// none. Where there is room it is clear of lines that yield too; on steep
// ground, where they leave none, it stands where it breaks little of them, and
// they are to be drawn as Clear leaves them. Labels of neighbouring levels are
// lined up down the slope where they can be. The same input gives the same
// labels.
func PlaceLabels(lines []PageLine, o LabelOptions) []Label {
	if !(o.TextHeight > 0) {
		return nil
	}
	if o.Margin == 0 {
		o.Margin = o.TextHeight / 2
	}
	if o.Spacing == 0 {
		o.Spacing = 120
	}
	if o.Reach == 0 {
		o.Reach = 40
	}
	// Labels that could overlap must be found within Reach.
	for _, l := range lines {
		o.Reach = max(o.Reach, l.TextWidth+2*o.Margin+2*o.TextHeight)
	}
	index := newPageIndex(lines)
	rank := ranks(lines)
	order := make([]int, len(lines))
	lengths := make([]float64, len(lines))
	for i := range lines {
		order[i] = i
		lengths[i] = pathLength(lines[i].Points)
	}
	// Down the levels, longest first, so that each level finds the one above
	// it already placed.
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(rank[b], rank[a]), cmp.Compare(lengths[b], lengths[a]))
	})
	var placed []candidate
	near := map[[2]int32][]int{} // the placed, by squares of Reach
	for _, i := range order {
		candidates := candidatesOn(lines[i], i, o, index)
		costs := make([]float64, len(candidates))
		best := make([]int, len(candidates))
		for k := range candidates {
			c := &candidates[k]
			best[k] = k
			costs[k] = c.bend/maxBend + crowding(c.crowd) + 2*ladder(c, lines[i].TextWidth, placed, near, rank, o)
			if o.Reading == Uphill { // rather right way up than not
				costs[k] += 0.75 * (1 - c.along.X)
			}
		}
		slices.SortStableFunc(best, func(a, b int) int { return cmp.Compare(costs[a], costs[b]) })
		wanted := max(1, int(math.Round(lengths[i]/o.Spacing)))
		var own []float64
		for _, k := range best {
			if len(own) == wanted {
				break
			}
			c := candidates[k]
			middle := (c.label.From + c.label.To) / 2
			if slices.ContainsFunc(own, func(s float64) bool { return math.Abs(s-middle) < o.Spacing*0.6 }) {
				continue
			}
			if anyNear(c.at, o.Reach, near, func(p int) bool { return overlap(c.box, placed[p].box) }) {
				continue
			}
			s := square(c.at, o.Reach)
			near[s] = append(near[s], len(placed))
			placed = append(placed, c)
			own = append(own, middle)
		}
	}
	labels := make([]Label, len(placed))
	for i := range placed {
		labels[i] = placed[i].label
	}
	slices.SortStableFunc(labels, func(a, b Label) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.From, b.From))
	})
	return labels
}

// crowding is what lines in a label's way count for.
func crowding(crowd float64) float64 {
	if crowd == 0 {
		return 0
	}
	return crowded + crowd/maxCrowd
}

// ranks numbers the labelled levels that occur, lowest first.
func ranks(lines []PageLine) []int {
	var numbers []int
	for _, l := range lines {
		if l.TextWidth > 0 {
			numbers = append(numbers, l.Number)
		}
	}
	slices.Sort(numbers)
	numbers = slices.Compact(numbers)
	out := make([]int, len(lines))
	for i, l := range lines {
		out[i], _ = slices.BinarySearch(numbers, l.Number)
	}
	return out
}

// ladder is 0 for a label straight up or down the slope from one of a
// neighbouring level, 1 for one with no such neighbour.
func ladder(c *candidate, width float64, placed []candidate, near map[[2]int32][]int, rank []int, o LabelOptions) float64 {
	best := 1.0
	anyNear(c.at, o.Reach, near, func(i int) bool {
		p := &placed[i]
		apart := rank[c.label.Line] - rank[p.label.Line]
		d := p.at.Minus(c.at)
		if (apart == 1 || apart == -1) && d.Length() <= o.Reach {
			sideways := max(math.Abs(d.Dot(c.along)), math.Abs(d.Dot(p.along)))
			best = min(best, sideways/(2*width))
		}
		return false
	})
	return best
}

// square is the square of a page ruled so many millimetres apart.
func square(p page.Point, side float64) [2]int32 {
	return [2]int32{int32(math.Floor(p.X / side)), int32(math.Floor(p.Y / side))}
}

// anyNear tries what is in a point's square and the eight round it.
func anyNear(p page.Point, side float64, in map[[2]int32][]int, try func(int) bool) bool {
	s := square(p, side)
	for dx := int32(-1); dx <= 1; dx++ {
		for dy := int32(-1); dy <= 1; dy++ {
			if slices.ContainsFunc(in[[2]int32{s[0] + dx, s[1] + dy}], try) {
				return true
			}
		}
	}
	return false
}

// candidatesOn looks at a line's straight stretches.
func candidatesOn(l PageLine, line int, o LabelOptions, index *pageIndex) []candidate {
	if len(l.Points) < 2 || !(l.TextWidth > 0) {
		return nil
	}
	along := lengthsAlong(l.Points)
	total := along[len(along)-1]
	gap := l.TextWidth + 2*o.Margin
	// a line little longer than its label would be all gap
	if total < 2*gap {
		return nil
	}
	step := max(l.TextWidth/4, 0.5)
	n := int((total - gap) / step)
	var out []candidate
	i, j := 0, 0 // segments that hold the two ends of the gap
	for k := 0; k <= n; k++ {
		from := float64(k) * step
		to := from + gap
		for i+2 < len(along) && along[i+1] <= from {
			i++
		}
		j = max(i, j)
		for j+2 < len(along) && along[j+1] < to {
			j++
		}
		a := between(l.Points[i], l.Points[i+1], share(from, along[i], along[i+1]))
		b := between(l.Points[j], l.Points[j+1], share(to, along[j], along[j+1]))
		if b.Minus(a).Length() < 0.95*gap { // wound up
			continue
		}
		u := b.Minus(a).Times(1 / b.Minus(a).Length())
		low, high := 0.0, 0.0
		for _, p := range l.Points[i+1 : j+1] {
			s := rightOf(a, u, p)
			low, high = min(low, s), max(high, s)
		}
		bend := (high - low) / 2 / o.TextHeight
		if bend > maxBend {
			continue
		}
		// in the middle of the line's sway, so the figures sit on it
		at := between(a, b, 0.5).Plus(u.Left().Times(-(low + high) / 2))
		text := u
		if o.Reading == Uphill {
			// Higher ground is on the line's right; the top of text is on
			// its own left.
			text = u.Times(-1)
		} else if u.X < -1e-9 || (math.Abs(u.X) <= 1e-9 && u.Y > 0) {
			text = u.Times(-1)
		}
		c := candidate{
			label: Label{Line: line, X: at.X, Y: at.Y, Angle: angle(text), From: from, To: to,
				Length: l.TextWidth + 2*figureGap*o.TextHeight, Height: o.TextHeight * (1 + 2*figureGap)},
			at: at, along: text, bend: bend,
			box: box{at, text, gap / 2, o.TextHeight * (0.5 + neighbourGap)},
		}
		if avoided(c.box, o.Avoid) || !index.clear(c.box, c.label.figures(), line, from, to, o.TextHeight) {
			continue
		}
		if c.crowd = index.yielding(c.label.figures()) / l.TextWidth; c.crowd <= maxCrowd {
			out = append(out, c)
		}
	}
	return out
}

// angle of a direction on the page, degrees counter-clockwise as seen, in
// (-180, 180], without a negative zero.
func angle(u page.Point) float64 {
	a := math.Atan2(-u.Y, u.X) * 180 / math.Pi
	if a <= -180 {
		a += 360
	}
	return a + 0
}
