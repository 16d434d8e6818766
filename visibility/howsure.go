package visibility

import (
	"context"
	"fmt"
	"math"

	"crowline/profile"
)

// Draws are what HowSure is asked by.
type Draws struct {
	// VerticalError is one standard deviation of the data's heights, metres.
	VerticalError float64
	// Samples, StandardError, Concurrency and Normals are ErrorModel's.
	Samples       int
	StandardError float64
	Concurrency   int
	Normals       *Normals
}

// HowSure is the Probability of a sight by the DefaultErrorModel and a fixed
// seed. Ground that was void and has been filled is left out, for the model does
// not hold for it (Likelihood.WithoutFilled).
func HowSure(ctx context.Context, leg *profile.Leg, o Observer, conditions Conditions, d Draws) (Likelihood, error) {
	filled := len(leg.Filled()) > 0
	if filled {
		start := leg.Points[0].Elevation // kept, though it be filled: without an eye there is no question
		leg = leg.Unfilled()
		leg.Points[0].Elevation = start
	}
	model := DefaultErrorModel(d.VerticalError, leg)
	model.Samples, model.StandardError, model.Concurrency, model.Normals, model.Seed = d.Samples, d.StandardError, d.Concurrency, d.Normals, 1
	l, err := Probability(ctx, leg, o, conditions, model)
	l.WithoutFilled = filled
	return l, err
}

// Text is the word and the percentage, for a sentence: "probably visible, 56 %
// chance to see it".
func (l Likelihood) Text() string {
	switch {
	case !math.IsNaN(l.Probability):
		return fmt.Sprintf("%s, %s chance to see it", says(l.Probability), Percent(l.Probability))
	case !math.IsNaN(l.AtMost):
		return fmt.Sprintf("not known; at most %s", Percent(l.AtMost))
	}
	return "not known"
}

// Worded is a verdict and how sure it is, as one: the likelihood's word and
// percentage where it is known, else the verdict of the heights as they are.
// Nil is a likelihood that nobody knows.
func Worded(verdict Verdict, l *Likelihood) string {
	plain := verdict.String()
	if verdict == Unknown {
		plain = "not known"
	}
	switch {
	case l == nil:
		return plain
	case !math.IsNaN(l.Probability):
		return l.Text()
	case !math.IsNaN(l.AtMost) && verdict != Unknown:
		return fmt.Sprintf("%s by the data's heights, at most %s chance to see it", plain, Percent(l.AtMost))
	case !math.IsNaN(l.AtMost):
		return l.Text()
	}
	return plain
}

// Sure reports whether a verdict is as good as certain: seen with 95 % or more,
// or with less than 5 %. One whose likelihood is not known is not doubted.
func (l *Likelihood) Sure() bool {
	return l == nil || math.IsNaN(l.Probability) || l.Word == LikelyVisible || l.Word == LikelyHidden
}

// LikelySeen reports whether what is in sight by the data's heights is more
// likely seen than not; so it is where that is not known, or nil.
func (l *Likelihood) LikelySeen() bool { return l == nil || !(l.Probability < evenChance) }

// LikelySeen reports whether a mark is more likely seen than not: by its
// likelihood where that is known, else by the data's heights. A mark that the
// heights hide never is: what hides it is as likely higher as lower.
func (l *Landmark) LikelySeen() bool { return l.Sight.Verdict == Visible && l.Likelihood.LikelySeen() }

// Percent writes a share of samples, and never says 0 or 100 of one.
func Percent(share float64) string {
	switch p := math.Round(100 * share); {
	case p < 1:
		return "under 1 %"
	case p > 99:
		return "over 99 %"
	default:
		return fmt.Sprintf("%.0f %%", p)
	}
}

// Draws of a mark's likelihood: one per cent of standard error, which a mark
// that is all but sure has after the first round.
const (
	markSamples       = 2500
	markStandardError = 0.01
)

// howSure is the likelihood of a visible mark, by the line that was looked
// along; nil where the data's error is not known.
func (v *looker) howSure(ctx context.Context, leg *profile.Leg, conditions Conditions) (*Likelihood, error) {
	if v.opts.VerticalError == 0 {
		return nil, nil
	}
	l, err := HowSure(ctx, leg, v.observer, conditions, Draws{
		VerticalError: v.opts.VerticalError, Samples: markSamples, StandardError: markStandardError, Concurrency: v.drawOn,
	})
	if err != nil {
		return nil, err
	}
	return &l, nil
}

// Doubtful reports whether a visible mark is seen with less than 75 %: it is
// not to be counted on. Where its likelihood is not known it is not doubted.
func (l *Landmark) Doubtful() bool {
	return l.Sight.Verdict == Visible && l.Likelihood != nil && l.Likelihood.Probability < leastProbable
}
