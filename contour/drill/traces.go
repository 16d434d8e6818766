package drill

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"crowline/contour/page"
	"crowline/contour/sheet"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
)

// Stroke is how something that a student draws is shown on the key's map.
type Stroke int

// Strokes.
const (
	// Cross: a place.
	Cross Stroke = iota
	// Stream: a line that water runs along.
	Stream
	// Crest: a line of high ground.
	Crest
	// Ring: a saddle. Doubt: what may be taken for one.
	Ring
	Doubt
	// Ray: a line of position.
	Ray
)

// Trace is something to be drawn on the map: a line, or a place.
type Trace struct {
	Kind Stroke
	Line []geodesy.LatLon
}

var (
	blue  = page.Color{R: 0x00, G: 0x48, B: 0xB0, A: 255}
	brown = page.Color{R: 0x6E, G: 0x2C, B: 0x00, A: 255}
)

func (m Mistake) text() string { return fmt.Sprintf("Not %s: %s.", m.Answer, m.Shows) }

// draw a trace on a map, with the number of its question.
func (l *layouter) trace(panel *sheet.Panel, t Trace, number string) error {
	var line []page.Point
	for _, at := range t.Line {
		q, err := panel.Place(at)
		if err != nil {
			return err
		}
		line = append(line, q)
	}
	stroke := func(width float64, c page.Color, dash []float64, lines ...[]page.Point) {
		l.page.Add(page.Stroke{Lines: lines, Width: width + 0.5, Color: page.White}, page.Stroke{Lines: lines, Width: width, Color: c, Dash: dash})
	}
	label := func(at page.Point) {
		if !panel.Frame.Inset(3).Contains(at) {
			return
		}
		text := page.Text{At: at, String: number, Size: 8, Face: page.Bold, Align: page.AlignCenter, Rise: page.RiseMiddle, Color: ink}
		box := text.Box()
		l.page.Add(page.Fill{Rings: [][]page.Point{box.Inset(-0.3).Corners()}, Color: page.White}, text)
	}
	middle := line[len(line)/2]
	switch t.Kind {
	case Cross:
		stroke(0.5, ink, nil, []page.Point{middle.Add(-1.4, -1.4), middle.Add(1.4, 1.4)}, []page.Point{middle.Add(-1.4, 1.4), middle.Add(1.4, -1.4)})
		label(middle.Add(3.2, 0))
	case Ring:
		stroke(0.5, ink, nil, append(page.Circle(middle, 1.8), page.Circle(middle, 1.8)[0]))
	case Doubt:
		stroke(0.2, ink, []float64{0.7, 0.5}, append(page.Circle(middle, 1.8), page.Circle(middle, 1.8)[0]))
	case Stream:
		stroke(0.6, blue, nil, line)
	case Crest:
		stroke(0.6, brown, []float64{2, 0.9}, line)
	case Ray:
		stroke(0.25, ink, []float64{1.4, 0.9}, line)
	}
	return nil
}

// Sizes of the key's maps, millimetres: those of the questions, smaller, so
// that two stand side by side.
const (
	keyMapWidth  = 76.0
	keyMapHeight = keyMapWidth * sharedHeight / sharedWidth
)

// keyMap is one map of the key.
type keyMap struct {
	figure *Figure
	id     string
	said   string
	scale  float64
	width  float64
	trace  []Trace
	number []string
}

// keyMaps are the maps on which something was to be drawn.
func (l *layouter) keyMaps() (out []keyMap) {
	shared := make([]*keyMap, len(l.set.Maps)+1)
	for _, q := range l.set.Questions {
		if q.Figure == nil || len(q.Figure.Traces) == 0 {
			continue
		}
		n := q.Figure.Map
		if n == 0 {
			k := keyMap{figure: q.Figure, id: fmt.Sprintf("a%d-map", q.Number), said: fmt.Sprintf("Question %d", q.Number),
				scale: panelMM / keyMapHeight, width: keyMapHeight}
			for _, t := range q.Figure.Traces {
				k.trace, k.number = append(k.trace, t), append(k.number, fmt.Sprint(q.Number))
			}
			out = append(out, k)
			continue
		}
		if shared[n] == nil {
			shared[n] = &keyMap{figure: l.shared(n), id: fmt.Sprintf("am%d", n), said: fmt.Sprintf("Map %d", n), scale: sharedWidth / keyMapWidth, width: keyMapWidth}
		}
		for _, t := range q.Figure.Traces {
			shared[n].trace, shared[n].number = append(shared[n].trace, t), append(shared[n].number, fmt.Sprint(q.Number))
		}
	}
	var all []keyMap
	for _, k := range shared {
		if k != nil {
			all = append(all, *k)
		}
	}
	return append(all, out...)
}

// shared is the figure of a shared map: the marks of all its questions, with
// their numbers.
func (l *layouter) shared(n int) *Figure {
	figure := &Figure{Centre: l.set.Maps[n-1]}
	for _, q := range l.set.Questions {
		if q.Figure == nil || q.Figure.Map != n {
			continue
		}
		figure.outlines = append(figure.outlines, q.Figure.outlined(fmt.Sprint(q.Number))...)
		at := len(figure.Marks)
		for _, m := range q.Figure.Marks {
			m.Name = fmt.Sprintf("%d%s", q.Number, m.Name)
			figure.Marks = append(figure.Marks, m)
		}
		for _, leg := range q.Figure.Legs {
			figure.Legs = append(figure.Legs, [2]int{leg[0] + at, leg[1] + at})
		}
	}
	return figure
}

// opposite is the landform that one is taken for by who reads uphill for
// downhill.
var opposite = map[landform.Kind]landform.Kind{
	landform.Hill: landform.Depression, landform.Depression: landform.Hill, landform.Ridge: landform.Valley, landform.Valley: landform.Ridge,
	landform.Spur: landform.Draw, landform.Draw: landform.Spur,
}

// outlined are a figure's outline, its first corner named after a question.
func (f *Figure) outlined(number string) [][]Place {
	if len(f.Outline) == 0 {
		return f.outlines
	}
	corners := append([]Place{}, f.Outline...)
	corners[0].Name = number + corners[0].Name
	return [][]Place{corners}
}

// drawnSaid explains the maps of the key.
const drawnSaid = "What was to be drawn: water solid, ridges and spurs dashed, saddles ringed, places crossed. Smaller than the question's map."

// mapBlock is the depth of a map in a column of the key, with what is said of
// it.
func (l *layouter) mapBlock() float64 {
	return 4 + keyMapHeight + 1 + depth(drawnSaid, page.Regular, 6.5, l.columnWidth()) + keyGap
}

// drawnOn sets a map on which students draw, with what belongs there.
func (l *layouter) drawnOn(ctx context.Context, k keyMap, x, y float64) error {
	l.text(page.At(x, y+3), keyText+0.5, page.Bold, page.AlignLeft, k.said)
	if err := l.keyPanel(ctx, k, page.Box(x, y+4, k.width, keyMapHeight)); err != nil {
		return err
	}
	l.paragraph(x, y+4+keyMapHeight+1, l.columnWidth(), 6.5, page.Regular, drawnSaid)
	return nil
}

func (l *layouter) keyPanel(ctx context.Context, k keyMap, frame page.Rect) error {
	// Grid numbers need no room in the key: the map is drawn on a page of its
	// own and what stands outside the frame is left there.
	plan, marks, legs := l.plan(k.figure)
	plan.Scale *= k.scale
	aside := &page.Page{Width: l.page.Width, Height: l.page.Height}
	panel, err := sheet.DrawPanel(ctx, aside, plan, frame, k.id, marks, legs)
	if err != nil {
		return fmt.Errorf("drill: the key's %s: %w", strings.ToLower(k.said), err)
	}
	var letters page.Item
	for _, it := range aside.Items {
		if g, ok := it.(*page.Group); ok {
			if slices.Contains([]string{k.id + "-grid-numbers", k.id + "-contour-numbers", k.id + "-corners"}, g.ID) {
				continue
			}
			if g.ID == k.id+"-letters" { // over what is drawn
				letters = it
				continue
			}
		}
		l.page.Items = append(l.page.Items, it)
	}
	l.page.Open(k.id+"-drawn", "What was to be drawn")
	l.page.Clip(frame)
	for i, t := range k.trace {
		if err := l.trace(panel, t, k.number[i]); err != nil {
			return err
		}
	}
	l.page.Unclip()
	l.page.Close()
	if letters != nil {
		l.page.Items = append(l.page.Items, letters)
	}
	return nil
}

// mistakes that are often made in questions of a kind, whatever the ground.
func (s *survey) mistakes(q *Question) []Mistake {
	switch d := q.Data.(type) {
	case ElevationAnswer:
		if d.Top == 0 {
			return []Mistake{{s.vertical(2*d.LowerM + s.interval() - d.ReadM), "read the numbers upside down: took the lower line for the upper"}}
		}
		return []Mistake{{s.vertical(d.ReadM - float64(d.Top)*s.interval()), "took the hilltop for a depression, or the other way about"}}
	case ClimbAnswer:
		least := d.Legs[0]
		for _, leg := range d.Legs {
			if leg.Down < least.Down {
				least = leg
			}
		}
		if least.To != d.Least {
			return []Mistake{{"A–" + least.To, "read the numbers upside down: took down for up"}}
		}
	case SlopeAnswer:
		return []Mistake{{fmt.Sprintf("%.0f %%", 100*d.RunM/d.RiseM), "put run over rise, not rise over run"}}
	case SightAnswer:
		return sightMistakes(d)
	case DrawProfileAnswer:
		return append(sightMistakes(d.SightAnswer), Mistake{"the same profile upside down, or hills for valleys", "read the numbers upside down"})
	case BearingAnswer:
		turned := func(v float64) string { return degrees(v) }
		switch q.Kind {
		case PageBearing:
			return []Mistake{{turned(d.Answer + 180), "measured from B to A, or laid the protractor upside down"}}
		case Norths:
			return []Mistake{{turned(2*d.Given - d.Answer), "turned the angle the wrong way: add for take off"}}
		}
	case LandformAnswer:
		if other := opposite[d.Landform]; other != "" {
			return []Mistake{{"a " + string(other), "took uphill for downhill: read the numbers upside down"}}
		}
	case DestinationAnswer:
		return []Mistake{{"a higher top farther along or nearer", "took the highest ground for what hides B: the steepest line from the eye counts"}}
	}
	return nil
}

func sightMistakes(d SightAnswer) []Mistake {
	if d.ClearanceM < 0 {
		return []Mistake{{"yes", "looked at the two ends alone, not at the ground between"}}
	}
	return []Mistake{{"no", "took any rise between for one that hides: the line passes over it"}}
}
