package dem

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"path"
	"slices"

	"crowline/dem/geodesy"
)

// Files that lie over each other must be of the same ground. One of them may
// be a map made of the ground, a hillshade or a slope map in the same folder,
// and then the file's name would decide whether a top is 1894 m high or 65.
//
// The rule. Where two tiles that a question needs overlap by three posts each
// way, posts of the coarser are compared with the bilinear ground of the
// finer: nine patches over the overlap within the question's box. They
// disagree when more than half of the posts differ by more than
//
//	errorBound x both vertical errors (unknownError where not known)
//	+ coverBound + half the range of heights among a post's neighbours,
//
// or when their heights do not follow each other (correlation under
// followLeast) though the ground has relief. A tile of bytes must follow
// closely (bytesFollow). Tiles that disagree are refused, both named; but one
// that was given by name counts, and the other is left out with a warning.
//
// The figures are our own, set by what must pass: the same mountain at 10 m
// and 30 m, or 30 m and 1 km; radar that sees 30 m into a forest beside one
// that does not; another datum. And by what must not: gdaldem's hillshade
// and slope of the same ground.
const (
	// errorBound is how many standard deviations heights may be apart.
	errorBound = 3.0
	// unknownError, metres: one standard deviation of heights of which nothing
	// is known. SRTM's stated goal, the worst of the known ones, is 9.7.
	unknownError = 10.0
	// coverBound, metres: trees and roofs in one and not in the other. Few
	// forests are taller.
	coverBound = 40.0
	// followLeast: two surveys of one ground correlate by more than 0.9, ground
	// and its hillshade or slope by less than 0.4 (on the mountains of the
	// tests).
	followLeast = 0.5
	// bytesFollow is asked of a file of bytes, which is a picture until it
	// shows otherwise.
	bytesFollow = 0.9
	// reliefLeast, metres: one standard deviation of heights under which they
	// need not follow each other, for then errors and trees are as large; or
	// 1.5 times both errors where that is more.
	reliefLeast = 15.0
	// fewestCompared: of fewer posts nothing is said.
	fewestCompared = 30
	// footShare is how near a ratio of heights must come to that of feet and
	// metres for the unit to be blamed; such heights follow each other.
	footShare = 0.05

	// overlapLeast, posts: tiles that share an edge are not compared.
	overlapLeast = 3
	// patches each way, and the posts of one each way; patchCoarse of them
	// where the other's posts are more than coarseRatio times finer, so that
	// a comparison reads some millions of posts at the most.
	patchesAcross, patchPosts, patchCoarse, coarseRatio = 3, 8, 4, 16
	// boxLeast, posts of the coarser: a smaller box is widened to it, so that
	// there is ground to compare.
	boxLeast = 24
	// mostPairs bounds the comparisons of one question, at some 10 ms each;
	// of more, these are spread over all.
	mostPairs = 64
)

// pair is two tiles that lie over each other: coarse has the wider spacing.
type pair struct{ coarse, fine *Tile }

// comparison is what the posts of both say.
type comparison struct {
	n, apart     int     // posts compared, and those further apart than allowed
	follow       float64 // correlation
	relief       float64 // the larger standard deviation, metres
	ratio        float64 // of the mean heights, coarse to fine
	worst        geodesy.LatLon
	coarse, fine float64 // there, metres
	least, most  [2]float64
}

// agreeing returns the tiles without those that disagree with one that was
// given by name, and a warning for each left out. Where neither was, or both
// were, the error names them.
func (m *Mosaic) agreeing(ctx context.Context, tiles []Tile, box lonLatBox) ([]Tile, []string, error) {
	pairs, err := overlapping(tiles)
	if err != nil {
		return nil, nil, err
	}
	// Those with a named tile first: what it rules out needs no judging.
	slices.SortStableFunc(pairs, func(a, b pair) int {
		named := func(p pair) int {
			if p.coarse.Named || p.fine.Named {
				return 0
			}
			return 1
		}
		return named(a) - named(b)
	})
	if n := len(pairs); n > mostPairs {
		spread := make([]pair, mostPairs)
		for i := range spread {
			spread[i] = pairs[i*n/mostPairs]
		}
		pairs = spread
	}
	var warnings []string
	left := map[string]bool{}
	for _, p := range pairs {
		if left[p.coarse.Name] || left[p.fine.Name] {
			continue
		}
		c, err := m.compare(ctx, p, box)
		if ctx.Err() != nil {
			return nil, nil, ctx.Err()
		}
		if err != nil { // whoever needs the file says what is wrong with it
			continue
		}
		why, suspect := p.doubt(c)
		if why == "" {
			continue
		}
		if p.coarse.Named == p.fine.Named {
			return nil, nil, fmt.Errorf("%s: %s", why, p.whatToDo(suspect))
		}
		out, kept := p.coarse, p.fine
		if out.Named {
			out, kept = kept, out
		}
		left[out.Name] = true
		warnings = append(warnings, fmt.Sprintf("%s: %s was given by name and counts, and %s was left out", why, short(kept), short(out)))
	}
	if len(left) > 0 {
		tiles = slices.DeleteFunc(slices.Clone(tiles), func(t Tile) bool { return left[t.Name] })
	}
	return tiles, warnings, nil
}

// overlapping lists the pairs of tiles whose boxes meet, each once.
func overlapping(tiles []Tile) ([]pair, error) {
	type boxed struct {
		tile    *Tile
		extent  Extent
		spacing float64
	}
	all := make([]boxed, len(tiles))
	for i := range tiles {
		e, err := TileExtent(&tiles[i].Frame)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", tiles[i].Name, err)
		}
		spacing, err := tiles[i].Frame.judgedSpacing()
		if err != nil {
			return nil, fmt.Errorf("%s: %w", tiles[i].Name, err)
		}
		all[i] = boxed{&tiles[i], e, spacing}
	}
	slices.SortStableFunc(all, func(a, b boxed) int { return cmp.Compare(a.extent.South, b.extent.South) })
	var pairs []pair
	for i, a := range all {
		for _, b := range all[i+1:] {
			if b.extent.South > a.extent.North {
				break
			}
			if !a.extent.Meets(b.extent) {
				continue
			}
			p := pair{a.tile, b.tile}
			// The same whatever order they come in: of equals, by name.
			if a.spacing < b.spacing || a.spacing == b.spacing && a.tile.Name > b.tile.Name {
				p = pair{b.tile, a.tile}
			}
			if !p.overlap().Empty() {
				pairs = append(pairs, p)
			}
		}
	}
	slices.SortStableFunc(pairs, func(a, b pair) int {
		return cmp.Or(cmp.Compare(a.coarse.Name, b.coarse.Name), cmp.Compare(a.fine.Name, b.fine.Name))
	})
	return pairs, nil
}

// overlap is where the fine tile lies on the coarse one's posts; empty where
// that is less than overlapLeast posts.
func (p pair) overlap() Window {
	w := spanOn(&p.fine.Frame, &p.coarse.Frame)
	if w.Columns < overlapLeast || w.Rows < overlapLeast {
		return Window{}
	}
	return w
}

// spanOn is the window of a frame's posts that another's border spans.
func spanOn(f, on *Frame) Window {
	columns, rows := border(f)
	columns, rows = transform(f, on, columns, rows)
	return windowOf(columns, rows).Intersect(on.Whole())
}

// windowOf is the whole posts that some points span.
func windowOf(columns, rows []float64) Window {
	least, most := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
	for i := range columns {
		if c, r := columns[i], rows[i]; c == c && r == r {
			least = [2]float64{min(least[0], c), min(least[1], r)}
			most = [2]float64{max(most[0], c), max(most[1], r)}
		}
	}
	const far = math.MaxInt32
	if !(least[0] > -far && least[1] > -far && most[0] < far && most[1] < far) {
		return Window{}
	}
	c, r := int(math.Ceil(least[0])), int(math.Ceil(least[1]))
	return Window{Column: c, Row: r, Columns: int(math.Floor(most[0])) - c + 1, Rows: int(math.Floor(most[1])) - r + 1}
}

// asked is the part of a frame that a box spans, widened to boxLeast posts.
func asked(f *Frame, box lonLatBox) Window {
	const n = 8
	var columns, rows []float64
	for i := range n + 1 {
		for k := range n + 1 {
			lat := box.south + (box.north-box.south)*float64(k)/n
			lon := math.Remainder(box.west+(box.east-box.west)*float64(i)/n, 360)
			c, r, err := f.Locate(geodesy.LatLon{Lat: geodesy.Degrees(lat), Lon: geodesy.Degrees(lon)})
			if err == nil {
				columns, rows = append(columns, c), append(rows, r)
			}
		}
	}
	w := windowOf(columns, rows)
	if len(columns) == 0 {
		return f.Whole()
	}
	if more := boxLeast - w.Columns; more > 0 {
		w.Column, w.Columns = w.Column-more/2, boxLeast
	}
	if more := boxLeast - w.Rows; more > 0 {
		w.Row, w.Rows = w.Row-more/2, boxLeast
	}
	return w.Intersect(f.Whole())
}

// tileSource is one tile of a mosaic.
type tileSource struct {
	mosaic *Mosaic
	tile   *Tile
}

func (s tileSource) Info() Info     { return s.tile.Info }
func (s tileSource) Layout() *Frame { return &s.tile.Frame }
func (s tileSource) Close() error   { return nil }
func (s tileSource) Read(ctx context.Context, w Window) (*Grid, error) {
	return s.mosaic.read(ctx, s.tile, w)
}

// compare samples both tiles.
func (m *Mosaic) compare(ctx context.Context, p pair, box lonLatBox) (comparison, error) {
	over := p.overlap()
	if near := over.Intersect(asked(&p.coarse.Frame, box)); near.Columns >= overlapLeast && near.Rows >= overlapLeast {
		over = near
	} else {
		return comparison{}, nil // they meet where nobody asks
	}
	side := patchPosts
	coarse, err := p.coarse.Frame.judgedSpacing()
	if err != nil {
		return comparison{}, err
	}
	fine, err := p.fine.Frame.judgedSpacing()
	if err != nil {
		return comparison{}, err
	}
	if fine > 0 && coarse > coarseRatio*fine {
		side = patchCoarse
	}
	allowed := errorBound*math.Hypot(p.coarse.Info.errorOr(unknownError), p.fine.Info.errorOr(unknownError)) + coverBound
	posts := NewBlocks(ctx, tileSource{m, p.fine}, 0)
	var s sums
	for _, w := range patches(over, side) {
		// a post more all round, for the range among neighbours
		wider := Window{Column: w.Column - 1, Row: w.Row - 1, Columns: w.Columns + 2, Rows: w.Rows + 2}.Intersect(p.coarse.Frame.Whole())
		g, err := m.read(ctx, p.coarse, wider)
		if err != nil {
			return comparison{}, err
		}
		var columns, rows []float64
		for r := range wider.Rows {
			for c := range wider.Columns {
				columns = append(columns, float64(wider.Column+c))
				rows = append(rows, float64(wider.Row+r))
			}
		}
		columns, rows = transform(&p.coarse.Frame, &p.fine.Frame, columns, rows)
		other := &Grid{Frame: p.coarse.Frame.Sub(wider), Elevations: make([]float32, len(columns))}
		for i := range columns {
			h := math.NaN()
			if p.fine.Frame.Contains(columns[i], rows[i]) {
				h = Bilinear(posts, columns[i], rows[i])
			}
			other.Elevations[i] = float32(h)
		}
		if err := posts.Err(); err != nil {
			return comparison{}, err
		}
		for r := range w.Rows {
			for c := range w.Columns {
				column, row := w.Column-wider.Column+c, w.Row-wider.Row+r
				a, b := g.Elevation(column, row), other.Elevation(column, row)
				if a != a || b != b {
					continue
				}
				excess := math.Abs(a-b) - allowed - max(g.rangeAt(column, row), other.rangeAt(column, row))/2
				s.add(a, b, excess, w.Column+c, w.Row+r)
			}
		}
	}
	c := s.comparison()
	if s.n > 0 {
		c.worst, err = p.coarse.Frame.Place(float64(s.column), float64(s.row))
	}
	return c, err
}

// errorOr is the vertical error, or what is taken where none is known.
func (i Info) errorOr(unknown float64) float64 {
	if i.VerticalError > 0 {
		return i.VerticalError
	}
	return unknown
}

// patches are windows spread over another.
func patches(over Window, side int) []Window {
	if over.Columns <= patchesAcross*side && over.Rows <= patchesAcross*side {
		return []Window{over}
	}
	var all []Window
	for i := range patchesAcross {
		for k := range patchesAcross {
			w := Window{Columns: min(side, over.Columns), Rows: min(side, over.Rows)}
			w.Column = over.Column + (over.Columns-w.Columns)*i/(patchesAcross-1)
			w.Row = over.Row + (over.Rows-w.Rows)*k/(patchesAcross-1)
			all = append(all, w)
		}
	}
	return all
}

// rangeAt is the range of heights among a post and its neighbours.
func (g *Grid) rangeAt(column, row int) float64 {
	least, most := math.Inf(1), math.Inf(-1)
	for r := max(row-1, 0); r <= min(row+1, g.Rows-1); r++ {
		for c := max(column-1, 0); c <= min(column+1, g.Columns-1); c++ {
			if h := g.Elevation(c, r); h == h {
				least, most = min(least, h), max(most, h)
			}
		}
	}
	return most - least
}

// sums gather a comparison.
type sums struct {
	n, apart         int
	a, b, aa, bb, ab float64
	worst            float64
	column, row      int
	worstA, worstB   float64
	least, most      [2]float64
	originA, originB float64 // the first heights: sums of small numbers round less
}

func (s *sums) add(a, b, excess float64, column, row int) {
	if s.n == 0 {
		s.originA, s.originB = a, b
		s.least, s.most = [2]float64{a, b}, [2]float64{a, b}
	}
	if s.n == 0 || math.Abs(a-b) > s.worst {
		s.worst, s.worstA, s.worstB, s.column, s.row = math.Abs(a-b), a, b, column, row
	}
	s.n++
	if excess > 0 {
		s.apart++
	}
	s.least = [2]float64{min(s.least[0], a), min(s.least[1], b)}
	s.most = [2]float64{max(s.most[0], a), max(s.most[1], b)}
	a, b = a-s.originA, b-s.originB
	s.a, s.b, s.aa, s.bb, s.ab = s.a+a, s.b+b, s.aa+a*a, s.bb+b*b, s.ab+a*b
}

func (s *sums) comparison() comparison {
	c := comparison{n: s.n, apart: s.apart, coarse: s.worstA, fine: s.worstB, least: s.least, most: s.most}
	if s.n == 0 {
		return c
	}
	n := float64(s.n)
	va, vb := max(0, s.aa/n-s.a/n*s.a/n), max(0, s.bb/n-s.b/n*s.b/n)
	c.relief = math.Sqrt(max(va, vb))
	if va > 0 && vb > 0 {
		c.follow = (s.ab/n - s.a/n*s.b/n) / math.Sqrt(va*vb)
	}
	c.ratio = (s.originA + s.a/n) / (s.originB + s.b/n)
	return c
}

// byteType is Info.DataType of values of one byte.
const byteType = "Byte"

// doubt says in a sentence how the tiles disagree, "" where they do not, and
// which of them looks to be the wrong one, nil where neither does.
func (p pair) doubt(c comparison) (why string, suspect *Tile) {
	if c.n < fewestCompared {
		return "", nil
	}
	relief := max(reliefLeast, 1.5*math.Hypot(p.coarse.Info.errorOr(unknownError), p.fine.Info.errorOr(unknownError)))
	if !p.coarse.Info.known() && !p.fine.Info.known() {
		relief = reliefLeast
	}
	apart := 2*c.apart > c.n
	strange := c.relief >= relief && c.follow < followLeast
	bytes := (p.coarse.Info.DataType == byteType) != (p.fine.Info.DataType == byteType) && c.follow < bytesFollow
	if !apart && !strange && !bytes {
		return "", nil
	}
	text := fmt.Sprintf("%s and %s lie over each other and are not of the same ground: at %s one has %.0f m and the other %.0f m, and %d of %d posts are further apart than errors, trees and slope allow",
		p.coarse.Name, p.fine.Name, c.worst, c.coarse, c.fine, c.apart, c.n)
	for i, t := range []*Tile{p.coarse, p.fine} {
		ratio := c.ratio
		if i == 1 {
			ratio = 1 / ratio
		}
		// A map's values: hillshade 0 to 255, slope in degrees 0 to 90.
		const shade, slope = 255, 90
		other := c.most[1-i]
		switch {
		case c.follow >= bytesFollow && math.Abs(ratio*0.3048-1) <= footShare:
			return text + fmt.Sprintf("; the heights of %s look to be in feet and taken as metres", short(t)), t
		case t.Info.DataType == byteType && c.follow < bytesFollow:
			return text + fmt.Sprintf("; %s holds bytes, as a hillshade or a slope map does", short(t)), t
		case c.least[i] >= 0 && c.most[i] <= slope && other > slope && c.follow < bytesFollow:
			return text + fmt.Sprintf("; the values of %s, %.0f to %.0f, look to be a slope map's", short(t), c.least[i], c.most[i]), t
		case c.least[i] >= 0 && c.most[i] <= shade && other > shade && c.follow < bytesFollow:
			return text + fmt.Sprintf("; the values of %s, %.0f to %.0f, look to be a hillshade's", short(t), c.least[i], c.most[i]), t
		}
	}
	return text, nil
}

func (i Info) known() bool { return i.VerticalError > 0 }

// whatToDo is the end of an error.
func (p pair) whatToDo(suspect *Tile) string {
	right := "the right one"
	switch suspect {
	case p.coarse:
		right = short(p.fine)
	case p.fine:
		right = short(p.coarse)
	}
	if p.coarse.Named {
		return "give one of them only"
	}
	return fmt.Sprintf("take the wrong one out of its folder, or name %s with a --dem of its own as well", right)
}

// short is a tile's name without its folders.
func short(t *Tile) string { return path.Base(t.Name) }
