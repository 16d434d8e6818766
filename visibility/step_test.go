package visibility

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// stepModel is an error of 5 m that fades over three 10 m posts.
var stepModel = ErrorModel{VerticalError: 5, CorrelationLength: 30, RefractionError: 0.06, Samples: 40, Seed: 3}

func TestStepsOfProbabilities(t *testing.T) {
	t.Parallel()
	for p, want := range map[float64]Step{
		1: StepClear, 0.95: StepClear, 0.75: StepClear, 0.7499: StepWithinError, 0.5: StepWithinError, 0.25: StepWithinError,
		0.2499: StepHidden, 0: StepHidden,
	} {
		assert.Equal(t, want, StepOf(p), "%v", p)
	}
	assert.Equal(t, StepUnknown, StepOf(math.NaN()))
}

// TestWithoutErrorAStepIsTheVerdict: on broken ground with voids, within a radius.
func TestWithoutErrorAStepIsTheVerdict(t *testing.T) {
	t.Parallel()
	g := fractal(t, 120, 4)
	for i := range 25 {
		g.Elevations[37*g.Columns+40+i] = float32(math.NaN())
	}
	v := viewshed(t, g, 60, 60, 2, func(o *ViewshedOptions) { o.Radius = 450 })
	l, err := ViewshedProbability(context.Background(), g, v, ErrorModel{Samples: 4}, nil)
	require.NoError(t, err)
	met := map[Verdict]int{}
	for i, verdict := range v.Verdicts {
		require.Equal(t, Step(verdict), l.Steps[i])
		met[verdict]++
	}
	assert.Len(t, met, 4, "all verdicts are met")
}

// TestATallerTargetIsNoLessLikely: at every post, in every draw.
func TestATallerTargetIsNoLessLikely(t *testing.T) {
	t.Parallel()
	g := fractal(t, 120, 5)
	var last *ViewedLikelihood
	rose := 0
	for _, target := range []float64{0, 1, 4, 20} {
		v := viewshed(t, g, 60, 55, 1.6, func(o *ViewshedOptions) { o.TargetAboveGround = target })
		l, err := ViewshedProbability(context.Background(), g, v, stepModel, nil)
		require.NoError(t, err)
		for i := range l.Seen {
			if last != nil {
				require.GreaterOrEqual(t, l.Seen[i], last.Seen[i])
				if l.Seen[i] > last.Seen[i] {
					rose++
				}
			}
		}
		last = l
	}
	assert.Greater(t, rose, 1000)
}

// TestFieldOfErrors: each error has the model's deviation, and those of neighbours
// agree as they should.
func TestFieldOfErrors(t *testing.T) {
	t.Parallel()
	g := metreGrid(400, 300, flat)
	v := viewshed(t, g, 200, 150, 2)
	f, err := newErrorField(v, stepModel)
	require.NoError(t, err)
	require.NoError(t, f.draw(context.Background(), 0))
	moment := func(dc, dr int) float64 {
		sum, n := 0.0, 0.0
		for r := range f.rows - dr {
			for c := range f.columns - dc {
				sum += float64(f.errors[r*f.columns+c]) * float64(f.errors[(r+dr)*f.columns+c+dc])
				n++
			}
		}
		return sum / n / 25
	}
	// 120000 posts, correlated over some 8 by 8 of them, are worth 2000: a
	// variance is good to 3 %, and three times that is allowed.
	const tol = 0.1
	length := axisCorrelation * 30.0
	assert.InDelta(t, 1, moment(0, 0), tol)
	assert.InDelta(t, math.Exp(-30/length), moment(3, 0), tol)
	assert.InDelta(t, math.Exp(-30/length), moment(0, 3), tol)
	assert.InDelta(t, math.Exp(-60/length), moment(3, 3), tol)
	again, err := newErrorField(v, stepModel)
	require.NoError(t, err)
	require.NoError(t, again.draw(context.Background(), 1))
	assert.NotEqual(t, f.errors[:10], again.errors[:10], "each field is another")
}

// TestStepsAreTheSameAtAnyConcurrency: to the last bit; and they can be broken off.
func TestStepsAreTheSameAtAnyConcurrency(t *testing.T) {
	t.Parallel()
	g := fractal(t, 120, 6)
	v := viewshed(t, g, 50, 60, 1.6)
	var first *ViewedLikelihood
	for _, concurrency := range []int{1, 3} {
		m := stepModel
		m.Concurrency = concurrency
		var told []int64
		l, err := ViewshedProbability(context.Background(), g, v, m, func(done, total int64) { told = append(told, done, total) })
		require.NoError(t, err)
		assert.Equal(t, []int64{1, 40}, told[:2])
		assert.Equal(t, []int64{40, 40}, told[len(told)-2:])
		if first != nil {
			assert.Equal(t, first.Seen, l.Seen)
		}
		first = l
	}
	ctx, cancel := context.WithCancel(context.Background())
	_, err := ViewshedProbability(ctx, g, v, stepModel, func(done, _ int64) {
		if done == 2 {
			cancel()
		}
		require.LessOrEqual(t, done, int64(3))
	})
	require.ErrorIs(t, err, context.Canceled)
	m := stepModel
	m.Samples = mostViewedSamples + 1
	_, err = ViewshedProbability(context.Background(), g, v, m, nil)
	require.Error(t, err)
}

// TestBehindFilledGroundTheVerdictStands: the error of a filled wall is nobody's
// guess. The wall and what lies behind it are told as they were; behind a measured
// wall the draws decide.
func TestBehindFilledGroundTheVerdictStands(t *testing.T) {
	t.Parallel()
	doubted := func(filled bool) int {
		g := walled(func(int) bool { return filled })
		o := onPost(t, g, 10, 30)
		o.EyeAboveGround = 80 // over the wall: what is as far behind as before it is seen again
		v, err := Viewshed(t.Context(), g, o, DefaultViewshedOptions())
		require.NoError(t, err)
		l, err := ViewshedProbability(t.Context(), g, v, stepModel, nil)
		require.NoError(t, err)
		behind := 0
		for i, step := range l.Steps {
			switch {
			case i%g.Columns < 30:
			case filled:
				require.Equal(t, Step(v.Verdicts[i]), step)
			case step == StepWithinError:
				behind++
			}
		}
		return behind
	}
	doubted(true)
	assert.Positive(t, doubted(false))
}

// TestAnEyeAtAGivenHeightIsNeverUnderTheGround that is drawn: there is an answer
// though it stands on the ground.
func TestAnEyeAtAGivenHeightIsNeverUnderTheGround(t *testing.T) {
	t.Parallel()
	g := metreGrid(30, 30, flat)
	o := observerAt(t, g, 15, 15)
	eye := 0.5
	o.EyeElevation = &eye
	v, err := Viewshed(t.Context(), g, o, DefaultViewshedOptions())
	require.NoError(t, err)
	_, err = ViewshedProbability(t.Context(), g, v, stepModel, nil)
	require.NoError(t, err)
}
