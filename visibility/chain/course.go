package chain

import (
	"context"
	"fmt"
	"math"
	"slices"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/profile"
	"crowline/visibility"
)

// course is the ground of a leg and beyond, in the plane of sight.
type course struct {
	leg         *profile.Leg
	opts        Options
	lowering    float64
	distance    []float64
	elevation   []float64
	lowered     []float64
	destination int // index of the leg's end; -1 when it is not known ground
	eyeAbove    float64
	targetOver  float64
	turns       []turn
	kinds       []Kind    // of every vertex: brows apart, which depend on the eye
	stature     []float64 // of every vertex, metres: see stands
	uses        []use
	plain       [][2]float64 // from where ground that does not stand up is seen
	parts       []part       // room for browParts
}

// use is a mark together with a stretch of positions it can be chosen from,
// and be of that kind, in micrometres.
type use struct {
	mark     Mark
	vertex   int     // -1 for a landmark
	top      float64 // a landmark's, metres above its ground
	from, to int64
	reach    int64 // where the step ends
	least    int64 // the last position it is far enough from
}

const perMetre = 1e6

func micro(m float64) int64 { return int64(math.Round(m * perMetre)) }

func newLine(leg *profile.Leg, o visibility.Observer, conditions visibility.Conditions, opts Options) (*course, error) {
	ahead, err := visibility.Along(leg, o, conditions)
	if err != nil {
		return nil, err
	}
	if opts.LeastSighting == 0 {
		opts.LeastSighting = DefaultLeastSighting
	}
	if !(opts.LeastSighting > 0) {
		return nil, fmt.Errorf("a least sighting of %v m is not a distance", opts.LeastSighting)
	}
	if opts.Within == 0 {
		opts.Within = visibility.DefaultWithin
	}
	if !(opts.Within > 0 && opts.Within < 90) {
		return nil, fmt.Errorf("%v degrees off the line is not between 0 and 90", float64(opts.Within))
	}
	if opts.BesideLine == 0 {
		opts.BesideLine = DefaultBesideLine
	}
	if !(opts.BesideLine > 0) {
		return nil, fmt.Errorf("%v m beside the line is not a distance", opts.BesideLine)
	}
	if opts.LeastRelief == 0 {
		opts.LeastRelief = DefaultLeastRelief
	}
	if !(opts.LeastRelief > 0) {
		return nil, fmt.Errorf("a least relief of %v m is not a height difference", opts.LeastRelief)
	}
	l := &course{
		leg: leg, opts: opts, lowering: 1 - conditions.Refraction, eyeAbove: ahead.EyeElevation - leg.Points[0].Elevation,
		targetOver: conditions.TargetAboveGround, destination: -1,
	}
	for _, p := range leg.Points {
		l.add(p)
	}
	if !math.IsNaN(ahead.TargetElevation) {
		l.destination = len(l.distance) - 1
	}
	if b := opts.Beyond; b != nil {
		if b.From != leg.From || math.Abs(float64(geodesy.Difference(b.Start, leg.Start))) > sameLine || b.Distance < leg.Distance {
			return nil, fmt.Errorf("the line beyond %s is not the leg carried on", leg.To)
		}
		for _, p := range b.Points {
			if p.Distance > leg.Distance+dem.NearLimit {
				l.add(p)
			}
		}
	}
	l.findTurns()
	l.findStature()
	return l, nil
}

// sameLine is how far, degrees, two bearings of one line may differ: ten
// metres at 500 km.
const sameLine = 1e-3

// add carries the ground on by one crossing.
func (l *course) add(p profile.Point) {
	l.distance = append(l.distance, p.Distance)
	l.elevation = append(l.elevation, p.Elevation)
	l.lowered = append(l.lowered, p.Elevation-l.lowering*p.Drop)
}

func (l *course) mark(i int) Mark {
	return Mark{Kind: l.kinds[i], Distance: l.distance[i], Elevation: l.elevation[i]}
}

// top is the lowered top of vertex i as a mark.
func (l *course) top(i int) float64 {
	if i == l.destination {
		return l.lowered[i] + l.targetOver
	}
	return l.lowered[i]
}

// seen are the stretches of positions before vertex m from which it is seen,
// nearest to m first; with last, only the one that ends at m, or at the
// destination if m is beyond it.
func (l *course) seen(m int, last bool) (out [][2]float64) {
	target, at := l.top(m), l.distance[m]
	steepest := math.Inf(-1)
	add := func(from, to float64) {
		if n := len(out); n > 0 && out[n-1][0] == to {
			out[n-1][0] = from
		} else if to > from {
			out = append(out, [2]float64{from, to})
		}
	}
	for i := m - 1; i >= 0; i-- {
		a, b := l.distance[i], l.distance[i+1]
		ha, hb := l.lowered[i], l.lowered[i+1]
		if i+1 < m && at-b > dem.NearLimit {
			if math.IsNaN(hb) {
				return out // nothing is known to be seen from before it
			}
			steepest = max(steepest, (hb-target)/(at-b))
		}
		if math.IsNaN(ha) || math.IsNaN(hb) {
			return out
		}
		if b > l.leg.Distance+dem.NearLimit {
			continue
		}
		if math.IsInf(steepest, -1) {
			add(a, b)
			continue
		}
		above := func(h, x float64) float64 {
			return h + l.eyeAbove - (target + (steepest-visibility.GrazingSlope)*(at-x))
		}
		ga, gb := above(ha, a), above(hb, b)
		if from, to, any := notBelow(a, b, ga, gb); any {
			add(from, to)
		}
		if last && (ga < 0 || gb < 0) {
			end := min(at, l.leg.Distance)
			if len(out) == 0 || out[0][1] < end-dem.NearLimit {
				return nil
			}
			return out[:1]
		}
	}
	return out
}

// notBelow is the part from a to b where a value that is ga at a and gb at b,
// and straight between, is not below 0, if there is any.
func notBelow(a, b, ga, gb float64) (from, to float64, any bool) {
	switch {
	case ga >= 0 && gb >= 0:
		return a, b, true
	case ga >= 0:
		return a, a + (b-a)*ga/(ga-gb), true
	case gb >= 0:
		return a + (b-a)*ga/(ga-gb), b, true
	}
	return 0, 0, false
}

// findUses lists every mark with every stretch it can be chosen from.
func (l *course) findUses(ctx context.Context) error {
	least := micro(l.opts.LeastSighting)
	length := micro(l.leg.Distance)
	add := func(u use) {
		u.least = micro(u.mark.Distance) - least
		switch {
		case u.mark.Kind == Destination:
			u.least = u.reach
		case u.mark.Kind == Landmark && u.reach < length:
			// one far off that serves for a few paces only is no sighting
			u.least = min(u.least, u.reach-least)
		}
		u.to = min(u.to, u.least, u.reach-1)
		if u.from <= u.to {
			l.uses = append(l.uses, u)
		}
	}
	for m := 1; m < len(l.distance); m++ {
		if m%64 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		if math.IsNaN(l.lowered[m]) {
			continue
		}
		mark, brow := l.mark(m), math.Inf(1)
		nearest := math.Inf(-1) // from where on the mark stands up
		if mark.Kind != Destination {
			nearest = l.standsFrom(m)
		}
		if mark.Kind < Brow && nearest < l.distance[m]-l.opts.LeastSighting {
			brow = l.browSlope(m)
		}
		for _, s := range l.seen(m, !l.opts.SeenWhenChosen) {
			if until := min(nearest, s[1], l.distance[m]-l.opts.LeastSighting); until > s[0] {
				l.plain = append(l.plain, [2]float64{s[0], until})
			}
			if s[0] = max(s[0], nearest); s[0] > s[1] {
				continue
			}
			for _, p := range l.browParts(m, s[0], s[1], brow) {
				if mark.Kind = l.kinds[m]; p.brow {
					mark.Kind = Brow
				}
				add(use{
					mark: mark, vertex: m, reach: min(micro(l.distance[m]), length),
					from: int64(math.Ceil(p.from * perMetre)), to: int64(math.Floor(p.to * perMetre)),
				})
			}
		}
	}
	for _, mark := range l.opts.Marks {
		// from here on its bearing departs too far from the line's
		near := min(length, micro(mark.Distance-math.Abs(mark.Offset)/l.opts.Within.Tan()))
		over := mark.AboveGround
		if over == 0 {
			over = l.targetOver
		}
		reaches := []int64{near}
		if abeam := micro(mark.Distance); math.Abs(mark.Offset) <= l.opts.BesideLine && near < abeam && abeam <= length {
			reaches = append(reaches, abeam)
		}
		for _, reach := range reaches {
			for _, s := range mark.Seen {
				u := use{
					mark: mark.Mark, vertex: -1, top: over, reach: reach,
					from: int64(math.Ceil(s.From * perMetre)), to: int64(math.Floor(s.To * perMetre)),
				}
				if s.Verdict == visibility.Visible && (l.opts.SeenWhenChosen || u.from <= reach && reach <= u.to+1) {
					u.to = min(u.to, near)
					add(u)
				}
			}
		}
	}
	return ctx.Err()
}

func (l *course) plan(way []move) Plan {
	p := Plan{}
	for _, m := range way {
		s := Step{Kind: CompassOnly, From: float64(m.from) / perMetre, To: float64(m.to) / perMetre, Angle: geodesy.Degrees(math.NaN())}
		if m.use >= 0 {
			u := &l.uses[m.use]
			mark := u.mark
			s.Kind, s.Mark = Sighted, &mark
			if u.vertex < 0 {
				s.Angle = l.landmarkAngle(s.From, u)
			} else {
				s.Angle = l.angle(s.From, u.vertex)
				switch mark.Kind {
				case Ground:
					mark.Near = l.near(u.vertex, s.From)
				case Destination:
					away := mark.Distance - s.From
					mark.Plain = s.From < l.standsFrom(u.vertex) && l.targetOver < away*LeastLook.Tan()
				}
			}
			p.Sightings++
		} else {
			s.Back = l.back(s.From, s.To)
			p.CompassOnly += s.To - s.From
			if s.Short = m.to-m.from <= micro(l.opts.LeastSighting); !s.Short {
				p.Unguided += s.To - s.From
				if s.Plain = l.plainShare(s.From, s.To) > 0.5; s.Plain {
					p.Plain += s.To - s.From
				}
			}
		}
		s.Reason = s.Explain(visibility.Metric, l.leg.Distance, l.opts.SeenWhenChosen)
		p.Steps = append(p.Steps, s)
	}
	return p
}

// ground is the lowered ground at a distance, NaN where not known.
func (l *course) ground(distance float64) float64 {
	i, found := slices.BinarySearch(l.distance, distance)
	switch {
	case found:
		return l.lowered[i]
	case i == 0 || i == len(l.distance):
		return math.NaN()
	}
	a, b := l.distance[i-1], l.distance[i]
	return dem.Lerp(l.lowered[i-1], l.lowered[i], (distance-a)/(b-a))
}

// angle of vertex m as seen from a distance along the line.
func (l *course) angle(from float64, m int) geodesy.Degrees {
	return l.angleOf(from, l.top(m), l.distance[m]-from)
}

// landmarkAngle is a landmark's.
func (l *course) landmarkAngle(from float64, u *use) geodesy.Degrees {
	m := &u.mark
	lowered := m.Elevation + u.top - l.curve()*(m.Distance*m.Distance+m.Offset*m.Offset)
	return l.angleOf(from, lowered, math.Hypot(m.Distance-from, m.Offset))
}

// angleOf a lowered top so far off: the slope in the plane of the start, and
// how much the walker's level has turned since: the drop is a parabola, and
// its slope at the walker is twice the mean.
func (l *course) angleOf(from, lowered, away float64) geodesy.Degrees {
	slope := (lowered - l.ground(from) - l.eyeAbove) / away
	return geodesy.Atan2(slope+2*l.curve()*from, 1)
}

// curve is what the drop is to the square of the distance.
func (l *course) curve() float64 {
	return l.lowering / (2 * l.leg.Radius)
}
