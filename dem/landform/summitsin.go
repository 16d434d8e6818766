package landform

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"crowline/dem"
	"crowline/dem/workers"
)

// Span is columns First to Last of a row of posts, both included.
type Span struct{ Row, First, Last int }

// SummitsIn lists the summits of a window of posts whose place is on one of
// the spans, just as Summits lists them for all the window, but reads and
// floods only as much of the window as it takes to tell: the spans, and round
// each top on them the ground down to its key saddle, to the edge of the data
// or, where it is no summit, to the least prominence below it. Columns and
// rows are the frame's, and spans outside the window are left out.
//
// Only the place, Posts, Prominence and AtLeast of a summit are told; there
// is no KeySaddle, Parent is -1, IslandArea is 0, and MostProminence is +Inf
// where Prominence is AtLeast.
//
// The result is the same, and not only near it, because a top's prominence is
// a matter of the best way to higher ground and to the edge alone, and both
// are met first by a flood that goes on from the top at the highest post it
// has not yet taken. Cost: of a dem.Grid, which is flooded on all cores, some 20
// ns a post; of other posts n log n in those flooded, on one core, for they are
// read as they are asked for, and no more than need be. Memory: half a byte, or
// 4 bytes, a post of the squares of 256 x 256 or 64 x 64 posts it touches.
func SummitsIn(ctx context.Context, posts dem.Posts, window dem.Window, spans []Span, minProminence float64) ([]Summit, error) {
	if err := (SummitOptions{MinProminence: minProminence}).validate(); err != nil {
		return nil, err
	}
	f := posts.Layout()
	window = window.Intersect(f.Whole())
	if window.Columns > maxPosts/max(window.Rows, 1) {
		return nil, fmt.Errorf("landform: %d x %d posts are more than the %d that can be flooded at once; take a smaller area", window.Columns, window.Rows, maxPosts)
	}
	grid, _ := posts.(*dem.Grid)
	cores := 1 // posts that are read as they are asked for are asked by one
	if grid != nil {
		cores = 0
	}
	found, searchers := make([][]Summit, len(spans)), make([]*searcher, len(spans))
	err := workers.Each(ctx, len(spans), cores, func(worker, i int) error {
		if err := ctx.Err(); err != nil {
			return fmt.Errorf("landform: %w", err)
		}
		if searchers[worker] == nil {
			searchers[worker] = &searcher{posts: posts, window: window}
			if grid != nil {
				searchers[worker].tide = newTide(grid, window)
			}
		}
		var err error
		found[i], err = searchers[worker].look(ctx, spans[i], minProminence)
		return err
	})
	if err != nil {
		return nil, err
	}
	var out []Summit
	for _, f := range found {
		out = append(out, f...)
	}
	if err := posts.Err(); err != nil {
		return nil, fmt.Errorf("looking for summits: %w", err)
	}
	// a level top may be met on one span and have its place on another, or none
	out = slices.DeleteFunc(out, func(t Summit) bool {
		return !slices.ContainsFunc(spans, func(s Span) bool { return s.Row == t.Row && s.First <= t.Column && t.Column <= s.Last })
	})
	return Merged(out), nil // and two cores may each have met it
}

// Merged puts lists of summits of one grid together, each post once, in the order
// of Summits.
func Merged(lists ...[]Summit) []Summit {
	out := slices.Concat(lists...)
	slices.SortFunc(out, func(a, b Summit) int {
		return cmp.Or(cmp.Compare(b.Prominence, a.Prominence), cmp.Compare(a.Row, b.Row), cmp.Compare(a.Column, b.Column))
	})
	return slices.CompactFunc(out, func(a, b Summit) bool { return a.Row == b.Row && a.Column == b.Column })
}

// searcher floods from one top after another. Posts are numbered by row, then
// column, in the window.
type searcher struct {
	posts  dem.Posts
	window dem.Window
	tide   *tide    // of a grid in memory; nil for other posts, which are taken one at a time
	queue  postHeap // by depth, so that the highest comes first
	level0 []int32  // room for a level top

	tops  stamps // whether a post is of a top, once looked at
	flood uint32 // the flood under way
	met   stamps // by it
	later stamps // level ground of this flood known not to come before its top
}

// What a post is known to be of.
const (
	unknown uint32 = iota
	lookedAt
	noTop
	aTop
)

// stamps say of posts which flood did something with them last.
type stamps struct {
	pages map[[2]int]*stampPage
	page  *stampPage
	at    [2]int
}

// stampPage is a square of 64 x 64 posts.
type stampPage [64 * 64]uint32

// set stamps a post, and reports whether it had another stamp.
func (s *stamps) set(column, row int, stamp uint32) bool {
	old := s.of(column, row)
	if *old == stamp {
		return false
	}
	*old = stamp
	return true
}

// of is a post's stamp.
func (s *stamps) of(column, row int) *uint32 {
	at := [2]int{column / 64, row / 64}
	if s.page == nil || at != s.at {
		if s.pages == nil {
			s.pages = map[[2]int]*stampPage{}
		}
		if s.page = s.pages[at]; s.page == nil {
			s.page = new(stampPage)
			s.pages[at] = s.page
		}
		s.at = at
	}
	return &s.page[(row%64)*64+column%64]
}

func (s *searcher) level(column, row int) float32 {
	return float32(s.posts.Elevation(s.window.Column+column, s.window.Row+row))
}

// inside reports whether a post is of the window.
func (s *searcher) inside(column, row int) bool {
	return uint(column) < uint(s.window.Columns) && uint(row) < uint(s.window.Rows)
}

// look finds the summits met on a span.
func (s *searcher) look(ctx context.Context, span Span, minProminence float64) ([]Summit, error) {
	row := span.Row - s.window.Row
	first, last := max(span.First-s.window.Column, 1), min(span.Last-s.window.Column, s.window.Columns-2)
	if row < 1 || row > s.window.Rows-2 || first > last { // a top on the border is none for sure
		return nil, nil
	}
	var lines [3][]float32
	for i := range lines {
		line := make([]float32, last-first+3)
		for j := range line {
			line[j] = s.level(first-1+j, row-1+i)
		}
		lines[i] = line
	}
	var out []Summit
	for column := first; column <= last; column++ {
		j := column - first + 1
		h := lines[1][j]
		// a void beside it, too, makes the comparison false
		if !(h >= lines[0][j-1] && h >= lines[0][j] && h >= lines[0][j+1] && h >= lines[1][j-1] &&
			h >= lines[1][j+1] && h >= lines[2][j-1] && h >= lines[2][j] && h >= lines[2][j+1]) || isVoid(h) {
			continue
		}
		summit, ok, err := s.summit(ctx, column, row, minProminence)
		if err != nil {
			return nil, err
		}
		if ok {
			out = append(out, summit)
		}
	}
	return out, nil
}

// summit floods from a post with none higher beside it.
func (s *searcher) summit(ctx context.Context, column, row int, minProminence float64) (Summit, bool, error) {
	level := s.level(column, row)
	top := s.top(column, row, level)
	if len(top) == 0 {
		return Summit{}, false, nil
	}
	if s.tide != nil {
		least, most, ok, err := s.tide.prominence(ctx, top, level, minProminence)
		if err != nil || !ok {
			return Summit{}, false, err
		}
		summit, err := s.told(top, level, least, most)
		return summit, err == nil, err
	}
	s.flood++
	s.queue = s.queue[:0]
	peak := slices.Min(top)
	for _, p := range top {
		s.met.set(int(p)%s.window.Columns, int(p)/s.window.Columns, s.flood)
	}
	for _, p := range top {
		s.beside(p)
	}
	water, edge := level, float32(math.NaN())
	descent := func(to float32) float64 { return float64(level) - float64(to) }
	higher := false
	for count := 0; len(s.queue) > 0; count++ {
		if count%(1<<16) == 0 && ctx.Err() != nil {
			return Summit{}, false, fmt.Errorf("landform: %w", ctx.Err())
		}
		next := s.queue.pop()
		height := -next.level
		if edge == edge && height < edge && descent(height) >= minProminence {
			break // the edge is reached, and higher ground only lower down
		}
		water = min(water, height)
		if height > level || height == level && s.before(next.post, level, peak) {
			higher = true
			break
		}
		if s.beside(next.post) && edge != edge {
			edge = water
		}
	}
	most := math.Inf(1)
	if higher {
		most = descent(water)
	}
	least := most
	if edge == edge {
		least = min(most, descent(edge))
	}
	if !(least > 0) || most < minProminence {
		return Summit{}, false, nil
	}
	summit, err := s.told(top, level, least, most)
	return summit, err == nil, err
}

// told is a top as a summit.
func (s *searcher) told(top []int32, level float32, least, most float64) (Summit, error) {
	summit := Summit{Posts: len(top), Prominence: least, AtLeast: least < most, MostProminence: most, Parent: -1}
	centre := middle(top, s.window.Columns)
	c, r := s.window.Column+int(centre)%s.window.Columns, s.window.Row+int(centre)/s.window.Columns
	place, err := s.posts.Layout().Place(float64(c), float64(r))
	if err != nil {
		return Summit{}, fmt.Errorf("landform: post %d, %d: %w", c, r, err)
	}
	summit.Post = Post{Place: place, Column: c, Row: r, Elevation: float64(level)}
	return summit, nil
}

// top is the level ground joined to a post if it is a top not yet looked at:
// nothing beside it is higher, a void or beyond the window. The search ends
// where it meets ground already known to be no top, so that wide level ground
// is gone over once.
func (s *searcher) top(column, row int, level float32) []int32 {
	if *s.tops.of(column, row) != unknown {
		return nil
	}
	columns := s.window.Columns
	posts, found := append(s.level0[:0], int32(row*columns+column)), aTop
	*s.tops.of(column, row) = lookedAt
	for i := 0; i < len(posts) && found == aTop; i++ {
		c, r := int(posts[i])%columns, int(posts[i])/columns
		for _, d := range directions {
			nc, nr := c+d[0], r+d[1]
			if !s.inside(nc, nr) {
				found = noTop
				break
			}
			h := s.level(nc, nr)
			if h < level {
				continue
			}
			if h > level || isVoid(h) {
				found = noTop
				break
			}
			if of := s.tops.of(nc, nr); *of == unknown {
				*of = lookedAt
				posts = append(posts, int32(nr*columns+nc))
			} else if *of == noTop {
				found = noTop
				break
			}
		}
	}
	for _, p := range posts {
		*s.tops.of(int(p)%columns, int(p)/columns) = found
	}
	s.level0 = posts
	if found == noTop {
		return nil
	}
	return posts
}

// before reports whether level ground as high as the top, met by its flood,
// counts as higher: its first post comes before the top's.
func (s *searcher) before(post int32, level float32, peak int32) bool {
	columns := s.window.Columns
	if !s.later.set(int(post)%columns, int(post)/columns, s.flood) {
		return false
	}
	for posts := []int32{post}; len(posts) > 0; posts = posts[1:] {
		if posts[0] < peak {
			return true
		}
		c, r := int(posts[0])%columns, int(posts[0])/columns
		for _, d := range directions {
			nc, nr := c+d[0], r+d[1]
			if s.inside(nc, nr) && s.level(nc, nr) == level && s.later.set(nc, nr, s.flood) {
				posts = append(posts, int32(nr*columns+nc))
			}
		}
	}
	return false
}

// beside queues the posts beside one, and reports whether it lies on the
// border of the window or beside a void.
func (s *searcher) beside(post int32) (edge bool) {
	column, row := int(post)%s.window.Columns, int(post)/s.window.Columns
	for _, d := range directions {
		c, r := column+d[0], row+d[1]
		if !s.inside(c, r) {
			edge = true
			continue
		}
		h := s.level(c, r)
		if isVoid(h) {
			edge = true
			continue
		}
		if s.met.set(c, r, s.flood) {
			s.queue.push(heapPost{-h, int32(r*s.window.Columns + c)})
		}
	}
	return edge
}
