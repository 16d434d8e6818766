package visibility

import (
	"math"

	"crowline/dem"
)

// GrazingSlope is how far, as a slope, ground must stand above a sight line
// before it hides: a tenth of a millimetre at 1000 km, far under any data's
// error and well over rounding. It makes ground that just touches the line
// count as visible on every machine and by every path through this package.
const GrazingSlope = 1e-10

// problem is one observer's question, shared by all jobs and not changed by
// them but for the answers, each of which one job alone writes.
type problem struct {
	grid       *dem.Grid
	window     dem.Window
	cells      *cells
	blocks     *blocks
	eye        float64 // elevation, metres
	target     float64 // above ground, metres
	radius     float64 // metres, +Inf for none
	refraction float64
	sector     *Sector

	// Answers, row by row over the window; nil when not asked for.
	verdicts []Verdict
	needed   []float32
	// clip leaves out ground beyond the radius to the metre, for a horizon;
	// for verdicts it cannot matter.
	clip bool

	// doubted, one list a job, are the posts whose verdict would be another were
	// a line of sight that much steeper, or its bearing that much to a side, as
	// near says: a slope. Nil where nobody asks. See ViewOf.
	doubted [][]int32
	near    float64
	voids   bool // there are some
}

// wedge is a quarter of the plane: the lines of sight that run mostly along
// the columns' direction (columns true) or the rows', one way or the other.
type wedge struct {
	columns bool
	sign    float64
}

// job is a range of t in one wedge. Which jobs there are does not depend on
// how many run at a time, so neither does any bit of the answer.
type job struct {
	wedge
	lo, hi float64
}

// rangesPerWedge splits each wedge for parallel work; leastBins and mostBins
// are how many bins the envelope has near the observer and far out. Powers of
// two, so that bin borders are exact.
const (
	rangesPerWedge = 8
	leastBins      = 4
	mostBins       = 512
)

var wedges = [4]wedge{{true, 1}, {false, 1}, {true, -1}, {false, -1}}

func (p *problem) jobs() []job {
	var jobs []job
	for k := range rangesPerWedge { // a range of each wedge in turn: even loads
		for _, w := range wedges {
			lo := -1 + 2*float64(k)/rangesPerWedge
			j := job{wedge: w, lo: lo, hi: lo + 2.0/rangesPerWedge}
			if p.sector == nil || p.sector.meets(p.cells, j) {
				jobs = append(jobs, j)
			}
		}
	}
	return jobs
}

// point turns a wedge's major and minor coordinate into x and y.
func (w wedge) point(major, minor float64) (x, y float64) {
	if w.columns {
		return w.sign * major, minor
	}
	return minor, w.sign * major
}

// split is the inverse of point.
func (w wedge) split(x, y float64) (major, minor float64) {
	if w.columns {
		return w.sign * x, y
	}
	return w.sign * y, x
}

// sweeper does jobs, one at a time, with buffers it keeps.
type sweeper struct {
	*problem
	job
	envelope envelope

	rails            *rails
	firstM, lastM    int // majors of the window, in index order
	firstN, lastN    int
	originM, originN float64
	strideM, strideN int // of the grid's elevations
	windowM, windowN int // strides of the answers
	step             int // +1 or -1: majors in the order of the sweep
	start            int // the first major in front of the observer

	// one strip's posts: blockCells+1 majors in the order of the sweep
	stripM0   int // the major at slot 0
	stripN0   int
	length    int
	x, t, u   []float64
	covers    []cover // of the posts of the major before
	waiting   bool    // the major before has edges not merged yet
	firstB    int     // the strip's first block in the minor direction
	live      []bool  // of the strip's blocks: their edges may matter
	wanted    []bool  // of the strip's blocks: their posts must be looked at
	straddles []bool  // of the strip's blocks: near the radius or the observer

	tie     float64 // GrazingSlope as a difference in u, at most
	slack   float64 // as near is
	doubted *[]int32
}

func newSweeper(p *problem) *sweeper { return &sweeper{problem: p} }

// begin prepares for a job.
func (s *sweeper) begin(j job) {
	s.job = j
	s.envelope.reset(j.lo, j.hi, leastBins, mostBins)
	w := s.window
	column, row := s.cells.placement.Origin()
	if j.columns {
		s.rails = &s.cells.columns
		s.firstM, s.lastM = w.Column, w.Column+w.Columns-1
		s.firstN, s.lastN = w.Row, w.Row+w.Rows-1
		s.originM, s.originN = column, row
		s.strideM, s.strideN = 1, s.grid.Columns
		s.windowM, s.windowN = 1, w.Columns
	} else {
		s.rails = &s.cells.rows
		s.firstM, s.lastM = w.Row, w.Row+w.Rows-1
		s.firstN, s.lastN = w.Column, w.Column+w.Columns-1
		s.originM, s.originN = row, column
		s.strideM, s.strideN = s.grid.Columns, 1
		s.windowM, s.windowN = w.Columns, 1
	}
	s.step = int(j.sign)
	s.tie = GrazingSlope * s.cells.longest
	s.slack = s.tie + s.near*s.cells.longest
	// The first major whose posts beside the observer lie in front of it. An
	// observer on a post stands on a major, within rounding.
	near := int(math.Round(min(max(s.originN, float64(s.firstN)), float64(s.lastN))))
	s.start = int(math.Round(s.originM)) - s.step
	if s.step > 0 {
		s.start = max(s.start, s.firstM)
	} else {
		s.start = min(s.start, s.lastM)
	}
	for s.start >= s.firstM && s.start <= s.lastM {
		if major, _ := s.position(s.start, near); major > nearest {
			break
		}
		s.start += s.step
	}
}

// nearest is how far in front of the observer, in cells, a major counts as
// in front: over the rounding of a placement.
const nearest = 1e-9

// position is a post's major and minor coordinate.
func (s *sweeper) position(m, n int) (major, minor float64) {
	x, y := s.rails.at(m, n)
	return s.split(x, y)
}

func (s *sweeper) elevation(m, n int) float64 {
	return float64(s.grid.Elevations[m*s.strideM+n*s.strideN])
}

// edge numbers the edge between two neighbouring posts: twice the index of
// the first post in the grid, and one more if it runs along a column.
func (s *sweeper) edge(m, n int, alongMajor bool) int64 {
	id := 2 * int64(m*s.strideM+n*s.strideN)
	if alongMajor != s.columns {
		id++
	}
	return id
}

// strips are the blocks the sweep passes, in its order.
func (s *sweeper) strips() (first, count int) {
	if s.start < s.firstM || s.start > s.lastM {
		return 0, 0
	}
	blocksM := s.blocks.across
	if !s.columns {
		blocksM = s.blocks.down
	}
	if s.step > 0 {
		first = max(s.start-1-s.firstM, 0) / blockCells
		return first, blocksM - first
	}
	first = min(s.start-s.firstM, blocksM*blockCells-1) / blockCells
	return first, first + 1
}

// strip sweeps over one strip of blocks: sixteen majors beyond the one at
// its near side, which the strip before has tested.
func (s *sweeper) strip(a int) {
	low := s.firstM + a*blockCells
	high := min(low+blockCells, s.lastM)
	near, far := low, high
	if s.step < 0 {
		near, far = high, low
	}
	// about as many bins as posts abreast
	abreast := (s.hi - s.lo) * s.sign * (float64(far) - s.originM)
	for n := len(s.envelope.bins); n < mostBins && float64(n) < abreast; n = len(s.envelope.bins) {
		s.envelope.grow(2 * n)
	}
	// the first strip begins at the observer
	if s.step > 0 {
		near = max(near, s.start-1)
	} else {
		near = min(near, s.start+1)
	}
	if !s.plan(a, near, far) {
		s.limits(near, far)
		return
	}
	s.stripM0 = near
	s.load(near, far)
	s.waiting = false    // the strip before has merged this one's first major
	if near == s.start { // the window's first major is itself in front
		s.major(near, -1, 0)
	}
	slot := 0
	for m := near + s.step; (far-m)*s.step >= 0; m += s.step {
		slot++
		s.major(m, slot-1, slot)
	}
	if s.waiting {
		s.runs(s.live, func(from, to int) { s.ringEdges(far, slot, -1, from, to) })
	}
}

// load reads the strip's posts, block by block, and places them before the
// eye. Posts of blocks that do not matter are left as they were.
func (s *sweeper) load(near, far int) {
	s.stripN0 = s.firstN + s.firstB*blockCells
	s.length = min(len(s.live)*blockCells, s.lastN-s.stripN0) + 1
	if need := (blockCells + 1) * s.length; len(s.x) < need {
		s.x, s.t, s.u = make([]float64, need), make([]float64, need), make([]float64, need)
		s.covers = make([]cover, need)
	}
	for b, wanted := range s.wanted {
		if !wanted {
			continue
		}
		from := b * blockCells
		to := min(from+blockCells+1, s.length)
		if b+1 < len(s.wanted) && s.wanted[b+1] {
			to = from + blockCells // the border comes with the next block
		}
		for slot, m := 0, near; (far-m)*s.step >= 0; slot, m = slot+1, m+s.step {
			s.place(m, slot*s.length, from, to)
		}
	}
}

// place computes x, t and u of the posts [from, to) of one major.
func (s *sweeper) place(m, at, from, to int) {
	cx, cy := s.rails.rail(m)
	terms := len(cx)
	cy = cy[:terms]
	mid, inverse := s.rails.mid, s.rails.inverse
	xs, ts, us := s.x[at+from:at+to], s.t[at+from:at+to], s.u[at+from:at+to]
	ts, us = ts[:len(xs)], us[:len(xs)]
	c := s.cells
	// drop over the major coordinate: major*(dm + t*(dmn + t*dn))
	dm, dmn, dn := c.dropXX, c.dropXY*s.sign, c.dropYY
	if !s.columns {
		dm, dn = dn, dm
		cx, cy = cy, cx // major first
	}
	index := m*s.strideM + (s.stripN0+from)*s.strideN
	elevations := s.grid.Elevations
	for i := range xs {
		v := (float64(s.stripN0+from+i) - mid) * inverse
		major, minor := cx[terms-1], cy[terms-1]
		for a := terms - 2; a >= 0; a-- {
			major = major*v + cx[a]
			minor = minor*v + cy[a]
		}
		major *= s.sign
		over := 1 / major
		t := minor * over
		xs[i], ts[i] = major, t
		us[i] = (float64(elevations[index])-s.eye)*over - major*(dm+t*(dmn+t*dn))
		index += s.strideN
	}
}

// major sweeps over one major: the edges that join it to the one before, the
// edges of the one before, then its posts.
//
// The edges of the one before wait until now because most need no merging:
// those that this major's edges stand over, wherever they are seen. Then they
// hide none of this major's posts, and nothing beyond that this major does
// not.
func (s *sweeper) major(m, slotBefore, slot int) {
	if slotBefore >= 0 {
		s.runs(s.live, func(from, to int) {
			s.crossEdges(m, slotBefore, slot, from, to)
			if s.waiting {
				s.ringEdges(m-s.step, slotBefore, slot, from, to)
			}
		})
	}
	s.waiting = true
	s.limit(m)
	if s.verdicts != nil {
		if s.needed != nil {
			s.runs(s.wanted, func(from, to int) { s.measurePosts(m, slot, from, to) })
		} else {
			s.runs(s.live, func(from, to int) { s.testPosts(m, slot, from, to) })
		}
	}
}

// runs calls f for each run of chosen blocks, with its first and last post.
func (s *sweeper) runs(chosen []bool, f func(from, to int)) {
	for b := 0; b < len(chosen); {
		if !chosen[b] {
			b++
			continue
		}
		from := b * blockCells
		for b < len(chosen) && chosen[b] {
			b++
		}
		f(from, min(b*blockCells, s.length-1))
	}
}
