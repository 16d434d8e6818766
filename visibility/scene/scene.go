// Package scene finds what a person who has never seen the place can pick out
// by looking from where they stand: tops, notches, the ends of ridges and
// spurs, lone hills, cliffs, water, and the user's own places; and says in words
// which one is meant.
//
// # How
//
// From the eye a fan of bearings, a tenth of a degree apart, is walked over the
// ground, edge by edge as every line of sight is (dem.Placement.Walk). On each,
// the places where ground in sight ends are kept, with what comes into sight
// behind them: the last is the skyline, those before it are the upper edges of
// nearer ground. Edges that go on from bearing to bearing are joined to
// outlines. What stands out of an outline is what the eye sees:
//
//   - a top stands above the lowest places of its outline on both sides, those
//     that come before the outline rises higher (an outline's own prominence,
//     as an angle);
//   - a notch lies as far below the highest places on both sides, and is
//     narrow;
//   - a ridge ends where the skyline jumps to ground much farther off. If that
//     is in a notch they are one thing: the notch;
//   - a spur ends where an outline before much farther ground runs down to
//     nothing;
//   - a lone hill is a top whose outline is seen from side to side, 40 degrees
//     at most, before much farther ground or the sky, that falls by a degree or
//     more on both sides, and has no other top within 5 degrees;
//   - a cliff rises 45 degrees or more towards the eye, by a degree of view or
//     more, over two posts or more. On posts over 12 m apart it is called a
//     steep face unless it rises half as steeply again: they cannot tell;
//   - water is a level floor of 25 posts and 4 hectares or more, all but its
//     outlet lower than what is round it; on filled ground it is not told, nor
//     where the observer stands on it.
//
// A top stands on its post: of the posts there the one that is seen highest,
// and from it the ground's own top if that looks the same. Other things stand
// where the line of sight meets them; a cliff at its foot.
//
// Whether a thing is easily found belongs to the observer, not to the thing
// (D. Caduff and S. Timpf, On the assessment of landmark salience for human
// navigation, Cognitive Processing 9, 2008): all is told by angles as seen.
// Height reduced by the angle under which it is seen, H sin e (K. Xu, Beyond
// Elevation, arXiv 2208.01600, 2022), was weighed as one more measure and left
// out. It says how grandly a summit rises over the eye, not whether it can be
// told from what is beside it: it is nothing for a top at the height of the
// eye, however sharp, and large for the even hillside one stands on.
//
// # Bounds
//
// They are Options. Nothing nearer than 300 m or five posts counts: its place
// cannot be told from the posts. A top or a notch stands out by a quarter of a
// degree (half the width of the moon) and by twice what the data's error makes
// of its distance. A notch is under ten degrees wide at half its depth. At the
// end of a ridge or spur the ground behind is at least half as far again, within
// a fifth of a degree, and the data's error moves that end by a degree at most.
//
// They were judged on drawings of skylines from places in two ranges of hills,
// by asking of each thing whether a stranger could point at it. What was changed
// and why:
//
//   - A top or notch more than 5 degrees wide a quarter of a degree from its tip
//     (MostTip) is left out: nobody can say where a broad hump is highest.
//   - A top below the skyline stands out by half a degree: there is less
//     contrast than against the sky.
//   - A ridge's end falls by as much as a top stands out. Two slopes that change
//     places in a level skyline cannot be seen to.
//   - A spur's end is left out where nearer ground cuts the outline off, where
//     it fades over more than a degree, or where it goes on a little nearer or
//     farther off.
//   - Slopes under 45 degrees are no faces: they were patches of the hillside.
//     A face a degree high and wide, and two posts wide, was seen as one.
//   - A ridge's end within 2 degrees of the bottom of a notch, and no more than
//     a quarter of a degree above it, is that notch.
//
// # Description
//
// Thing.Told says how a thing is told apart, as a program reads it; View.Describe
// says it in words, and View.Satisfying checks it: of all things in the view
// exactly one satisfies its own. It is the first of these that does: its name;
// so far left or right of the line that is walked, where Options have one; the
// only one or the most of its kind, all round; so many fingers or fists left or
// right of such a thing, three and a half fists at most; the only one or the
// most of its kind towards one of eight points of the compass; so far beside one
// of those; its place from the left of the two or three towards a point; its
// place from the left on its bearing. "Highest" is said only of a top over which no skyline
// stands, and "deepest" and "only" where no other place of the skyline is as
// good, listed or not.
//
// # Limitations
//
// A line that meets a void with data behind it is not known beyond: no thing is
// told there. Where voids reach the edge of the data, the ground is as if the
// data ended there. What is under a tenth of a degree wide may fall between two
// bearings. The data knows nothing of trees and haze.
package scene

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sync"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/visibility"
)

// Kind is what a thing is.
type Kind string

// Kinds of thing.
const (
	// Top of a hill or ridge, on the skyline or before farther ground.
	Top Kind = "top"
	// Notch in the skyline between two tops.
	Notch Kind = "notch"
	// RidgeEnd: where a nearer ridge on the skyline gives way to farther ground.
	RidgeEnd Kind = "ridge end"
	// SpurEnd: where the outline of nearer ground runs down to nothing before
	// farther ground.
	SpurEnd Kind = "spur end"
	// Cliff: ground that falls steeply towards the eye.
	Cliff Kind = "cliff"
	// Face: as Cliff, on posts too far apart to tell a cliff from a steep
	// slope.
	Face Kind = "steep face"
	// Water: a lake, probably: ground too level for anything else.
	Water Kind = "water"
	// Known: a place the user named.
	Known Kind = "place"
)

// Thing is something that can be picked out from where the observer stands.
type Thing struct {
	Kind Kind
	// Name is the user's, of a Known thing.
	Name string
	// Skyline: the sky is behind it.
	Skyline bool
	// Bearing and Distance (metres) from the observer; of a wide thing, of its
	// middle.
	Bearing  geodesy.TrueBearing
	Distance float64
	// Angle above the level of the eye, degrees.
	Angle geodesy.Degrees
	// Place of it on the ground, Elevation in metres.
	Place     geodesy.LatLon
	Elevation float64
	// StandsOut is how far it stands out of its outline, degrees: a top above,
	// a notch below; of a cliff its height as seen; of an end how far the
	// outline falls to it.
	StandsOut geodesy.Degrees
	// Width as seen, degrees: of a top or notch halfway, of a cliff or water
	// from side to side; 0 for an end.
	Width geodesy.Degrees
	// Tip is the width, degrees, of a top or a notch a quarter of a degree from
	// its highest or lowest place: small for a point, large for a round.
	Tip geodesy.Degrees
	// Behind is how far off the ground is that stands behind, metres; +Inf for
	// the sky.
	Behind float64
	// Side is the side on which the nearer ground lies at a ridge or spur end,
	// and at a notch where a nearer ridge ends: -1 left, +1 right; 0 for other
	// things.
	Side int
	// Lone: a hill whose outline is seen from side to side before much farther
	// ground or the sky, with no other top within 5 degrees.
	Lone bool
	// Filled: it stands on ground that was void and has been filled.
	Filled bool
	// Told is how it is told apart from all else in the view.
	Told Told

	ray   int     // the bearing it was found on
	crest *crest  // that it is the top, the notch or the end of; nil for others
	above float64 // what stands at a Known place, metres
}

// Options are the options of Look. DefaultOptions has what each is for.
type Options struct {
	// Refraction is k = R/r.
	Refraction float64
	// Radius bounds the ground looked at, metres; zero means all of the data.
	Radius float64
	// Step is the angle between bearings, degrees.
	Step geodesy.Degrees
	// VerticalError is one standard deviation of the data's heights, metres; 0
	// where it is not known.
	VerticalError float64
	// Nearest a thing may be, metres, and in posts; the larger holds.
	Nearest      float64
	NearestPosts float64
	// LeastOut is how far a top or a notch must stand out, degrees.
	LeastOut geodesy.Degrees
	// MostNotch is the widest a notch may be at half its depth, degrees.
	MostNotch geodesy.Degrees
	// Jump is how many times as far the ground behind an end must be.
	Jump float64
	// MostShift is how far the data's error may move an end, degrees.
	MostShift geodesy.Degrees
	// MostTip is how wide a top or a notch may be a quarter of a degree from
	// its tip, degrees: of a wider one nobody can say where it is.
	MostTip geodesy.Degrees
	// LeastBelow is how far a top below the skyline must stand out, degrees.
	LeastBelow geodesy.Degrees
	// CliffGradient is the least rise over run of a cliff, along the bearing.
	CliffGradient float64
	// LeastCliff is the least height and width of a cliff as seen, degrees, and
	// MostCliff its most width.
	LeastCliff, MostCliff geodesy.Degrees
	// LeastWater is the least area of water, square metres.
	LeastWater float64
	// Sectors bound the bearings looked along; none is all round. In a view so
	// bounded nothing is called the only or the most of all, for the rest of it
	// was not looked at.
	Sectors []visibility.Sector
	// Line, where given, is the bearing of a line that is walked from here: what
	// stands near it, ahead or back along it, is told from it.
	Line *geodesy.TrueBearing
	// Places are the user's own, with the height of what stands there.
	Places []visibility.Candidate
	// Concurrency is how many cores to use; zero means all. The answer does not
	// depend on it.
	Concurrency int
	// Progress is called with bearings looked along and in all, from one
	// goroutine at a time; nil for none.
	Progress func(done, total int64)
}

// DefaultOptions are the bounds the package's comment gives.
func DefaultOptions() Options {
	return Options{
		Refraction: visibility.DefaultRefraction, Step: 0.1, Nearest: 300, NearestPosts: 5, LeastOut: 0.25, MostNotch: 10, MostTip: 5,
		LeastBelow: 0.5, Jump: 1.5, MostShift: 1, CliffGradient: 1, LeastCliff: 1, MostCliff: 30, LeastWater: 40e3,
	}
}

func (o Options) validate() error {
	for _, c := range []struct {
		what        string
		v, from, to float64
	}{
		{"step", float64(o.Step), 0.01, 1}, {"radius", o.Radius, 0, 1e6}, {"vertical error", o.VerticalError, 0, 1e4}, {"refraction", o.Refraction, -20, 20},
		{"nearest", o.Nearest, 0, 1e6}, {"least out", float64(o.LeastOut), 0, 90}, {"jump", o.Jump, 1, 1e6}, {"cliff gradient", o.CliffGradient, 0.1, 100},
	} {
		if !(c.v >= c.from && c.v <= c.to) {
			return fmt.Errorf("scene: %s %g is not from %g to %g", c.what, c.v, c.from, c.to)
		}
	}
	return nil
}

// View is what is seen all round an observer.
type View struct {
	Observer visibility.Observer
	// GroundElevation and EyeElevation at the observer, metres.
	GroundElevation, EyeElevation float64
	// Step is the angle between bearings, degrees.
	Step float64
	// Spacing of the posts, metres: the larger of the two ways.
	Spacing float64
	// Things in order of bearing.
	Things []Thing
	// Line is Options'.
	Line *geodesy.TrueBearing
	// Dial writes a bearing for Describe as it is set on the reader's compass,
	// after "on": "compass bearing 138". Nil writes true bearings.
	Dial func(geodesy.TrueBearing) string

	count     int
	nearest   float64
	reach     float64 // how far to walk, metres
	summit    float64 // the highest post, metres; +Inf where the data has voids
	column    int     // the observer's nearest post
	row       int
	rays      []ray
	alone     map[*crest]bool // tops of lone hills
	humps     []rival         // high places of the skyline
	dips      []rival         // low ones
	ground    *Ground
	grid      *dem.Grid
	placement *dem.Placement
	options   Options
}

// Ground is ground to be looked over from more places than one: what all the
// looks need is worked out once. It is safe to look over it from several
// goroutines at once.
type Ground struct {
	grid   *dem.Grid
	summit float64 // the highest post, metres; +Inf where the data has voids
	rim    dem.Rim

	flatting sync.Mutex
	flats    map[int]*flat // that posts are of, as far as looked at
}

// NewGround takes a grid to be looked over, which must not change after.
func NewGround(g *dem.Grid) *Ground {
	summit, voids := visibility.Highest(g, g.Frame.Whole(), 0)
	if voids { // beyond a void all must be looked through
		summit = math.Inf(1)
	}
	return &Ground{grid: g, summit: summit, rim: dem.NewRim(g, voids), flats: map[int]*flat{}}
}

// Look finds what can be picked out from where an observer stands. Its cost is
// that of walking 3600 lines over the ground, less in Options.Sectors; memory
// beside the grid is some kilobytes a bearing. The error wraps dem.ErrVoid or
// dem.ErrOutside where the observer stands on no known ground, and is ctx's when
// it ends first.
func Look(ctx context.Context, g *dem.Grid, observer visibility.Observer, o Options) (*View, error) {
	return NewGround(g).Look(ctx, observer, o)
}

// Look is the function Look over this ground.
func (ground *Ground) Look(ctx context.Context, observer visibility.Observer, o Options) (*View, error) {
	g := ground.grid
	if err := o.validate(); err != nil {
		return nil, err
	}
	elevation, err := dem.ElevationAt(g, observer.Place)
	if err != nil {
		return nil, fmt.Errorf("observer: %w", err)
	}
	eye := elevation + observer.EyeAboveGround
	if observer.EyeElevation != nil {
		eye = *observer.EyeElevation
	}
	if !(eye >= elevation) || math.IsInf(eye, 0) {
		return nil, fmt.Errorf("observer: the eye at %v m is below the ground there, %.1f m", eye, elevation)
	}
	plane := geodesy.NewPlane(observer.Place)
	window := g.Frame.Whole()
	if o.Radius > 0 {
		if window, err = dem.WindowAround(&g.Frame, []geodesy.LatLon{observer.Place}, o.Radius); err != nil {
			return nil, err
		}
	}
	placement, err := dem.NewPlacement(&g.Frame, plane, window)
	if err != nil {
		return nil, err
	}
	column, row, err := g.Locate(observer.Place)
	if err != nil {
		return nil, err
	}
	alongRow, alongColumn, err := g.Spacing(column, row)
	if err != nil {
		return nil, err
	}
	v := &View{
		Observer: observer, GroundElevation: elevation, EyeElevation: eye, Step: float64(o.Step), Spacing: math.Max(alongRow, alongColumn),
		Line: o.Line, count: int(math.Round(360 / float64(o.Step))), options: o,
	}
	v.Step = 360 / float64(v.count)
	v.nearest = math.Max(o.Nearest, o.NearestPosts*v.Spacing)
	placement.TabulateRows()
	v.column, v.row, v.summit = int(math.Round(column)), int(math.Round(row)), ground.summit
	v.ground, v.grid, v.placement, v.reach, v.alone = ground, g, placement, o.reach(g, plane), map[*crest]bool{}
	if err := v.fan(ctx, o); err != nil {
		return nil, err
	}
	v.join()
	v.skylineThings()
	v.outlineThings()
	v.cliffs()
	v.water()
	if err := v.places(ctx, o); err != nil {
		return nil, err
	}
	v.settle()
	v.tell()
	return v, nil
}

// reach is how far to walk, metres: the radius, or past the data's far corner.
func (o Options) reach(g *dem.Grid, plane geodesy.Plane) float64 {
	if o.Radius > 0 {
		return o.Radius
	}
	far := 0.0
	for _, c := range [][2]float64{{0, 0}, {1, 0}, {0, 1}, {1, 1}} {
		p, err := g.Place(c[0]*float64(g.Columns-1), c[1]*float64(g.Rows-1))
		if err != nil {
			continue
		}
		e, n := plane.Forward(p)
		far = math.Max(far, math.Hypot(e, n))
	}
	return 1.05*far + 1000
}

// angle is the elevation angle of a slope.
func angle(slope float64) geodesy.Degrees { return geodesy.Atan2(slope, 1) }

// looksAlong reports whether a bearing is one of those looked along.
func (v *View) looksAlong(bearing geodesy.TrueBearing) bool {
	return len(v.options.Sectors) == 0 || slices.ContainsFunc(v.options.Sectors, func(s visibility.Sector) bool { return s.Contains(bearing) })
}

// bearing of a ray.
func (v *View) bearing(i int) geodesy.TrueBearing {
	return geodesy.NewTrueBearing(geodesy.Degrees(float64((i%v.count+v.count)%v.count) * v.Step))
}

// ray is that number i, counted round.
func (v *View) ray(i int) *ray { return &v.rays[(i%v.count+v.count)%v.count] }

// relative is what the data's error makes of an angle at a distance, degrees,
// one standard deviation; 0 where the error is not known.
func (v *View) relative(distance float64) geodesy.Degrees {
	return geodesy.Atan2(v.options.VerticalError, distance)
}

// out is how far a thing at a distance must stand out, degrees.
func (v *View) out(distance float64) geodesy.Degrees {
	return max(v.options.LeastOut, 2*v.relative(distance))
}
