package landform

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"crowline/dem"
)

// component is a piece of ground laid bare as the flood falls: everything
// joined to its peak at or above the present level. Components are numbered
// in the order they come up, so the one with the lower number has the higher
// peak (between equal peaks, the earlier post).
type component struct {
	peak int32 // first post of its top
	// parent is the component with higher ground it was joined to, -1 until
	// then; into is the same, itself until then, and is shortened by find.
	parent, into int32
	// saddle is the post at which it was joined to higher ground; -1 while it
	// stands alone, and for good when it was only part of a flat.
	saddle int32
	// edge is the lowest post on the best way from the peak to the border of
	// the data or a void, -1 until the flood has got there.
	edge int32
	// posts counts the component's posts; island is the count frozen when the
	// flood reached the edge or the saddle, whichever was first.
	posts, island int32
}

// flood finds the peaks of a grid and where the ground of each is first
// joined to that of a higher one. upward false floods the grid turned upside
// down: peaks are then the bottoms of hollows.
//
// Posts are joined through all eight neighbours.
type flood struct {
	columns, rows int
	elevations    []float32
	upward        bool
	components    []component
}

func isVoid(h float32) bool { return h-h != 0 } // NaN or infinite

const (
	labelUnseen = -1
	labelVoid   = -2
)

// maxPosts keeps indices in an int32.
const maxPosts = math.MaxInt32

func runFlood(ctx context.Context, g *dem.Grid, upward bool, progress func(done, total int64)) (*flood, error) {
	n := len(g.Elevations)
	if n != g.Columns*g.Rows {
		return nil, fmt.Errorf("landform: %d elevations for %d x %d posts", n, g.Columns, g.Rows)
	}
	if n > maxPosts {
		return nil, fmt.Errorf("landform: %d posts are more than the %d that can be flooded at once; take a smaller area", n, maxPosts)
	}
	f := &flood{columns: g.Columns, rows: g.Rows, elevations: g.Elevations, upward: upward}
	order, err := f.order(ctx)
	if err != nil {
		return nil, err
	}
	return f, f.run(ctx, order, progress)
}

// level is the elevation, or minus it when the grid is upside down.
func (f *flood) level(post int32) float32 {
	if f.upward {
		return f.elevations[post]
	}
	return -f.elevations[post]
}

// order lists the posts that are not void in falling level, equal ones by
// row then column: a bucket sort over the range of levels, with buckets of
// about four posts sorted by comparison. Near-linear unless nearly all posts
// share a sliver of the range, when it is n log n. 5 bytes a post.
func (f *flood) order(ctx context.Context) ([]int32, error) {
	low, high, n := math.Inf(1), math.Inf(-1), 0
	for i := range f.elevations {
		if h := f.elevations[i]; !isVoid(h) {
			l := float64(f.level(int32(i)))
			low, high = min(low, l), max(high, l)
			n++
		}
	}
	if n == 0 {
		return nil, nil
	}
	buckets := min(max(n/4, 1), 1<<22)
	scale := 0.0
	if high > low {
		scale = float64(buckets-1) / (high - low)
	}
	bucket := func(i int) int { return int((high - float64(f.level(int32(i)))) * scale) }
	if err := ctx.Err(); err != nil {
		return nil, fmt.Errorf("landform: %w", err)
	}
	start := make([]int32, buckets+1)
	for i, h := range f.elevations {
		if !isVoid(h) {
			start[bucket(i)+1]++
		}
	}
	for i := range buckets {
		start[i+1] += start[i]
	}
	order := make([]int32, n)
	for i, h := range f.elevations {
		if !isVoid(h) {
			b := bucket(i)
			order[start[b]] = int32(i)
			start[b]++
		}
	}
	// start[b] is now the end of bucket b
	first := int32(0)
	compare := func(a, b int32) int {
		return cmp.Or(cmp.Compare(f.level(b), f.level(a)), cmp.Compare(a, b))
	}
	for b := range buckets {
		if b&0xffff == 0 && ctx.Err() != nil {
			return nil, fmt.Errorf("landform: %w", ctx.Err())
		}
		posts := order[first:start[b]]
		first = start[b]
		for i := 1; i < len(posts); i++ { // whole-metre data is in order as it stands
			if f.level(posts[i]) > f.level(posts[i-1]) {
				slices.SortFunc(posts, compare)
				break
			}
		}
	}
	return order, nil
}

func (f *flood) find(c int32) int32 {
	root := c
	for f.components[root].into != root {
		root = f.components[root].into
	}
	for f.components[c].into != root {
		f.components[c].into, c = root, f.components[c].into
	}
	return root
}

func (f *flood) run(ctx context.Context, order []int32, progress func(done, total int64)) error {
	label := make([]int32, len(f.elevations))
	for i, h := range f.elevations {
		label[i] = labelUnseen
		if isVoid(h) {
			label[i] = labelVoid
		}
	}
	steps := directions
	var offsets [8]int
	for i, s := range steps {
		offsets[i] = s[1]*f.columns + s[0]
	}
	const every = 1 << 18 // posts between looks at ctx and reports
	for done, p := range order {
		if done%every == 0 {
			if err := ctx.Err(); err != nil {
				return fmt.Errorf("landform: %w", err)
			}
			if progress != nil {
				progress(int64(done), int64(len(order)))
			}
		}
		column, row := int(p)%f.columns, int(p)/f.columns
		border := column == 0 || row == 0 || column == f.columns-1 || row == f.rows-1
		edge := border
		var roots [8]int32
		n := 0
		for i := range steps {
			if border && (uint(column+steps[i][0]) >= uint(f.columns) || uint(row+steps[i][1]) >= uint(f.rows)) {
				continue
			}
			l := label[int(p)+offsets[i]]
			if l < 0 {
				edge = edge || l == labelVoid
				continue
			}
			root := f.find(l)
			if !slices.Contains(roots[:n], root) {
				roots[n] = root
				n++
			}
		}
		var best int32
		if n == 0 {
			best = int32(len(f.components))
			f.components = append(f.components, component{peak: p, parent: -1, into: best, saddle: -1, edge: -1})
		} else {
			best = slices.Min(roots[:n])
			for _, other := range roots[:n] {
				if other != best {
					f.join(other, best, p)
				}
			}
		}
		label[p] = best
		b := &f.components[best]
		if edge && b.edge < 0 {
			b.edge = p
		}
		if b.edge == p { // reached just now
			b.island = b.posts
		}
		b.posts++
	}
	for i := range f.components {
		if c := &f.components[i]; c.edge < 0 && c.parent < 0 {
			c.island = c.posts
		}
	}
	if progress != nil {
		progress(int64(len(order)), int64(len(order)))
	}
	return nil
}

// join ends component c at post p, where it meets the higher one b.
func (f *flood) join(c, b, p int32) {
	lower, higher := &f.components[c], &f.components[b]
	lower.into, lower.parent = b, b
	if f.level(lower.peak) > f.level(p) {
		lower.saddle = p
	}
	if lower.edge < 0 {
		lower.island = lower.posts
	} else if higher.edge < 0 {
		// from the higher peak the edge is reached over this saddle
		higher.edge = p
	}
	higher.posts += lower.posts
}

// top is a peak that the data shows to be one.
type top struct {
	component int32
	peak      int32
	saddle    int32 // -1 for the highest
	edge      int32 // -1 when the flood never reached the edge
	parent    int32 // component of the higher top; -1 for the highest
	island    int32 // posts
	// least and most are the bounds of its prominence, metres.
	least, most float64
}

// tops lists the peaks whose prominence may be at least minimum, in the
// order of their components. A peak that touches the edge of the data, or a
// void, is not known to be one and is left out.
func (f *flood) tops(minimum float64) []top {
	var out []top
	for i, c := range f.components {
		t := top{component: int32(i), peak: c.peak, saddle: c.saddle, edge: c.edge, parent: c.parent, island: c.island}
		peak := float64(f.level(c.peak))
		switch {
		case c.saddle >= 0:
			t.most = peak - float64(f.level(c.saddle))
		case c.parent >= 0:
			continue // part of a flat
		default:
			t.most = math.Inf(1)
		}
		t.least = t.most
		if c.edge >= 0 {
			t.least = min(t.most, peak-float64(f.level(c.edge)))
		}
		if t.least > 0 && t.most >= minimum {
			out = append(out, t)
		}
	}
	return out
}

// below is the posts joined to a hollow's floor (of a flood upside down) that
// lie below where water would leave it: over its rim, or off the data.
func (f *flood) below(t top) []int32 {
	stop := t.saddle
	if t.edge >= 0 && (stop < 0 || f.level(t.edge) > f.level(stop)) {
		stop = t.edge
	}
	seen := map[int32]bool{t.peak: true}
	posts := []int32{t.peak}
	for i := 0; i < len(posts); i++ {
		column, row := int(posts[i])%f.columns, int(posts[i])/f.columns
		for _, s := range directions {
			c, r := column+s[0], row+s[1]
			if uint(c) >= uint(f.columns) || uint(r) >= uint(f.rows) {
				continue
			}
			q := int32(r*f.columns + c)
			if seen[q] || isVoid(f.elevations[q]) || stop >= 0 && f.level(q) <= f.level(stop) {
				continue
			}
			seen[q] = true
			posts = append(posts, q)
		}
	}
	return posts
}
