package visibility

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"sync"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/dem/workers"
	"crowline/profile"
)

// DefaultWithin is how far a mark may lie off a bearing and still be walked
// on: a compass is graduated in 2 degrees (common practice).
const DefaultWithin geodesy.Degrees = 2

// EyeAcuity is the least angle the eye tells apart, one arc-minute: 0.29 m at
// a kilometre: normal visual acuity (common practice).
const EyeAcuity geodesy.Degrees = 1.0 / 60

// nearestMark is how near, metres, a candidate is the observer's own place.
const nearestMark = 1.0

// Kinds of candidate that this package makes itself; a caller may use any
// other word.
const (
	KindSummit = "summit"
	KindPlace  = "place"
)

// Candidate is something that might be walked on.
type Candidate struct {
	// Name may be empty.
	Name string
	// Kind is what it is, in a word: KindSummit, KindPlace or the caller's.
	Kind  string
	Place geodesy.LatLon
	// Elevation of the ground there, metres above the data's vertical datum;
	// NaN when not known. It is for show: sights take the ground of the data.
	Elevation float64
	// Prominence, metres, NaN when not known; with ProminenceAtLeast it is
	// no less.
	Prominence        float64
	ProminenceAtLeast bool
	// AboveGround is how high its top stands over that ground, metres: a
	// tower's. With 0 the conditions' TargetAboveGround holds.
	AboveGround float64
}

// SummitCandidates are summits as candidates, in their order.
func SummitCandidates(summits []landform.Summit) []Candidate {
	out := make([]Candidate, len(summits))
	for i, s := range summits {
		out[i] = Candidate{Kind: KindSummit, Place: s.Place, Elevation: s.Elevation, Prominence: s.Prominence, ProminenceAtLeast: s.AtLeast}
	}
	return out
}

// PlaceCandidate is a named place as a candidate.
func PlaceCandidate(name string, place geodesy.LatLon) Candidate {
	return Candidate{Name: name, Kind: KindPlace, Place: place, Elevation: math.NaN(), Prominence: math.NaN()}
}

// LandmarkOptions are the options of Landmarks.
type LandmarkOptions struct {
	Conditions
	// Bearing leaves only marks within Within of it. Nil with a Leg means the
	// leg's; nil with none means all round.
	Bearing *geodesy.TrueBearing
	// Within is how far off the bearing a mark may lie; zero means
	// DefaultWithin.
	Within geodesy.Degrees
	// Radius bounds the marks, metres; what stands behind them is looked at
	// whatever it is. Zero means to the edge of the data.
	Radius float64
	// LookTo bounds the ground looked at behind the marks, metres, and is taken
	// for Radius where that is more. Zero means to the edge of the data, or as
	// far as its highest post could rise over what stands nearer. Ground beyond
	// it is not in the answer.
	LookTo float64
	// Leg asks for what is kept in view while walking it, between the looking
	// points of its ends (LookingLine). It must start at the observer.
	Leg *profile.Leg
	// VerticalError is one standard deviation of the data's heights, metres:
	// with it how likely each visible mark is to be seen is worked out
	// (HowSure), and counts in its rank. Zero means not known, and then it does
	// not.
	VerticalError float64
	// VisualRange is how far the air lets one see (meteorological optical
	// range, contrast 2 %), metres; zero leaves haze out. A mark farther off
	// comes after all that show.
	VisualRange float64
	// Concurrency is how many cores to use; zero means all. The answer does
	// not depend on it. Posts other than a dem.Grid are asked on one core.
	Concurrency int
	// Progress is called with candidates done and in all, from one goroutine
	// at a time; nil for none.
	Progress func(done, total int64)
}

// DefaultLandmarkOptions are DefaultConditions, all round.
func DefaultLandmarkOptions() LandmarkOptions {
	return LandmarkOptions{Conditions: DefaultConditions()}
}

// Backdrop is what stands behind a mark's top.
type Backdrop uint8

const (
	// BackdropNone: not asked: the mark is not visible.
	BackdropNone Backdrop = iota
	// BackdropSky: no ground of the data rises behind: it is on the skyline.
	// What lies beyond the data's end, a rim of voids too, is not looked at.
	BackdropSky
	// BackdropGround: ground rises behind it.
	BackdropGround
	// BackdropUnknown: no known ground rises behind it, but there is a void
	// behind it, with data beyond.
	BackdropUnknown
)

// String is "", "sky", "ground" or "unknown".
func (b Backdrop) String() string {
	return [...]string{"", "sky", "ground", "unknown"}[min(b, BackdropUnknown)]
}

// MarshalText writes the word String gives.
func (b Backdrop) MarshalText() ([]byte, error) { return []byte(b.String()), nil }

// Landmark is a candidate as one observer sees it.
type Landmark struct {
	Candidate
	// Bearing and Distance (metres) from the observer.
	Bearing  geodesy.TrueBearing
	Distance float64
	// OffBearing is the turn from the bearing asked for to the mark, positive
	// to the right; 0 when none was.
	OffBearing geodesy.Degrees
	// Sight has the verdict, the elevation angle, and by how much it is
	// hidden and by what.
	Sight Sight
	// LookedAt is the looking point of the mark's place (dem.LookingPoint): what
	// Sight and all that follows is of. Bearing and Distance are of the place.
	LookedAt geodesy.LatLon
	// Top is LookedAt and TopElevation its elevation, metres, where it is the
	// top of the place's own ground and stands farther from it than places are
	// written to; nil where not.
	Top          *geodesy.LatLon
	TopElevation float64
	// OwnSlope is true of a hidden mark when what hides it is its own hill, or
	// stands on it: the ground does not fall below the hill's key saddle
	// between. The hill is then in sight though its very top is not.
	OwnSlope bool

	// What follows is of visible marks only.

	// Likelihood is how likely it is to be seen; nil without a VerticalError.
	Likelihood *Likelihood

	// Backdrop is what stands behind; BehindAt is how far from the observer
	// the nearest ground seen behind is, metres (NaN unless BackdropGround).
	Backdrop Backdrop
	BehindAt float64
	// BehindCover is how much of what is seen behind is what stands on that
	// ground (dem.Covered), metres; 0 for bare ground.
	BehindCover float64
	// LookedTo is how far from the observer ground behind it is known, metres:
	// to LandmarkOptions.LookTo, or to where the data ends on its bearing.
	// Ground farther off is not in the answer, and may stand higher.
	LookedTo float64
	// AngularHeight is how far its top stands out of its surroundings as
	// seen: above the higher of the two lowest points of the outline, one on
	// each side, that come before the outline rises higher than the mark or
	// OutlineWithin is reached. The outline is the upper edge, at each
	// bearing, of the ground no farther off than the lowest ground between
	// the mark and what stands behind it; of all ground looked at for a mark
	// on the skyline. It is taken every half post spacing at the mark's
	// distance, or every twentieth of a degree if that is more, and ends
	// where the ground as far as the mark is not known; 0 when it is not on
	// either side.
	AngularHeight geodesy.Degrees
	// AngularWidth is the width of the outline half of AngularHeight down.
	AngularWidth geodesy.Degrees
	// GoesOn: ground is in sight straight on behind the mark, with no gap of
	// half a post: a place on a rising slope, or a top seen from above. No edge
	// marks it to the eye; AngularHeight and AngularWidth are then 0.
	GoesOn bool
	// TooSmall: AngularHeight or AngularWidth is below EyeAcuity.
	TooSmall bool
	// Contrast against what is behind, from 0 to 1, that the haze leaves:
	// exp(-3.912 d/V) (Koschmieder); NaN when no visual range was given.
	Contrast float64

	// Kept is the verdict on it along the leg, nil without a leg or where
	// the mark's ground is not known.
	Kept []Stretch
	// KeptShare is the share of the walk from which it is in view, of the leg
	// as far as abeam of the mark; NaN without.
	KeptShare float64

	// Score, from 0 to 1, ranks visible marks: see Rank. 0 for others.
	Score float64
	// Why says in a sentence why it stands where it does, in metres,
	// kilometres and degrees. Explain says it in other units.
	Why string
}

// Landmarks tells how each candidate looks to an observer, both on the looking
// points of their places (dem.LookingPoint), best mark to walk
// on first (see Rank), then those too small for the eye, then those whose
// sight is unknown, nearest first, then the hidden, least hidden first.
// Candidates off the bearing, beyond the radius or at the observer's own
// place are left out. A candidate on no known ground is unknown.
//
// The error wraps dem.ErrVoid or dem.ErrOutside when the observer stands on
// no known ground, and is ctx's when it ends first. Only the ground that
// matters is asked for: of a mark that is not visible, what lies on the way
// to it. Memory, when one is, is 16 bytes a post of a dem.Grid's window looked
// at when that is under a million posts, and none to speak of beyond.
func Landmarks(ctx context.Context, posts dem.Posts, o Observer, candidates []Candidate, opts LandmarkOptions) ([]Landmark, error) {
	if err := opts.validate(o); err != nil {
		return nil, err
	}
	stands, err := o.Standing(posts)
	if err != nil {
		return nil, err
	}
	_, eye, err := stands.eye(posts)
	if err != nil {
		return nil, err
	}
	if opts.Leg != nil && opts.Bearing == nil {
		opts.Bearing = &opts.Leg.Start
	}
	if opts.Within == 0 {
		opts.Within = DefaultWithin
	}
	var marks []Landmark
	for _, c := range candidates {
		line := geodesy.Inverse(o.Place, c.Place)
		m := Landmark{
			Candidate: c, Bearing: line.Start, Distance: line.Distance,
			BehindAt: math.NaN(), LookedTo: math.NaN(), Contrast: math.NaN(), KeptShare: math.NaN(),
		}
		if opts.Bearing != nil {
			m.OffBearing = geodesy.Difference(*opts.Bearing, line.Start)
		}
		if line.Distance >= nearestMark && (opts.Radius == 0 || line.Distance <= opts.Radius) &&
			math.Abs(float64(m.OffBearing)) <= float64(opts.Within) && line.Distance <= profile.MaxLength {
			if m.LookedAt, err = dem.LookingPoint(posts, c.Place); err != nil {
				return nil, err
			}
			if geodesy.Inverse(stands.Place, m.LookedAt).Distance >= nearestMark { // else both are on one top
				marks = append(marks, m)
			}
		}
	}
	if len(marks) == 0 {
		return nil, ctx.Err()
	}
	looker := looker{posts: posts, observer: stands, opts: opts, view: sync.OnceValues(func() (*view, error) {
		return newView(posts, stands.Place, eye, opts)
	})}
	if opts.Leg != nil {
		if looker.walk, err = walkedLine(ctx, posts, opts.Leg); err != nil {
			return nil, err
		}
	}
	looker.drawOn = 1
	if _, ok := posts.(*dem.Grid); !ok { // see LandmarkOptions.Concurrency
		opts.Concurrency, looker.drawOn = 1, opts.Concurrency
	}
	count := workers.Counter(int64(len(marks)), opts.Progress)
	err = workers.Each(ctx, len(marks), opts.Concurrency, func(_, i int) error {
		defer count(1)
		return looker.look(ctx, &marks[i])
	})
	if err != nil {
		return nil, err
	}
	if err := posts.Err(); err != nil {
		return nil, fmt.Errorf("looking at marks: %w", err)
	}
	slices.SortStableFunc(marks, Rank)
	return marks, nil
}

func (o LandmarkOptions) validate(observer Observer) error {
	if err := o.Conditions.validate(); err != nil {
		return err
	}
	if !(o.Within >= 0 && o.Within <= 180) {
		return fmt.Errorf("%v degrees off a bearing is not from 0 to 180", float64(o.Within))
	}
	if !(o.Radius >= 0) {
		return fmt.Errorf("radius %v m is not a distance", o.Radius)
	}
	if !(o.LookTo >= 0) {
		return fmt.Errorf("a look to %v m is not a distance", o.LookTo)
	}
	if !(o.VerticalError >= 0) || math.IsInf(o.VerticalError, 0) {
		return fmt.Errorf("vertical error %v m is not a number from 0 up", o.VerticalError)
	}
	if !(o.VisualRange >= 0) {
		return fmt.Errorf("visual range %v m is not a distance", o.VisualRange)
	}
	if o.Leg != nil && o.Leg.From != observer.Place {
		return fmt.Errorf("the observer at %s is not at the start of the leg, %s", observer.Place, o.Leg.From)
	}
	return nil
}

// looker looks at marks from one observer.
type looker struct {
	posts    dem.Posts
	observer Observer // on its looking point
	opts     LandmarkOptions
	walk     *profile.Leg          // opts.Leg between the looking points of its ends
	view     func() (*view, error) // made when first wanted
	drawOn   int                   // cores that one mark's likelihood is drawn on
}

// look fills in one mark.
func (v *looker) look(ctx context.Context, m *Landmark) error {
	opts, conditions := v.opts, v.opts.Conditions
	if m.AboveGround > 0 {
		conditions.TargetAboveGround = m.AboveGround
	}
	leg, err := v.line(ctx, m)
	if err != nil {
		return err
	}
	if m.Sight, err = Along(leg, Observer{Place: leg.From, EyeAboveGround: v.observer.EyeAboveGround, EyeElevation: v.observer.EyeElevation}, conditions); err != nil {
		return err
	}
	if math.IsNaN(m.Elevation) {
		m.Elevation = bareAt(v.posts, m.Place)
	}
	switch m.Sight.Verdict {
	case Visible:
		view, err := v.view()
		if err != nil {
			return err
		}
		seen := *m
		seen.Bearing, seen.Distance = leg.Start, leg.Distance
		view.measure(&seen)
		seen.Bearing, seen.Distance = m.Bearing, m.Distance
		*m = seen
		if m.Likelihood, err = v.howSure(ctx, leg, conditions); err != nil {
			return err
		}
	case Hidden:
		m.OwnSlope = ownSlope(leg, m)
	}
	if opts.VisualRange > 0 {
		m.Contrast = math.Exp(-3.912 * m.Distance / opts.VisualRange)
	}
	if opts.Leg != nil && !math.IsNaN(m.Sight.TargetElevation) {
		eyeAbove := m.Sight.EyeElevation - leg.Points[0].Elevation
		if m.Kept, err = KeptInView(ctx, v.posts, v.walk, leg.To, eyeAbove, conditions); err != nil {
			return err
		}
		abeam := m.Distance * geodesy.Difference(opts.Leg.Start, m.Bearing).Cos()
		if !(abeam > 0) { // a mark behind the walker
			abeam = opts.Leg.Distance
		}
		m.KeptShare = Share(m.Kept, min(v.walk.Distance, abeam), Visible)
	}
	if m.Sight.Verdict == Visible {
		m.Score = m.merits(opts).score()
	}
	m.Why = m.Explain(Metric)
	return nil
}

// line is the line of sight to a mark, from looking point to looking point.
func (v *looker) line(ctx context.Context, m *Landmark) (*profile.Leg, error) {
	if at := m.LookedAt; geodesy.Inverse(m.Place, at).Distance > farFromItself {
		m.Top, m.TopElevation = &at, bareAt(v.posts, at)
	}
	return profile.Trace(ctx, v.posts, v.observer.Place, m.LookedAt)
}

// farFromItself is how far the top of a mark's own ground must stand from its
// place to be told of, metres: nearer it is how places are written.
const farFromItself = 2.5

// ownSlope reports whether the ground stays above the hill's key saddle from
// what hides the mark to the mark.
func ownSlope(leg *profile.Leg, m *Landmark) bool {
	if !(m.Prominence > 0) {
		return false
	}
	saddle := m.Elevation - m.Prominence
	for _, p := range leg.Points {
		if p.Distance >= m.Sight.BlockedAt && !(p.Bare() > saddle) {
			return false
		}
	}
	return true
}

// Rank orders marks as Landmarks lists them; negative when a comes first: those
// likely to be seen, those likelier hidden though the heights as they are show
// them, those too small for the eye or lost in haze, those of which it is not
// known, and hidden ones.
//
// A visible mark's score is the product of what it earns, each from 0 to 1:
//
//   - far: d/(d + 2 km). A walker who aims at a far mark strays least.
//   - on the bearing: 1 - off/(2 within): a half at the edge of what is
//     allowed, and 1 when no bearing is asked.
//   - on the skyline: 1. Against ground g behind it, 1/2 + 1/2 g/(g + 2 km),
//     for what stands far in front of its background stands out. Against
//     what is not known, 1/2.
//   - distinct: h/(h + 1/4 degree), h its angular height.
//   - stays in view: the share of the leg, as far as abeam of the mark, from
//     which it is seen; 1 when no leg is asked.
//   - sure: how likely it is to be seen. 1 where that is not known: without a
//     vertical error, or across ground that is not known.
//
// A mark better in one of these and equal in the others never ranks lower.
// Of equal scores the farther comes first, then the lesser bearing, then the
// name.
func Rank(a, b Landmark) int {
	return cmp.Or(
		cmp.Compare(a.class(), b.class()),
		cmp.Compare(b.Score, a.Score),
		cmp.Compare(a.Sight.TargetExtra, b.Sight.TargetExtra),
		a.farther(b),
		cmp.Compare(a.Bearing, b.Bearing),
		cmp.Compare(a.Name, b.Name),
	)
}

// Shows reports whether a mark may be proposed: likely to be seen, large enough
// for the eye and not lost in haze.
func (l *Landmark) Shows() bool { return l.LikelySeen() && !l.lost() }

// lost reports whether the eye cannot find a mark though nothing hides it.
func (l *Landmark) lost() bool { return l.TooSmall || l.Contrast < hazeLimit }

func (l *Landmark) class() int {
	switch {
	case l.Shows():
		return 0
	case l.Sight.Verdict == Visible && !l.lost():
		return 1
	case l.Sight.Verdict == Visible:
		return 2
	case l.Sight.Verdict == Unknown:
		return 3
	}
	return 4
}

// farther puts the farther of two visible marks first, and the nearer of two
// others.
func (l *Landmark) farther(b Landmark) int {
	if l.Sight.Verdict == Visible {
		return cmp.Compare(b.Distance, l.Distance)
	}
	return cmp.Compare(l.Distance, b.Distance)
}

// merits are what a mark is ranked by.
type merits struct {
	distance      float64         // metres
	off, within   geodesy.Degrees // within 0: no bearing asked
	backdrop      Backdrop
	gap           float64 // from the mark to the ground behind, metres
	angularHeight geodesy.Degrees
	inView        float64 // share
	sure          float64 // probability
}

// What earns a half of what can be earned.
const (
	halfFar      = 2000.0 // m
	halfGap      = 2000.0 // m
	halfDistinct = 0.25   // degrees: half the width of the full moon
)

func (m merits) score() float64 {
	s := m.distance / (m.distance + halfFar)
	if m.within > 0 {
		s *= 1 - math.Abs(float64(m.off))/(2*float64(m.within))
	}
	switch m.backdrop {
	case BackdropSky:
	case BackdropGround:
		s *= 0.5 + 0.5*m.gap/(m.gap+halfGap)
	default:
		s *= 0.5
	}
	return s * float64(m.angularHeight) / (float64(m.angularHeight) + halfDistinct) * m.inView * m.sure
}

func (l *Landmark) merits(opts LandmarkOptions) merits {
	m := merits{distance: l.Distance, backdrop: l.Backdrop, angularHeight: l.AngularHeight, inView: 1, sure: 1}
	if l.Backdrop == BackdropGround {
		m.gap = l.BehindAt - l.Distance
	}
	if opts.Bearing != nil {
		m.off, m.within = l.OffBearing, opts.Within
	}
	if !math.IsNaN(l.KeptShare) {
		m.inView = l.KeptShare
	}
	if l.Likelihood != nil && !math.IsNaN(l.Likelihood.Probability) {
		m.sure = l.Likelihood.Probability
	}
	return m
}
