package visibility

import (
	"context"
	"fmt"
	"math"
	"unsafe"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/workers"
)

// ViewshedOptions are the options of Viewshed and Reference.
type ViewshedOptions struct {
	Conditions
	// Radius bounds the posts asked for, metres along the ellipsoid. Zero
	// means to the edge of the data.
	Radius float64
	// Sector bounds their bearings. Nil means all round.
	Sector *Sector
	// HeightNeeded asks also for how high above the ground a target must
	// stand to be seen, at every post.
	HeightNeeded bool
	// HorizonStep, when not zero, asks also for the skyline, at bearings this
	// far apart, degrees.
	HorizonStep geodesy.Degrees
	// Concurrency is how many cores to use; zero means all. The answer does
	// not depend on it.
	Concurrency int
	// Progress is called now and then with work done and the whole of it,
	// from one goroutine at a time; nil for none.
	Progress func(done, total int64)
}

// DefaultViewshedOptions are DefaultConditions with no radius and no sector.
func DefaultViewshedOptions() ViewshedOptions {
	return ViewshedOptions{Conditions: DefaultConditions()}
}

func (o ViewshedOptions) validate() error {
	if err := o.Conditions.validate(); err != nil {
		return err
	}
	if !(o.Radius >= 0) {
		return fmt.Errorf("radius %v m is not a distance", o.Radius)
	}
	if o.HorizonStep != 0 {
		if err := validateStep(o.HorizonStep); err != nil {
			return err
		}
	}
	if o.Sector != nil {
		return o.Sector.validate()
	}
	return nil
}

// Viewed is what one observer sees of the posts of a grid.
type Viewed struct {
	Observer Observer
	Options  ViewshedOptions
	// GroundElevation and EyeElevation at the observer, metres above the
	// data's vertical datum.
	GroundElevation, EyeElevation float64
	// Window is the block of the grid's posts that the answer covers, and
	// Frame says where they stand.
	Window dem.Window
	Frame  dem.Frame
	// Verdicts of the window's posts, row by row.
	Verdicts []Verdict
	// HeightNeeded is how high above the ground the target's top must be to
	// be seen, metres, row by row: 0 where the ground itself is seen, NaN
	// where the answer is not known (the post is void, or its line of sight
	// meets a void or leaves the data) or not asked. Nil unless asked for.
	HeightNeeded []float32
	// Horizon is the skyline, nil unless asked for.
	Horizon *Horizon
	Summary Summary
}

// Codes is Verdicts as plain bytes, the same memory, for files: 0 out of
// range, 1 visible, 2 hidden, 3 unknown.
func (v *Viewed) Codes() []uint8 {
	// a Verdict is a uint8; at 16 million posts a copy would cost 16 MB and a
	// thirtieth of the whole run
	return unsafe.Slice((*uint8)(unsafe.SliceData(v.Verdicts)), len(v.Verdicts))
}

// Viewshed finds which posts of a grid an observer sees: for every post the
// same verdict as Reference, which walks the line of sight to each, at a
// small part of its cost.
//
// Model: the posts, lowered for curvature and refraction and joined by
// straight edges along rows and columns, on the observer's azimuthal
// equidistant plane. A target is hidden when an edge nearer than it stands
// above the line from the eye to it (by more than GrazingSlope), and unknown
// when none does but the line crosses an edge with a void end, or leaves the
// posts of the grid. Edges within dem.NearLimit of the observer do not count.
//
// Cost: reading every post once, and some 100 ns for each post that is seen;
// memory 1 byte a post, 4 more with HeightNeeded.
//
// The error wraps dem.ErrVoid or dem.ErrOutside when the observer stands on
// no known ground, and is ctx's when it ends first.
func Viewshed(ctx context.Context, g *dem.Grid, o Observer, opts ViewshedOptions) (*Viewed, error) {
	v, p, err := newProblem(ctx, g, o, opts)
	if err != nil {
		return nil, err
	}
	var finish func(*sweeper)
	if opts.HorizonStep != 0 {
		h := newHorizon(v, p)
		v.Horizon, finish = h.horizon, h.sample
	}
	if err := v.look(ctx, p, opts, finish); err != nil {
		return nil, err
	}
	return v, v.summarise(ctx, g, p.cells)
}

// look finds the verdicts; finish is of problem.run.
func (v *Viewed) look(ctx context.Context, p *problem, opts ViewshedOptions, finish func(*sweeper)) error {
	if err := v.fill(ctx, p); err != nil {
		return err
	}
	p.verdicts, p.needed = v.Verdicts, v.HeightNeeded
	if err := p.run(ctx, opts, finish); err != nil {
		return err
	}
	v.own(p.cells)
	return nil
}

// newProblem checks a question and sets it up.
func newProblem(ctx context.Context, g *dem.Grid, o Observer, opts ViewshedOptions) (*Viewed, *problem, error) {
	window := g.Whole()
	if opts.Radius > 0 {
		var err error
		if window, err = windowAround(&g.Frame, geodesy.NewPlane(o.Place), opts.Radius); err != nil {
			return nil, nil, err
		}
	}
	return problemIn(ctx, g, window, o, opts)
}

// problemIn is newProblem over a window of the grid's posts.
func problemIn(ctx context.Context, g *dem.Grid, window dem.Window, o Observer, opts ViewshedOptions) (*Viewed, *problem, error) {
	if err := opts.validate(); err != nil {
		return nil, nil, err
	}
	if g.Columns < 2 || g.Rows < 2 {
		return nil, nil, fmt.Errorf("%d x %d posts have no ground between them", g.Columns, g.Rows)
	}
	ground, eye, err := o.eye(g)
	if err != nil {
		return nil, nil, err
	}
	plane := geodesy.NewPlane(o.Place)
	radius := math.Inf(1)
	if opts.Radius > 0 {
		radius = opts.Radius
	}
	c, err := newCells(&g.Frame, plane, window, opts.Refraction)
	if err != nil {
		return nil, nil, err
	}
	b, err := newBlocks(ctx, g, window, opts.Concurrency)
	if err != nil {
		return nil, nil, err
	}
	v := &Viewed{
		Observer: o, Options: opts,
		GroundElevation: ground, EyeElevation: eye,
		Window: window, Frame: g.Sub(window),
	}
	p := &problem{
		grid: g, window: window, cells: c, blocks: b,
		eye: eye, target: opts.TargetAboveGround, radius: radius, sector: opts.Sector,
		refraction: opts.Refraction,
	}
	return v, p, nil
}

// windowAround is the window of posts within a radius, with two to spare on
// each side, as far as the frame goes.
func windowAround(f *dem.Frame, plane geodesy.Plane, radius float64) (dem.Window, error) {
	column, row, err := f.Locate(plane.Centre)
	if err != nil {
		return dem.Window{}, err
	}
	c0, c1, r0, r1 := column, column, row, row
	const n = 256
	for i := range n {
		sin, cos := geodesy.Degrees(float64(i) / n * 360).SinCos()
		c, r, err := f.Locate(plane.Inverse(radius*sin, radius*cos))
		if err != nil { // beyond what the projection reaches: take all there is
			return f.Whole(), nil
		}
		c0, c1, r0, r1 = min(c0, c), max(c1, c), min(r0, r), max(r1, r)
	}
	// Between two of the n points the circle stands out by 1 - cos(180°/n),
	// 8e-5 of the radius.
	spare := func(lo, hi float64) float64 { return 2 + 2e-4*(hi-lo) }
	index := func(v float64, count int) int { return int(max(0, min(v, float64(count-1)))) }
	sc, sr := spare(c0, c1), spare(r0, r1)
	w := dem.Window{
		Column: index(math.Floor(c0-sc), f.Columns),
		Row:    index(math.Floor(r0-sr), f.Rows),
	}
	w.Columns = index(math.Ceil(c1+sc), f.Columns) - w.Column + 1
	w.Rows = index(math.Ceil(r1+sr), f.Rows) - w.Row + 1
	return w, nil
}

// fill prepares the answers: OutOfRange beyond the radius or outside the
// sector, Unknown where void, and Hidden until found otherwise.
func (v *Viewed) fill(ctx context.Context, p *problem) error {
	w := v.Window
	v.Verdicts = make([]Verdict, w.Columns*w.Rows)
	if v.Options.HeightNeeded {
		v.HeightNeeded = make([]float32, w.Columns*w.Rows)
	}
	nan := float32(math.NaN())
	hidden := make([]Verdict, w.Columns)
	for i := range hidden {
		hidden[i] = Hidden
	}
	return parallel(ctx, p.blocks.down, v.Options.Concurrency, func(_, j int) {
		first := j * blockCells
		last := first + blockCells
		if j == p.blocks.down-1 {
			last = w.Rows
		}
		for r := first; r < last; r++ {
			from, to := 0, w.Columns
			if !math.IsInf(p.radius, 1) {
				from, to = p.cells.withinRadius(w.Row+r, p.radius)
			}
			line := v.Verdicts[r*w.Columns : (r+1)*w.Columns]
			copy(line[from:to], hidden)
			if p.sector != nil {
				for c := from; c < to; c++ {
					if x, y := p.cells.rows.at(w.Row+r, w.Column+c); !p.sector.contains(p.cells.metres(x, y)) {
						line[c] = OutOfRange
					}
				}
			}
			for i, void := range p.blocks.voids[j*p.blocks.across : (j+1)*p.blocks.across] {
				if !void {
					continue
				}
				for c := i * blockCells; c < min(i*blockCells+blockCells+1, w.Columns); c++ {
					h := p.grid.Elevations[(w.Row+r)*p.grid.Columns+w.Column+c]
					if h != h && line[c] != OutOfRange {
						line[c] = Unknown
					}
				}
			}
			if v.HeightNeeded != nil {
				needed := v.HeightNeeded[r*w.Columns : (r+1)*w.Columns]
				for c := range needed {
					needed[c] = nan
				}
			}
		}
	})
}

// withinRadius is the range of a row's posts within the radius, as window
// columns from (included) to to (excluded). Along a row the distance from
// the observer falls and then rises.
func (c *cells) withinRadius(row int, radius float64) (from, to int) {
	first, count := c.placement.Window.Column, c.placement.Window.Columns
	distance := func(i int) float64 {
		x, y := c.rows.at(row, first+i)
		return c.distance(x, y)
	}
	lo, hi := 0, count-1
	for lo < hi {
		mid := (lo + hi) / 2
		if distance(mid) <= distance(mid+1) {
			hi = mid
		} else {
			lo = mid + 1
		}
	}
	if distance(lo) > radius {
		return 0, 0
	}
	a, z := 0, lo // first within, in [0, lo]
	for a < z {
		mid := (a + z) / 2
		if distance(mid) <= radius {
			z = mid
		} else {
			a = mid + 1
		}
	}
	from = a
	a, z = lo, count-1 // last within, in [lo, count-1]
	for a < z {
		mid := (a + z + 1) / 2
		if distance(mid) <= radius {
			a = mid
		} else {
			z = mid - 1
		}
	}
	return from, a + 1
}

// own answers for a post the observer stands on.
func (v *Viewed) own(c *cells) {
	column, row := c.placement.Origin()
	column, row = math.Round(column), math.Round(row)
	i := int(column) - v.Window.Column
	j := int(row) - v.Window.Row
	if i < 0 || j < 0 || i >= v.Window.Columns || j >= v.Window.Rows {
		return
	}
	x, y := c.at(column, row)
	k := j*v.Window.Columns + i
	if c.distance(x, y) <= dem.NearLimit && v.Verdicts[k] != Unknown {
		v.Verdicts[k] = Visible
		if v.HeightNeeded != nil {
			v.HeightNeeded[k] = 0
		}
	}
}

// run does all the jobs. finish, if given, is called with a sweeper when a
// job of it is done, from several goroutines, but once for each job.
func (p *problem) run(ctx context.Context, opts ViewshedOptions, finish func(*sweeper)) error {
	jobs := p.jobs()
	counter := newSweeper(p)
	total := int64(0)
	for _, j := range jobs {
		counter.begin(j)
		_, n := counter.strips()
		total += int64(n)
	}
	count := workers.Counter(total, opts.Progress)
	sweepers := make([]*sweeper, len(jobs)) // by worker: never more than jobs
	return parallel(ctx, len(jobs), opts.Concurrency, func(worker, item int) {
		s := sweepers[worker]
		if s == nil {
			s = newSweeper(p)
			sweepers[worker] = s
		}
		s.begin(jobs[item])
		if p.doubted != nil {
			s.doubted = &p.doubted[item]
		}
		first, strips := s.strips()
		for k := range strips {
			if ctx.Err() != nil {
				return
			}
			s.strip(first + k*s.step)
			count(1)
		}
		if finish != nil {
			finish(s)
		}
	})
}
