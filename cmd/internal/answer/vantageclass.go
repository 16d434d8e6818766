package answer

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/units"
	"crowline/dem/workers"
	"crowline/profile"
	"crowline/profile/magnetic"
	"crowline/visibility"
	"crowline/visibility/fix"
	"crowline/visibility/scene"
	"crowline/visibility/vantage"
)

// worthOptions are what a standpoint is worth to a class.
func (r VantageRequest) worthOptions(spacing float64) vantage.WorthOptions {
	look := scene.DefaultOptions()
	return vantage.WorthOptions{
		BearingError: geodesy.Degrees(r.Errors.Compass), PlaceError: r.Errors.Mark, Nearest: max(look.Nearest, look.NearestPosts*spacing),
		Near: policy.VantageNear, GoodFix: policy.VantageFix,
	}
}

// look is what can be recognised from one standpoint.
type look struct {
	post  int
	view  *scene.View
	fixed []int // of the view's things, those fixed to the ground
	sure  []visibility.Likelihood
	set   *fix.MarkSet
	worth vantage.Worth
}

// class finds where to take a class.
func (a *VantageAnswer) class(ctx context.Context, g *Ground, grid *dem.Grid, seen *vantage.Seen, spacing float64) (err error) {
	o := a.request.worthOptions(spacing)
	if a.score, err = seen.Scores(ctx, o); err != nil {
		return err
	}
	for _, s := range a.score {
		a.best = max(a.best, float64(s))
	}
	good := a.ordered(func(i int) bool { return a.stand[i] == vantage.Good && a.score[i] > 0 }, func(i int) float64 { return float64(a.score[i]) })
	posts := a.area.Pick(good, policy.VantageLooked, a.request.Apart)
	a.LookedAnew = len(posts)
	looks := make([]look, len(posts))
	ground := scene.NewGround(grid)
	count := workers.Counter(int64(len(posts)), progress(ctx, "looking round from the best"))
	err = workers.Each(ctx, len(posts), 0, func(_, k int) error {
		var err error
		looks[k], err = a.lookRound(ctx, g, ground, posts[k], o)
		count(1)
		return err
	})
	if err != nil {
		return err
	}
	slices.SortStableFunc(looks, func(x, y look) int { return cmp.Compare(y.worth.Score, x.worth.Score) })
	// of those that may be told, marks that are doubtful do not count
	looks = looks[:min(len(looks), policy.VantageSure*a.request.Most)]
	err = workers.Each(ctx, len(looks), 0, func(_, k int) error { return looks[k].doubt(ctx, a, g, grid, o) })
	if err != nil {
		return err
	}
	for k := range looks {
		s, err := a.classStandpoint(ctx, g, grid, &looks[k])
		if err != nil {
			return err
		}
		if s.Fix != nil && s.Fix.CrossingDeg >= float64(fix.LeastCrossing) { // else there is no fix to teach
			a.Standpoints = append(a.Standpoints, s)
		}
	}
	a.keepBest(easyWay, byWorth)
	return nil
}

// keepBest ranks the standpoints by some figures, the greater first, and of equals
// by the next, and keeps as many as are told.
func (a *VantageAnswer) keepBest(figures ...func(*Standpoint) float64) {
	slices.SortStableFunc(a.Standpoints, func(x, y Standpoint) int {
		for _, f := range figures {
			if c := cmp.Compare(f(&y), f(&x)); c != 0 {
				return c
			}
		}
		return 0
	})
	a.Standpoints = a.Standpoints[:min(len(a.Standpoints), a.request.Most)]
}

// byWorth and easyWay are figures to rank by. Ground so steep that nobody takes a
// class over it on the straight line there makes no easy way.
func byWorth(s *Standpoint) float64 { return s.Worth }

func easyWay(s *Standpoint) float64 {
	if s.Steep() {
		return 0
	}
	return 1
}

// fixed reports whether a thing is one of those that stay where they are whoever looks: the end of a ridge
// or a notch moves with the eye.
func fixed(t scene.Thing) bool {
	switch t.Kind {
	case scene.Top, scene.Known, scene.Cliff, scene.Face:
		return true
	}
	return false
}

// lookRound finds all that can be recognised from a post, and the best fix by it.
func (a *VantageAnswer) lookRound(ctx context.Context, g *Ground, ground *scene.Ground, post int, o vantage.WorthOptions) (look, error) {
	out := look{post: post}
	place, err := a.area.Place(post)
	if err != nil {
		return out, err
	}
	s := scene.DefaultOptions()
	s.Refraction, s.VerticalError, s.Concurrency, s.Places = a.request.Sighting.Refraction, g.verticalError, 1, withPlaces(nil, a.request.Places)
	if out.view, err = ground.Look(ctx, a.request.Sighting.observer(place), s); err != nil {
		return out, err
	}
	if a.fieldErr == nil && a.field.Zone != magnetic.Blackout {
		out.view.Dial = func(b geodesy.TrueBearing) string { return a.request.Compass.dial(b, a.field) }
	}
	for i, t := range out.view.Things {
		if fixed(t) && t.Distance <= a.request.MarksTo {
			out.fixed = append(out.fixed, i)
		}
	}
	return out, out.judge(ctx, o)
}

// judge works out the best fix and the worth of what is not doubtful.
func (l *look) judge(ctx context.Context, o vantage.WorthOptions) error {
	var marks []fix.Mark
	var lines []vantage.Line
	for k, i := range l.fixed {
		t := &l.view.Things[i]
		if l.doubtful(k) {
			continue
		}
		marks = append(marks, fix.Mark{Name: fmt.Sprint(i), Place: t.Place}) // the name is the thing's number
		lines = append(lines, vantage.Line{Bearing: t.Bearing, Distance: t.Distance})
	}
	l.set = nil
	best, err := fix.BestMarks(ctx, l.view.Observer.Place, marks, fix.MarkOptions{BearingError: o.BearingError, PlaceError: o.PlaceError, Keep: 1})
	if err != nil {
		return err
	}
	switch {
	case len(best.Three) > 0:
		l.set = &best.Three[0]
	case len(best.Two) > 0:
		l.set = &best.Two[0]
	}
	l.worth = o.Of(lines)
	if l.set == nil {
		l.worth.Score = 0
	} else {
		l.worth = o.With(l.worth, l.set.Ellipse.SemiMajor)
	}
	return nil
}

// doubtful reports whether a fixed thing, by its number among those, is seen with
// less than 75 %.
func (l *look) doubtful(k int) bool {
	if l.sure == nil {
		return false
	}
	return (&visibility.Landmark{Sight: visibility.Sight{Verdict: visibility.Visible}, Likelihood: &l.sure[k]}).Doubtful()
}

// doubt works out how likely each thing is to be seen, and judges anew without
// those that are doubtful. Where the data's error is not known nothing is doubted.
func (l *look) doubt(ctx context.Context, a *VantageAnswer, g *Ground, grid *dem.Grid, o vantage.WorthOptions) error {
	if g.verticalError <= 0 {
		return nil
	}
	l.sure = make([]visibility.Likelihood, len(l.fixed))
	for k, i := range l.fixed {
		t := &l.view.Things[i]
		leg, err := profile.Trace(ctx, grid, l.view.Observer.Place, t.Place)
		if err != nil {
			return err
		}
		l.sure[k], err = visibility.HowSure(ctx, leg, l.view.Observer, visibility.Conditions{Refraction: a.request.Sighting.Refraction},
			visibility.Draws{VerticalError: g.verticalError, Samples: policy.LegSamples, StandardError: policy.VantageDraw, Concurrency: 1})
		if err != nil {
			return err
		}
	}
	return l.judge(ctx, o)
}

func (a *VantageAnswer) classStandpoint(ctx context.Context, g *Ground, grid *dem.Grid, l *look) (Standpoint, error) {
	s, err := a.standpoint(ctx, g, grid, l.post)
	if err != nil {
		return s, err
	}
	s.Worth, s.NearMarks, s.FarMarks, s.CrossingMarks = l.worth.Score, l.worth.Near, l.worth.Far, l.worth.Crossing
	s.OtherThings = len(l.view.Things)
	var in []string
	if l.set != nil {
		s.Fix = &StandpointFix{len(l.set.Marks), l.set.Ellipse.SemiMajor, l.set.Ellipse.SemiMinor, float64(l.set.Ellipse.Along), float64(l.set.Crossing)}
		for _, m := range l.set.Marks {
			in = append(in, m.Name)
		}
	}
	for k, i := range l.fixed {
		t := l.view.Things[i]
		s.OtherThings--
		m := StandpointMark{
			Kind: string(t.Kind), Says: l.view.Describe(t, units.Metric), At: spot(Place{Name: t.Name, LatLon: t.Place}, t.Elevation),
			TrueDeg: float64(t.Bearing), MagneticDeg: a.compass(t.Bearing), DistanceM: t.Distance, Verdict: visibility.Visible,
			InFix: slices.Contains(in, fmt.Sprint(i)), says: func(u units.System) string { return l.view.Describe(t, u) },
		}
		if l.sure != nil {
			m.Likely = NewLikelihood(l.sure[k])
		}
		s.Marks = append(s.Marks, m)
	}
	// those of the fix first, then by bearing
	slices.SortStableFunc(s.Marks, func(x, y StandpointMark) int {
		switch {
		case x.InFix != y.InFix && x.InFix:
			return -1
		case x.InFix != y.InFix:
			return 1
		}
		return cmp.Compare(x.TrueDeg, y.TrueDeg)
	})
	return s, nil
}

// see finds where some marks are seen from: all of them where that can be, nearest
// and easiest first.
func (a *VantageAnswer) see(ctx context.Context, g *Ground, grid *dem.Grid, seen *vantage.Seen) error {
	a.best = 1
	share := func(i int) float64 { return float64(a.visible[i]) / float64(len(a.Marks)) }
	a.score = make([]float32, len(a.visible))
	most := uint16(0)
	for i, n := range a.visible {
		a.score[i] = float32(share(i))
		most = max(most, n)
	}
	a.AroundSees = new(int)
	for k := range a.request.See {
		line, err := visibility.LookingLine(ctx, grid, a.request.Around.LatLon, a.request.See[k].LatLon)
		if err != nil { // the place is the mark
			*a.AroundSees++
			continue
		}
		s, err := visibility.Along(line, a.request.Sighting.observer(line.From), a.request.Sighting.conditions())
		if err != nil {
			return err
		}
		if s.Verdict == visibility.Visible {
			*a.AroundSees++
		}
	}
	if most == 0 {
		return nil
	}
	posts := a.easiest(grid, func(i int) bool { return a.visible[i] == most })
	a.LookedAnew = len(posts)
	found := make([]Standpoint, len(posts))
	err := workers.Each(ctx, len(posts), 0, func(_, k int) (err error) {
		found[k], err = a.seeStandpoint(ctx, g, grid, seen, posts[k])
		return err
	})
	if err != nil {
		return err
	}
	// from where a mark is only doubtfully seen comes after
	a.Standpoints = found
	a.keepBest(byWorth, easyWay) // and of equals that easiest to reach first, as they come
	return nil
}

// easiest are posts that fit, those nearest and easiest to reach first: of good
// ground where there is any, else of all that is known.
func (a *VantageAnswer) easiest(grid *dem.Grid, fits func(i int) bool) []int {
	effort := func(i int) float64 { return -a.effort(grid, i) }
	order := a.ordered(func(i int) bool { return a.stand[i] == vantage.Good && fits(i) }, effort)
	if len(order) == 0 {
		order = a.ordered(func(i int) bool { return a.stand[i] != vantage.Void && fits(i) }, effort)
	}
	return a.area.Pick(order, policy.VantageLooked, a.request.Apart)
}

// seeStandpoint tells the marks from one post. Its worth is the share of the marks
// that are seen with 75 % or more.
func (a *VantageAnswer) seeStandpoint(ctx context.Context, g *Ground, grid *dem.Grid, seen *vantage.Seen, post int) (Standpoint, error) {
	s, err := a.standpoint(ctx, g, grid, post)
	if err != nil {
		return s, err
	}
	place, err := a.area.Place(post)
	if err != nil {
		return s, err
	}
	counts := 0
	for k := range a.Marks {
		v := &a.Marks[k]
		line := geodesy.Inverse(place, v.At.LatLon())
		m := StandpointMark{
			Kind: v.Kind, Says: v.At.Label(), At: v.At, TrueDeg: float64(line.Start), MagneticDeg: a.compass(line.Start), DistanceM: line.Distance,
			Verdict: seen.Verdict(k, post),
		}
		sight, err := visibility.LookingLine(ctx, grid, place, a.request.See[k].LatLon)
		if err == nil { // else one stands on it
			if m.Likely, err = g.likely(ctx, sight, a.request.Sighting.observer(sight.From), a.request.Sighting.conditions(), policy.LegSamples); err != nil {
				return s, err
			}
		}
		if m.Verdict == visibility.Visible && !m.Doubtful() {
			counts++
		}
		if m.Verdict == visibility.Visible && m.DistanceM > policy.VantageNear {
			s.FarMarks++
		} else if m.Verdict == visibility.Visible {
			s.NearMarks++
		}
		s.Marks = append(s.Marks, m)
	}
	s.Worth = float64(counts) / float64(len(a.Marks))
	return s, nil
}

// walkers are the places of a leg at which its walker is looked for.
func (a *VantageAnswer) walkers(ctx context.Context, grid *dem.Grid, spacing float64) ([]vantage.Mark, error) {
	r := a.request
	leg, err := profile.Trace(ctx, grid, r.WatchFrom.LatLon, r.WatchTo.LatLon)
	if err != nil {
		return nil, fmt.Errorf("the leg to be watched: %w", err)
	}
	a.leg = leg
	n := min(policy.VantageMarks, max(1, int(math.Ceil(leg.Distance/spacing))))
	step := leg.Distance / float64(n)
	a.Watched = &WatchedLeg{
		From: spot(*r.WatchFrom, leg.Points[0].Elevation), To: spot(*r.WatchTo, leg.ElevationAt(leg.Distance)), DistanceM: leg.Distance,
		Places: n, StepM: step, WalkerM: r.Sighting.Target,
	}
	var out []vantage.Mark
	for k := range n {
		out = append(out, vantage.Mark{Place: leg.PlaceAt((float64(k) + 0.5) * step), AboveGround: r.Sighting.Target})
	}
	return out, nil
}

// watchedAlike is the share of a leg within which two standpoints see as much of
// it, and the easier to reach comes first.
const watchedAlike = 0.05

// watch finds where most of a leg's walker is seen from.
func (a *VantageAnswer) watch(ctx context.Context, g *Ground, grid *dem.Grid) error {
	a.best = 1
	a.score = make([]float32, len(a.visible))
	for i, n := range a.visible {
		a.score[i] = float32(n) / float32(a.Watched.Places)
	}
	alike := func(share float64) float64 { return math.Round(share / watchedAlike) }
	weigh := func(i int, share float64) float64 { return alike(share)*1e9 - a.effort(grid, i) }
	for _, ground := range []func(i int) bool{
		func(i int) bool { return a.stand[i] == vantage.Good },
		func(i int) bool { return a.stand[i] != vantage.Void },
	} {
		order := a.ordered(func(i int) bool { return ground(i) && a.visible[i] > 0 }, func(i int) float64 { return weigh(i, float64(a.score[i])) })
		posts := a.area.Pick(order, policy.VantageLooked, a.request.Apart)
		a.LookedAnew = len(posts)
		found := make([]Standpoint, len(posts))
		err := workers.Each(ctx, len(posts), 0, func(_, k int) (err error) {
			found[k], err = a.watchStandpoint(ctx, g, grid, posts[k])
			return err
		})
		if err != nil {
			return err
		}
		a.Standpoints = found
		a.keepBest(func(s *Standpoint) float64 { return alike(s.Worth) }, easyWay, func(s *Standpoint) float64 { return -a.effort(grid, s.post) })
		if len(found) > 0 {
			break
		}
	}
	return nil
}

// watchStandpoint tells exactly which parts of the leg are seen from a post.
func (a *VantageAnswer) watchStandpoint(ctx context.Context, g *Ground, grid *dem.Grid, post int) (Standpoint, error) {
	s, err := a.standpoint(ctx, g, grid, post)
	if err != nil {
		return s, err
	}
	place, err := a.area.Place(post)
	if err != nil {
		return s, err
	}
	// the walker's eye is what must be seen of the walker, and the mark the watcher's
	r := a.request.Sighting
	kept, err := visibility.KeptInView(ctx, grid, a.leg, place, r.Target, visibility.Conditions{TargetAboveGround: r.Eye, Refraction: r.Refraction})
	if errors.Is(err, dem.ErrVoid) || errors.Is(err, dem.ErrOutside) {
		return s, nil
	}
	if err != nil {
		return s, err
	}
	s.Stretches = sightStretches(kept)
	s.Worth = visibility.Share(kept, a.leg.Distance, visibility.Visible)
	return s, nil
}

// why is the reason for a standpoint, in a line.
func (a *VantageAnswer) why(s *Standpoint) string { return a.WhyIn(s, units.Metric) }

// WhyIn is the reason for a standpoint, in a line, in these units.
func (a *VantageAnswer) WhyIn(s *Standpoint, u units.System) string {
	var parts []string
	switch a.Kind {
	case VantageClass:
		marks := s.NearMarks + s.FarMarks
		near := fmt.Sprintf("%d of them within %s", s.NearMarks, u.Distance(policy.VantageNear))
		switch s.NearMarks {
		case 0:
			near = "none within " + u.Distance(policy.VantageNear)
		case marks:
			near = "all within " + u.Distance(policy.VantageNear)
		}
		parts = append(parts, fmt.Sprintf("%d marks, %s, %s", marks, near, spread(s.CrossingMarks/float64(max(1, marks)))))
		if s.Fix != nil {
			parts = append(parts, fmt.Sprintf("the best %s bearings fix you to %s", numbers(s.Fix.Bearings), u.Distance(s.Fix.SemiMajorM)))
		}
	case VantageSee:
		doubt := ""
		if sure := int(math.Round(s.Worth * float64(len(a.Marks)))); sure < s.MarksSeen {
			doubt = fmt.Sprintf(", %d of them doubtfully", s.MarksSeen-sure)
		}
		parts = append(parts, fmt.Sprintf("%d of %d marks seen%s", s.MarksSeen, len(a.Marks), doubt))
	case VantageWatch:
		parts = append(parts, fmt.Sprintf("%.0f %% of the leg seen", 100*s.Worth))
	}
	if !s.GoodGround {
		parts = append(parts, fmt.Sprintf("ground steeper than %g°, or a cliff near", a.Ground.SlopeDeg))
	}
	return strings.Join(parts, "; ")
}

// spread is how well marks are spread in bearing, by the share of them that their
// crossings are worth: 0.87 is two at 60 degrees, 0.5 two at 30.
func spread(share float64) string {
	switch {
	case share >= 0.87:
		return "well spread round you"
	case share >= 0.5:
		return "spread to some sides"
	}
	return "much in line"
}

func numbers(n int) string {
	if n == 2 {
		return "two"
	}
	return "three"
}
