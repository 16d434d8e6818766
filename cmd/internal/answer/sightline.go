package answer

import (
	"context"
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/profile"
	"crowline/visibility"
)

var nan = math.NaN()

// Sighting is what every question about sights assumes.
type Sighting struct {
	// Eye and Target are heights above the ground, metres.
	Eye, Target float64
	// Refraction is the coefficient as R/r.
	Refraction float64
}

// DefaultSighting is someone standing, who looks at bare ground through
// ordinary air.
func DefaultSighting() Sighting {
	return Sighting{Eye: policy.EyeAboveGround, Refraction: policy.Refraction}
}

// mostAboveGround bounds the heights of eyes and targets, metres: what flies
// higher is not what a sight line near the ground is for.
const mostAboveGround = 100e3

// Check refuses heights and coefficients that no sight has.
func (s Sighting) Check() error {
	switch {
	case !(s.Eye >= 0 && s.Eye <= mostAboveGround):
		return wrongf("an eye %g m above the ground: give one from 0 to 100 km", s.Eye)
	case !(s.Target >= 0 && s.Target <= mostAboveGround):
		return wrongf("a target %g m above the ground: give one from 0 to 100 km", s.Target)
	case !(math.Abs(s.Refraction) <= 20):
		return wrongf("refraction %g: give a coefficient from -20 to 20, 0.13 by common practice", s.Refraction)
	}
	return nil
}

func (s Sighting) conditions() visibility.Conditions {
	return visibility.Conditions{TargetAboveGround: s.Target, Refraction: s.Refraction}
}

// observer stands at a place to the letter.
func (s Sighting) observer(at geodesy.LatLon) visibility.Observer {
	return visibility.Observer{Place: at, EyeAboveGround: s.Eye}
}

// standing stands on a place's looking point, from where everything is looked
// at; the place that an answer names stays the user's own.
func (s Sighting) standing(posts dem.Posts, at Place) (visibility.Observer, error) {
	return s.observer(at.LatLon).Standing(posts)
}

// ontoLeg are stretches of the line of sight between a leg's looking points as
// stretches of the leg: the two are as long but for some metres.
func ontoLeg(leg, line *profile.Leg, list []visibility.Stretch) []visibility.Stretch {
	share := leg.Distance / line.Distance
	if share == 1 || list == nil {
		return list
	}
	out := make([]visibility.Stretch, len(list))
	for i, s := range list {
		out[i] = visibility.Stretch{From: s.From * share, To: s.To * share, Verdict: s.Verdict}
	}
	if n := len(out); line.Distance == list[n-1].To {
		out[n-1].To = leg.Distance
	}
	return out
}

// Assumptions go with every answer about a sight.
type Assumptions struct {
	// The eye above the ground.
	EyeM float64 `json:"eye_m"`
	// The target's top above the ground.
	TargetHeightM float64 `json:"target_height_m"`
	// The refraction coefficient, as R/r.
	Refraction float64 `json:"refraction_k"`
}

func (s Sighting) describe() Assumptions { return Assumptions{s.Eye, s.Target, s.Refraction} }

// Stretch is part of a line, from its start, and what is so there.
type Stretch struct {
	// Where it begins.
	FromM float64 `json:"from_m" round:"1"`
	// Where it ends.
	ToM float64 `json:"to_m" round:"1"`
	// "visible", "hidden" or "unknown", of a stretch of sight.
	Verdict string `json:"verdict,omitempty"`
}

func sightStretches(list []visibility.Stretch) []Stretch {
	out := []Stretch{}
	for _, s := range list {
		out = append(out, Stretch{s.From, s.To, s.Verdict.String()})
	}
	return out
}

func plainStretches(list []profile.Stretch) []Stretch {
	out := []Stretch{}
	for _, s := range list {
		out = append(out, Stretch{FromM: s.From, ToM: s.To})
	}
	return out
}

// SightLine is the sight from one place to another.
type SightLine struct {
	// "visible", "hidden", or "unknown" where the line meets ground with no
	// data that the known ground does not settle.
	Verdict visibility.Verdict `json:"verdict"`
	// The least by which the line clears the ground between, the cells that eye
	// and target stand in left out; below 0 where the ground stands over it,
	// null where nothing lies between.
	ClearanceM float64 `json:"clearance_m" round:"2"`
	// Where along the line that is.
	ClearanceAtM float64 `json:"clearance_at_m" round:"1"`
	// Angle of the target above the horizontal.
	ElevationAngleDeg float64 `json:"elevation_angle_deg" round:"3"`
	// Where along the line the ground stands that hides the target: the crest
	// that stands highest against the eye.
	BlockedAtM float64 `json:"blocked_at_m" round:"1"`
	// How high that ground is.
	BlockerElevationM float64 `json:"blocker_elevation_m" round:"1"`
	// How much higher the target would have to stand to be just seen.
	ExtraHeightM float64 `json:"extra_height_m" round:"2"`
	// How much higher the eye would have to be to just see it.
	ExtraEyeHeightM float64 `json:"extra_eye_height_m" round:"2"`
	// "ground", or "cover" where only what stands on the ground hides the
	// target there, or "ground and cover" where the ground would alone.
	BlockedBy string `json:"blocked_by,omitempty"`
	// How much of the blocker's elevation stands on the ground.
	BlockerCoverM *float64 `json:"blocker_cover_m,omitempty" round:"1"`
	// The extra height were there nothing on the ground.
	BareExtraM *float64 `json:"bare_ground_extra_height_m,omitempty" round:"2"`
	// Unknown, and only because what stands on the ground is.
	CoverUnknown bool `json:"cover_unknown,omitempty"`
	// Part of the way is not known, and may ask for more than the extra heights.
	ExtraAtLeast bool `json:"extra_at_least,omitempty"`
	// Where along the leg a hidden destination first comes into view.
	ComesIntoViewM float64 `json:"comes_into_view_m" round:"1"`
	// Part of the leg before that is not known: it may come into view sooner.
	ComesIntoViewAtLatest bool `json:"comes_into_view_at_latest,omitempty"`
	// The ground that hides the target was a void and has been filled.
	BlockerFilled bool `json:"blocker_filled,omitempty"`
	// The verdict would not be known had the voids not been filled.
	RestsOnFilled bool `json:"rests_on_filled,omitempty"`
	// How sure the verdict is; null where the data's error is not known.
	Likely *Likelihood `json:"likelihood"`
	// From which parts of the leg its destination is seen.
	WhileWalking []Stretch `json:"while_walking,omitempty"`

	sight   visibility.Sight
	walking []visibility.Stretch
}

// Full is the sight as the library gives it, and Walking from which parts of
// the leg the destination is seen.
func (s *SightLine) Full() visibility.Sight        { return s.sight }
func (s *SightLine) Walking() []visibility.Stretch { return s.walking }

func sightLine(s visibility.Sight, walking []visibility.Stretch) SightLine {
	out := SightLine{
		Verdict: s.Verdict, ClearanceM: s.Nearest, ClearanceAtM: s.NearestAt, ElevationAngleDeg: float64(s.Angle),
		BlockedAtM: s.BlockedAt, BlockerElevationM: s.BlockerElevation, ExtraHeightM: nan, ExtraEyeHeightM: nan,
		BlockedBy: s.BlockedBy.String(), CoverUnknown: s.CoverUnknown, ComesIntoViewM: nan, sight: s, walking: walking,
	}
	if s.BlockerCover > 0 {
		out.BlockerCoverM, out.BareExtraM = &s.BlockerCover, &s.BareExtra
	}
	if s.Verdict != visibility.Unknown {
		out.ExtraHeightM, out.ExtraEyeHeightM, out.ExtraAtLeast = s.TargetExtra, s.EyeExtra, s.AtLeast
	}
	if walking != nil {
		out.WhileWalking = sightStretches(walking)
		if s.Verdict == visibility.Hidden {
			out.ComesIntoViewM, out.ComesIntoViewAtLatest = visibility.FirstSeen(walking)
			out.ComesIntoViewAtLatest = out.ComesIntoViewAtLatest && !math.IsNaN(out.ComesIntoViewM)
		}
	}
	return out
}

// rests says what part filled ground has in a sight: whether the ground that
// hides the target is filled, and whether the verdict would not be known had
// the voids stayed.
func (s *SightLine) rests(leg *profile.Leg, observer visibility.Observer, conditions visibility.Conditions) error {
	s.BlockerFilled = leg.FilledAt(s.sight.BlockedAt)
	var err error
	s.RestsOnFilled, err = visibility.RestsOnFilled(leg, s.sight.Verdict, observer, conditions)
	return err
}

// Likelihood is how sure a sight is.
type Likelihood struct {
	// "visible" (95 % or more), "probably visible" (75), "doubtful" (25),
	// "probably hidden" (5), "hidden". Text says of a doubtful one which way the
	// chance leans.
	Word string `json:"word"`
	// The probability that the target is seen; null where only a bound is known.
	Probability float64 `json:"probability" round:"3"`
	// The probability is at most this, where that is all that is known.
	AtMost *float64 `json:"at_most,omitempty" round:"3"`
	// One standard deviation of the probability, from the number of draws.
	StandardError float64 `json:"standard_error" round:"4"`
	// One standard deviation of a height in the draws.
	VerticalErrorM float64 `json:"vertical_error_m" round:"2"`
	// Over how far along the ground an error fades.
	CorrelationM float64 `json:"correlation_length_m" round:"0"`
	// One standard deviation of the refraction coefficient in the draws.
	RefractionSigmaK float64 `json:"refraction_sigma_k"`
	// How many draws were made.
	Samples int `json:"samples"`
	// Filled ground was taken as not known: its accuracy is unknown.
	WithoutFilled bool `json:"filled_ground_left_out,omitempty"`

	// Words are the likelihood for a sentence.
	Words string `json:"-"`

	likelihood visibility.Likelihood
}

// Full is the likelihood as the library gives it, nil of nil.
func (l *Likelihood) Full() *visibility.Likelihood {
	if l == nil {
		return nil
	}
	return &l.likelihood
}

// sure is the probability, 1 where it is not known.
func (l *Likelihood) sure() float64 {
	if l == nil || math.IsNaN(l.Probability) {
		return 1
	}
	return l.Probability
}

// NewLikelihood is a likelihood as the library gives it.
func NewLikelihood(l visibility.Likelihood) *Likelihood {
	out := &Likelihood{
		Word: l.Word.String(), Probability: l.Probability, StandardError: l.StandardError,
		VerticalErrorM: l.Model.VerticalError, CorrelationM: l.Model.CorrelationLength,
		RefractionSigmaK: l.Model.RefractionError, Samples: l.Model.Samples,
		WithoutFilled: l.WithoutFilled, Words: l.Text(), likelihood: l,
	}
	if math.IsNaN(l.Probability) {
		out.AtMost = &l.AtMost
	}
	return out
}

// likely is nil where the data's error is not known: then nothing can be said.
func (g *Ground) likely(ctx context.Context, leg *profile.Leg, observer visibility.Observer, conditions visibility.Conditions, samples int) (*Likelihood, error) {
	return g.likelyDrawn(ctx, leg, observer, conditions, visibility.Draws{Samples: samples})
}

// sightDraws are those of a sight that is asked for.
func sightDraws() visibility.Draws {
	return visibility.Draws{Samples: policy.SightSamples, StandardError: policy.SightStandardError}
}

// likelyDrawn is likely by draws, but for the data's error.
func (g *Ground) likelyDrawn(ctx context.Context, leg *profile.Leg, observer visibility.Observer, conditions visibility.Conditions, d visibility.Draws) (*Likelihood, error) {
	if g.verticalError <= 0 {
		return nil, nil
	}
	d.VerticalError = g.verticalError
	l, err := visibility.HowSure(ctx, leg, observer, conditions, d)
	if err != nil {
		return nil, err
	}
	return NewLikelihood(l), nil
}

// likelyView is how sure the posts of a view over grid are seen: the one rule of
// every drawing and of the desk. Nil where the data's error is not known.
func (g *Ground) likelyView(ctx context.Context, grid *dem.Grid, v *visibility.Viewed, views int) (*visibility.ViewedLikelihood, error) {
	if g.verticalError <= 0 {
		return nil, nil
	}
	samples := min(policy.ViewSamples, max(policy.ViewSamplesLeast, int(policy.ViewPostsDrawn/float64(len(v.Verdicts)*views))))
	return visibility.HowSureViewed(ctx, grid, v, visibility.Draws{VerticalError: g.verticalError, Samples: samples}, progress(ctx, "how sure"))
}

// likelyMark is likely for a mark that was looked at by an observer on its
// looking point, and gives it to the mark; nil where it is not known whether it
// is seen.
func (g *Ground) likelyMark(ctx context.Context, posts dem.Posts, m *visibility.Landmark, observer visibility.Observer, conditions visibility.Conditions) (*Likelihood, error) {
	switch {
	case m.Sight.Verdict == visibility.Unknown:
		return nil, nil
	case m.Likelihood != nil:
		return NewLikelihood(*m.Likelihood), nil
	}
	line, err := profile.Trace(ctx, posts, observer.Place, m.LookedAt)
	if err != nil {
		return nil, err
	}
	if m.AboveGround > 0 {
		conditions.TargetAboveGround = m.AboveGround
	}
	l, err := g.likely(ctx, line, observer, conditions, policy.LegSamples)
	m.Likelihood = l.Full()
	return l, err
}

// FilledLine is the part of a line that lies on filled ground.
type FilledLine struct {
	// How much of the line that is.
	LengthM float64 `json:"length_m" round:"1"`
	// Where.
	Stretches []Stretch `json:"stretches"`
	// The line's start stands on filled ground.
	Start bool `json:"start_filled"`
	// The line's end stands on filled ground.
	End bool `json:"end_filled"`
}

// filledAlong says where a line lies on filled ground; nil where nothing is
// filled.
func (g *Ground) filledAlong(leg *profile.Leg) *FilledLine {
	if g.filled() == nil {
		return nil
	}
	return filledLine(leg)
}

func filledLine(leg *profile.Leg) *FilledLine {
	stretches := leg.Filled()
	out := &FilledLine{
		Stretches: plainStretches(stretches), Start: leg.Points[0].Filled,
		End: leg.Covered >= leg.Distance && leg.Points[len(leg.Points)-1].Filled,
	}
	for _, s := range stretches {
		out.LengthM += s.To - s.From
	}
	return out
}
