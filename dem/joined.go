package dem

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sync"

	"crowline/dem/geodesy"
)

// Share says how many posts of those read came from a set of tiles.
type Share struct {
	// Names are the tiles' that have a part in the question, in order.
	Names []string
	// Posts counts those taken as stored, Sampled those sampled on the
	// bilinear ground between the tiles' posts: each once, however often it is
	// read.
	Posts, Sampled int64
	// SpacingMetres is between the tiles' posts.
	SpacingMetres float64
}

// Joined is the ground of a mosaic round a question: a source on one frame.
// Safe for concurrent use: one read runs at a time.
type Joined struct {
	mosaic   *Mosaic
	families []*family // in order of precedence
	base     int
	frame    Frame
	warnings []string // that go with every answer
	lattice  Window   // the frame on the base family's lattice; may reach beyond its tiles

	mutex   sync.Mutex
	shares  []Share
	bridged int64
	voids   int64
	read    int64
	counted counted
}

// counted is which posts have been counted: by row, ranges of columns from one
// to before another, none of which meet.
type counted map[int][][2]int

// add counts the posts of a window, and says which of them are new, row by row,
// and how many.
func (c counted) add(w Window) (fresh []bool, n int) {
	fresh = make([]bool, w.Columns*w.Rows)
	for row := range w.Rows {
		line := fresh[row*w.Columns:][:w.Columns]
		for i := range line {
			line[i] = true
		}
		from, to := w.Column, w.Column+w.Columns
		joined := [2]int{from, to}
		var ranges [][2]int
		for _, r := range c[w.Row+row] {
			for i := max(r[0], from); i < min(r[1], to); i++ {
				line[i-from] = false
			}
			if r[1] < joined[0] || r[0] > joined[1] {
				ranges = append(ranges, r)
			} else {
				joined = [2]int{min(r[0], joined[0]), max(r[1], joined[1])}
			}
		}
		c[w.Row+row] = append(ranges, joined)
		for _, is := range line {
			if is {
				n++
			}
		}
	}
	return fresh, n
}

var _ Source = (*Joined)(nil)

func newJoined(m *Mosaic, families []*family, base int, places []geodesy.LatLon, margin float64, warnings []string) (*Joined, error) {
	j := &Joined{counted: counted{}, mosaic: m, families: families, base: base, warnings: append(slices.Clone(m.opts.Warnings), warnings...)}
	b := families[base]
	// The lattice, as far as any tile reaches.
	least, most := [2]float64{0, 0}, [2]float64{float64(b.frame.Columns - 1), float64(b.frame.Rows - 1)}
	for i, f := range families {
		if i == base {
			continue
		}
		xs, ys := border(&f.frame)
		columns, rows := transform(&f.frame, &b.frame, xs, ys)
		for k := range columns {
			if math.IsNaN(columns[k]) || math.IsNaN(rows[k]) {
				continue
			}
			least[0], most[0] = min(least[0], math.Floor(columns[k])), max(most[0], math.Ceil(columns[k]))
			least[1], most[1] = min(least[1], math.Floor(rows[k])), max(most[1], math.Ceil(rows[k]))
		}
	}
	const limit = math.MaxInt32 * 64.0
	if !(most[0]-least[0] < limit && most[1]-least[1] < limit) {
		return nil, fmt.Errorf("%s: its posts stand too close together for a frame round all the data", b.tiles[0].tile.Name)
	}
	whole := b.frame.Sub(Window{Column: int(least[0]), Row: int(least[1]), Columns: int(most[0]-least[0]) + 1, Rows: int(most[1]-least[1]) + 1})
	w := whole.Whole()
	if places != nil {
		var err error
		if w, err = WindowAround(&whole, places, margin); err != nil {
			return nil, err
		}
	}
	w.Column += int(least[0])
	w.Row += int(least[1])
	if places != nil {
		w = w.alignedTo(BlockColumns, BlockRows).Intersect(Window{Column: int(least[0]), Row: int(least[1]), Columns: whole.Columns, Rows: whole.Rows})
	}
	j.lattice, j.frame = w, b.frame.Sub(w)
	for _, f := range families {
		s := Share{SpacingMetres: f.spacing}
		for _, p := range f.tiles {
			s.Names = append(s.Names, p.tile.Info.Name)
		}
		slices.Sort(s.Names)
		s.Names = slices.Compact(s.Names)
		j.shares = append(j.shares, s)
	}
	return j, nil
}

// alignedTo is the window begun further west and north, at a multiple of so
// many posts: then the blocks of a path do not cut across the blocks of a
// tile that begins at the lattice's corner, each of which costs reading.
func (w Window) alignedTo(columns, rows int) Window {
	before := func(i, n int) int { return ((i % n) + n) % n }
	c, r := before(w.Column, columns), before(w.Row, rows)
	return Window{Column: w.Column - c, Row: w.Row - r, Columns: w.Columns + c, Rows: w.Rows + r}
}

// border is columns and rows round a frame.
func border(f *Frame) (columns, rows []float64) {
	const n = 32
	w, h := float64(f.Columns-1), float64(f.Rows-1)
	for i := 0; i <= n; i++ {
		s := float64(i) / n
		columns = append(columns, s*w, s*w, 0, w)
		rows = append(rows, 0, h, s*h, s*h)
	}
	return columns, rows
}

// transform turns columns and rows of one frame into those of another; NaN
// where a projection cannot show them. Longitudes are put at the turn
// nearest the middle of to.
func transform(from, to *Frame, columns, rows []float64) (toColumns, toRows []float64) {
	xs, ys := make([]float64, len(columns)), make([]float64, len(rows))
	for i := range xs {
		xs[i], ys[i] = from.X0+columns[i]*from.DX, from.Y0+rows[i]*from.DY
	}
	if !sameCRS(from.CRS, to.CRS) {
		step := func(apply func(x, y []float64) error) {
			bx, by := slices.Clone(xs), slices.Clone(ys)
			if apply(xs, ys) == nil {
				return
			}
			// One point that cannot be shown spoils none of the others.
			for i := range xs {
				x, y := []float64{bx[i]}, []float64{by[i]}
				if math.IsNaN(x[0]) || apply(x, y) != nil {
					x[0], y[0] = math.NaN(), math.NaN()
				}
				xs[i], ys[i] = x[0], y[0]
			}
		}
		step(from.CRS.ToWGS84)
		step(to.CRS.FromWGS84)
	}
	middle := float64(to.Columns-1) / 2
	for i := range xs {
		c, r := (xs[i]-to.X0)/to.DX, (ys[i]-to.Y0)/to.DY
		if to.CRS.Geographic {
			turn := 360 / math.Abs(to.DX)
			c += turn * math.Round((middle-c)/turn)
		}
		xs[i], ys[i] = snapped(c), snapped(r)
	}
	return xs, ys
}

// Layout is the frame: posts of the base tiles' own lattice.
func (j *Joined) Layout() *Frame { return &j.frame }

// Close does nothing: the files are the mosaic's.
func (j *Joined) Close() error { return nil }

// Shares says what the posts read so far came from, in order of precedence,
// and how many lay between tiles that only abut and were joined straight
// across.
func (j *Joined) Shares() (shares []Share, bridged int64) {
	j.mutex.Lock()
	defer j.mutex.Unlock()
	return slices.Clone(j.shares), j.bridged
}

// Read returns the posts of a window, NaN where no tile has an elevation.
func (j *Joined) Read(ctx context.Context, w Window) (*Grid, error) {
	if w.Empty() || w != w.Intersect(j.frame.Whole()) {
		return nil, fmt.Errorf("a window of %d x %d posts at column %d, row %d is not inside the ground's %d x %d posts",
			w.Columns, w.Rows, w.Column, w.Row, j.frame.Columns, j.frame.Rows)
	}
	if limit := j.mosaic.opts.MaxBytes; limit > 0 {
		if err := (bounded{limit: limit, perPost: postBytes}).check(w.Columns, w.Rows); err != nil {
			return nil, err
		}
	}
	j.mutex.Lock()
	defer j.mutex.Unlock()
	onLattice := w
	onLattice.Column += j.lattice.Column
	onLattice.Row += j.lattice.Row
	g := &Grid{Frame: j.frame.Sub(w), Window: w, Elevations: make([]float32, w.Columns*w.Rows)}
	fillNaN(g.Elevations)
	missing := len(g.Elevations)
	fresh, read := j.counted.add(w)
	sampled := make([]*Blocks, len(j.families))
	for i, f := range j.families {
		if missing == 0 {
			break
		}
		var n, first int
		var err error
		if i == j.base {
			n, first, err = j.take(ctx, f, g, onLattice, fresh)
			j.shares[i].Posts += int64(first)
		} else {
			sampled[i] = NewBlocks(ctx, f, 0)
			n, first, err = j.sample(ctx, f, sampled[i], g, onLattice, fresh)
			j.shares[i].Sampled += int64(first)
		}
		if err != nil {
			return nil, err
		}
		missing -= n
	}
	if missing > 0 && len(j.families) > 1 {
		n, err := j.bridge(ctx, sampled, g, onLattice, fresh)
		if err != nil {
			return nil, err
		}
		j.bridged += int64(n)
	}
	j.read += int64(read)
	for i, v := range g.Elevations {
		if v != v && fresh[i] {
			j.voids++
		}
	}
	g.Source = j.info()
	return g, nil
}

// take copies the base family's own posts where g has none, and counts them,
// and how many of them are fresh.
func (j *Joined) take(ctx context.Context, f *family, g *Grid, w Window, fresh []bool) (n, first int, err error) {
	part := w.Intersect(f.frame.Whole())
	if part.Empty() {
		return 0, 0, nil
	}
	read, err := f.Read(ctx, part)
	if err != nil {
		return 0, 0, err
	}
	if part == w && f == j.families[0] { // nothing is there yet
		g.Elevations = read.Elevations
		for i, v := range g.Elevations {
			if v == v {
				n++
				if fresh[i] {
					first++
				}
			}
		}
		return n, first, nil
	}
	for r := range part.Rows {
		start := (part.Row-w.Row+r)*w.Columns + part.Column - w.Column
		to := g.Elevations[start:][:part.Columns]
		for c, v := range read.Elevations[r*part.Columns:][:part.Columns] {
			if to[c] != to[c] && v == v {
				to[c] = v
				n++
				if fresh[start+c] {
					first++
				}
			}
		}
	}
	return n, first, nil
}

// voidsOf lists the void posts of a row of g by column, and their columns
// and rows on the base lattice.
func voidsOf(g *Grid, row int, w Window) (at []int, columns, rows []float64) {
	for c, v := range g.Elevations[row*g.Columns:][:g.Columns] {
		if v != v {
			at = append(at, c)
			columns = append(columns, float64(w.Column+c))
			rows = append(rows, float64(w.Row+row))
		}
	}
	return at, columns, rows
}

// sample fills g's voids from the bilinear ground of a family, and counts them,
// and how many of them are fresh.
func (j *Joined) sample(ctx context.Context, f *family, posts *Blocks, g *Grid, w Window, fresh []bool) (n, first int, err error) {
	base := j.families[j.base]
	for row := range g.Rows {
		if err := ctx.Err(); err != nil {
			return 0, 0, err
		}
		at, columns, rows := voidsOf(g, row, w)
		if len(at) == 0 {
			continue
		}
		columns, rows = transform(&base.frame, &f.frame, columns, rows)
		for i, c := range at {
			if !f.frame.Contains(columns[i], rows[i]) {
				continue
			}
			if h := Bilinear(posts, columns[i], rows[i]); h == h {
				g.Elevations[row*g.Columns+c] = float32(h)
				n++
				if fresh[row*g.Columns+c] {
					first++
				}
			}
		}
		if err := posts.Err(); err != nil {
			return 0, 0, err
		}
	}
	return n, first, nil
}

// bridge fills posts in the strip between tiles whose cells abut but whose
// posts stand half a cell inside on either side, straight from the nearest
// ground of one to the nearest ground of the other, opposite it. A strip
// wider than half a cell of each is a gap in the data and stays void, and so
// does a void inside a tile.
func (j *Joined) bridge(ctx context.Context, sampled []*Blocks, g *Grid, w Window, fresh []bool) (int, error) {
	base := j.families[j.base]
	n := 0
	coarsest := [2]float64{}
	for _, f := range j.families {
		coarsest[0], coarsest[1] = max(coarsest[0], f.along), max(coarsest[1], f.across)
	}
	for row := range g.Rows {
		if err := ctx.Err(); err != nil {
			return 0, err
		}
		at, columns, rows := voidsOf(g, row, w)
		if len(at) == 0 {
			continue
		}
		candidates := make([][]shore, len(at))
		inside := make([]bool, len(at)) // within a family's tiles: a true void
		for i, f := range j.families {
			fc, fr := columns, rows
			if i != j.base {
				fc, fr = transform(&base.frame, &f.frame, columns, rows)
			}
			for k := range at {
				if inside[k] || math.IsNaN(fc[k]) || math.IsNaN(fr[k]) {
					continue
				}
				nc, nr := f.nearest(fc[k], fr[k])
				// half a cell of each, and a little for grids that are turned
				reachC, reachR := 0.55*(1+coarsest[0]/f.along), 0.55*(1+coarsest[1]/f.across)
				if math.Abs(nc-fc[k]) > reachC || math.Abs(nr-fr[k]) > reachR {
					continue
				}
				if f.covers(fc[k], fr[k]) {
					inside[k] = true
					continue
				}
				if sampled[i] == nil {
					sampled[i] = NewBlocks(ctx, f, 0)
				}
				h := Bilinear(sampled[i], nc, nr)
				if err := sampled[i].Err(); err != nil {
					return 0, err
				}
				if h != h {
					continue
				}
				bc, br := []float64{nc}, []float64{nr}
				if i != j.base {
					bc, br = transform(&f.frame, &base.frame, bc, br)
				}
				candidates[k] = append(candidates[k], shore{
					east: (bc[0] - columns[k]) * base.along, south: (br[0] - rows[k]) * base.across,
					along: f.along, across: f.across, elevation: h,
				})
			}
		}
		for k, c := range at {
			if h, ok := across(candidates[k]); ok && !inside[k] {
				g.Elevations[row*g.Columns+c] = float32(h)
				if fresh[row*g.Columns+c] {
					n++
				}
			}
		}
	}
	return n, nil
}

// shore is the nearest ground of a family to a post in none: how far off,
// metres along rows and columns, the family's cell and the elevation.
type shore struct{ east, south, along, across, elevation float64 }

// across is the elevation on the straight line between the nearest two
// shores that stand opposite each other within half a cell of each.
func across(shores []shore) (float64, bool) {
	const slack = 1.1 // for grids turned against each other by a few degrees
	best, elevation, found := math.Inf(1), 0.0, false
	for i, a := range shores {
		for _, b := range shores[i+1:] {
			if a.east*b.east+a.south*b.south > 0 {
				continue
			}
			if math.Abs(a.east)+math.Abs(b.east) > slack*(a.along+b.along)/2 || math.Abs(a.south)+math.Abs(b.south) > slack*(a.across+b.across)/2 {
				continue
			}
			da, db := math.Hypot(a.east, a.south), math.Hypot(b.east, b.south)
			if da+db >= best {
				continue
			}
			best, found = da+db, true
			elevation = Lerp(a.elevation, b.elevation, da/(da+db))
		}
	}
	return elevation, found
}
