package cli

import (
	"context"
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
	OwnGround bool   `json:"own_ground_left_out,omitempty"`
	words     string // for a sentence
}

// legSamples are the draws of a likelihood, of one of several sights in a leg:
// one per cent.
const legSamples = 2000

// likely is nil where the data's error is not known: then nothing can be said.
func (g *ground) likely(ctx context.Context, leg *profile.Leg, observer visibility.Observer, conditions visibility.Conditions, samples int) (*likelyJSON, error) {
	if g.verticalError <= 0 {
		return nil, nil
	}
	l, err := visibility.HowSure(ctx, leg, observer, conditions, visibility.Draws{
		VerticalError: g.verticalError, OwnGround: g.deadBand(), Samples: samples,
	})
	if err != nil {
		return nil, err
	}
	return describeLikely(l), nil
}

func describeLikely(l visibility.Likelihood) *likelyJSON {
	j := &likelyJSON{
		Word: l.Word.String(), Probability: rounded(l.Probability, 3), StandardError: rounded(l.StandardError, 4),
		VerticalErrorM: *rounded(l.Model.VerticalError, 2), CorrelationM: *rounded(l.Model.CorrelationLength, 0),
		RefractionSigmaK: l.Model.RefractionError, Samples: l.Model.Samples,
		WithoutFilled: l.WithoutFilled, OwnGround: l.Model.OwnGround > 0, words: l.Text(),
	}
	if math.IsNaN(l.Probability) {
		j.AtMost = rounded(l.AtMost, 3)
	}
	return j
}

// likelyMark is likely for a mark that was looked at; nil where it is not
// known whether it is seen.
func (g *ground) likelyMark(ctx context.Context, posts dem.Posts, m *visibility.Landmark, observer visibility.Observer, conditions visibility.Conditions) (*likelyJSON, error) {
	switch {
	case m.Sight.Verdict == visibility.Unknown:
		return nil, nil
	case m.Likelihood != nil:
		return describeLikely(*m.Likelihood), nil
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
