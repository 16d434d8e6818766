package cli

import (
	"context"
	"fmt"
	"math"

	"crowline/dem"
	"crowline/profile"
	"crowline/visibility"
)

// likelyJSON is how sure a sight is.
type likelyJSON struct {
	Word             string   `json:"word"`
	Probability      *float64 `json:"probability"`
	AtMost           *float64 `json:"at_most,omitempty"`
	StandardError    *float64 `json:"standard_error"`
	VerticalErrorM   float64  `json:"vertical_error_m"`
	CorrelationM     float64  `json:"correlation_length_m"`
	RefractionSigmaK float64  `json:"refraction_sigma_k"`
	Samples          int      `json:"samples"`
	// WithoutFilled: filled ground was taken as not known, for nobody knows
	// how good it is.
	WithoutFilled bool `json:"filled_ground_left_out,omitempty"`
	// OwnGround: what is likely is that the target shows over all but the
	// ground within a post of it (sightJSON.OwnGround).
	OwnGround bool `json:"own_ground_left_out,omitempty"`
}

// Draws of a likelihood: a sight asked for alone gets half a per cent, one
// of several in a leg one per cent.
const (
	sightSamples = visibility.DefaultSamples
	legSamples   = 2000
)

// likely is nil where the data's error is not known: then nothing can be said.
func (g *ground) likely(ctx context.Context, leg *profile.Leg, observer visibility.Observer, conditions visibility.Conditions, samples int) (*likelyJSON, error) {
	if g.verticalError <= 0 {
		return nil, nil
	}
	filled := len(leg.Filled()) > 0
	if filled {
		start := leg.Points[0].Elevation // kept, though it be filled: without an eye there is no question
		leg = leg.Unfilled()
		leg.Points[0].Elevation = start
	}
	model := visibility.DefaultErrorModel(g.verticalError, leg)
	model.Samples, model.Seed = samples, 1
	sight, err := visibility.Along(leg, observer, conditions)
	if err != nil {
		return nil, err
	}
	own := sight.OwnGround(g.deadBand())
	if own {
		model.OwnGround = leg.Spacing
	}
	l, err := visibility.Probability(ctx, leg, observer, conditions, model)
	if err != nil {
		return nil, err
	}
	j := &likelyJSON{
		Word: l.Word.String(), Probability: rounded(l.Probability, 3), StandardError: rounded(l.StandardError, 4),
		VerticalErrorM: *rounded(l.Model.VerticalError, 2), CorrelationM: *rounded(l.Model.CorrelationLength, 0),
		RefractionSigmaK: l.Model.RefractionError, Samples: samples,
		WithoutFilled: filled, OwnGround: own,
	}
	if math.IsNaN(l.Probability) {
		j.AtMost = rounded(l.AtMost, 3)
	}
	return j, nil
}

// likelyMark is likely for a mark that was looked at; nil where it is not
// known whether it is seen.
func (g *ground) likelyMark(ctx context.Context, posts dem.Posts, m *visibility.Landmark, observer visibility.Observer, conditions visibility.Conditions) (*likelyJSON, error) {
	if m.Sight.Verdict == visibility.Unknown {
		return nil, nil
	}
	at := m.Place
	if m.Top != nil {
		at = *m.Top
	}
	line, err := profile.Trace(ctx, posts, observer.Place, at)
	if err != nil {
		return nil, err
	}
	if m.AboveGround > 0 {
		conditions.TargetAboveGround = m.AboveGround
	}
	return g.likely(ctx, line, observer, conditions, legSamples)
}

// text is the word and the percentage, for a sentence.
func (l *likelyJSON) text() string {
	if l == nil {
		return ""
	}
	switch {
	case l.Probability != nil && l.OwnGround:
		return fmt.Sprintf("the ground just in front of it: %s, %s seen", l.Word, percent(*l.Probability))
	case l.Probability != nil:
		return fmt.Sprintf("%s, %s seen", l.Word, percent(*l.Probability))
	case l.AtMost != nil:
		return fmt.Sprintf("not known; at most %s", percent(*l.AtMost))
	}
	return "not known"
}

// percent never says 0 or 100 of a count of samples.
func percent(share float64) string {
	switch p := math.Round(100 * share); {
	case p < 1:
		return "under 1 %"
	case p > 99:
		return "over 99 %"
	default:
		return fmt.Sprintf("%.0f %%", p)
	}
}

// writeLikely says how sure a verdict is, and by what.
func writeLikely(p *page, u units, l *likelyJSON) {
	if l == nil {
		p.line("how sure", "not known: the data's vertical error is not stated (--vertical-error)")
		return
	}
	without := ""
	if l.WithoutFilled {
		without = "; how good filled ground is nobody knows, and it is left out"
	}
	p.line("how sure", "%s, with heights good to %s (errors that fade over %s along the ground) and refraction to ± %g%s",
		l.text(), u.height(l.VerticalErrorM), u.distance(l.CorrelationM), l.RefractionSigmaK, without)
}
