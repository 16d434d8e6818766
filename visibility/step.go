package visibility

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"crowline/dem"
)

// Step is what a map says of a post whose likelihood of being seen is known.
type Step uint8

// The first four are the verdicts, in number and sense.
const (
	// StepOutOfRange: it was not looked at.
	StepOutOfRange = Step(OutOfRange)
	// StepClear: seen with 75 % or more.
	StepClear = Step(Visible)
	// StepHidden: seen with less than 25 %.
	StepHidden = Step(Hidden)
	// StepUnknown: its line meets a void or leaves the data.
	StepUnknown = Step(Unknown)
	// StepWithinError: 25 to under 75 %. Whether it is seen hangs on the data's
	// error.
	StepWithinError = StepUnknown + 1
)

// String is "not looked at", "clear", "hidden", "unknown" or "within the error".
func (s Step) String() string {
	return [...]string{"not looked at", "clear", "hidden", "unknown", "within the error"}[min(s, StepWithinError)]
}

// StepOf is the step of a probability of being seen; NaN is StepUnknown.
func StepOf(probability float64) Step {
	switch InWords(probability) {
	case LikelyUnknown:
		return StepUnknown
	case LikelyVisible, ProbablyVisible:
		return StepClear
	case Doubtful:
		return StepWithinError
	default:
		return StepHidden
	}
}

// ViewedLikelihood is how sure the posts of a view are seen.
type ViewedLikelihood struct {
	// Seen is in how many of the grounds drawn a post is seen, row by row as the
	// view's Verdicts.
	Seen []uint8
	// Steps of the posts: what a map shows.
	Steps []Step
	// Model as it was used, with the grounds drawn.
	Model ErrorModel
}

const (
	// viewedSamples are the grounds drawn for a view. One that is seen in a
	// quarter of all grounds comes out between 20 and 30 of 100: posts that
	// near to the bound of a step may fall on its other side.
	viewedSamples = 100
	// mostViewedSamples is what a count of Seen holds.
	mostViewedSamples = 255
	// axisCorrelation is the correlation length along rows and columns, for one
	// in every direction. Errors that fade along rows and along columns fade as
	// exp(-(|x|+|y|)/length), faster along a diagonal; |x|+|y| is 4/pi of the
	// distance on the average of all directions.
	axisCorrelation = 4 / math.Pi
)

// HowSureViewed is ViewshedProbability by the DefaultErrorModel and a fixed seed:
// for every post of a view what HowSure says of one sight, more coarsely. Samples
// zero are 100 grounds.
func HowSureViewed(ctx context.Context, g *dem.Grid, v *Viewed, d Draws, progress func(done, total int64)) (*ViewedLikelihood, error) {
	spacing, err := v.postSpacing()
	if err != nil {
		return nil, err
	}
	return ViewshedProbability(ctx, g, v, ErrorModel{
		VerticalError: d.VerticalError, CorrelationLength: DefaultCorrelationPosts * spacing, RefractionError: DefaultRefractionError,
		Samples: d.Samples, Concurrency: d.Concurrency, Seed: 1,
	}, progress)
}

// postSpacing is the distance between posts in the middle of the view, metres, the
// greater of along rows and along columns, as profile.Leg has it.
func (v *Viewed) postSpacing() (float64, error) {
	row, column, err := v.Frame.Spacing(float64(v.Frame.Columns-1)/2, float64(v.Frame.Rows-1)/2)
	return max(row, column), err
}

// ViewshedProbability is Probability for all posts of a view v of grid g at once:
// in how many grounds drawn from the model does Viewshed see each. The error is
// drawn at the posts; its correlation fades along rows and along columns, on the
// average of all directions as the model's. Each ground comes with its mirror
// image, all errors turned round, which is as likely, so that fewer do. All draws
// are the same for every height of eye or target, so raising either never lowers
// an answer; without any error a post's step is its verdict.
//
// A post that is void or whose line meets a void is StepUnknown, and one whose line
// meets ground that was void and has been filled, whose error nobody knows, keeps
// its verdict, but where the rest of the ground makes it StepHidden.
//
// Cost: a Viewshed for each ground and some 30 ns a post; memory 13 bytes a post
// and what the views leave behind.
func ViewshedProbability(ctx context.Context, g *dem.Grid, v *Viewed, model ErrorModel, progress func(done, total int64)) (*ViewedLikelihood, error) {
	if err := model.validate(); err != nil {
		return nil, err
	}
	w := v.Window
	if w.Intersect(g.Whole()) != w || len(v.Verdicts) != w.Columns*w.Rows {
		return nil, fmt.Errorf("the viewshed's %d x %d posts are not the grid's", w.Columns, w.Rows)
	}
	if model.Samples == 0 {
		model.Samples = viewedSamples
	}
	if model.Samples > mostViewedSamples {
		return nil, fmt.Errorf("%d grounds of a view: %d are the most", model.Samples, mostViewedSamples)
	}
	field, err := newErrorField(v, model)
	if err != nil {
		return nil, err
	}
	known, err := trusted(g, v)
	if err != nil {
		return nil, err
	}
	drawn := &dem.Grid{Frame: v.Frame, Elevations: make([]float32, len(v.Verdicts)), Source: g.Source}
	out := &ViewedLikelihood{Seen: make([]uint8, len(v.Verdicts)), Steps: make([]Step, len(v.Verdicts)), Model: model}
	unknown := make([]uint8, len(v.Verdicts))
	opts := v.Options
	opts.HeightNeeded, opts.HorizonStep, opts.Progress, opts.Concurrency = false, 0, nil, model.Concurrency
	for k := range model.Samples {
		sign := float32(1)
		if k%2 == 1 {
			sign = -1
		} else if err := field.draw(ctx, k/2); err != nil {
			return nil, fmt.Errorf("how sure the view from %s is: %w", v.Observer.Place, err)
		}
		opts.Refraction = v.Options.Refraction + float64(sign)*field.refraction
		err := parallel(ctx, w.Rows, model.Concurrency, func(_, r int) {
			heights := g.Elevations[(w.Row+r)*g.Columns+w.Column:][:w.Columns]
			errors, line := field.errors[r*w.Columns:][:w.Columns], drawn.Elevations[r*w.Columns:][:w.Columns]
			for c, h := range heights {
				line[c] = h + sign*errors[c]
			}
			for c := 0; known != nil && c < len(line); c++ {
				if !known(c, r) {
					line[c] = float32(math.NaN())
				}
			}
		})
		if err == nil {
			err = count(ctx, drawn, v, opts, out.Seen, unknown)
		}
		if err != nil {
			return nil, fmt.Errorf("how sure the view from %s is: %w", v.Observer.Place, err)
		}
		if progress != nil {
			progress(int64(k+1), int64(model.Samples))
		}
	}
	n := float64(model.Samples)
	for i, verdict := range v.Verdicts {
		step := Step(verdict)
		if verdict == Visible || verdict == Hidden {
			atMost := StepOf(float64(out.Seen[i]+unknown[i]) / n)
			if unknown[i] == 0 || atMost == StepHidden {
				step = atMost
			}
		}
		out.Steps[i] = step
	}
	return out, nil
}

// trusted tells the posts of a view whose error is known: those that have not been
// filled, and those that the observer stands between, without whom there is no
// question; nil where that is all of them.
func trusted(g *dem.Grid, v *Viewed) (func(column, row int) bool, error) {
	if g.Filled == nil {
		return nil, nil
	}
	column, row, err := g.Locate(v.Observer.Place)
	if err != nil {
		return nil, err
	}
	return func(c, r int) bool {
		c, r = c+v.Window.Column, r+v.Window.Row
		return !g.IsFilled(c, r) || math.Abs(float64(c)-column) < 1 && math.Abs(float64(r)-row) < 1
	}, nil
}

// count looks at one ground.
func count(ctx context.Context, ground *dem.Grid, v *Viewed, opts ViewshedOptions, seen, unknown []uint8) error {
	o := v.Observer
	if o.EyeElevation != nil { // keeps it, but never stands below the ground
		under, err := dem.ElevationAt(ground, o.Place)
		if err != nil {
			return fmt.Errorf("observer: %w", err)
		}
		eye := max(*o.EyeElevation, under)
		o.EyeElevation = &eye
	}
	again, p, err := problemIn(ctx, ground, ground.Whole(), o, opts)
	if err != nil {
		return err
	}
	if err := again.look(ctx, p, opts, nil); err != nil {
		return err
	}
	for i, verdict := range again.Verdicts {
		switch verdict {
		case Visible:
			seen[i]++
		case Unknown:
			unknown[i]++
		}
	}
	return nil
}

// errorField draws the errors of posts.
type errorField struct {
	columns, rows       int
	alongRow, alongLine float64 // what of an error the next post of a row, and of a column, has
	sigma, sigmaK       float64
	seed                uint64
	concurrency         int

	errors     []float32 // of the heights, metres
	refraction float64   // of k
}

func newErrorField(v *Viewed, m ErrorModel) (*errorField, error) {
	f := &errorField{
		columns: v.Window.Columns, rows: v.Window.Rows, sigma: m.VerticalError, sigmaK: m.RefractionError, seed: m.Seed, concurrency: m.Concurrency,
		errors: make([]float32, v.Window.Columns*v.Window.Rows),
	}
	if m.CorrelationLength == 0 {
		return f, nil
	}
	dx, dy, err := v.Frame.Spacing(float64(f.columns-1)/2, float64(f.rows-1)/2)
	length := axisCorrelation * m.CorrelationLength
	f.alongRow, f.alongLine = math.Exp(-dx/length), math.Exp(-dy/length)
	return f, err
}

// bandColumns are carried on down the field together.
const bandColumns = 256

// draw makes the n-th field, which hangs on the seed and n alone.
func (f *errorField) draw(ctx context.Context, n int) error {
	f.refraction = f.sigmaK * rand.New(rand.NewPCG(f.seed, uint64(n)<<32|math.MaxUint32)).NormFloat64()
	fresh := f.sigma * math.Sqrt(1-f.alongRow*f.alongRow)
	err := parallel(ctx, f.rows, f.concurrency, func(_, r int) {
		random := rand.New(rand.NewPCG(f.seed, uint64(n)<<32|uint64(r)))
		line := f.errors[r*f.columns:][:f.columns]
		last := f.sigma * random.NormFloat64()
		for c := range line {
			line[c] = float32(last)
			last = f.alongRow*last + fresh*random.NormFloat64()
		}
	})
	if err != nil {
		return err
	}
	keep, add := float32(f.alongLine), float32(math.Sqrt(1-f.alongLine*f.alongLine))
	return parallel(ctx, (f.columns+bandColumns-1)/bandColumns, f.concurrency, func(_, band int) {
		from, to := band*bandColumns, min((band+1)*bandColumns, f.columns)
		for r := 1; r < f.rows; r++ {
			above, line := f.errors[(r-1)*f.columns:][:f.columns], f.errors[r*f.columns:][:f.columns]
			for c := from; c < to; c++ {
				line[c] = keep*above[c] + add*line[c]
			}
		}
	})
}
