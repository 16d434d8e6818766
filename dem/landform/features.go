package landform

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"crowline/dem"
)

// Kind is a terrain feature of TC 3-25.26.
type Kind string

const (
	// Hill: ground that falls in all directions from a summit.
	Hill Kind = "hill"
	// Saddle: the low point between two hills: high in two opposite
	// directions, low in the two others.
	Saddle Kind = "saddle"
	// Ridge: a line of high ground, low on both sides.
	Ridge Kind = "ridge"
	// Spur: a line of high ground that falls without a break from the side
	// of a longer ridge.
	Spur Kind = "spur"
	// Valley: a line of low ground, high on both sides, with level floor.
	Valley Kind = "valley"
	// Draw: as a valley, with no level floor.
	Draw Kind = "draw"
	// Depression: ground that rises in all directions.
	Depression Kind = "depression"
	// Cliff: ground so steep that contours touch or nearly.
	Cliff Kind = "cliff"
)

var kinds = []Kind{Hill, Saddle, Ridge, Spur, Valley, Draw, Depression, Cliff}

// Feature is a terrain feature found at a scale.
type Feature struct {
	Kind Kind
	// Post is the feature's place: the summit, the floor of the saddle or
	// depression, the middle of a line, the steepest post of a cliff.
	Post
	// Size in metres: of a hill or depression the width of a round one of its
	// area, the area taken down to the key saddle or up to the rim; of a
	// saddle the way, straight, to the lower of its two summits; of a line
	// its length; of a cliff its length on the ground.
	Size float64
	// Relief is what the feature stands out by, metres: prominence, depth,
	// the lesser of climb and fall for a saddle, the median fall (or rise) to
	// the lesser side for a line where it is enough, the greatest step for a cliff.
	Relief float64
	// Confidence in [0, 1]: the chance that the relief is not made by the
	// elevation error alone, times the share of the places looked at where
	// the definition holds.
	Confidence float64
	// Reason is one sentence with the numbers.
	Reason Sentence
	// Line is the crest or floor, ridges, spurs, valleys and draws only; it
	// runs downhill from the top of a valley or draw, uphill from the tip of
	// a ridge or spur.
	Line []Position
	// Parts are the ground that a feature with an area covers, in convex
	// pieces of one to four corners each, no longer than a few cells: of a
	// cliff the ground between the posts of its steps, of a depression that
	// below the lowest place of its rim, of a hill its top, where it is flat.
	// Nil for what has no area. (A hill counts at its top, not at its flanks:
	// the flanks of the highest hill are all the ground there is.) A Ruler
	// measures to them.
	Parts [][]Position
	// Level is true of a depression whose floor is posts of one height, too many to
	// be so by chance: water, a lake probably. Filled ground is none.
	Level bool
	// Fall is the difference between the highest and lowest post of Line,
	// metres.
	Fall float64
}

// LineString is the feature's line, longitude and latitude on WGS 84; empty
// for features that have none.
func (f Feature) LineString(frame *dem.Frame) (orb.LineString, error) {
	var out orb.LineString
	for _, p := range f.Line {
		q, err := frame.Place(p.Column, p.Row)
		if err != nil {
			return nil, err
		}
		out = append(out, orb.Point{float64(q.Lon), float64(q.Lat)})
	}
	return out, nil
}

// DefaultScale of features, metres.
const DefaultScale = 500

// FeatureOptions says what counts as a feature. The zero value takes every
// default.
type FeatureOptions struct {
	// Kinds to look for. Default all.
	Kinds []Kind
	// Scale is how far round a place its shape is judged, and the least
	// length of a line, metres; at least twice the spacing of the posts.
	// Default DefaultScale, or four spacings where that is more. Posts much
	// finer than a fiftieth of it take time and tell no more: thin them
	// (dem.ReadEvery).
	Scale float64
	// VerticalError is one standard deviation of a post's elevation, metres.
	// Default the data's own (Grid.Source.VerticalError), or 5 when unstated.
	VerticalError float64
	// MinRelief is the least relief, metres. Default five times
	// VerticalError, and at least 10: of 100 000 posts of level ground the
	// one with the greatest error stands 4.3 standard deviations out.
	MinRelief float64
	// LevelGradient is the greatest gradient of a valley's floor that is
	// called level, rise over run. Default 0.05.
	LevelGradient float64
	// CliffGradient is the least gradient between neighbouring posts that is
	// a cliff. Default 1, which is 45 degrees.
	CliffGradient float64
	// MinConfidence leaves out features less sure. Default 0.5.
	MinConfidence float64
	// Progress, when not nil, is called from the calling goroutine with steps
	// done and in all, never decreasing.
	Progress func(done, total int64)
}

// Resolve fills in the defaults for a grid: what Features will use, for an
// answer to state. The error tells a value that makes no sense.
func (o FeatureOptions) Resolve(g *dem.Grid) (FeatureOptions, error) {
	m, err := newMetric(&g.Frame)
	if err != nil {
		return o, err
	}
	set := func(v *float64, standard float64) {
		if *v == 0 {
			*v = standard
		}
	}
	const unstatedError = 5 // m: SRTM as measured by Rodriguez et al. 2006, near enough; most data does better
	set(&o.Scale, max(DefaultScale, 4*m.spacing()))
	if g.Source.VerticalError > 0 {
		set(&o.VerticalError, g.Source.VerticalError)
	}
	set(&o.VerticalError, unstatedError)
	set(&o.MinRelief, max(10, 5*o.VerticalError))
	set(&o.LevelGradient, 0.05)
	set(&o.CliffGradient, 1)
	set(&o.MinConfidence, 0.5)
	if len(o.Kinds) == 0 {
		o.Kinds = kinds
	}
	for _, k := range o.Kinds {
		if !slices.Contains(kinds, k) {
			return o, fmt.Errorf("landform: %q is not a kind of feature; they are %v", k, kinds)
		}
	}
	for _, v := range []struct {
		name  string
		value float64
	}{{"scale", o.Scale}, {"vertical error", o.VerticalError}, {"least relief", o.MinRelief},
		{"level gradient", o.LevelGradient}, {"cliff gradient", o.CliffGradient}, {"least confidence", o.MinConfidence}} {
		if !(v.value > 0) || math.IsInf(v.value, 0) {
			return o, fmt.Errorf("landform: %s %g is not above zero", v.name, v.value)
		}
	}
	classify := ClassifyOptions{Radius: o.Scale}
	return o, classify.validate(m)
}

// finder holds what the searches for each kind share.
type finder struct {
	g       *dem.Grid
	m       metric
	o       FeatureOptions
	classes ClassifyOptions
	found   []Feature
}

// surroundings of one post, of the scale asked for: a search asks for those of
// a few posts in a thousand.
func (f *finder) surroundings(column, row int) (s Surroundings, known bool) {
	if uint(column) >= uint(f.g.Columns) || uint(row) >= uint(f.g.Rows) {
		return s, false
	}
	l := newLook(f.g, f.m, f.classes, row)
	return surroundings(l.pattern(column))
}

// form of one post.
func (f *finder) form(column, row int) Form {
	s, known := f.surroundings(column, row)
	if !known {
		return FormUnknown
	}
	return s.Form()
}

// Features finds terrain features, by kind in the order of the constants,
// then by Relief falling, row, column. The rules, with S the scale, R the
// least relief:
//
//   - Hill: a summit known to be R prominent or more, a quarter of S or more
//     wide. The definition holds in
//     the share of the eight directions that are lower within S.
//   - Saddle: the key saddle of such a hill, R or more below its summit,
//     where the ground falls R or more within S in two opposite directions.
//     The definition holds in full when two opposite directions are higher
//     and two others lower, by half when the eight directions say otherwise.
//   - Depression: a hollow known to be R or more deep, water filling it so far
//     before it ran out or reached the edge of the data, and a quarter of S or
//     more wide.
//   - Ridge, valley: a course line (of the grid upside down, for ridges)
//     draining S squared or more, along which the ground falls (rises) R or
//     more on both sides within half of S, and 0.6 as much or more as along
//     the line itself, for S or more on end but for gaps shorter than half of S. (The
//     flank of a cone falls off to both sides too, but less than that.) The
//     definition holds at the share of posts where all this is so and the
//     geomorphon is peak, ridge or spur (pit, valley or hollow).
//   - Spur: such a high line whose top comes within S of a longer one, and
//     which from there falls R or more to its tip without rising R again.
//   - Draw: the part of a low line, S long or more, above the first place
//     where the floor falls at no more than the level gradient over S; below
//     it is the valley.
//   - Cliff: neighbouring posts R or more apart in elevation and steeper than
//     the cliff gradient, all that touch being one; and, where posts are
//     finer than what a fall of R takes at that gradient, any two of a row,
//     column or diagonal so far apart or less.
//
// Geomorphons leave out ground nearer than a quarter of S.
func Features(ctx context.Context, g *dem.Grid, o FeatureOptions) ([]Feature, error) {
	if len(g.Elevations) != g.Columns*g.Rows || len(g.Elevations) == 0 {
		return nil, fmt.Errorf("landform: %d elevations for %d x %d posts", len(g.Elevations), g.Columns, g.Rows)
	}
	o, err := o.Resolve(g)
	if err != nil {
		return nil, err
	}
	f := &finder{g: g, o: o}
	if f.m, err = newMetric(&g.Frame); err != nil {
		return nil, err
	}
	const steps = 6
	report := func(step int64) {
		if o.Progress != nil {
			o.Progress(step, steps)
		}
	}
	f.classes = ClassifyOptions{Radius: o.Scale, Skip: o.Scale / 4}
	if err := f.classes.validate(f.m); err != nil {
		return nil, err
	}
	for i, search := range []struct {
		kinds [2]Kind
		run   func(context.Context) error
	}{
		{[2]Kind{Hill, Saddle}, f.hills},
		{[2]Kind{Depression}, f.depressions},
		{[2]Kind{Ridge, Spur}, f.highLines},
		{[2]Kind{Valley, Draw}, f.lowLines},
		{[2]Kind{Cliff}, f.cliffs},
	} {
		report(int64(i + 1))
		if err := ctx.Err(); err != nil {
			return nil, fmt.Errorf("landform: %w", err)
		}
		if slices.Contains(o.Kinds, search.kinds[0]) || slices.Contains(o.Kinds, search.kinds[1]) {
			if err := search.run(ctx); err != nil {
				return nil, err
			}
		}
	}
	f.found = slices.DeleteFunc(f.found, func(x Feature) bool {
		return x.Confidence < o.MinConfidence || !slices.Contains(o.Kinds, x.Kind)
	})
	slices.SortStableFunc(f.found, func(a, b Feature) int {
		return cmp.Or(cmp.Compare(slices.Index(kinds, a.Kind), slices.Index(kinds, b.Kind)),
			cmp.Compare(b.Relief, a.Relief), cmp.Compare(a.Row, b.Row), cmp.Compare(a.Column, b.Column))
	})
	report(steps)
	return f.found, nil
}

// chance that a difference of two elevations measured as relief is truly
// above zero: the normal integral at relief / (sqrt(2) error).
func (f *finder) chance(relief float64) float64 {
	return 0.5 * math.Erfc(-relief/(2*f.o.VerticalError))
}

func (f *finder) position(p int32) Position {
	return Position{float64(int(p) % f.g.Columns), float64(int(p) / f.g.Columns)}
}

// roundWidth is the diameter of a circle of some area, metres.
func roundWidth(area float64) float64 { return 2 * math.Sqrt(area/math.Pi) }

func (f *finder) hills(ctx context.Context) error {
	summits, err := Summits(ctx, f.g, SummitOptions{MinProminence: f.o.MinRelief})
	if err != nil {
		return err
	}
	for _, s := range summits {
		if s.Prominence < f.o.MinRelief || roundWidth(s.IslandArea) < f.o.Scale/4 {
			continue
		}
		round, known := f.surroundings(s.Column, s.Row)
		if !known {
			continue
		}
		_, lower := round.Count()
		atLeast := ""
		if s.AtLeast {
			atLeast = "at least "
		}
		var top [][]Position
		if s.Posts > 1 {
			top = covered(levelTop(f.g, s.Post), f.g.Columns)
		}
		f.found = append(f.found, Feature{Kind: Hill, Post: s.Post, Parts: top, Size: roundWidth(s.IslandArea), Relief: s.Prominence,
			Confidence: f.chance(s.Prominence) * float64(lower) / 8,
			Reason: Say("the ground falls in %d of 8 directions within %s, and %s%s before it rises higher than %s again",
				lower, Far(f.o.Scale), atLeast, Up(s.Prominence), Up(s.Elevation))})
		if s.KeySaddle == nil {
			continue
		}
		k := *s.KeySaddle
		round, known = f.surroundings(k.Column, k.Row)
		if !known {
			continue
		}
		holds, share := "high in two opposite directions and low in two others", 1.0
		if !round.Saddle() {
			higher, lower := round.Count()
			holds, share = fmt.Sprintf("higher in %d and lower in %d of 8 directions", higher, lower), 0.5
		}
		fall := f.sideFall(k)
		relief := min(s.MostProminence, fall)
		if relief < f.o.MinRelief {
			continue
		}
		f.found = append(f.found, Feature{Kind: Saddle, Post: k,
			Size:   f.m.distance(Position{float64(k.Column), float64(k.Row)}, Position{float64(s.Column), float64(s.Row)}),
			Relief: relief, Confidence: f.chance(relief) * share,
			Reason: Say("%s within %s: %s below the lower of the two hills it joins, and falling %s to its sides",
				holds, Far(f.o.Scale), Up(s.MostProminence), Up(fall))})
	}
	return nil
}

// sideFall is the greatest fall from a post within the scale in the two
// opposite directions of the grid where the lesser is greatest, metres.
func (f *finder) sideFall(p Post) float64 {
	x, y := f.m.at(float64(p.Row))
	var fall [8]float64
	for i, d := range directions {
		step := math.Hypot(float64(d[0])*x, float64(d[1])*y)
		for k := 1; float64(k)*step <= f.o.Scale; k++ {
			h := f.g.Elevation(p.Column+k*d[0], p.Row+k*d[1])
			if math.IsNaN(h) || math.IsInf(h, 0) {
				break
			}
			fall[i] = max(fall[i], p.Elevation-h)
		}
	}
	best := 0.0
	for i := range 4 {
		best = max(best, min(fall[i], fall[i+4]))
	}
	return best
}

func (f *finder) depressions(ctx context.Context) error {
	low, err := runFlood(ctx, f.g, false, nil)
	if err != nil {
		return err
	}
	seen := map[int32]bool{}
	for _, t := range low.tops(f.o.MinRelief) {
		if t.least < f.o.MinRelief {
			continue // it may drain off the data
		}
		if roundWidth(float64(t.island)*f.m.area(int(t.peak)/f.g.Columns)) < f.o.Scale/4 {
			continue
		}
		floor := low.levelWith(t.peak, seen)
		p, err := postAt(f.g, middle(floor, f.g.Columns))
		if err != nil {
			return err
		}
		round, known := f.surroundings(p.Column, p.Row)
		if !known {
			continue
		}
		higher, _ := round.Count()
		atLeast := ""
		if t.least < t.most {
			atLeast = "at least "
		}
		level := ""
		water := f.water(floor)
		if water {
			level = "; its floor is level: water, a lake probably"
		}
		f.found = append(f.found, Feature{Kind: Depression, Post: p, Parts: covered(low.below(t), f.g.Columns),
			Size: roundWidth(float64(t.island) * f.m.area(p.Row)), Relief: t.least,
			Confidence: f.chance(t.least) * float64(higher) / 8, Level: water,
			Reason: Say("the ground rises in %d of 8 directions within %s, and %s%s to the lowest place on the rim%s",
				higher, Far(f.o.Scale), atLeast, Up(t.least), level)})
	}
	return nil
}

// Least floor that is taken for water: a few neighbours agree by chance where
// heights are whole metres, and ponds smaller than that are no landform
// (package scene has the same of water in view).
const (
	leastWaterPosts = 25
	leastWaterArea  = 40e3 // m2
)

// water reports whether a floor of one height is a lake, probably.
func (f *finder) water(floor []int32) bool {
	if len(floor) < leastWaterPosts || float64(len(floor))*f.m.area(int(floor[0])/f.g.Columns) < leastWaterArea {
		return false
	}
	return !slices.ContainsFunc(floor, func(p int32) bool { return f.g.IsFilled(int(p)%f.g.Columns, int(p)/f.g.Columns) })
}
