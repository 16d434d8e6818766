package waymarks

import (
	"context"
	"math"
)

// Catch is a catching feature: the first line or slope beyond the destination
// that runs across the whole of the drift and cannot be taken for anything
// short of the destination. That is so where nothing of its shape is met within
// the pacing before the destination (Alone), or where it lies farther beyond
// the destination than pacing may be out.
type Catch struct {
	// Shape is what tells it: a Floor or Crest is crossed, or the ground Falls
	// or Rises by Change.
	Shape Shape
	// Name in words, where there is a landform: "valley floor".
	Name string
	// Beyond is how far beyond the destination it is met on the line, metres,
	// and Latest how far at most, at the edge of the drift.
	Beyond, Latest float64
	// Elevation of the ground where the line meets it, metres.
	Elevation float64
	// Change is by how much the ground goes down (Falls) or up (Rises), metres,
	// when it is sure; 0 for a line.
	Change float64
	// Alone: nothing like it is met on the way in, so that it tells whatever
	// pacing says.
	Alone bool
}

// tell is where a lane tells of a shape.
type tell struct {
	distance, elevation float64
	name                string
	alone               bool
}

func (f *finder) catch(ctx context.Context) (*Catch, error) {
	wide := f.width(f.goal)
	paced := f.Walk.PacedHalf(f.goal)
	in := max(paced, f.forms.Scale/2) // of the way in that is looked at
	// ground before that lets turns of a lane be known for what they are
	from := f.goal - in - f.forms.Scale
	to := f.goal + paced + catchWithin
	apart := max(75, 2*f.spacing) // m; a line of the ground is as long as a scale, 500 m
	edge := max(wide, f.spacing/2)
	var lanes []*lane
	middle := -1
	for _, aside := range lanesTo(-edge, edge, apart, 3) {
		if middle < 0 && aside >= 0 {
			middle = len(lanes)
			aside = 0
		}
		l, err := f.lane(ctx, aside, from, to)
		if err != nil {
			return nil, err
		}
		lanes = append(lanes, l)
	}
	var best *Catch
	tells := make([]tell, len(lanes))
	for _, shape := range []Shape{Floor, Crest, Falls, Rises} {
		c := &Catch{Shape: shape, Alone: true}
		for i, l := range lanes {
			t, ok := f.tells(l, shape, in, paced)
			if !ok {
				c = nil
				break
			}
			beyond := t.distance - f.goal
			tells[i] = t
			c.Latest, c.Alone = max(c.Latest, beyond), c.Alone && t.alone
			if i == middle {
				c.Name, c.Beyond, c.Elevation = t.name, beyond, t.elevation
			}
		}
		if c == nil {
			continue
		}
		// one line that runs across the leg, and no other farther on
		across := true
		for i, t := range tells {
			across = across && t.distance-tells[middle].distance <= slant*math.Abs(lanes[i].aside)+f.on()
		}
		if !across {
			continue
		}
		if shape == Falls || shape == Rises {
			c.Change = f.forms.MinRelief
		}
		if best == nil || c.Latest < best.Latest {
			best = c
		}
	}
	return best, nil
}

// tells is where a lane tells of a shape beyond the destination and nowhere
// that could be short of it.
func (f *finder) tells(l *lane, shape Shape, in, paced float64) (tell, bool) {
	if shape == Falls || shape == Rises {
		return f.tellsSlope(l, shape, in)
	}
	alone := true
	for _, e := range l.events {
		switch {
		case e.shape != shape || e.distance < f.goal-in:
		case e.distance <= f.goal+f.on():
			alone = false // met on the way in, or at the destination
		case alone || e.distance > f.goal+paced:
			return tell{e.distance, e.elevation, e.name, alone}, true
		}
	}
	return tell{}, false
}

// tellsSlope is where the ground beyond the destination has gone down, or up,
// by the least relief within a scale, on a lane that on the way in and at the
// destination nowhere does by half of that.
func (f *finder) tellsSlope(l *lane, shape Shape, in float64) (tell, bool) {
	sign := 1.0
	if shape == Falls {
		sign = -1
	}
	step := f.spacing / 2
	if !(l.known >= f.goal) || math.IsNaN(l.at(f.goal-in)) {
		return tell{}, false
	}
	for s := f.goal - in; s <= l.known; s += step {
		h := l.at(s)
		// the most it has changed since a place within a scale before
		change := 0.0
		for b := max(f.goal-in, s-f.forms.Scale); b < s; b += step {
			change = max(change, sign*(h-l.at(b)))
		}
		if s <= f.goal+f.on() {
			if s <= f.goal && change >= f.forms.MinRelief/2 {
				return tell{}, false
			}
			if change >= f.forms.MinRelief {
				return tell{}, false // so near that it is the destination's own ground
			}
			continue
		}
		if change >= f.forms.MinRelief {
			return tell{s, h, "", true}, true
		}
	}
	return tell{}, false
}
