package visibility

import (
	"context"
	"fmt"
	"math"

	"crowline/profile"
)

// Defaults of an error model.
const (
	// DefaultCorrelationPosts is the correlation length in post spacings.
	// Radar and stereo elevations are made from windows of the image several
	// posts wide, so the errors of neighbouring posts agree and fade over a
	// few; no single figure is published for a product, and it differs from
	// place to place. Three is a plain middle: see ErrorModel.
	DefaultCorrelationPosts = 3.0
	// DefaultRefractionError is one standard deviation of k: 0.13 ± 0.06 is
	// quoted for mountain sights (second-hand).
	DefaultRefractionError = 0.06
	// DefaultSamples makes the standard error of a probability half a per
	// cent at most.
	DefaultSamples = 10000
)

// ErrorModel is what is not known about a sight line.
//
// The error of the ground is normal with mean 0, and its correlation between
// two places d apart is exp(-d/CorrelationLength). It belongs to the posts:
// it is drawn at places about one post spacing apart along the line and runs
// straight between, as the ground itself does. Eye and target stand on the
// ground with its error. How long the correlation is matters: errors shared
// by the whole line cancel, and errors all on their own hide most, for every
// post between has its own chance to rise (Fisher, Photogrammetric
// Engineering and Remote Sensing 57:1321, 1991, and after). Trees are no part
// of it.
type ErrorModel struct {
	// VerticalError is one standard deviation of an elevation, metres, as a
	// product states it (LE90 over 1.6449; see dem.Info).
	VerticalError float64
	// CorrelationLength, metres; zero means errors of their own at every
	// place.
	CorrelationLength float64
	// RefractionError is one standard deviation of the refraction
	// coefficient k, normal about the conditions'; zero means k is known.
	RefractionError float64
	// Samples is how many grounds are drawn; zero means DefaultSamples.
	Samples int
	// StandardError, unless zero, ends the draws as soon as the standard error
	// of the probability is no more: Samples is then the most, and 500 the
	// least that are drawn.
	StandardError float64
	// Seed starts the draws: the same seed, the same answer.
	Seed uint64
	// Concurrency is how many cores to use; zero means all. The answer does
	// not depend on it.
	Concurrency int
	// Normals, unless nil, are random numbers kept from one sight to the next,
	// for who asks many. The answer does not depend on them.
	Normals *Normals
}

// DefaultErrorModel is the model for elevations with a standard error,
// metres, along a leg.
func DefaultErrorModel(verticalError float64, leg *profile.Leg) ErrorModel {
	return ErrorModel{
		VerticalError:     verticalError,
		CorrelationLength: DefaultCorrelationPosts * leg.Spacing,
		RefractionError:   DefaultRefractionError,
	}
}

func (m ErrorModel) validate() error {
	for _, v := range []struct {
		name  string
		value float64
	}{
		{"vertical error", m.VerticalError}, {"correlation length", m.CorrelationLength}, {"error of refraction", m.RefractionError},
		{"standard error", m.StandardError},
	} {
		if !(v.value >= 0) || math.IsInf(v.value, 0) {
			return fmt.Errorf("%s %v is not a number from 0 up", v.name, v.value)
		}
	}
	if m.Samples < 0 {
		return fmt.Errorf("%d samples is not a number of draws", m.Samples)
	}
	return nil
}

// Likely is a probability in words.
type Likely uint8

const (
	// LikelyUnknown: the line meets a void or leaves the data, and the known
	// ground does not settle it.
	LikelyUnknown Likely = iota
	// LikelyHidden: seen with less than 5 %.
	LikelyHidden
	// ProbablyHidden: 5 % to under 25 %.
	ProbablyHidden
	// Doubtful: 25 % to under 75 %.
	Doubtful
	// ProbablyVisible: 75 % to under 95 %.
	ProbablyVisible
	// LikelyVisible: 95 % or more.
	LikelyVisible
)

// likelyTable is what a probability of being seen is called, from the greatest
// down: the one table of it. A class is what programs and rankings go by: 25 to
// 75 % is too near an even chance to be counted on. In a sentence that class says
// which way the chance leans, for of two grounds in three that show a mark nobody
// would say "doubtful"; the percentage stands beside it (Text).
var likelyTable = [...]struct {
	from float64
	word Likely
	says string
}{
	{0.95, LikelyVisible, "visible"},
	{leastProbable, ProbablyVisible, "probably visible"},
	{evenChance, Doubtful, "probably visible"},
	{0.25, Doubtful, "probably hidden"},
	{0.05, ProbablyHidden, "probably hidden"},
	{0, LikelyHidden, "hidden"},
}

const (
	// leastProbable is the least probability of ProbablyVisible.
	leastProbable = 0.75
	// evenChance parts what is more likely seen than not from the rest.
	evenChance = 0.5
)

// InWords is the class of a probability of being seen; NaN is LikelyUnknown.
func InWords(probability float64) Likely {
	for _, row := range likelyTable {
		if probability >= row.from {
			return row.word
		}
	}
	return LikelyUnknown
}

// says is the word of a probability in a sentence.
func says(probability float64) string {
	for _, row := range likelyTable {
		if probability >= row.from {
			return row.says
		}
	}
	return "not known"
}

// String is "unknown", "hidden", "probably hidden", "doubtful", "probably
// visible" or "visible".
func (l Likely) String() string {
	return [...]string{"unknown", "hidden", "probably hidden", "doubtful", "probably visible", "visible"}[min(l, LikelyVisible)]
}

// MarshalText writes the word String gives.
func (l Likely) MarshalText() ([]byte, error) { return []byte(l.String()), nil }

// Likelihood is how sure a sight is.
type Likelihood struct {
	Word Likely
	// Probability that the target is seen; NaN where the line meets ground
	// that is not known.
	Probability float64
	// AtMost is an upper bound that holds even then: the probability that
	// the known ground does not hide it. NaN when the target's own ground is
	// not known.
	AtMost float64
	// StandardError of Probability and AtMost, from the number of samples
	// (that of a share of 1/(2 Samples) at the least, where none or all are
	// seen).
	StandardError float64
	// WithoutFilled: the way crosses ground that was void and has been filled,
	// and nobody knows how good that is: it was taken as not known (HowSure).
	WithoutFilled bool
	// Model as it was used, with the samples drawn.
	Model ErrorModel
}

// samplesPerBlock share one stream of random numbers; a round is drawn
// between two looks at the standard error.
const (
	samplesPerBlock = 250
	samplesPerRound = 2 * samplesPerBlock
)

// Probability draws grounds and refractions from the model and counts those
// in which the observer at the leg's start sees its end. All draws are the
// same for every height of eye or target, so raising either never lowers the
// answer. An observer with an EyeElevation keeps it, whatever the ground's
// error, but never stands below the ground.
//
// Ground so far from the line that no draw could bring it there is left out of
// the draws, and where ground stands so far over it that none could take it away
// nothing is drawn: the answer is as if it were (see settle).
//
// Cost: samples times posts along the line, some 5 ns each, and with Normals a
// tenth of that.
func Probability(ctx context.Context, leg *profile.Leg, o Observer, conditions Conditions, model ErrorModel) (Likelihood, error) {
	if err := model.validate(); err != nil {
		return Likelihood{}, err
	}
	s, err := newSection(leg, o, conditions)
	if err != nil {
		return Likelihood{}, err
	}
	if model.Samples == 0 {
		model.Samples = DefaultSamples
	}
	out := Likelihood{Probability: math.NaN(), AtMost: math.NaN(), StandardError: math.NaN(), Model: model}
	out.Model.Normals = nil
	if math.IsNaN(s.target) {
		return out, nil
	}
	d := newDraws(s, model, o.EyeElevation != nil)
	total, drawn := 0, 0
	for drawn < model.Samples {
		round := model.Samples - drawn
		if model.StandardError > 0 {
			round = min(round, samplesPerRound)
		}
		seen, err := d.count(ctx, drawn/samplesPerBlock, round, model)
		if err != nil {
			return Likelihood{}, fmt.Errorf("probability of the sight from %s to %s: %w", leg.From, leg.To, err)
		}
		total, drawn = total+seen, drawn+round
		n := float64(drawn)
		out.AtMost = float64(total) / n
		share := max(0.5/n, min(out.AtMost, 1-0.5/n))
		out.StandardError = math.Sqrt(share * (1 - share) / n)
		if out.StandardError <= model.StandardError {
			break
		}
	}
	out.Model.Samples = drawn
	p := out.AtMost
	if !d.void {
		out.Probability = p
		out.Word = InWords(p)
	} else if InWords(p) == LikelyHidden {
		out.Word = LikelyHidden
	}
	return out, nil
}

// draws is a section made ready to be drawn many times.
type draws struct {
	length    float64
	eye, top  float64 // elevations, metres
	fixedEye  bool
	ground    float64 // at the eye
	endDrop   float64 // of the Earth's curve, metres, no refraction
	points    []drawn
	nodes     int
	keep, add float64 // of a node's error from the last: keep*last + add*normal
	first     float64 // standard deviation
	lowering  float64
	refract   float64 // standard deviation of k
	void      bool
	hidden    bool  // no draw shows the target
	needed    []int // nodes that points stand between, and the last
	forget    int   // nodes after which an error is forgotten
}

// drawn is known ground between eye and target.
type drawn struct {
	distance, elevation, drop float64
	node                      int     // the node before it
	fraction                  float64 // of the way to the next
	slot                      int     // of its node among those needed
	sigmas                    float64 // how far the line passes over it, standard deviations
}

func newDraws(s *section, model ErrorModel, fixedEye bool) *draws {
	points := s.leg.Points
	last := points[len(points)-1]
	spaces := max(1, int(math.Round(s.leg.Distance/s.leg.Spacing)))
	space := s.leg.Distance / float64(spaces)
	keep := 0.0
	if model.CorrelationLength > 0 {
		keep = math.Exp(-space / model.CorrelationLength)
	}
	d := &draws{
		length: s.leg.Distance, eye: s.eye, top: s.top, fixedEye: fixedEye, ground: points[0].Elevation, endDrop: last.Drop,
		nodes: spaces + 1, keep: keep, add: model.VerticalError * math.Sqrt(1-keep*keep), first: model.VerticalError,
		lowering: s.lowering, refract: model.RefractionError,
	}
	d.points = make([]drawn, 0, len(points))
	for i, p := range points {
		if !s.between(i) {
			continue
		}
		if math.IsNaN(p.Elevation) {
			d.void = true
			continue
		}
		node := min(int(p.Distance/space), spaces-1)
		d.points = append(d.points, drawn{
			distance: p.Distance, elevation: p.Elevation, drop: p.Drop, node: node, fraction: p.Distance/space - float64(node),
		})
	}
	d.settle()
	return d
}

// count draws so many grounds, from a block's stream of random numbers on, and
// tells in how many the target is seen.
func (d *draws) count(ctx context.Context, block, samples int, model ErrorModel) (int, error) {
	blocks := (samples + samplesPerBlock - 1) / samplesPerBlock
	seen := make([]int, blocks)
	if d.hidden || len(d.points) == 0 {
		if d.hidden {
			samples = 0
		}
		return samples, ctx.Err()
	}
	err := parallel(ctx, blocks, model.Concurrency, func(_, b int) {
		of := &stream{kept: model.Normals.of(model.Seed, block+b, samplesPerBlock*(d.nodes+1))}
		if of.kept == nil {
			of.random = newStream(model.Seed, block+b)
		}
		seen[b] = d.seenOf(of, min(samplesPerBlock, samples-b*samplesPerBlock))
	})
	total := 0
	for _, n := range seen {
		total += n
	}
	return total, err
}
