package fix

import (
	"context"
	"fmt"
	"math"
	"strings"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/profile"
	"crowline/visibility"
)

// WarningKind says what a warning is about.
type WarningKind string

// Kinds of warning.
const (
	// Blunder: the bearings do not agree within their errors.
	Blunder WarningKind = "blunder"
	// BackBearing: a reading fits only when turned half round.
	BackBearing WarningKind = "back bearing"
	// Ambiguous: another place fits about as well.
	Ambiguous WarningKind = "ambiguous"
	// PoorGeometry: the lines cross at a flat angle.
	PoorGeometry WarningKind = "poor geometry"
	// HiddenMark: a mark cannot be seen from the answer, or it is not known
	// whether it can.
	HiddenMark WarningKind = "hidden mark"
	// NoRedundancy: nothing checks the bearings.
	NoRedundancy WarningKind = "no redundancy"
	// SameSide: all marks lie in one half of the circle.
	SameSide WarningKind = "same side"
	// FilledGround: the ground at the answer, or a line of sight, was void and
	// has been filled in.
	FilledGround WarningKind = "filled ground"
)

// Warning is a thing the reader of a fix must know, in one plain sentence.
type Warning struct {
	Kind WarningKind
	Text string
	// Names of the bearings it is about, if of some.
	Names []string
}

// leastCrossing is the flattest angle at which lines of position should
// cross (common practice).
const leastCrossing geodesy.Degrees = 30

// longEllipse is the ratio of axes at which geometry is poor: two equal
// lines of position that cross at the least angle a make an ellipse
// cot(a/2) = 3.73 times as long as wide. More lines can cross well in pairs
// and still be weak together, as distant ones across a near one.
var longEllipse = 1 / (leastCrossing / 2).Tan()

// blunderResidual is how many of its standard deviations a bearing's
// residual may be before it is taken as wrong (common practice).
const blunderResidual = 3

// mostOthers are listed of the places that fit as well.
const mostOthers = 8

func (p *problem) report(ctx context.Context, found []candidate) (*Fix, error) {
	best := found[0]
	p.turned = best.turned
	f := &Fix{
		Place:    best.place,
		EastEast: best.covariance[0], EastNorth: best.covariance[1], NorthNorth: best.covariance[2],
		ChiSquare: best.chiSquare, Redundancy: p.count() - 2,
		Ground: math.NaN(), AltimeterResidual: math.NaN(), LineDistance: math.NaN(),
	}
	f.Chance = chance(f.ChiSquare, f.Redundancy)
	if p.options.Altimeter != nil || p.options.Line != nil {
		c, err := p.spread(ctx, best)
		if err != nil {
			return nil, err
		}
		f.EastEast, f.EastNorth, f.NorthNorth = c[0], c[1], c[2]
	}
	standardised := best.standardised()
	for i, b := range p.bearings {
		observed, err := p.observed(i, best.place)
		if err != nil {
			return nil, err
		}
		r := Residual{
			Name: b.label(i), Observed: observed, Turned: p.turned[i],
			Residual: geodesy.Degrees(best.observed.residual[i]),
			Error:    geodesy.Degrees(math.Sqrt(best.spread.At(i, i))), Standardised: standardised[i],
		}
		r.Computed, r.Distance, _ = p.computed(i, best.place)
		f.Bearings = append(f.Bearings, r)
	}
	if p.options.Posts != nil {
		if h, err := dem.ElevationAt(p.options.Posts, best.place); err == nil {
			f.Ground = h
			if column, row, err := p.options.Posts.Layout().Locate(best.place); err == nil {
				f.GroundFilled = dem.FilledAt(dem.MarksOf(p.options.Posts), column, row)
			}
		}
	}
	if a := p.options.Altimeter; a != nil {
		f.AltimeterResidual = a.Elevation - f.Ground
	}
	if l := p.options.Line; l != nil {
		f.LineDistance, _ = l.nearest(geodesy.NewPlane(best.place))
	}
	// a place inside the ellipse is not another place: bent ground has several
	// least sums close together
	likely := f.Ellipse(0.95)
	for _, c := range found[1:] {
		if c.chiSquare-best.chiSquare < ambiguous && len(f.Others) < mostOthers && !likely.Covers(best.place, c.place) {
			f.Others = append(f.Others, Other{Place: c.place, ChiSquare: c.chiSquare})
		}
	}
	f.Crossing = best.crossing()
	if err := p.sights(ctx, f); err != nil {
		return nil, err
	}
	p.warn(f, best)
	return f, nil
}

// standardised residuals are r / sqrt(V - J C J')_ii (Baarda 1968); NaN where
// that is nothing but rounding.
func (c candidate) standardised() []float64 {
	n := len(c.observed.residual)
	out := make([]float64, n)
	for i := range n {
		s := c.observed.slope[i]
		fitted := s[0]*s[0]*c.covariance[0] + 2*s[0]*s[1]*c.covariance[1] + s[1]*s[1]*c.covariance[2]
		v := c.spread.At(i, i)
		out[i] = math.NaN()
		if left := v - fitted; n > 2 && left > 1e-6*v {
			out[i] = c.observed.residual[i] / math.Sqrt(left)
		}
	}
	return out
}

// crossing is the best angle between two lines of position, whose directions
// are square to the slopes.
func (c candidate) crossing() geodesy.Degrees {
	best := geodesy.Degrees(0)
	for i, a := range c.observed.slope {
		for _, b := range c.observed.slope[:i] {
			best = max(best, lineAngle(a, b))
		}
	}
	return best
}

// lineAngle is the angle, in [0, 90], between two lines of position with these
// slopes.
func lineAngle(a, b [2]float64) geodesy.Degrees {
	return geodesy.Atan2(math.Abs(a[0]*b[1]-a[1]*b[0]), math.Abs(a[0]*b[0]+a[1]*b[1]))
}

func (p *problem) sights(ctx context.Context, f *Fix) error {
	if p.options.Sight == nil {
		return nil
	}
	for i, b := range p.bearings {
		from, to := b.Place, f.Place
		if p.resect {
			from, to = to, from
		}
		f.Bearings[i].Sight = visibility.Unknown
		leg, err := profile.Trace(ctx, p.options.Posts, from, to)
		if ctx.Err() != nil {
			return fmt.Errorf("fix: %w", ctx.Err())
		}
		if err != nil {
			continue // outside the data or on a void: not known
		}
		observer := visibility.Observer{Place: from, EyeAboveGround: p.options.Sight.EyeAboveGround}
		s, err := visibility.Along(leg, observer, p.options.Sight.Conditions)
		if err != nil {
			return fmt.Errorf("fix: %s: %w", b.label(i), err)
		}
		f.Bearings[i].Sight, f.Bearings[i].Extra = s.Verdict, s.TargetExtra
		if f.Bearings[i].SightFilled, err = visibility.RestsOnFilled(leg, s.Verdict, observer, p.options.Sight.Conditions); err != nil {
			return fmt.Errorf("fix: %s: %w", b.label(i), err)
		}
	}
	return nil
}

func (p *problem) warn(f *Fix, best candidate) {
	add := func(kind WarningKind, names []string, format string, args ...any) {
		f.Warnings = append(f.Warnings, Warning{Kind: kind, Text: fmt.Sprintf(format, args...), Names: names})
	}
	p.warnBlunder(f, add)
	var turned []string
	for _, r := range f.Bearings {
		if r.Turned {
			turned = append(turned, r.Name)
		}
	}
	if len(turned) > 0 {
		add(BackBearing, turned, "the bearing of %s fits only when turned half round, and was: was the back bearing given, or the wrong end of the needle read?", strings.Join(turned, ", "))
	}
	if len(f.Others) > 0 {
		var places []string
		for _, o := range f.Others {
			places = append(places, o.Place.String())
		}
		add(Ambiguous, nil, "the evidence fits as well at %s; take another bearing", strings.Join(places, " and "))
	}
	e := f.Ellipse(OneSigma)
	switch {
	case f.Crossing < leastCrossing:
		add(PoorGeometry, nil, "the lines cross at %.0f degrees; under %.0f a fix is weak along them, and the place may lie farther out than the ellipse says: take a mark more to the side", float64(f.Crossing), float64(leastCrossing))
	case e.SemiMajor > longEllipse*e.SemiMinor:
		add(PoorGeometry, nil, "the fix is %.1f times weaker along %03.0f degrees than across: take a nearer mark near that line's right angle", e.SemiMajor/e.SemiMinor, float64(e.Along))
	}
	for _, r := range f.Bearings {
		switch r.Sight {
		case visibility.Hidden:
			add(HiddenMark, []string{r.Name}, "ground hides %s from the fix: it would have to stand %s higher; was another mark sighted?", r.Name, p.height(r.Extra))
		case visibility.Unknown:
			add(HiddenMark, []string{r.Name}, "the data cannot say whether %s is seen from the fix", r.Name)
		}
	}
	p.warnFilled(f, add)
	if f.Redundancy == 0 {
		add(NoRedundancy, nil, "nothing checks the bearings: a wrong mark or a misread dial would go unseen; take one more")
	} else if p.resect && len(p.bearings) >= 3 && oneSide(f.Bearings) {
		add(SameSide, nil, "all marks lie on one side: an error common to all bearings moves the fix and hardly shows; take one from behind you")
	}
}

// height writes a difference of heights in the asker's units.
func (p *problem) height(metres float64) string {
	if write := p.options.Lengths.Height; write != nil {
		return write(metres)
	}
	return visibility.Metric.Height(math.Ceil(metres))
}

// warnFilled says what of the answer rests on ground that nobody measured.
func (p *problem) warnFilled(f *Fix, add func(WarningKind, []string, string, ...any)) {
	if f.GroundFilled {
		text := "the ground at the fix was filled in from the rim of a void: its elevation was not measured"
		if p.options.Altimeter != nil {
			text += ", and the altimeter was held against it"
		}
		add(FilledGround, nil, "%s", text)
	}
	var names []string
	for _, r := range f.Bearings {
		if r.SightFilled {
			names = append(names, r.Name)
		}
	}
	if len(names) > 0 {
		add(FilledGround, names, "whether %s can be seen rests on ground filled in from the rim of a void, which may be higher or lower", strings.Join(names, " and "))
	}
}

func (p *problem) warnBlunder(f *Fix, add func(WarningKind, []string, string, ...any)) {
	worst, at := 0.0, -1
	for i, r := range f.Bearings {
		if w := math.Abs(r.Standardised); w > worst {
			worst, at = w, i
		}
	}
	if f.Redundancy == 0 || !(f.Chance < rejected || worst > blunderResidual) {
		return
	}
	// With one check, or two suspects within a tenth, no one bearing is named.
	alone := f.Redundancy > 1 && at >= 0
	for i, r := range f.Bearings {
		if i != at && alone && math.Abs(r.Standardised) > 0.9*worst {
			alone = false
		}
	}
	if alone {
		r := f.Bearings[at]
		add(Blunder, []string{r.Name}, "the bearing of %s is out by %.1f degrees, %.1f times its error: leave it out or take it again", r.Name, math.Abs(float64(r.Residual)), worst)
		return
	}
	add(Blunder, nil, "the evidence does not agree within its errors (1 chance in %.0f that this is accident): one bearing or mark is wrong, and it cannot be said which", 1/max(f.Chance, 1e-6))
}

// oneSide reports whether all marks lie within half a turn.
func oneSide(bearings []Residual) bool {
	for _, a := range bearings {
		all := true
		for _, b := range bearings {
			d := geodesy.Difference(a.Computed, b.Computed)
			all = all && d >= 0
		}
		if all {
			return true
		}
	}
	return false
}
