package sheet

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/contour"
	"crowline/contour/page"
	"crowline/dem"
)

// traced are a grid's lines, none missing.
func traced(t *testing.T, g *dem.Grid) []contour.Line {
	t.Helper()
	lines, err := contour.Trace(context.Background(), g, contour.Levels{Interval: 20, Base: 0.5}, contour.Options{})
	require.NoError(t, err)
	return lines
}

// flat is a frame of arc seconds to put made ground on.
func flat(t *testing.T, columns, rows int, f func(column, row float64) float64) *dem.Grid {
	const step = 1.0 / 3600
	return made(t, "EPSG:4326", -84, 36, step, -step, columns, rows, f)
}

// rugged is ground with detail of every size down to 16 posts: noise on square
// lattices, each half the spacing and a little more than half the relief of
// the last.
func rugged(t *testing.T, side int, relief float64, seed uint64) *dem.Grid {
	sum := make([]float64, side*side)
	random := rand.New(rand.NewPCG(seed, 1))
	for cell := 1024; cell >= 16; cell /= 2 {
		n := side/cell + 2
		lattice := make([]float64, n*n)
		for i := range lattice {
			lattice[i] = relief * (random.Float64() - 0.5)
		}
		for r := range side {
			j, v := r/cell, float64(r%cell)/float64(cell)
			v = v * v * (3 - 2*v)
			for c := range side {
				i, u := c/cell, float64(c%cell)/float64(cell)
				u = u * u * (3 - 2*u)
				top := lattice[j*n+i] + u*(lattice[j*n+i+1]-lattice[j*n+i])
				bottom := lattice[(j+1)*n+i] + u*(lattice[(j+1)*n+i+1]-lattice[(j+1)*n+i])
				sum[r*side+c] += top + v*(bottom-top)
			}
		}
		relief *= 0.52
	}
	return flat(t, side, side, func(c, r float64) float64 { return sum[int(r)*side+int(c)] })
}

// pageLines puts the index lines of a grid on a page at so many millimetres
// a cell.
func pageLines(t *testing.T, lines []contour.Line, scale float64) []PageLine {
	t.Helper()
	var out []PageLine
	for _, l := range lines {
		if l.Kind != contour.Index || l.Touch {
			continue
		}
		p := PageLine{Number: l.Number, TextWidth: 1.3 * float64(len(l.Label()))}
		for _, q := range l.Points {
			p.Points = append(p.Points, page.At(q.Column*scale, q.Row*scale))
		}
		out = append(out, p)
	}
	return out
}

// pointAt is the point so far along a line.
func pointAt(p []page.Point, s float64) page.Point {
	along := lengthsAlong(p)
	i := 0
	for i+2 < len(p) && along[i+1] < s {
		i++
	}
	return between(p[i], p[i+1], share(s, along[i], along[i+1]))
}

func TestLabelsOnFractalGround(t *testing.T) {
	t.Parallel()
	g := rugged(t, 200, 1500, 21)
	lines := pageLines(t, traced(t, g), 1)
	avoid := [][2]page.Point{{page.At(60, 60), page.At(120, 90)}}
	for _, reading := range []Reading{TowardReader, Uphill} {
		o := LabelOptions{TextHeight: 1.8, Reading: reading, Avoid: avoid}
		labels := PlaceLabels(lines, o)
		require.Equal(t, labels, PlaceLabels(lines, o))
		require.Greater(t, len(labels), 10)
		var boxes []box
		for _, l := range labels {
			line := lines[l.Line]
			a := l.Angle * math.Pi / 180
			b := page.At(math.Cos(a), -math.Sin(a))
			// The figures themselves, without the room round them.
			own := box{page.At(l.X, l.Y), b, line.TextWidth / 2, o.TextHeight / 2}
			for _, other := range boxes {
				assert.False(t, overlap(own, other), "labels overlap")
			}
			boxes = append(boxes, own)
			assert.False(t, avoided(own, avoid))
			for k, other := range lines {
				for _, piece := range Broken(other.Points, ofLine(labels, k)) {
					for i := 1; i < len(piece); i++ {
						assert.False(t, own.cuts(piece[i-1], piece[i]), "a label stands on a line")
					}
				}
			}
			assert.InDelta(t, line.TextWidth+o.TextHeight, l.To-l.From, 1e-9)
			middle := pointAt(line.Points, (l.From+l.To)/2)
			// 0.6 text heights: the middle of a bend of maxBend, either way
			assert.Less(t, middle.Minus(page.At(l.X, l.Y)).Length(), 0.6*o.TextHeight, "the label is on its line")
			if reading == TowardReader {
				assert.Greater(t, l.Angle, -90.0)
				assert.LessOrEqual(t, l.Angle, 90.0)
			} else {
				start := pointAt(line.Points, l.From)
				end := pointAt(line.Points, l.To)
				// Higher ground is right of the line, so left of text that
				// runs against it, where its top is.
				assert.Less(t, b.Dot(end.Minus(start)), 0.0)
			}
			// straight: nothing of the line in the gap is off the text's axis
			for s := l.From; s <= l.To; s += 0.1 {
				p := pointAt(line.Points, s)
				assert.Less(t, math.Abs(rightOf(page.At(l.X, l.Y), b, p)), (maxBend+1e-6)*o.TextHeight)
			}
		}
	}
}

func ofLine(labels []Label, line int) []Label {
	var out []Label
	for _, l := range labels {
		if l.Line == line {
			out = append(out, l)
		}
	}
	return out
}

// TestLadders: on a cone the labels stand one below the other.
func TestLadders(t *testing.T) {
	t.Parallel()
	g := flat(t, 201, 201, func(c, r float64) float64 { return 1000 - 5*math.Hypot(c-100.3, r-100.4) })
	lines := pageLines(t, traced(t, g), 0.7)
	labels := PlaceLabels(lines, LabelOptions{TextHeight: 1.6, Spacing: 1000})
	first := map[int]Label{}
	for _, l := range labels {
		points := lines[l.Line].Points
		if points[0] != points[len(points)-1] { // an arc cut off in a corner of the page
			continue
		}
		if _, ok := first[lines[l.Line].Number]; !ok {
			first[lines[l.Line].Number] = l
		}
	}
	require.GreaterOrEqual(t, len(first), 4)
	// the bearing from the top of one label to the next differs little
	var bearings []float64
	for _, l := range first {
		bearings = append(bearings, math.Atan2(l.Y-100.4*0.7, l.X-100.3*0.7))
	}
	for _, b := range bearings[1:] {
		assert.InDelta(t, 0, math.Remainder(b-bearings[0], 2*math.Pi), 0.15, "radians off the ladder")
	}
}

func TestNoLabelWhereThereIsNoRoom(t *testing.T) {
	t.Parallel()
	o := LabelOptions{TextHeight: 2}
	straight := []page.Point{page.At(0, 0), page.At(100, 0)}
	require.Len(t, PlaceLabels([]PageLine{{Points: straight, TextWidth: 5}}, o), 1)
	var zigzag []page.Point
	for i := range 100 {
		zigzag = append(zigzag, page.At(float64(i), float64(3*(i%2))))
	}
	var circle []page.Point
	for i := range 61 {
		s, c := math.Sincos(float64(i) * math.Pi / 30)
		circle = append(circle, page.At(2*c, 2*s))
	}
	cases := map[string][]PageLine{
		"too short":       {{Points: straight[:1], TextWidth: 5}, {Points: []page.Point{page.At(0, 0), page.At(6, 0)}, TextWidth: 5}},
		"all bends":       {{Points: zigzag, TextWidth: 5}},
		"a small ring":    {{Points: circle, TextWidth: 5}},
		"no width":        {{Points: straight}},
		"lines too close": {{Points: straight, TextWidth: 5}, {Points: []page.Point{page.At(0, 0.5), page.At(100, 0.5)}, TextWidth: 5, Number: 5}},
		"nothing":         nil,
	}
	for name, lines := range cases {
		assert.Empty(t, PlaceLabels(lines, o), name)
	}
	o.Avoid = [][2]page.Point{{page.At(-1, -1), page.At(101, 1)}}
	assert.Empty(t, PlaceLabels([]PageLine{{Points: straight, TextWidth: 5}}, o), "avoided")
}

func TestReading(t *testing.T) {
	t.Parallel()
	// The line runs left along the page: its right, uphill, is up the page.
	left := []page.Point{page.At(100, 50), page.At(0, 50)}
	right := []page.Point{page.At(0, 50), page.At(100, 50)}
	down := []page.Point{page.At(50, 0), page.At(50, 100)}
	for _, c := range []struct {
		points  []page.Point
		reading Reading
		angle   float64
	}{
		{left, Uphill, 0}, {right, Uphill, 180}, {down, Uphill, 90},
		{left, TowardReader, 0}, {right, TowardReader, 0}, {down, TowardReader, 90},
	} {
		labels := PlaceLabels([]PageLine{{Points: c.points, TextWidth: 5}}, LabelOptions{TextHeight: 2, Reading: c.reading})
		require.Len(t, labels, 1)
		assert.InDelta(t, c.angle, labels[0].Angle, 1e-9)
	}
}

// TestBroken: gaps take out just their length.
func TestBroken(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(5, 6))
	for range 200 {
		p := []page.Point{page.At(0, 0)}
		for range 1 + random.IntN(20) {
			last := p[len(p)-1]
			p = append(p, page.At(last.X+random.Float64(), last.Y+random.Float64()-0.5))
		}
		total := pathLength(p)
		gaps := []Label{{From: 0.6 * total, To: 0.7 * total}, {From: 0.1 * total, To: 0.35 * total}}
		pieces := Broken(p, gaps)
		require.Len(t, pieces, 3)
		left := 0.0
		for _, piece := range pieces {
			left += pathLength(piece)
		}
		assert.InDelta(t, 0.65*total, left, 1e-9)
		assert.Equal(t, p[0], pieces[0][0])
		assert.Equal(t, p[len(p)-1], pieces[2][len(pieces[2])-1])
	}
}

// paged is all of a grid's lines on a page, index lines to be labelled and
// others to yield.
func paged(lines []contour.Line, scale float64) []PageLine {
	var out []PageLine
	for _, l := range lines {
		if l.Touch {
			continue
		}
		p := PageLine{Number: l.Number, Yields: l.Kind != contour.Index}
		if l.Kind == contour.Index {
			p.TextWidth = 1.3 * float64(len(l.Label()))
		}
		for _, q := range l.Points {
			p.Points = append(p.Points, page.At(q.Column*scale, q.Row*scale))
		}
		out = append(out, p)
	}
	return out
}

// TestFiguresAreClear: on ground from gentle to steeper than paper can show,
// nothing that is drawn enters a label's rectangle, of any line; no two
// rectangles meet; ruled lines are never broken; and what is left of a broken
// line, with what was taken out, is all of it.
func TestFiguresAreClear(t *testing.T) {
	t.Parallel()
	for _, relief := range []float64{1500, 5000, 12000} {
		g := rugged(t, 160, relief, 5)
		lines := paged(traced(t, g), 0.8)
		ruled := len(lines)
		lines = append(lines, PageLine{Points: []page.Point{page.At(40, 0), page.At(40, 127)}}, PageLine{Points: []page.Point{page.At(0, 70), page.At(127, 70)}})
		labels := PlaceLabels(lines, LabelOptions{TextHeight: 1.6})
		require.Greater(t, len(labels), 2)
		broken := 0
		for i := range labels {
			assert.Greater(t, lines[labels[i].Line].TextWidth, 0.0)
			for k := range labels[:i] {
				assert.False(t, overlap(labels[i].figures(), labels[k].figures()), "labels overlap")
			}
		}
		for k, l := range lines {
			var left [][]page.Point
			switch {
			case k >= ruled:
				left = [][]page.Point{l.Points}
			case l.Yields:
				left = Clear(l.Points, labels)
				taken := pathLength(l.Points)
				for _, piece := range left {
					taken -= pathLength(piece)
				}
				inside := 0.0
				for i := range labels {
					b := labels[i].figures()
					for j := 1; j < len(l.Points); j++ {
						if from, to := b.inside(l.Points[j-1], l.Points[j]); from < to {
							inside += (to - from) * l.Points[j].Minus(l.Points[j-1]).Length()
						}
					}
				}
				assert.GreaterOrEqual(t, taken, inside-1e-9)
				assert.Less(t, taken-inside, float64(2*len(labels))*leastPiece)
				if inside > 0 {
					broken++
				}
			default:
				left = Broken(l.Points, ofLine(labels, k))
			}
			for _, piece := range left {
				for i := 1; i < len(piece); i++ {
					for j := range labels {
						b := labels[j].figures()
						b.half, b.tall = b.half-1e-6, b.tall-1e-6 // pieces end on the rectangle
						assert.False(t, b.cuts(piece[i-1], piece[i]), "relief %g: a label stands on line %d", relief, k)
					}
				}
			}
		}
		if relief > 10000 {
			assert.Greater(t, broken, 10)
		}
	}
}

// TestRoomFirst: on a slope that is steep but for one bench, labels stand on
// the bench, though the ladder of their neighbours is elsewhere; on a slope
// that is steep all along they break their neighbours, one below the other.
func TestRoomFirst(t *testing.T) {
	t.Parallel()
	const textHeight = 1.6
	slope := func(bench bool) []PageLine {
		var lines []PageLine
		for j := range 13 {
			y := float64(j) * 0.7
			l := PageLine{Number: -j, Yields: j%4 != 0, Points: []page.Point{page.At(0, y), page.At(60, y)}}
			if !l.Yields {
				l.TextWidth = 4
			}
			if bench { // lines fan out on the right of the page
				l.Points = []page.Point{page.At(0, y), page.At(60, y), page.At(80, 3*y), page.At(100, 3*y)}
			}
			lines = append(lines, l)
		}
		return lines
	}
	o := LabelOptions{TextHeight: textHeight, Spacing: 1000}
	open := PlaceLabels(slope(true), o)
	require.Len(t, open, 4)
	for _, l := range open {
		assert.Greater(t, l.X, 65.0)
	}
	steep := PlaceLabels(slope(false), o)
	require.Len(t, steep, 4)
	for _, l := range steep[1:] {
		assert.InDelta(t, steep[0].X, l.X, 0.5, "out of the ladder")
	}
	// Closer than that, a label would leave a hole: none is set.
	var packed []PageLine
	for j := range 41 {
		y := float64(j) * 0.2
		packed = append(packed, PageLine{Number: -j, Yields: j != 20, Points: []page.Point{page.At(0, y), page.At(60, y)}})
	}
	packed[20].TextWidth = 4
	assert.Empty(t, PlaceLabels(packed, o))
}
