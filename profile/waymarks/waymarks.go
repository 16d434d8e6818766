package waymarks

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/profile/drift"
)

// Bounds that the trade's terms leave open. All but those that are said to be
// common practice are this package's own, judged on real ground.
const (
	// attackWithin is how far before the destination an attack point may lie:
	// farther, and the rest is a leg of its own. Common practice has 100 to
	// 500 m as best.
	attackWithin = 1000.0
	// attackLeast is how near it may lie: nearer, it is the destination's own
	// ground.
	attackLeast = 100.0
	// nearLine is how far aside of the line what leads along it, or is to be
	// attacked from, may lie.
	nearLine = 150.0
	// railLeast is the shortest handrail.
	railLeast = 300.0
	// railWander is how much longer than the line a handrail may be: more is a
	// line that crosses to and fro.
	railWander = 2.0
	// railLean is the most that it may go aside for its length, about 20 degrees:
	// more is a line that crosses the leg at a slant.
	railLean = 0.35
	// catchWithin is how far beyond the destination, and its pacing, a catching
	// feature may lie: farther, and it saves nobody's afternoon.
	catchWithin = 1000.0
	// slant is the tangent of the greatest angle by which a line of the ground
	// may lean off square to the leg and still run across it: 60 degrees.
	slant = 1.732
	// breakAngle is the least change of slope that is felt, degrees, and
	// breakSteep the least slope of its steeper side.
	breakAngle, breakSteep geodesy.Degrees = 10, 15
	// breakReach is over how far a slope is judged, metres, or four posts.
	breakReach = 200.0
	// mostTicks is how many things to tick off one can keep in mind.
	mostTicks = 8
	// errorsOver is how many standard deviations of the data relief must have.
	errorsOver = 3.0
)

// Side is to the left or right of the leg's direction.
type Side int

// The sides. Ahead is neither: on the line itself, or on both sides of it.
const (
	Left  Side = -1
	Ahead Side = 0
	Right Side = 1
)

// Shape is what the ground does along a lane.
type Shape string

// Shapes of the ground.
const (
	// Floor: a valley or draw is crossed, or the lane bottoms out.
	Floor Shape = "floor"
	// Crest: a ridge or spur is crossed, or the lane tops out.
	Crest Shape = "crest"
	// Falls and Rises: the ground begins to go down, or up, as it did not before.
	Falls Shape = "falls"
	Rises Shape = "rises"
	// Steepens and Eases: the slope changes without turning round.
	Steepens Shape = "steepens"
	Eases    Shape = "eases"
)

// Request is the leg and what is known of it.
type Request struct {
	From, To geodesy.LatLon
	// Grid is the ground, with enough of it round the leg: a kilometre beyond
	// the destination and its pacing, and twice the drift to either side.
	Grid *dem.Grid
	// Ground is looked over for steep ground: the posts that Grid was thinned from,
	// or nil for Grid.
	Ground dem.Posts
	// Features are those of the grid, and Forms what they were found with.
	Features []landform.Feature
	Forms    landform.AlongOptions
	// VerticalError is one standard deviation of the grid's elevations, metres;
	// 0 where it is not known.
	VerticalError float64
	// Walk is how the leg is walked: its stretches add up to the leg.
	Walk *drift.Walk
	// SeenFrom is how far off the destination is seen or recognised, metres; 0
	// where one must stand on it.
	SeenFrom float64
	// Count is a distance in paces and time, for the list to tick off; nil for
	// none.
	Count func(distance float64) (paces float64, took time.Duration)
}

// Waymarks are what the ground tells on a leg; nil where there is none.
type Waymarks struct {
	Attack    *Attack
	Catch     *Catch
	Handrails []Handrail
	AimOff    *AimOff
	Ticks     []Tick
}

// finder is a request made ready.
type finder struct {
	Request
	geodesic geodesy.Geodesic
	plane    geodesy.Plane
	sin, cos float64 // of the leg's bearing
	goal     float64 // metres along the leg
	spacing  float64 // of posts at the goal, metres
	forms    landform.AlongOptions
	crests   []line // ridges and spurs
	floors   []line // valleys and draws
	boxes    []box  // of every feature's line, in columns and rows
}

// line is a feature's line in the leg's own terms.
type line struct {
	feature int
	points  []spot
}

// spot is a place along and aside of the leg, metres.
type spot struct{ along, aside float64 }

type box struct{ c0, c1, r0, r1 float64 }

// Find finds what the ground tells on a leg. Errors: a leg without length, a
// walk that is not as long as the leg, a destination off the grid, an option
// that makes no sense.
func Find(ctx context.Context, r Request) (*Waymarks, error) {
	f, err := newFinder(r)
	if err != nil {
		return nil, err
	}
	var w Waymarks
	if w.Ticks, err = f.ticks(ctx); err != nil {
		return nil, err
	}
	if w.Catch, err = f.catch(ctx); err != nil {
		return nil, err
	}
	if w.AimOff, err = f.aimOff(ctx); err != nil {
		return nil, err
	}
	if w.Attack, err = f.attack(ctx); err != nil {
		return nil, err
	}
	w.Handrails = f.handrails()
	return &w, nil
}

func newFinder(r Request) (*finder, error) {
	f := &finder{Request: r, geodesic: geodesy.Inverse(r.From, r.To), plane: geodesy.NewPlane(r.From), forms: r.Forms}
	f.goal = f.geodesic.Distance
	const agree = 1.0 // m; the walk's stretches may come from rounded figures
	switch {
	case f.goal < 2*dem.NearLimit:
		return nil, errors.New("waymarks: start and destination are the same place")
	case r.Grid == nil || r.Walk == nil:
		return nil, errors.New("waymarks: no ground or no walk given")
	case math.Abs(r.Walk.Length()-f.goal) > agree:
		return nil, fmt.Errorf("waymarks: the walk is %.0f m long, the leg %.0f m", r.Walk.Length(), f.goal)
	case !(r.Forms.Scale > 0) || !(r.Forms.MinRelief > 0):
		return nil, fmt.Errorf("waymarks: a scale of %g m and a least relief of %g m are not both above zero", r.Forms.Scale, r.Forms.MinRelief)
	case !(r.VerticalError >= 0) || !(r.SeenFrom >= 0):
		return nil, fmt.Errorf("waymarks: a vertical error of %g m and sight from %g m are not both zero or more", r.VerticalError, r.SeenFrom)
	}
	f.sin, f.cos = geodesy.Degrees(f.geodesic.Start).SinCos()
	f.forms.MinRelief = max(f.forms.MinRelief, errorsOver*r.VerticalError)
	column, row, err := r.Grid.Locate(r.To)
	if err != nil {
		return nil, fmt.Errorf("waymarks: destination: %w", err)
	}
	alongRow, alongColumn, err := r.Grid.Spacing(column, row)
	if err != nil {
		return nil, fmt.Errorf("waymarks: %w", err)
	}
	f.spacing = max(alongRow, alongColumn)
	f.boxes = make([]box, len(r.Features))
	for i, x := range r.Features {
		b := box{math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)}
		for _, p := range x.Line {
			b = box{min(b.c0, p.Column), max(b.c1, p.Column), min(b.r0, p.Row), max(b.r1, p.Row)}
		}
		f.boxes[i] = b
		if len(x.Line) == 0 || x.Relief < f.forms.MinRelief {
			continue
		}
		l := line{feature: i}
		for _, p := range x.Line {
			at, err := f.spotOf(p)
			if err != nil {
				return nil, err
			}
			l.points = append(l.points, at)
		}
		if x.Kind == landform.Ridge || x.Kind == landform.Spur {
			f.crests = append(f.crests, l)
		} else {
			f.floors = append(f.floors, l)
		}
	}
	return f, nil
}

// spotOf is where a position of the grid lies along and aside of the leg.
func (f *finder) spotOf(p landform.Position) (spot, error) {
	at, err := f.Grid.Place(p.Column, p.Row)
	if err != nil {
		return spot{}, fmt.Errorf("waymarks: %w", err)
	}
	east, north := f.plane.Forward(at)
	return spot{east*f.sin + north*f.cos, east*f.cos - north*f.sin}, nil
}

// placeOf is the place along and aside of the leg.
func (f *finder) placeOf(s spot) geodesy.LatLon {
	return f.plane.Inverse(s.along*f.sin+s.aside*f.cos, s.along*f.cos-s.aside*f.sin)
}

// width is the drift's half width at a distance, metres.
func (f *finder) width(distance float64) float64 { return f.Walk.HalfWidth(distance) }

// on is how near two places are one on this ground, metres: a destination on a
// line, what is met at the same place on two lanes.
func (f *finder) on() float64 { return max(50, 1.5*f.spacing) }
