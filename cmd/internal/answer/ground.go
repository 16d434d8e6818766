package answer

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"slices"
	"sync"

	"crowline/dem"
	"crowline/dem/demo"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/profile"
	"crowline/visibility"
)

// Data says which elevation data questions are put to, and how it is read.
type Data struct {
	// Paths are files, folders, patterns or addresses; none is the demo data.
	Paths []string
	// File holds for every file.
	File gdalio.Options
	// Remote says how files at an address are read.
	Remote gdalio.RemoteOptions
	// FillVoids fills small inner voids, and counts what was filled.
	FillVoids bool
	// VerticalError is one standard deviation of the heights, metres; 0 takes
	// what is published for the data, where that is known.
	VerticalError float64
	// MaxBytes is the most memory a question may take; 0 is no limit.
	MaxBytes int64
	// Known are places of known elevation: the unit of heights is held against
	// them.
	Known []Place
}

// Reach is the ground a question needs.
type Reach struct {
	// Places and Margin: all within Margin metres of the places, and of the
	// straight lines from each to the next. No places is all the data has.
	Places []geodesy.LatLon
	Margin float64
	// Behind: ground farther off may rise behind what is asked about, and is
	// wanted too, as far as the policy has it.
	Behind bool
}

// Ground is opened elevation data. It is safe to ask from several goroutines at
// once: they take turns at reading.
type Ground struct {
	base   dem.Source // as it was opened; reads by one goroutine at a time
	source dem.Source // base with what is done to it: voids filled, posts judged
	fill   bool
	// posted are all the posts where they are held in memory and need no
	// judging: see Unjudged.
	posted *dem.Grid
	demo   bool
	remote bool // some of it lies at an address
	joined bool // it is only what was asked for, of data that may go on
	// verticalError is one standard deviation, metres; 0 if unknown.
	verticalError       float64
	verticalErrorSource string
	maxBytes            int64
	doubt               string            // about the unit of heights, or ""
	placed              geodesy.Operation // of the system that is placed worst
	placeDoubts         []string
	far                 float64     // from the places asked about that there is data at all, metres
	tiles               *dem.Mosaic // that the data is joined of; nil for a single file
}

// Open opens the data that a question needs, and closes it again where that
// fails. A single file on this machine is opened as it is; folders, patterns,
// addresses and several paths are joined to one ground. What is read is
// searched for posts that are most likely wrong.
func Open(ctx context.Context, d Data, reach Reach) (*Ground, error) {
	g := &Ground{maxBytes: d.MaxBytes, remote: slices.ContainsFunc(d.Paths, gdalio.IsAddress), joined: len(d.Paths) > 1 || len(d.Paths) == 1 && !isFile(d.Paths[0])}
	var source dem.Source
	var err error
	if len(d.Paths) == 0 {
		g.demo = true
		file := d.File
		file.HeightUnit = "" // the demo data's is known
		source, err = gdalio.OpenBytes(demo.Name, demo.Bytes(), file)
	} else {
		source, err = openPaths(ctx, d, reach)
	}
	if err != nil {
		return nil, err
	}
	g.placed, g.placeDoubts = operations(source)
	g.far = math.Inf(1)
	if c, ok := source.(closing); ok {
		g.far, g.tiles = c.far, c.mosaic
	}
	g.base, g.fill = dem.InTurn(source), d.FillVoids
	if g.source, err = g.judged(); err != nil {
		return nil, errors.Join(err, source.Close())
	}
	info := g.source.Info()
	g.verticalError, g.verticalErrorSource = info.VerticalError, info.VerticalErrorSource
	if d.VerticalError > 0 {
		g.verticalError, g.verticalErrorSource = d.VerticalError, "as given"
	}
	if err := g.doubtUnit(ctx, d.Known, reach.Places); err != nil {
		return nil, errors.Join(err, g.Close())
	}
	return g, nil
}

// operations are how the places of the data are brought to WGS 84, the worst of
// its systems first; doubts what is doubtful about them.
func operations(source dem.Source) (worst geodesy.Operation, doubts []string) {
	frames := []dem.Frame{*source.Layout()}
	if c, ok := source.(closing); ok {
		frames = c.joined.Frames()
	}
	for i := range frames {
		at := frames[i].Operation()
		if i == 0 || at.Accuracy > worst.Accuracy {
			worst = at
		}
		if doubt := at.Doubt(frames[i].CRS.Datum); doubt != "" && !slices.Contains(doubts, doubt) {
			doubts = append(doubts, doubt)
		}
	}
	return worst, doubts
}

// judged is the base with small voids filled, where that was asked for, and its
// posts judged as they are read.
func (g *Ground) judged() (dem.Source, error) {
	source := g.base
	if g.fill {
		filled, err := dem.Fill(source, dem.FillOptions{})
		if err != nil {
			return nil, err
		}
		source = filled
	}
	return dem.InTurn(dem.Watch(source)), nil
}

func openPaths(ctx context.Context, d Data, reach Reach) (dem.Source, error) {
	if len(d.Paths) == 1 && isFile(d.Paths[0]) {
		return gdalio.OpenVerified(ctx, d.Paths[0], d.File)
	}
	mosaic, err := gdalio.OpenMany(ctx, d.Paths, gdalio.ManyOptions{Options: d.File, Remote: d.Remote, Progress: progress(ctx, "looking at tiles")})
	if err != nil {
		return nil, err
	}
	var joined *dem.Joined
	far := math.Inf(1)
	if len(reach.Places) == 0 {
		joined, err = mosaic.Whole(ctx)
	} else {
		behind := reach.Margin
		if reach.Behind {
			behind = max(behind, policy.lookBehind(slices.ContainsFunc(d.Paths, gdalio.IsAddress)))
		}
		joined, far, err = mosaic.ForBehind(ctx, reach.Places, reach.Margin, behind)
	}
	if err != nil {
		return nil, errors.Join(err, mosaic.Close())
	}
	return closing{joined, joined, mosaic, far}, nil
}

func isFile(path string) bool {
	if gdalio.IsAddress(path) {
		return false
	}
	stat, err := os.Stat(path)
	return err == nil && !stat.IsDir() && !gdalio.HoldsMany(path)
}

// closing closes the mosaic a source is of.
type closing struct {
	dem.Source
	joined *dem.Joined
	mosaic *dem.Mosaic
	far    float64 // from the places asked about that tiles were looked for, metres
}

// Close closes the files of the mosaic.
func (c closing) Close() error { return c.mosaic.Close() }

// Close frees the data.
func (g *Ground) Close() error { return g.source.Close() }

// Layout says where the data's posts stand.
func (g *Ground) Layout() *dem.Frame { return g.source.Layout() }

// doubtUnit holds the data against places of known elevation, those nearest to
// what is asked about, and keeps the doubt there is.
func (g *Ground) doubtUnit(ctx context.Context, given []Place, about []geodesy.LatLon) error {
	layout := g.source.Layout()
	var known []dem.Known
	for _, p := range given {
		if math.IsNaN(p.Elevation) {
			continue
		}
		if column, row, err := layout.Locate(p.LatLon); err == nil && layout.Contains(column, row) {
			known = append(known, dem.Known{Name: p.Name, Place: p.LatLon, Elevation: p.Elevation})
		}
	}
	if len(known) == 0 {
		return nil
	}
	if most := policy.MostKnown; len(known) > most {
		if len(about) == 0 { // all of the data is asked about: all over it
			step := len(known) / most
			for i := range most {
				known[i] = known[i*step]
			}
		} else {
			off := func(k dem.Known) float64 {
				nearest := math.Inf(1)
				for _, p := range about {
					nearest = min(nearest, geodesy.Inverse(p, k.Place).Distance)
				}
				return nearest
			}
			slices.SortStableFunc(known, func(a, b dem.Known) int { return cmp.Compare(off(a), off(b)) })
		}
		known = known[:most]
	}
	g.doubt = dem.UnitDoubt(g.posts(ctx), g.source.Info().VerticalUnit, known)
	return ctx.Err()
}

// posts reads the data as a question comes to it, a block at a time.
func (g *Ground) posts(ctx context.Context) dem.Posts {
	if g.posted != nil {
		return g.posted
	}
	return dem.NewBlocks(ctx, g.source, 0)
}

// bounded is the data for a question that takes so many bytes for each post it
// reads at once, refused where that is more than allowed.
func (g *Ground) bounded(perPost int64) dem.Source { return dem.Bounded(g.source, g.maxBytes, perPost) }

// around reads the posts within margin metres of some places.
func (g *Ground) around(ctx context.Context, places []geodesy.LatLon, margin float64, perPost int64) (*dem.Grid, error) {
	w, err := dem.WindowAround(g.source.Layout(), places, margin)
	if err != nil {
		return nil, err
	}
	return g.bounded(perPost).Read(ctx, w)
}

// reach reads the posts within a radius of places, or all there are for 0.
func (g *Ground) reach(ctx context.Context, where []geodesy.LatLon, radius float64, perPost int64) (*dem.Grid, error) {
	if radius > 0 {
		return g.around(ctx, where, radius, perPost)
	}
	return g.bounded(perPost).Read(ctx, g.source.Layout().Whole())
}

// lookBehind is how far ground is looked at behind what is asked for, metres.
func (p Policy) lookBehind(remote bool) float64 {
	if remote {
		return p.LookBehindRemote
	}
	return p.LookBehind
}

// behind is how far from a place ground is looked at that may rise behind what
// is within a radius, metres, never less than that.
func (g *Ground) behind(at geodesy.LatLon, radius float64) (float64, error) {
	layout := g.source.Layout()
	column, row, err := layout.Locate(at)
	if err != nil {
		return 0, err
	}
	alongRow, alongColumn, err := layout.Spacing(column, row)
	if err != nil {
		return 0, err
	}
	return max(radius, min(g.far, policy.lookBehind(g.remote), policy.LookBehindPosts*max(alongRow, alongColumn))), nil
}

// lookBehind is how the ground is looked at that may rise behind what is asked
// about: from where, through air of what refraction, and what may stand on it,
// metres.
type lookBehind struct {
	observer   func(dem.Posts) (visibility.Observer, error)
	refraction float64
	standing   float64
}

// behind is how a sighting looks, over cover or not.
func (s Sighting) behind(from Place, covered bool) lookBehind {
	l := lookBehind{observer: func(posts dem.Posts) (visibility.Observer, error) { return s.standing(posts, from) }, refraction: s.Refraction}
	if covered {
		l.standing = policy.TallestCover
	}
	return l
}

// readBehind reads the posts round a place on which what is within a radius
// stands before its background: as far as behind has it, and from there on, of
// data on this machine, as far as any ground could rise over the skyline; as
// memory allows, but the radius at least. far is how far that is, metres, 0 for to
// the end of the data, or where nothing beyond could rise. A radius of 0 is all
// the data. What is asked later is asked of the ground returned, which is wider
// where tiles farther off were needed.
func (g *Ground) readBehind(ctx context.Context, at geodesy.LatLon, radius float64, look lookBehind, perPost int64) (on *Ground, grid *dem.Grid, far float64, err error) {
	grid, far, err = g.readFirst(ctx, at, radius, perPost)
	if err != nil || far == 0 || g.remote {
		return g, grid, far, err
	}
	observer, err := look.observer(grid)
	if err != nil {
		return g, nil, 0, err
	}
	over, err := visibility.LookBeyond(ctx, grid, observer, look.refraction)
	if err != nil { // so wide, or on no known ground: who looks over it is told
		return g, grid, far, ctx.Err()
	}
	reach, known, err := g.reachBeyond(ctx, over, at, grid, far, look.standing)
	if err != nil || !known { // too wide to be placed: the bound stands, and is said
		return g, grid, far, err
	}
	if reach <= far {
		return g, grid, 0, nil
	}
	on = g
	if on.isPart() {
		if on, err = g.widened(ctx, at, radius, reach); err != nil { // the tiles out there are of no use
			return g, grid, far, ctx.Err()
		}
	}
	if on.far < reach {
		return g, grid, far, nil
	}
	held := grid.Window
	grid = nil // one at a time is enough to hold
	grid, err = on.around(ctx, []geodesy.LatLon{at}, reach, perPost)
	var large *dem.TooLargeError
	if errors.As(err, &large) {
		grid, err = g.bounded(perPost).Read(ctx, held)
		return g, grid, far, err
	}
	return on, grid, 0, err
}

// isPart reports whether the ground is of some tiles of many, round what was
// asked about.
func (g *Ground) isPart() bool { return g.tiles != nil && !math.IsInf(g.far, 1) }

// widened is the ground for a question about what is within a radius of a place
// and what stands behind it, as far as reach. It is g's to close.
func (g *Ground) widened(ctx context.Context, at geodesy.LatLon, radius, reach float64) (*Ground, error) {
	joined, far, err := g.tiles.ForBehind(ctx, []geodesy.LatLon{at}, radius, reach)
	if err != nil {
		return nil, err
	}
	out := *g
	out.base, out.far, out.posted = dem.InTurn(kept{closing{joined, joined, g.tiles, far}}), far, nil
	out.source, err = out.judged()
	return &out, err
}

// onward is the ground with the tiles on a bearing that may have ground in sight over
// what was seen on it: g itself where it has them all, or they cost a download.
func (g *Ground) onward(ctx context.Context, observer visibility.Observer, seen *GroundSeen, b geodesy.TrueBearing, r LookRequest) (*Ground, error) {
	if !g.isPart() || g.remote {
		return g, nil
	}
	ground, err := dem.ElevationAt(g.posts(ctx), observer.Place)
	if err != nil {
		return nil, err
	}
	slope := math.Inf(-1)
	if !math.IsNaN(seen.SkylineAngleDeg) {
		sin, cos := geodesy.Degrees(seen.SkylineAngleDeg).SinCos()
		slope = sin / cos
	}
	standing := 0.0
	if r.Cover.File != "" {
		standing = policy.TallestCover
	}
	over := visibility.BeyondAlong(observer, ground+r.Sighting.Eye, b, slope, r.Sighting.Refraction)
	reach, known, err := g.reachBeyond(ctx, over, observer.Place, nil, g.far, standing)
	if err != nil || !known || reach <= g.far {
		return g, err
	}
	on, err := g.widened(ctx, observer.Place, r.Radius, reach)
	if err != nil { // the tiles out there are of no use
		return g, ctx.Err()
	}
	return on, nil
}

// topsBlock is the side of the blocks whose highest post is found, in posts.
const topsBlock = 256

// reachBeyond is how far ground must be looked at, metres, so that all that may be
// in sight over a grid is: no farther than far where none outside may be. It is
// not known of data too wide to be placed round the observer.
func (g *Ground) reachBeyond(ctx context.Context, over *visibility.Beyond, at geodesy.LatLon, grid *dem.Grid, far, standing float64) (reach float64, known bool, err error) {
	sources := []dem.Source{g.base}
	if g.isPart() {
		if sources, err = g.tiles.Around(ctx, at, mostRadius); err != nil {
			return 0, false, err
		}
	}
	work := progress(ctx, "looking beyond")
	for i, source := range sources {
		layout := source.Layout()
		may, err := over.May(layout, topsBlock, far, policy.HighestGround+standing)
		if err != nil {
			return 0, false, ctx.Err()
		}
		across := (layout.Columns + topsBlock - 1) / topsBlock
		for k, m := range may {
			may[k] = m && !(grid != nil && holds(grid, layout, blockOf(layout, k%across, k/across)))
		}
		tops, err := topsOf(ctx, source, may, standing, func(done, of int64) {
			if work != nil {
				work(int64(i)*of+done, int64(len(sources))*of)
			}
		})
		if err != nil {
			return 0, false, err
		}
		to, err := over.Reach(layout, topsBlock, tops)
		if err != nil {
			return 0, false, ctx.Err()
		}
		reach = max(reach, to)
	}
	return reach, true, nil
}

// blockOf is a block of posts of a frame.
func blockOf(f *dem.Frame, across, down int) dem.Window {
	c, r := across*topsBlock, down*topsBlock
	return dem.Window{Column: c, Row: r, Columns: min(topsBlock, f.Columns-c), Rows: min(topsBlock, f.Rows-r)}
}

// holds reports whether a grid holds a block of posts of a frame whole.
func holds(g *dem.Grid, f *dem.Frame, w dem.Window) bool {
	for _, q := range [4][2]int{{0, 0}, {1, 0}, {0, 1}, {1, 1}} {
		place, err := f.Place(float64(w.Column+q[0]*(w.Columns-1)), float64(w.Row+q[1]*(w.Rows-1)))
		if err != nil {
			return false
		}
		if column, row, err := g.Locate(place); err != nil || !g.Contains(column, row) {
			return false
		}
	}
	return true
}

// topsOf are the highest elevations of some blocks of a source, and what may stand
// there: +Inf where one has a void, -Inf of those that are not asked for. It holds
// one strip of blocks at a time, or a part of it.
func topsOf(ctx context.Context, source dem.Source, asked []bool, standing float64, told func(done, of int64)) ([]float32, error) {
	const most = 64 // blocks read at once
	layout := source.Layout()
	across, down := (layout.Columns+topsBlock-1)/topsBlock, (layout.Rows+topsBlock-1)/topsBlock
	tops := make([]float32, len(asked))
	for i := range tops {
		tops[i] = float32(math.Inf(-1))
	}
	for j := range down {
		for i := 0; i < across; i++ {
			if !asked[j*across+i] {
				continue
			}
			first := i
			for i+1 < across && i+1-first < most && asked[j*across+i+1] {
				i++
			}
			part, last := blockOf(layout, first, j), blockOf(layout, i, j)
			part.Columns = last.Column + last.Columns - part.Column
			posts, err := source.Read(ctx, part)
			if err != nil {
				return nil, err
			}
			for k := first; k <= i; k++ {
				b := blockOf(layout, k, j)
				top, voids := visibility.Highest(posts, dem.Window{Column: b.Column - part.Column, Columns: b.Columns, Rows: b.Rows}, 0)
				if voids {
					top = math.Inf(1)
				}
				tops[j*across+k] = float32(top + standing)
			}
		}
		told(int64(j+1), int64(down))
	}
	return tops, nil
}

// readFirst is readBehind as far as behind has it.
func (g *Ground) readFirst(ctx context.Context, at geodesy.LatLon, radius float64, perPost int64) (grid *dem.Grid, far float64, err error) {
	if radius <= 0 {
		grid, err = g.reach(ctx, nil, 0, perPost)
		return grid, 0, err
	}
	if far, err = g.behind(at, radius); err != nil {
		return nil, 0, err
	}
	for {
		grid, err = g.around(ctx, []geodesy.LatLon{at}, far, perPost)
		var large *dem.TooLargeError
		if !errors.As(err, &large) || far <= radius {
			break
		}
		far = max(radius, far/2)
	}
	if err != nil {
		return nil, 0, err
	}
	if layout := g.source.Layout(); !g.joined && grid.Columns == layout.Columns && grid.Rows == layout.Rows {
		far = 0
	}
	return grid, far, nil
}

// everyNth is the step that leaves posts at least spacing metres apart, in the
// coarser direction, where they are finer.
func (g *Ground) everyNth(places []geodesy.LatLon, margin, spacing float64) (dem.Window, int, error) {
	w, err := dem.WindowAround(g.source.Layout(), places, margin)
	if err != nil {
		return w, 0, err
	}
	stand, err := g.spacingIn(w)
	if err != nil {
		return w, 0, err
	}
	return w, every(spacing, stand), nil
}

// thinned reads the posts within margin metres of some places, leaving out
// those that stand closer together than spacing metres; every is the step
// taken, for the answer's description of the data.
func (g *Ground) thinned(ctx context.Context, places []geodesy.LatLon, margin, spacing float64, perPost int64) (grid *dem.Grid, every int, err error) {
	w, n, err := g.everyNth(places, margin, spacing)
	if err != nil {
		return nil, 0, err
	}
	grid, err = dem.ReadEvery(ctx, g.bounded(perPost), w, n)
	return grid, n, err
}

// gridSpacing is the distance between posts at a grid's middle, metres: the
// larger of along a row and along a column.
func gridSpacing(g *dem.Grid) (float64, error) {
	alongRow, alongColumn, err := g.Spacing(float64(g.Columns-1)/2, float64(g.Rows-1)/2)
	return math.Max(alongRow, alongColumn), err
}

// DeadBand is the rise under which a wiggle is left out of a climb, metres: the
// data's vertical error, to a whole metre.
func (g *Ground) DeadBand() float64 { return profile.DeadBand(g.verticalError) }

// prominence is the least a summit needs to be a mark, metres.
func (g *Ground) prominence() float64 { return max(policy.Prominence, 2*g.verticalError) }

// info is the source's, with the vertical error in force.
func (g *Ground) info() dem.Info {
	info := g.source.Info()
	info.VerticalError, info.VerticalErrorSource = g.verticalError, g.verticalErrorSource
	info.Warnings = g.warnings(info)
	return info
}

// warnings are the data's, what known places make doubtful, and what is
// doubtful about where its places are.
func (g *Ground) warnings(info dem.Info) []string {
	out := info.Warnings
	for _, doubt := range append([]string{g.doubt}, g.placeDoubts...) {
		if doubt != "" {
			out = append(slices.Clone(out), doubt)
		}
	}
	return out
}

// ElevationData describes the data an answer rests on.
type ElevationData struct {
	// The file's or the product's name.
	Name string `json:"name"`
	// The data is the demo data built in.
	Demo bool `json:"demo"`
	// About how far apart the posts stand where they were read.
	SpacingM float64 `json:"spacing_m" round:"1"`
	// Set where finer posts were left out: one in so many was taken, each way;
	// spacing_m is that of those taken.
	EveryNthPost int `json:"every_nth_post,omitempty"`
	// The unit heights are stored in.
	VerticalUnit string `json:"vertical_unit"`
	// Whether the file, or the user, says so; else metres were assumed.
	VerticalUnitStated bool `json:"vertical_unit_stated"`
	// "surface" (treetops and roofs where there are any) or "bare earth"; left
	// out where it is not known.
	Surface dem.Surface `json:"surface,omitempty"`
	// One standard deviation of a height; null where it is not known.
	VerticalErrorM float64 `json:"vertical_error_m" round:"2"`
	// Where that figure comes from.
	VerticalErrorSource string `json:"vertical_error_source,omitempty"`
	// How well the data's places are brought to WGS 84, as PROJ states it, where
	// that is worse than a metre and known; of data in several systems that of the
	// worst.
	PlaceAccuracyM *float64 `json:"place_accuracy_m,omitempty" round:"1"`
	// By which of PROJ's operations, where that is so.
	PlaceOperation string `json:"place_operation,omitempty"`
	// The licence or credit line that goes with the data.
	Attribution string `json:"attribution,omitempty"`
	// How many void posts were filled in what was read, with voids filled only.
	FilledPosts *int `json:"filled_posts,omitempty"`
	// What a reader of the answer must know about the data.
	Warnings []string `json:"warnings"`
}

// describe is what was read so far: ask for it when all is read that an answer
// needs. every is the step of posts taken, 0 or 1 for all.
func (g *Ground) describe(spacing float64, every int) ElevationData {
	info := g.source.Info()
	d := ElevationData{
		Name: info.Name, Demo: g.demo, SpacingM: spacing,
		VerticalUnit: info.VerticalUnit, VerticalUnitStated: info.VerticalUnitStated,
		Surface: info.Surface, VerticalErrorM: math.NaN(), VerticalErrorSource: g.verticalErrorSource,
		Attribution: info.Attribution, Warnings: g.warnings(info),
	}
	if every > 1 {
		d.EveryNthPost = every
	}
	if worth := g.placed.Accuracy; worth > 1 {
		d.PlaceAccuracyM, d.PlaceOperation = &worth, g.placed.Name
	}
	if g.verticalError > 0 {
		d.VerticalErrorM = g.verticalError
	}
	if f := g.filled(); f != nil {
		n := f.Count()
		d.FilledPosts = &n
	}
	return d
}

// Cautions go with every answer.
func Cautions() []string { return slices.Clone(cautions) }

var cautions = []string{
	"Elevation data knows nothing of trees, water, fences, avalanche or river conditions, private land, or cliffs narrower than its spacing.",
	"A line that is clear over the data can still be blocked by vegetation.",
	"Carry map and compass, and follow local rules and qualified advice.",
}

// filled is the source's record of filled posts, nil where none are filled.
func (g *Ground) filled() *dem.Filled { return dem.FilledIn(g.source) }

// anyFilled reports whether any post read so far was filled.
func (g *Ground) anyFilled() bool {
	f := g.filled()
	return f != nil && f.Count() > 0
}

// Progress is told how far long work has come: done of total, of what label
// names. It may be called from several goroutines, one at a time.
type Progress func(label string, done, total int64)

type progressKey struct{}

// WithProgress has the questions asked with a context tell how far they are.
func WithProgress(ctx context.Context, told Progress) context.Context {
	var mutex sync.Mutex
	return context.WithValue(ctx, progressKey{}, Progress(func(label string, done, total int64) {
		mutex.Lock()
		defer mutex.Unlock()
		told(label, done, total)
	}))
}

// progress is what the library calls for one piece of work, nil where nobody
// is told.
func progress(ctx context.Context, label string) func(done, total int64) {
	told, ok := ctx.Value(progressKey{}).(Progress)
	if !ok {
		return nil
	}
	return func(done, total int64) { told(label, done, total) }
}

// wrongRequest is a request that makes no sense.
type wrongRequest struct{ error }

// Unwrap is the reason.
func (w wrongRequest) Unwrap() error { return w.error }

// IsWrongRequest reports whether an error says that the question makes no
// sense, and not that it could not be answered.
func IsWrongRequest(err error) bool {
	var w wrongRequest
	return errors.As(err, &w)
}

func wrongf(format string, args ...any) error { return wrongRequest{fmt.Errorf(format, args...)} }
