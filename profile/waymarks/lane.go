package waymarks

import (
	"cmp"
	"context"
	"math"
	"slices"
	"sort"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/profile"
)

// lane is the ground along a line parallel to the leg.
type lane struct {
	aside    float64
	from, to float64 // as far as it was asked for, metres along the leg
	known    float64 // as far as it is known
	path     []landform.PathPoint
	events   []event
}

// event is what the ground does at a place on a lane.
type event struct {
	shape     Shape
	distance  float64 // along the leg, metres
	elevation float64
	name      string
	line      bool            // a ridge, spur, valley or draw is crossed there
	before    geodesy.Degrees // slopes, for a change of slope, uphill positive
	after     geodesy.Degrees
}

// lane reads the ground aside of the leg between two distances along it. Where
// its start is not known, nothing of it is.
func (f *finder) lane(ctx context.Context, aside, from, to float64) (*lane, error) {
	l := &lane{aside: aside, from: from, to: to, known: from}
	leg, err := profile.Trace(ctx, f.Grid, f.placeOf(spot{from, aside}), f.placeOf(spot{to, aside}))
	if err != nil {
		if ctx.Err() != nil {
			return nil, err
		}
		return l, nil // it begins off the data, or in a void
	}
	for _, p := range leg.Points {
		if math.IsNaN(p.Elevation) {
			break
		}
		l.known = from + p.Distance
		l.path = append(l.path, landform.PathPoint{Position: landform.Position{Column: p.Column, Row: p.Row}, Distance: l.known, Elevation: p.Elevation})
	}
	if len(l.path) < 2 {
		return l, nil
	}
	passed, err := landform.Along(&f.Grid.Frame, l.path, f.linesNear(l.path), f.forms)
	if err != nil {
		return nil, err
	}
	for _, p := range passed {
		l.events = append(l.events, event{shape: l.shapeOf(p, f.forms.Scale/4), distance: p.Distance, elevation: p.Elevation, name: p.Name, line: p.Kind != ""})
	}
	l.events = append(l.events, l.breaks(f)...)
	slices.SortStableFunc(l.events, func(a, b event) int { return cmp.Compare(a.distance, b.distance) })
	return l, nil
}

// linesNear are the features with a line that may come onto a path.
func (f *finder) linesNear(path []landform.PathPoint) []landform.Feature {
	const around = 2 // posts
	b := box{math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)}
	for _, p := range path {
		b = box{min(b.c0, p.Column), max(b.c1, p.Column), min(b.r0, p.Row), max(b.r1, p.Row)}
	}
	var out []landform.Feature
	for i, x := range f.Features {
		o := f.boxes[i]
		if len(x.Line) > 0 && x.Relief >= f.forms.MinRelief &&
			o.c0 <= b.c1+around && o.c1 >= b.c0-around && o.r0 <= b.r1+around && o.r1 >= b.r0-around {
			out = append(out, x)
		}
	}
	return out
}

// shapeOf is what the ground does where something is passed: by its kind, or,
// of a saddle and a turn of the lane itself, by the ground before and after.
func (l *lane) shapeOf(p landform.Passed, reach float64) Shape {
	switch p.Kind {
	case landform.Ridge, landform.Spur, landform.Hill:
		return Crest
	case landform.Valley, landform.Draw, landform.Depression:
		return Floor
	}
	before, after := l.at(math.Max(l.from, p.Distance-reach)), l.at(math.Min(l.known, p.Distance+reach))
	if p.Elevation > (before+after)/2 {
		return Crest
	}
	return Floor
}

// at is the ground at a distance along the leg, NaN where it is not known.
func (l *lane) at(distance float64) float64 {
	i := sort.Search(len(l.path), func(i int) bool { return l.path[i].Distance >= distance })
	switch {
	case i == len(l.path) || i == 0 && l.path[0].Distance > distance:
		return math.NaN()
	case i == 0:
		return l.path[0].Elevation
	}
	a, b := l.path[i-1], l.path[i]
	return dem.Lerp(a.Elevation, b.Elevation, (distance-a.Distance)/(b.Distance-a.Distance))
}

// breaks are where the slope along a lane changes by a felt angle and does not
// turn round: told where the change is greatest.
//
// The change is over three places of the ground, so its error is sqrt(6)
// standard deviations of one; it must be 1.96 times that, and as much as any
// other relief.
func (l *lane) breaks(f *finder) []event {
	reach := max(breakReach, 4*f.spacing)
	least := max(f.forms.MinRelief, 1.96*math.Sqrt(6)*f.VerticalError)
	step := f.spacing / 2
	var out []event
	bestBend := 0.0
	for s := l.from + reach; s+reach <= l.known; s += step {
		h0, h, h1 := l.at(s-reach), l.at(s), l.at(s+reach)
		before, after := geodesy.Atan2(h-h0, reach), geodesy.Atan2(h1-h, reach)
		bend := math.Abs(h1 - 2*h + h0)
		gentle, steep := before, after
		if math.Abs(float64(gentle)) > math.Abs(float64(steep)) {
			gentle, steep = steep, gentle
		}
		const level = 5 // degrees; less is neither up nor down
		turns := gentle*steep < 0 && math.Abs(float64(gentle)) > level
		if !(bend >= least) || turns || math.Abs(float64(steep)) < float64(breakSteep) || math.Abs(float64(before-after)) < float64(breakAngle) {
			continue
		}
		e := event{shape: Steepens, distance: s, elevation: h, before: before, after: after}
		if math.Abs(float64(after)) < math.Abs(float64(before)) {
			e.shape = Eases
		}
		e.name = e.slopeName()
		if n := len(out); n > 0 && out[n-1].shape == e.shape && s-out[n-1].distance < reach {
			if bend > bestBend {
				out[n-1], bestBend = e, bend
			}
			continue
		}
		out, bestBend = append(out, e), bend
	}
	return out
}

// slopeName is a change of slope in words.
func (e event) slopeName() string {
	const level = 5
	switch up := e.before+e.after > 0; {
	case e.shape == Steepens && math.Abs(float64(e.before)) < level && up:
		return "foot of the climb"
	case e.shape == Steepens && up:
		return "the climb steepens"
	case e.shape == Steepens && math.Abs(float64(e.before)) < level:
		return "brow of the slope"
	case e.shape == Steepens:
		return "the descent steepens"
	case math.Abs(float64(e.after)) < level && up:
		return "top of the steep ground"
	case up:
		return "the climb eases"
	case math.Abs(float64(e.after)) < level:
		return "foot of the slope"
	default:
		return "the descent eases"
	}
}

// foot reports whether a change of slope is one at the bottom of the steeper
// side: the ground curves up there.
func (e event) foot() bool { return e.after > e.before }

// lanesTo are the offsets of lanes from one edge to another, ends included, no
// more than apart metres from each other, and at least least of them.
func lanesTo(a, b, apart float64, least int) []float64 {
	n := max(least, int(math.Ceil(math.Abs(b-a)/apart))+1)
	out := make([]float64, n)
	for i := range out {
		out[i] = dem.Lerp(a, b, float64(i)/float64(n-1))
	}
	return out
}
