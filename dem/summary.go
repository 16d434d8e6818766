package dem

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"crowline/dem/geodesy"
	"crowline/dem/workers"
)

// Summary says what a set of tiles is.
type Summary struct {
	Files int
	// Extent is the smallest box round all their posts.
	Extent Extent
	// What the files are, most files first.
	Spacings, Systems, Units, VerticalData, Surfaces, DataTypes []Group
	// Placed is how the places of each system's files are brought to WGS 84,
	// most files first.
	Placed []Placed
	// Attributions are the credit lines, each once.
	Attributions []string
	// Odd are files unlike nearly all others, the first ones; OddFiles counts
	// all.
	Odd      []FileNote
	OddFiles int
	// Refused are files that could not be read or whose content is not what
	// it should be, the first ones; RefusedFiles counts all.
	Refused      []FileNote
	RefusedFiles int
	// Posts of all files: those that lie over each other count each time.
	Posts int64
	// Counted: the posts were looked at, and what follows is known.
	Counted bool
	// Voids counts the posts without elevation, VoidFiles the files with none
	// other.
	Voids     int64
	VoidFiles int
	// Lowest and Highest post of all; nil when there is none.
	Lowest, Highest *FilePost
	// SuspectPosts and the files they are in; Suspects are the first ones.
	SuspectPosts int64
	SuspectFiles int
	Suspects     []FileNote
	// LowestBeyond and HighestBeyond are those of the heights beyond any land
	// (OffEarth), metres; both 0 where there are none.
	LowestBeyond, HighestBeyond float64
}

// Group is how many files share a thing.
type Group struct {
	Text  string
	Files int
	// First are the first files, three at most.
	First []string
	files []string // all of them
}

// Placed is how the places of some files are brought to WGS 84.
type Placed struct {
	// System is the files' reference system, as Summary.Systems has it, Datum
	// its datum.
	System, Datum string
	Operation     geodesy.Operation
	Files         int
}

// FileNote is something about one file.
type FileNote struct{ File, Text string }

// FilePost is a post of a file.
type FilePost struct {
	File      string
	Place     geodesy.LatLon
	Elevation float64 // metres
}

// SummaryOptions tells Summarise what to do.
type SummaryOptions struct {
	// HeadersOnly leaves the posts alone.
	HeadersOnly bool
	// Concurrency is how many files are read at once; default GOMAXPROCS. The
	// answer does not depend on it.
	Concurrency int
	// Progress, if not nil, is told how many posts are done, from one
	// goroutine at a time.
	Progress func(done, total int64)
}

const (
	// namesKept is how many files a group names, notesKept how many notes of
	// a kind are kept.
	namesKept, notesKept = 3, 10
	// oddShare is the share of files that, at most, is odd beside over half
	// that agree.
	oddShare = 0.1
)

// groups counts files by a key, and in the end puts the largest group first.
// A group is told by the text of its first file.
type groups struct {
	at   map[string]int
	list []Group
}

func (g *groups) add(text, file string) { g.addBy(text, text, file) }

func (g *groups) addBy(key, text, file string) {
	i, ok := g.at[key]
	if !ok {
		if g.at == nil {
			g.at = map[string]int{}
		}
		i = len(g.list)
		g.at[key] = i
		g.list = append(g.list, Group{Text: text})
	}
	g.list[i].Files++
	g.list[i].files = append(g.list[i].files, file)
	g.list[i].First = g.list[i].files[:min(namesKept, g.list[i].Files)]
}

func (g *groups) sorted() []Group {
	slices.SortStableFunc(g.list, func(a, b Group) int { return cmp.Compare(b.Files, a.Files) })
	return g.list
}

// Summarise says what tiles are. Memory is some hundred bytes a tile and, for
// counting posts, a few megabytes for each tile read at once. A tile that
// cannot be opened or read is told in the answer and is no error; ctx is
// looked at between tiles and between squares of a million posts.
func Summarise(ctx context.Context, tiles []Tile, opts SummaryOptions) (Summary, error) {
	s := Summary{Files: len(tiles), Counted: !opts.HeadersOnly}
	var spacings, systems, units, data, surfaces, types groups
	credits := map[string]bool{}
	any := false
	for i := range tiles {
		if err := ctx.Err(); err != nil {
			return Summary{}, err
		}
		t := &tiles[i]
		f, info := &t.Frame, &t.Info
		s.Posts += int64(f.Columns) * int64(f.Rows)
		extent, err := f.Extent()
		if err != nil {
			return Summary{}, fmt.Errorf("%s: %w", t.Name, err)
		}
		if any {
			extent = s.Extent.Join(extent)
		}
		s.Extent, any = extent, true
		key, spacing, err := spacingOf(f)
		if err != nil {
			return Summary{}, fmt.Errorf("%s: %w", t.Name, err)
		}
		spacings.addBy(key, spacing, t.Name)
		systems.add(systemText(f.CRS), t.Name)
		s.place(f)
		units.add(info.unitText(), t.Name)
		data.add(or(info.VerticalDatum, "not stated"), t.Name)
		surfaces.add(or(string(info.Surface), "not stated"), t.Name)
		types.add(strings.TrimSpace(info.Driver+" "+info.DataType), t.Name)
		if info.Attribution != "" && !credits[info.Attribution] {
			credits[info.Attribution] = true
			s.Attributions = append(s.Attributions, info.Attribution)
		}
	}
	s.Spacings, s.Systems, s.Units = spacings.sorted(), systems.sorted(), units.sorted()
	s.VerticalData, s.Surfaces, s.DataTypes = data.sorted(), surfaces.sorted(), types.sorted()
	slices.SortStableFunc(s.Placed, func(a, b Placed) int { return cmp.Compare(b.Files, a.Files) })
	odd := oddities{at: map[string]int{}}
	for _, kind := range []struct {
		what string
		list []Group
	}{{"reference system", s.Systems}, {"spacing", s.Spacings}, {"unit of heights", s.Units}, {"vertical datum", s.VerticalData}, {"kind of model", s.Surfaces}} {
		odd.compare(kind.what, kind.list, s.Files)
	}
	if !opts.HeadersOnly {
		if err := s.count(ctx, tiles, opts, &odd); err != nil {
			return Summary{}, err
		}
	}
	s.Odd, s.OddFiles = odd.notes[:min(notesKept, len(odd.notes))], len(odd.notes)
	return s, nil
}

// place counts a file by its system and by the operation at its middle.
func (s *Summary) place(f *Frame) {
	p := Placed{System: systemText(f.CRS), Datum: f.CRS.Datum, Operation: f.Operation(), Files: 1}
	for i := range s.Placed {
		if q := &s.Placed[i]; q.System == p.System && q.Operation.Name == p.Operation.Name {
			q.Files++
			return
		}
	}
	s.Placed = append(s.Placed, p)
}

func or(text, otherwise string) string {
	if text == "" {
		return otherwise
	}
	return text
}

// spacingOf is a frame's spacing as files have it, in the unit of its system,
// and in words: arc-seconds for longitudes and latitudes, else metres at the
// frame's middle, which a projection's scale changes a little from tile to
// tile.
func spacingOf(f *Frame) (key, text string, err error) {
	key = fmt.Sprintf("%t %.6g %.6g", f.CRS.Geographic, math.Abs(f.DX), math.Abs(f.DY))
	if f.CRS.Geographic {
		return key, fmt.Sprintf("%.4g″ by %.4g″", math.Abs(f.DX)*3600, math.Abs(f.DY)*3600), nil
	}
	along, across, err := f.Spacing(float64(f.Columns-1)/2, float64(f.Rows-1)/2)
	if err != nil {
		return "", "", err
	}
	return key, fmt.Sprintf("%s m by %s m", threeFigures(along), threeFigures(across)), nil
}

func threeFigures(v float64) string {
	digits := max(0, 2-int(math.Floor(math.Log10(math.Max(v, 1e-3)))))
	return strconv.FormatFloat(v, 'f', digits, 64)
}

func systemText(c *geodesy.CRS) string {
	if c.Code != "" {
		return c.Name + " (" + c.Code + ")"
	}
	return c.Name
}

// oddities are notes of odd files, one a file.
type oddities struct {
	at    map[string]int
	notes []FileNote
}

func (o *oddities) add(file, text string) {
	if i, ok := o.at[file]; ok {
		o.notes[i].Text += "; " + text
		return
	}
	o.at[file] = len(o.notes)
	o.notes = append(o.notes, FileNote{file, text})
}

// compare notes the files of groups of a tenth of all or fewer, beside one of
// over half.
func (o *oddities) compare(what string, list []Group, all int) {
	if len(list) < 2 || 2*list[0].Files <= all {
		return
	}
	for _, g := range list[1:] {
		if float64(g.Files) > oddShare*float64(all) {
			continue
		}
		for _, file := range g.files {
			o.add(file, fmt.Sprintf("%s %s, not %s", what, g.Text, list[0].Text))
		}
	}
}

func note(list *[]FileNote, file, text string) {
	if len(*list) < notesKept {
		*list = append(*list, FileNote{file, text})
	}
}

// count looks at the posts of all tiles.
func (s *Summary) count(ctx context.Context, tiles []Tile, opts SummaryOptions, odd *oddities) error {
	type counted struct {
		census Census
		err    error
	}
	results := make([]counted, len(tiles))
	advance := workers.Counter(s.Posts, opts.Progress)
	err := workers.Each(ctx, len(tiles), opts.Concurrency, func(_, i int) error {
		var told int64
		results[i].census, results[i].err = countTile(ctx, &tiles[i], func(posts, _ int64) {
			advance(posts - told)
			told = posts
		})
		advance(int64(tiles[i].Frame.Columns)*int64(tiles[i].Frame.Rows) - told)
		return nil // a tile that cannot be read is told of, and the rest counted
	})
	if err != nil {
		return err
	}
	for i := range results {
		t, c := &tiles[i], results[i].census
		if err := results[i].err; err != nil {
			s.RefusedFiles++
			s.Posts -= int64(t.Frame.Columns) * int64(t.Frame.Rows)
			note(&s.Refused, t.Name, err.Error())
			continue
		}
		s.Voids += c.Voids
		if c.Voids == c.Posts {
			s.VoidFiles++
			odd.add(t.Name, "no post of it has an elevation")
			continue
		}
		if c.Suspicion.Posts > 0 {
			s.SuspectPosts += c.Suspicion.Posts
			s.SuspectFiles++
			note(&s.Suspects, t.Name, c.Suspicion.First[0].String())
		}
		s.LowestBeyond, s.HighestBeyond = min(s.LowestBeyond, c.Suspicion.Lowest), max(s.HighestBeyond, c.Suspicion.Highest)
		for _, e := range []struct {
			to   **FilePost
			sign float64
			at   Extreme
		}{{&s.Lowest, -1, c.Lowest}, {&s.Highest, 1, c.Highest}} {
			if *e.to != nil && !(e.sign*e.at.Elevation > e.sign*(*e.to).Elevation) {
				continue
			}
			p, err := t.Frame.Place(float64(e.at.Column), float64(e.at.Row))
			if err != nil {
				return fmt.Errorf("%s: %w", t.Name, err)
			}
			*e.to = &FilePost{t.Name, p, e.at.Elevation}
		}
	}
	return nil
}

func countTile(ctx context.Context, t *Tile, progress func(done, total int64)) (Census, error) {
	source, err := t.Open(ctx)
	if err != nil {
		return Census{}, err
	}
	c, err := Count(ctx, source, CensusOptions{Progress: progress})
	if closing := source.Close(); err == nil {
		err = closing
	}
	return c, err
}

// unitText is the unit of heights and whether it was assumed.
func (i *Info) unitText() string {
	if !i.VerticalUnitStated {
		return i.VerticalUnit + " (assumed: not stated)"
	}
	return i.VerticalUnit
}
