package fix

import (
	"context"
	"fmt"
	"math"
	"sort"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/profile"
	"crowline/visibility"
)

// Mark is a known place that could be sighted for a fix.
type Mark struct {
	Name  string
	Place geodesy.LatLon
	// TopAboveGround of what is sighted there, metres; 0 for the ground.
	TopAboveGround float64
	// PlaceError is one standard deviation of where on it one points, metres;
	// MarkOptions.PlaceError when zero.
	PlaceError float64
	// Doubtful: it may well not be seen (visibility.Landmark.Doubtful).
	Doubtful bool
}

// MarkOptions of BestMarks. The zero value is usable, without a check of
// sight.
type MarkOptions struct {
	// BearingError and SharedError as in Options.
	BearingError, SharedError geodesy.Degrees
	// PlaceError of marks that state none, metres; DefaultPlaceError when
	// zero. Without one the nearest boulder would always win.
	PlaceError float64
	// Posts are the ground marks must be seen over; nil takes all as seen.
	Posts dem.Posts
	// EyeAboveGround and Refraction of the sight lines.
	EyeAboveGround, Refraction float64
	// Keep is how many sets of each size are given; 5 when zero.
	Keep int
	// Limit is how many marks, nearest first, are tried in every
	// combination; DefaultLimit when zero.
	Limit int
}

const (
	// DefaultPlaceError is half the spacing of 30 m posts, metres.
	DefaultPlaceError = 15
	// DefaultLimit of marks: 551 300 sets of three, a tenth of a second.
	DefaultLimit = 150
)

// MarkSet is marks to sight together and the fix to expect.
type MarkSet struct {
	Marks []Mark
	// Bearings to them from the observer's approximate place.
	Bearings []geodesy.TrueBearing
	// Ellipse at 95 %.
	Ellipse Ellipse
	// Crossing is the best angle at which two of the lines cross.
	Crossing geodesy.Degrees
	// Doubtful is how many of the marks are.
	Doubtful int
}

// Proposal is the best sets of marks for a fix.
type Proposal struct {
	// Two and Three are sets of two and of three, those with the fewest
	// doubtful marks first; of these, those whose lines all cross at under 30
	// degrees last; of these, the least semi-major axis first. Those that Resect
	// would refuse as parallel are left out.
	Two, Three []MarkSet
	// IfSeen is the set of two that would come first if no mark were doubtful,
	// where that is another; nil where it is not.
	IfSeen *MarkSet
	// Visible marks were combined, of all given; Hidden cannot be seen,
	// Unknown cannot be told, Beyond were over the limit.
	Visible, Hidden, Unknown, Beyond int
}

// BestMarks proposes which visible marks to sight for a fix from about a
// place: of every set of two and three, those with no doubtful mark whose
// error ellipse at 95 % has the least semi-major axis, see Proposal. It takes
// time with the cube of the marks.
func BestMarks(ctx context.Context, observer geodesy.LatLon, marks []Mark, o MarkOptions) (Proposal, error) {
	var out Proposal
	if o.PlaceError == 0 {
		o.PlaceError = DefaultPlaceError
	}
	if o.BearingError == 0 {
		o.BearingError = DefaultBearingError
	}
	if o.Keep == 0 {
		o.Keep = 5
	}
	if o.Limit == 0 {
		o.Limit = DefaultLimit
	}
	if o.Keep < 0 || o.Limit < 2 || !(o.PlaceError > 0) || !(o.BearingError > 0) || !(o.SharedError >= 0) {
		return out, fmt.Errorf("fix: best marks: errors must be above 0, and at least two marks tried")
	}
	var seen []lineOfPosition
	for _, m := range marks {
		g := geodesy.Inverse(observer, m.Place)
		if g.Distance < 1 || g.Distance > farthest {
			continue // the observer stands on it
		}
		verdict := visibility.Visible
		if o.Posts != nil {
			var err error
			if verdict, err = o.look(ctx, observer, m); err != nil {
				return out, err
			}
		}
		switch verdict {
		case visibility.Visible:
			if m.PlaceError == 0 {
				m.PlaceError = o.PlaceError
			}
			seen = append(seen, newLineOfPosition(m, g, o.BearingError))
		case visibility.Hidden:
			out.Hidden++
		default:
			out.Unknown++
		}
	}
	sort.SliceStable(seen, func(i, j int) bool { return seen[i].distance < seen[j].distance })
	if len(seen) > o.Limit {
		out.Beyond = len(seen) - o.Limit
		seen = seen[:o.Limit]
	}
	out.Visible = len(seen)
	shared := float64(o.SharedError)
	two, three, ifSeen := ranking{keep: o.Keep}, ranking{keep: o.Keep}, ranking{keep: 1, sure: true}
	for i := range seen {
		if err := ctx.Err(); err != nil {
			return out, fmt.Errorf("fix: best marks: %w", err)
		}
		for j := range i {
			two.offer(shared, seen[j], seen[i])
			ifSeen.offer(shared, seen[j], seen[i])
			for k := range j {
				three.offer(shared, seen[k], seen[j], seen[i])
			}
		}
	}
	out.Two, out.Three = two.sets, three.sets
	if len(ifSeen.sets) > 0 && ifSeen.sets[0].Doubtful > out.Two[0].Doubtful {
		out.IfSeen = &ifSeen.sets[0]
	}
	return out, nil
}

func (o MarkOptions) look(ctx context.Context, observer geodesy.LatLon, m Mark) (visibility.Verdict, error) {
	leg, err := profile.Trace(ctx, o.Posts, observer, m.Place)
	if ctx.Err() != nil {
		return 0, fmt.Errorf("fix: best marks: %w", ctx.Err())
	}
	if err != nil {
		if _, standing := dem.ElevationAt(o.Posts, observer); standing != nil {
			return 0, fmt.Errorf("fix: best marks: %w", standing)
		}
		return visibility.Unknown, nil
	}
	s, err := visibility.Along(leg, visibility.Observer{Place: observer, EyeAboveGround: o.EyeAboveGround},
		visibility.Conditions{TargetAboveGround: m.TopAboveGround, Refraction: o.Refraction})
	if err != nil {
		return 0, fmt.Errorf("fix: best marks: %s: %w", m.Name, err)
	}
	return s.Verdict, nil
}

// lineOfPosition is one mark as a fix would use it. In the observer's plane
// a bearing's slope is square to it, 1/distance radians per metre.
type lineOfPosition struct {
	mark        Mark
	bearing     geodesy.TrueBearing
	distance    float64
	east, north float64 // slope, degrees per metre
	variance    float64 // square degrees, without the shared part
}

func newLineOfPosition(m Mark, g geodesy.Geodesic, e geodesy.Degrees) lineOfPosition {
	sin, cos := geodesy.Degrees(g.Start).SinCos()
	perMetre := 180 / math.Pi / g.Distance
	mark := float64(geodesy.Atan2(m.PlaceError, g.Distance))
	return lineOfPosition{
		mark: m, bearing: g.Start, distance: g.Distance,
		// moving to the right of the mark's direction turns its bearing left
		east: -perMetre * cos, north: perMetre * sin,
		variance: float64(e)*float64(e) + mark*mark,
	}
}

// covariance of a fix from lines of position. With a shared error s the
// weight matrix is D^-1 - D^-1 1 1' D^-1 / (1/s^2 + sum 1/d) (Sherman &
// Morrison), D the bearings' own variances.
func covariance(shared float64, lines ...lineOfPosition) (ee, en, nn float64, ok bool) {
	var a, b, c, sumE, sumN, sum float64
	for _, l := range lines {
		w := 1 / l.variance
		a += w * l.east * l.east
		b += w * l.east * l.north
		c += w * l.north * l.north
		sumE += w * l.east
		sumN += w * l.north
		sum += w
	}
	if shared > 0 {
		k := 1 / (1/(shared*shared) + sum)
		a -= k * sumE * sumE
		b -= k * sumE * sumN
		c -= k * sumN * sumN
	}
	det := a*c - b*b
	if !(det > degenerate*(a+c)*(a+c)) {
		return 0, 0, 0, false
	}
	return c / det, -b / det, a / det, true
}

// ranking keeps the best few sets; with sure it takes no mark as doubtful.
type ranking struct {
	keep int
	sure bool
	sets []MarkSet
}

func (r *ranking) offer(shared float64, lines ...lineOfPosition) {
	ee, en, nn, ok := covariance(shared, lines...)
	if !ok {
		return
	}
	e := ellipse(ee, en, nn, 0.95)
	crossing, bounded := geodesy.Degrees(0), false
	for i, a := range lines {
		for _, b := range lines[:i] {
			d := math.Abs(float64(geodesy.Difference(a.bearing, b.bearing)))
			angle := geodesy.Degrees(min(d, 180-d))
			crossing = max(crossing, angle)
			bounded = bounded || angle > leastAngle(a.variance, b.variance)
		}
	}
	if !bounded {
		return // Resect would refuse it
	}
	doubtful := 0
	for _, l := range lines {
		if l.mark.Doubtful {
			doubtful++
		}
	}
	before := func(s MarkSet) bool {
		if !r.sure && doubtful != s.Doubtful {
			return doubtful < s.Doubtful
		}
		if poor := crossing < LeastCrossing; poor != (s.Crossing < LeastCrossing) {
			return !poor
		}
		return e.SemiMajor < s.Ellipse.SemiMajor
	}
	at := len(r.sets)
	for at > 0 && before(r.sets[at-1]) {
		at--
	}
	if at >= r.keep {
		return
	}
	set := MarkSet{Ellipse: e, Crossing: crossing, Doubtful: doubtful}
	for _, l := range lines {
		set.Marks = append(set.Marks, l.mark)
		set.Bearings = append(set.Bearings, l.bearing)
	}
	r.sets = append(r.sets, MarkSet{})
	copy(r.sets[at+1:], r.sets[at:])
	r.sets[at] = set
	r.sets = r.sets[:min(len(r.sets), r.keep)]
}
