package dem

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync"

	"crowline/dem/geodesy"
	"crowline/dem/workers"
)

// The rule by which a post is suspected. Ground is steep in places, but not
// on every side at once: on four real files, of 30 m to 1 km spacing, with
// mountains and a city, no post stands above all eight of its neighbours, or
// below them, by more than 0.4 of the spacing. And where ground does stand
// on end, two posts differ by a cliff's height.
const (
	// spikeShare is how far a post may stand above or below all its
	// neighbours, as a share of the spacing: a cone of 37 degrees.
	spikeShare = 0.75
	// spikeLeast, metres, keeps trees, houses and the last digit of coarse
	// heights out of it where posts are close.
	spikeLeast = 10.0
	// wallShare is how far two neighbours may differ, as a share of the
	// spacing: 76 degrees.
	wallShare = 4.0
	// wallLeast, metres, keeps real cliffs out of it where posts are close.
	wallLeast = 100.0
	// spikeNeighbours is how many of the eight neighbours must have an
	// elevation for a post to be judged by them: those of a post at an edge.
	spikeNeighbours = 5
)

// The range of elevations on land, metres, with room: the shore of the Dead
// Sea is about 430 m below the sea and Everest 8 849 m above it.
const (
	LowestLand  = -500.0
	HighestLand = 9000.0
)

// Doubt says why a post is suspected.
type Doubt string

const (
	// Spike: it stands above, or below, all its neighbours by more than
	// ground does.
	Spike Doubt = "stands out from all its neighbours"
	// Wall: it differs from the next post by more than a cliff's height.
	Wall Doubt = "stands a wall's height from the next post"
	// OffEarth: no land is so high or so low.
	OffEarth Doubt = "is beyond any land on Earth"
)

// Suspect is a post that is most likely wrong: damaged data, or a value that
// stands for something other than an elevation.
type Suspect struct {
	// Column and Row on the layout of what was searched.
	Column, Row int
	Place       geodesy.LatLon
	// Elevation is the post's and Neighbour that of the neighbour nearest to
	// it in height, metres (NaN if it has none).
	Elevation, Neighbour float64
	Doubt                Doubt
}

// String says what is doubted and where.
func (s Suspect) String() string {
	text := fmt.Sprintf("the post at %s, %.0f m, %s", s.Place, s.Elevation, s.Doubt)
	if !math.IsNaN(s.Neighbour) && s.Doubt != OffEarth {
		text += fmt.Sprintf(" (the nearest in height is %.0f m)", s.Neighbour)
	}
	return text
}

// Suspicion is what a search found.
type Suspicion struct {
	// Posts counts all that are suspected; First are the first of them, by
	// row and then column.
	Posts int64
	First []Suspect
	// Lowest and Highest of the heights beyond any land (OffEarth), metres;
	// both 0 where there are none.
	Lowest, Highest float64
}

// keptSuspects is how many are kept: a reader looks at a few, and where
// there are thousands the file is damaged.
const keptSuspects = 10

// SuspectsOf searches a grid, by its own columns and rows. It takes some
// nanoseconds a post.
func SuspectsOf(g *Grid) (Suspicion, error) {
	if g.Columns == 0 || g.Rows == 0 {
		return Suspicion{}, nil
	}
	spacing, err := g.judgedSpacing()
	if err != nil {
		return Suspicion{}, err
	}
	return suspectsBy(g, spacing)
}

// suspectsBy is SuspectsOf by a spacing of posts, metres.
func suspectsBy(g *Grid, spacing float64) (Suspicion, error) {
	// parts of at least a million posts are worth a core each
	parts := max(1, min(runtime.GOMAXPROCS(0), g.Columns*g.Rows>>20, g.Rows))
	found := make([]Suspicion, parts)
	err := workers.Each(context.Background(), parts, parts, func(_, i int) (err error) {
		from, to := g.Rows*i/parts, g.Rows*(i+1)/parts
		found[i], err = suspectsOf(g, Window{Row: from, Columns: g.Columns, Rows: to - from}, spacing)
		return err
	})
	if err != nil {
		return Suspicion{}, err
	}
	var all Suspicion
	for i := range parts {
		all.add(found[i])
	}
	return all, nil
}

// plain counts the posts from the first on that two neighbours turn away:
// near one of them in height there is no spike, and near both no wall. Nearly
// all are, so this loop is the cost of the search. The last post of line is
// only looked at as a neighbour.
func plain(line, next []float32, spike, wall float32) int {
	if len(line) == 0 {
		return 0
	}
	h := line[0]
	for i, b := range line[1:] {
		x, y := b-h, next[i]-h
		if !(x <= spike && x >= -spike && y <= wall && y >= -wall && h >= LowestLand && h <= HighestLand) {
			return i
		}
		h = b
	}
	return len(line) - 1
}

// judgedSpacing is the larger spacing of posts at a frame's middle, metres.
func (f *Frame) judgedSpacing() (float64, error) {
	along, across, err := f.Spacing(float64(f.Columns-1)/2, float64(f.Rows-1)/2)
	if err != nil {
		return 0, err
	}
	if spacing := max(along, across); spacing > 0 {
		return spacing, nil
	}
	return 0, nil // at a pole; spikeLeast stands
}

// suspectsOf judges the posts of part, by all of g.
func suspectsOf(g *Grid, part Window, spacing float64) (Suspicion, error) {
	spike := float32(max(spikeLeast, spikeShare*spacing))
	wall := float32(max(wallLeast, wallShare*spacing))
	var s Suspicion
	for r := part.Row; r < part.Row+part.Rows; r++ {
		line := g.Elevations[r*g.Columns:][:g.Columns]
		next := line
		if r+1 < g.Rows {
			next = g.Elevations[(r+1)*g.Columns:][:g.Columns]
		}
		end := part.Column + part.Columns
		for c := part.Column; c < end; c++ {
			c += plain(line[c:min(end+1, len(line))], next[c:], spike, wall)
			if c >= end {
				break
			}
			h := line[c]
			if h != h {
				continue
			}
			doubt := Doubt("")
			switch {
			case h < LowestLand || h > HighestLand:
				doubt = OffEarth
				s.Lowest, s.Highest = min(s.Lowest, float64(h)), max(s.Highest, float64(h))
			case g.standsOut(c, r, h, spike):
				doubt = Spike
			case g.wallTo(c+1, r, h, wall, spike), g.wallTo(c, r+1, h, wall, spike):
				doubt = Wall
			default:
				continue
			}
			s.Posts++
			if len(s.First) < keptSuspects {
				p, err := g.Place(float64(c), float64(r))
				if err != nil {
					return Suspicion{}, err
				}
				s.First = append(s.First, Suspect{Column: c, Row: r, Place: p, Elevation: float64(h), Neighbour: g.nearestInHeight(c, r, h), Doubt: doubt})
			}
		}
	}
	return s, nil
}

func abs32(v float32) float32 {
	if v < 0 {
		return -v
	}
	return v
}

// standsOut reports whether a post is above, or below, all its neighbours by
// more than limit, and has enough of them.
func (g *Grid) standsOut(c, r int, h, limit float32) bool {
	out, neighbours := g.standsOver(c, r, h, limit)
	return out && neighbours >= spikeNeighbours
}

// standsOver is standsOut of what neighbours there are, and how many.
func (g *Grid) standsOver(c, r int, h, limit float32) (out bool, neighbours int) {
	above, below, n := true, true, 0
	for dr := -1; dr <= 1; dr++ {
		for dc := -1; dc <= 1; dc++ {
			if dc == 0 && dr == 0 || uint(c+dc) >= uint(g.Columns) || uint(r+dr) >= uint(g.Rows) {
				continue
			}
			v := g.Elevations[(r+dr)*g.Columns+c+dc]
			if v != v {
				continue
			}
			n++
			above = above && h-v > limit
			below = below && v-h > limit
			if !above && !below {
				return false, n
			}
		}
	}
	return true, n
}

// wallTo reports whether the post at (c, r) differs from h by more than wall
// and is not itself a spike, which is reported where it is.
func (g *Grid) wallTo(c, r int, h, wall, spike float32) bool {
	if c >= g.Columns || r >= g.Rows {
		return false
	}
	v := g.Elevations[r*g.Columns+c]
	return abs32(v-h) > wall && !g.standsOut(c, r, v, spike) && v >= LowestLand && v <= HighestLand
}

func (g *Grid) nearestInHeight(c, r int, h float32) float64 {
	best := math.NaN()
	for dr := -1; dr <= 1; dr++ {
		for dc := -1; dc <= 1; dc++ {
			if dc == 0 && dr == 0 {
				continue
			}
			v := g.Elevation(c+dc, r+dr)
			if v == v && !(math.Abs(v-float64(h)) >= math.Abs(best-float64(h))) {
				best = v
			}
		}
	}
	return best
}

// suspectsIn judges the posts of a window, with their neighbours beyond it,
// and shows each to look, by its column and row in the source.
func suspectsIn(ctx context.Context, source Source, part Window, look func(column, row int, elevation float64)) (Suspicion, error) {
	f := source.Layout()
	// the neighbours, and theirs: a wall is one where the post beyond is no spike
	wider := Window{Column: part.Column - 2, Row: part.Row - 2, Columns: part.Columns + 4, Rows: part.Rows + 4}.Intersect(f.Whole())
	g, err := source.Read(ctx, wider)
	if err != nil {
		return Suspicion{}, err
	}
	// by the whole, so that the rule is the same however it is cut
	spacing, err := f.judgedSpacing()
	if err != nil {
		return Suspicion{}, err
	}
	inner := part
	inner.Column -= wider.Column
	inner.Row -= wider.Row
	for r := range part.Rows {
		line := g.Elevations[(inner.Row+r)*g.Columns+inner.Column:][:part.Columns]
		for c, h := range line {
			look(part.Column+c, part.Row+r, float64(h))
		}
	}
	s, err := suspectsOf(g, inner, spacing)
	for i := range s.First {
		suspect := &s.First[i]
		suspect.Column += wider.Column
		suspect.Row += wider.Row
		// by the whole frame, so that rounding is the same however it is cut
		if suspect.Place, err = f.Place(float64(suspect.Column), float64(suspect.Row)); err != nil {
			return Suspicion{}, err
		}
	}
	return s, err
}

func (s *Suspicion) add(o Suspicion) {
	s.Posts += o.Posts
	s.Lowest, s.Highest = min(s.Lowest, o.Lowest), max(s.Highest, o.Highest)
	s.First = append(s.First, o.First...)
	slices.SortFunc(s.First, func(a, b Suspect) int {
		if a.Row != b.Row {
			return cmp.Compare(a.Row, b.Row)
		}
		return cmp.Compare(a.Column, b.Column)
	})
	if len(s.First) > keptSuspects {
		s.First = s.First[:keptSuspects]
	}
}

// Watched is a source that searches what is read for suspect posts and says
// so in its Info's warnings. Safe for concurrent use if the source is.
type Watched struct {
	Source
	mutex sync.Mutex
	found map[[2]int]Suspect
	// settled are posts at the edge of what was read that have been judged by
	// all their neighbours.
	settled map[[2]int]bool
	more    bool
	// of the heights beyond any land, metres
	lowest, highest float64
}

// Watch wraps a source.
func Watch(source Source) *Watched {
	return &Watched{Source: source, found: map[[2]int]Suspect{}, settled: map[[2]int]bool{}}
}

// Read reads a window and searches it. The grid's Source carries the
// warnings.
func (w *Watched) Read(ctx context.Context, window Window) (*Grid, error) {
	g, err := w.Source.Read(ctx, window)
	if err != nil {
		return nil, err
	}
	if !window.Empty() {
		spacing, err := w.Layout().judgedSpacing()
		if err != nil {
			return nil, err
		}
		s, err := suspectsBy(g, spacing)
		if err != nil {
			return nil, err
		}
		w.note(s, window.Column, window.Row)
		if err := w.settle(ctx, window, w.lonely(g, window, spacing)...); err != nil {
			return nil, err
		}
	}
	g.Source = w.Info()
	return g, nil
}

// note keeps what a search of posts found that begin at a column and row.
func (w *Watched) note(s Suspicion, column, row int) {
	w.mutex.Lock()
	defer w.mutex.Unlock()
	for _, suspect := range s.First {
		suspect.Column += column
		suspect.Row += row
		if w.settled[[2]int{suspect.Column, suspect.Row}] {
			continue
		}
		w.found[[2]int{suspect.Column, suspect.Row}] = suspect
	}
	w.more = w.more || s.Posts > int64(len(s.First))
	w.lowest, w.highest = min(w.lowest, s.Lowest), max(w.highest, s.Highest)
}

// lonely are the posts of a window that stand out of what neighbours they have in
// it, too few to be judged by: at its corners, and anywhere in one a post wide.
func (w *Watched) lonely(g *Grid, window Window, spacing float64) [][2]int {
	spike := float32(max(spikeLeast, spikeShare*spacing))
	stepColumn, stepRow := max(1, window.Columns-1), max(1, window.Rows-1)
	if window.Columns == 1 || window.Rows == 1 {
		stepColumn, stepRow = 1, 1
	}
	var out [][2]int
	for r := 0; r < window.Rows; r += stepRow {
		for c := 0; c < window.Columns; c += stepColumn {
			h := g.Elevations[r*g.Columns+c]
			if over, n := g.standsOver(c, r, h, spike); h == h && over && n < spikeNeighbours {
				out = append(out, [2]int{window.Column + c, window.Row + r})
			}
		}
	}
	return out
}

// settle judges the suspects within two posts of a window's edge again, and
// others, with the neighbours beyond it: without those a post of a slope may stand
// out, and a spike may not.
func (w *Watched) settle(ctx context.Context, window Window, others ...[2]int) error {
	whole := w.Layout().Whole()
	inner := Window{Column: window.Column + 2, Row: window.Row + 2, Columns: window.Columns - 4, Rows: window.Rows - 4}
	w.mutex.Lock()
	var again [][2]int
	for _, at := range others {
		if _, found := w.found[at]; !found && !w.settled[at] {
			again = append(again, at)
		}
	}
	for at := range w.found {
		post := Window{Column: at[0], Row: at[1], Columns: 1, Rows: 1}
		if !w.settled[at] && post.Intersect(window) == post && (inner.Columns <= 0 || inner.Rows <= 0 || post.Intersect(inner) != post) {
			again = append(again, at)
		}
	}
	w.mutex.Unlock()
	for _, at := range again {
		s, err := suspectsIn(ctx, w.Source, Window{Column: at[0], Row: at[1], Columns: 1, Rows: 1}.Intersect(whole), func(int, int, float64) {})
		if err != nil {
			return err
		}
		w.mutex.Lock()
		w.settled[at] = true
		delete(w.found, at)
		if len(s.First) > 0 {
			w.found[at] = s.First[0]
		}
		w.mutex.Unlock()
	}
	return nil
}

// ReadRows is Rows for a watched source. Two rows are carried from each band
// to the next, so that every post is judged among all its neighbours.
func (w *Watched) ReadRows(ctx context.Context, window Window, use func(posts []float32) error) error {
	columns, row := window.Columns, window.Row
	spacing, err := w.Layout().judgedSpacing()
	if err != nil {
		return err
	}
	// search judges rows from to end of some posts whose first row is row
	// first of the source.
	search := func(posts []float32, first, from, end int) error {
		rows := len(posts) / columns
		g := &Grid{Frame: w.Layout().Sub(Window{Column: window.Column, Row: first, Columns: columns, Rows: rows}), Elevations: posts}
		found, err := suspectsOf(g, Window{Row: from, Columns: columns, Rows: max(0, end-from)}, spacing)
		if err == nil {
			w.note(found, window.Column, first)
		}
		return err
	}
	var carried []float32 // the last rows of the bands before, two at most
	err = Rows(ctx, w.Source, window, func(posts []float32) error {
		rows := len(posts) / columns
		before := len(carried) / columns
		last := row+rows == window.Row+window.Rows
		// the seam: the carried row still to be judged, and this band's first
		seam := append(carried, posts[:min(2, rows)*columns]...)
		from, end := max(0, before-1), len(seam)/columns-1
		if last && rows < 2 {
			end++
		}
		if before == 0 && rows >= 2 {
			end = 1 // its first row; the rest follows
		}
		if err := search(seam, row-before, from, end); err != nil {
			return err
		}
		// the rest of the band, but for its last row unless nothing follows
		end = rows - 1
		if last {
			end = rows
		}
		// use only looks at the posts, so they are searched meanwhile
		searched := make(chan error, 1)
		go func(first int) { searched <- search(posts, first, 1, end) }(row)
		if rows >= 2 {
			carried = append(carried[:0], posts[(rows-2)*columns:]...)
		} else {
			carried = append([]float32(nil), seam[max(0, len(seam)-2*columns):]...)
		}
		row += rows
		err := use(posts)
		if found := <-searched; err == nil {
			err = found
		}
		return err
	})
	if err != nil {
		return err
	}
	return w.settle(ctx, window)
}

// Found is the suspect posts of what was read so far, by row and column, and
// whether there were more than are listed.
func (w *Watched) Found() (suspects []Suspect, more bool) {
	w.mutex.Lock()
	defer w.mutex.Unlock()
	for _, s := range w.found {
		suspects = append(suspects, s)
	}
	all := Suspicion{First: suspects}
	n := len(suspects)
	all.add(Suspicion{})
	return all.First, w.more || n > keptSuspects
}

// Info is the source's, with a warning if posts are suspect.
func (w *Watched) Info() Info {
	info := w.Source.Info()
	suspects, more := w.Found()
	if len(suspects) == 0 {
		return info
	}
	text := suspects[0].String()
	switch {
	case more:
		text += fmt.Sprintf("; and more than %d others like it: the data may be damaged", len(suspects)-1)
	case len(suspects) > 1:
		text += fmt.Sprintf("; and %d others like it: the data may be damaged", len(suspects)-1)
	default:
		text += ": it may be wrong"
	}
	info.Warnings = append(slices.Clone(info.Warnings), text)
	w.mutex.Lock()
	lowest, highest := w.lowest, w.highest
	w.mutex.Unlock()
	if doubt := RangeDoubt(info.VerticalUnit, lowest, highest); doubt != "" {
		info.Warnings = append(info.Warnings, doubt)
	}
	return info
}
