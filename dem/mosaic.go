package dem

import (
	"container/list"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

	"crowline/dem/geodesy"
)

// Tile is one file of a mosaic: where its posts stand and how to open it.
type Tile struct {
	// Name is what errors call it. Two tiles of a mosaic never share one.
	Name string
	// Frame says where its posts stand.
	Frame Frame
	// Info describes it, as far as is known before it is opened.
	Info Info
	// Order is its place in the order the data was given, lowest first.
	Order int
	// Named: somebody named this very file. One found in a folder, or by a
	// pattern, gives way to it where they disagree.
	Named bool
	// Open opens it. The mosaic closes what it opens.
	Open func(ctx context.Context) (Source, error)
}

// Tiles is a set of tiles that can be asked which of them a question needs.
type Tiles interface {
	// Within returns the tiles that may have posts in the box; more is
	// allowed, fewer is not.
	Within(ctx context.Context, box Extent) ([]Tile, error)
	// Extent is a box round all of them.
	Extent() Extent
}

// MosaicOptions tells NewMosaic how to join tiles. The zero value is usable.
type MosaicOptions struct {
	// OpenFiles is how many tiles are kept open at once; default when zero:
	// 64.
	OpenFiles int
	// LeastSpacing, metres: posts closer together than this are not taken as
	// a frame, only sampled. Default when zero: the finest is taken.
	LeastSpacing float64
	// MaxBytes is the most one Read may hold, at 4 bytes a post; default when
	// zero: no limit. A larger window is refused with its size.
	MaxBytes int64
	// Warnings go with every answer.
	Warnings []string
}

const defaultOpenFiles = 64

// Mosaic is many tiles taken as one ground. Tiles of one CRS and spacing
// whose posts fall on one lattice are joined as they are, post by post.
// Where others must fill in, each post is sampled on the bilinear ground of
// exactly one such lattice: the finest that has an elevation there, and of
// equally fine ones the one given first. Tiles that lie over each other and
// are not of the same ground are refused (disagree.go). Safe for concurrent use.
type Mosaic struct {
	tiles Tiles
	opts  MosaicOptions

	mutex  sync.Mutex
	open   map[string]*list.Element // of *openTile
	order  *list.List               // last used first
	opened int
	closed bool
	// warnings by tile, as reading it has found them so far
	warnings map[string][]string
}

type openTile struct {
	name   string
	source Source
}

// NewMosaic opens nothing: tiles are opened when a post of theirs is read.
func NewMosaic(tiles Tiles, opts MosaicOptions) *Mosaic {
	if opts.OpenFiles <= 0 {
		opts.OpenFiles = defaultOpenFiles
	}
	return &Mosaic{tiles: tiles, opts: opts, open: map[string]*list.Element{}, order: list.New(), warnings: map[string][]string{}}
}

// Extent is a box round all tiles.
func (m *Mosaic) Extent() Extent { return m.tiles.Extent() }

// Opened counts the times a tile has been opened.
func (m *Mosaic) Opened() int {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	return m.opened
}

// Close closes every open tile.
func (m *Mosaic) Close() error {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	m.closed = true
	var errs []error
	for e := m.order.Front(); e != nil; e = e.Next() {
		errs = append(errs, e.Value.(*openTile).source.Close())
	}
	m.open, m.order = map[string]*list.Element{}, list.New()
	return errors.Join(errs...)
}

// read reads a window of a tile, opening it if need be. One read runs at a
// time, so that no tile is closed under another's read.
func (m *Mosaic) read(ctx context.Context, t *Tile, w Window) (*Grid, error) {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	if m.closed {
		return nil, fmt.Errorf("%s: already closed", t.Name)
	}
	element := m.open[t.Name]
	if element == nil {
		source, err := t.Open(ctx)
		if err != nil {
			return nil, err
		}
		m.opened++
		if f := source.Layout(); f.Columns != t.Frame.Columns || f.Rows != t.Frame.Rows {
			source.Close()
			return nil, fmt.Errorf("%s has changed: %d x %d posts were expected and it has %d x %d; index it again",
				t.Name, t.Frame.Columns, t.Frame.Rows, f.Columns, f.Rows)
		} else if f.X0 != t.Frame.X0 || f.Y0 != t.Frame.Y0 || f.DX != t.Frame.DX || f.DY != t.Frame.DY {
			source.Close()
			return nil, fmt.Errorf("%s has changed: its posts do not stand where they were expected; index it again", t.Name)
		}
		for m.order.Len() >= m.opts.OpenFiles {
			oldest := m.order.Back()
			o := oldest.Value.(*openTile)
			m.order.Remove(oldest)
			delete(m.open, o.name)
			if err := o.source.Close(); err != nil {
				source.Close()
				return nil, err
			}
		}
		element = m.order.PushFront(&openTile{name: t.Name, source: source})
		m.open[t.Name] = element
	} else {
		m.order.MoveToFront(element)
	}
	source := element.Value.(*openTile).source
	g, err := source.Read(ctx, w)
	if err != nil {
		return nil, err
	}
	if len(g.Elevations) != w.Columns*w.Rows {
		return nil, fmt.Errorf("%s gave %d posts of %d", t.Name, len(g.Elevations), w.Columns*w.Rows)
	}
	if len(g.Source.Warnings) > len(m.warnings[t.Name]) {
		m.warnings[t.Name] = g.Source.Warnings
	}
	return g, nil
}

// warningsOf are a tile's warnings: those reading it found, with those known
// before, or only the latter.
func (m *Mosaic) warningsOf(t *Tile) []string {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	if found := m.warnings[t.Name]; len(found) > 0 {
		return found
	}
	return t.Info.Warnings
}

// mostOnLattice is how many posts round a question a finer lattice may have for
// it to be taken where no place asked about stands on it: a view of them takes
// a few seconds and some hundred megabytes.
const mostOnLattice = 16 << 20

// onLattice is about how many posts a family's lattice has in a box.
func (f *family) onLattice(box lonLatBox) float64 {
	middle := geodesy.Degrees((box.south + box.north) / 2)
	_, cos := middle.SinCos()
	const perDegree = 111200.0 // metres, on a sphere: it is a bound
	return (box.north - box.south) * perDegree / f.across * (box.east - box.west) * perDegree * cos / f.along
}

// name is those of a family's tiles.
func (f *family) name() string {
	var names []string
	for _, p := range f.tiles {
		names = append(names, p.tile.Name)
	}
	return joinNames(names)
}

// For is the ground within margin metres of the places, as one source. Its
// frame is that of the finest tiles near them (MosaicOptions.LeastSpacing
// allowing), so that whatever is asked about the same places is asked of the
// same ground. Where none of the places stands on those and their lattice has
// too many posts, it is that of the next finest that can be, and Info's warnings
// say so. The error is ErrOutside when no tile is near. Closing the
// source leaves the mosaic's files open for the next question.
func (m *Mosaic) For(ctx context.Context, places []geodesy.LatLon, margin float64) (*Joined, error) {
	j, _, err := m.ForBehind(ctx, places, margin, margin)
	return j, err
}

// ForBehind is For with the ground that may rise behind what is asked about, as
// far as behind metres from the places. Its lattice is For's, so that what is seen
// and what stands behind it are of one ground; where that would have too many
// posts it ends nearer. far is how far that is, metres, margin at least.
func (m *Mosaic) ForBehind(ctx context.Context, places []geodesy.LatLon, margin, behind float64) (j *Joined, far float64, err error) {
	if len(places) == 0 {
		return nil, 0, errors.New("no place given")
	}
	if !(margin >= 0) || math.IsInf(margin, 1) {
		return nil, 0, fmt.Errorf("a margin of %v metres is not a distance", margin)
	}
	families, warnings, err := m.familiesIn(ctx, places, boxAround(places, margin))
	if err != nil {
		return nil, 0, err
	}
	if len(families) == 0 {
		return nil, 0, &OutsideError{What: places[0], Covers: m.tiles.Extent().String()}
	}
	box := boxAround(places, margin)
	var tooLarge []string
	base := 0
	for i, f := range families {
		if m.opts.LeastSpacing > 0 && f.spacing < m.opts.LeastSpacing && i < len(families)-1 {
			continue
		}
		if base = i; i == len(families)-1 || f.onLattice(box) <= mostOnLattice || slices.ContainsFunc(places, f.holds) {
			break
		}
		tooLarge = append(tooLarge, fmt.Sprintf("%s (posts %.3g m apart) lies within coarser ground and is too large to be looked at whole: taken here at coarser posts; a question about a smaller area is asked of its own", f.name(), f.spacing))
	}
	far = margin
	if behind > margin {
		f := families[base]
		for far = behind; far > margin && !slices.ContainsFunc(places, f.holds) && f.onLattice(boxAround(places, far)) > mostOnLattice; {
			far = max(margin, far*0.8)
		}
		first := f.tiles[0].tile.Name
		if families, warnings, err = m.familiesIn(ctx, places, boxAround(places, far)); err != nil {
			return nil, 0, err
		}
		base = max(0, slices.IndexFunc(families, func(f *family) bool {
			return slices.ContainsFunc(f.tiles, func(p placedTile) bool { return p.tile.Name == first })
		}))
	}
	j, err = newJoined(m, families, base, places, far, append(warnings, tooLarge...))
	return j, far, err
}

// familiesIn are the tiles that meet a box, those of one lattice together, the
// finest first.
func (m *Mosaic) familiesIn(ctx context.Context, places []geodesy.LatLon, box lonLatBox) ([]*family, []string, error) {
	tiles, err := m.tiles.Within(ctx, box.Extent())
	if err != nil {
		return nil, nil, err
	}
	tiles, warnings, err := m.agreeing(ctx, tiles, box)
	if err != nil {
		return nil, nil, err
	}
	families, err := newFamilies(m, tiles, places, box)
	return families, warnings, err
}

// Whole is the ground of all tiles as one source, on the lattice of the
// finest. It looks at every tile there is, so For is the better question
// wherever a place is known.
func (m *Mosaic) Whole(ctx context.Context) (*Joined, error) {
	extent := m.tiles.Extent()
	centre := geodesy.LatLon{Lat: (extent.South + extent.North) / 2, Lon: extent.West + geodesy.Degrees(extent.width()/2)}
	if centre.Lon >= 180 {
		centre.Lon -= 360
	}
	places := []geodesy.LatLon{centre}
	half := extent.width() / 2
	box := lonLatBox{south: float64(extent.South), north: float64(extent.North), west: float64(centre.Lon) - half, east: float64(centre.Lon) + half}
	tiles, err := m.tiles.Within(ctx, extent)
	if err != nil {
		return nil, err
	}
	tiles, warnings, err := m.agreeing(ctx, tiles, box)
	if err != nil {
		return nil, err
	}
	families, err := newFamilies(m, tiles, places, box)
	if err != nil {
		return nil, err
	}
	if len(families) == 0 {
		return nil, fmt.Errorf("no tiles: %w", ErrOutside)
	}
	base := 0
	for base < len(families)-1 && families[base].spacing < m.opts.LeastSpacing {
		base++
	}
	return newJoined(m, families, base, nil, 0, warnings)
}

// Around are the tiles that may have posts within so many metres of a place, each
// as it is stored, for who looks which of them to ask for. Closing one does nothing.
func (m *Mosaic) Around(ctx context.Context, place geodesy.LatLon, radius float64) ([]Source, error) {
	tiles, err := m.tiles.Within(ctx, boxAround([]geodesy.LatLon{place}, radius).Extent())
	if err != nil {
		return nil, err
	}
	sources := make([]Source, len(tiles))
	for i := range tiles {
		sources[i] = stored{m, &tiles[i]}
	}
	return sources, nil
}

// stored is one tile of a mosaic.
type stored struct {
	mosaic *Mosaic
	tile   *Tile
}

// Info is what is known of the tile before it is opened.
func (s stored) Info() Info { return s.tile.Info }

// Layout is the tile's own.
func (s stored) Layout() *Frame { return &s.tile.Frame }

// Read opens the tile where it must.
func (s stored) Read(ctx context.Context, w Window) (*Grid, error) {
	return s.mosaic.read(ctx, s.tile, w)
}

// Close does nothing: the mosaic closes its tiles.
func (stored) Close() error { return nil }

// TileList is tiles looked through one by one.
type TileList []Tile

// Within returns the tiles whose boxes meet the box.
func (l TileList) Within(_ context.Context, box Extent) ([]Tile, error) {
	var near []Tile
	for _, t := range l {
		e, err := TileExtent(&t.Frame)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", t.Name, err)
		}
		if e.Meets(box) {
			near = append(near, t)
		}
	}
	return near, nil
}

// Extent is a box round all of them.
func (l TileList) Extent() Extent {
	var all Extent
	for i, t := range l {
		e, err := TileExtent(&t.Frame)
		if err != nil {
			continue
		}
		if i == 0 {
			all = e
		} else {
			all = all.Join(e)
		}
	}
	return all
}

// TileExtent is the latitude-longitude box round a frame's cells, so that
// the boxes of tiles that abut meet, with a thousandth to spare for borders
// that bulge.
func TileExtent(f *Frame) (Extent, error) {
	const spare = 1e-3
	wider := *f
	columns, rows := 1+math.Ceil(spare*float64(f.Columns)), 1+math.Ceil(spare*float64(f.Rows))
	wider.X0 -= columns * f.DX
	wider.Y0 -= rows * f.DY
	wider.Columns += 2 * int(columns)
	wider.Rows += 2 * int(rows)
	e, err := wider.Extent()
	if err != nil { // the spare cells may be where the projection cannot show them
		e, err = f.Extent()
	}
	if err != nil {
		return Extent{}, err
	}
	if f.CRS.Geographic && math.Abs(f.DX)*float64(f.Columns+1) >= 360 {
		e.West, e.East = -180, 180
	}
	e.South, e.North = max(e.South, -90), min(e.North, 90)
	return e, nil
}

// width is the box's extent in longitude, [0, 360].
func (e Extent) width() float64 {
	w := float64(e.East - e.West)
	if w < 0 {
		w += 360
	}
	return w
}

// Meets reports whether two boxes have a point in common.
func (e Extent) Meets(o Extent) bool {
	if e.South > o.North || o.South > e.North {
		return false
	}
	from := func(a, b Extent) bool { // b's west edge is within a
		d := math.Mod(float64(b.West-a.West), 360)
		if d < 0 {
			d += 360
		}
		return d <= a.width()
	}
	return from(e, o) || from(o, e)
}

// Join is the smallest box round both.
func (e Extent) Join(o Extent) Extent {
	j := Extent{South: min(e.South, o.South), North: max(e.North, o.North)}
	eastward := func(a, b Extent) float64 { // width from a's west edge round b
		d := math.Mod(float64(b.West-a.West), 360)
		if d < 0 {
			d += 360
		}
		return max(a.width(), d+b.width())
	}
	west, width := e.West, eastward(e, o)
	if w := eastward(o, e); w < width {
		west, width = o.West, w
	}
	if width >= 360 {
		j.West, j.East = -180, 180
		return j
	}
	j.West, j.East = west, west+geodesy.Degrees(width)
	if j.East > 180 {
		j.East -= 360
	}
	return j
}

// lonLatBox is a box with longitudes unwrapped: West <= East, within half a
// turn of the first place or a whole turn wide.
type lonLatBox struct{ south, north, west, east float64 }

func (b lonLatBox) Extent() Extent {
	if b.east-b.west >= 360 {
		return Extent{South: geodesy.Degrees(b.south), North: geodesy.Degrees(b.north), West: -180, East: 180}
	}
	wrap := func(d float64) geodesy.Degrees {
		d = math.Mod(d+180, 360)
		if d < 0 {
			d += 360
		}
		return geodesy.Degrees(d - 180)
	}
	return Extent{South: geodesy.Degrees(b.south), North: geodesy.Degrees(b.north), West: wrap(b.west), East: wrap(b.east)}
}

// boxAround holds every circle of radius margin about the places. It is a
// thousandth larger than a sphere of the least radius of curvature gives.
func boxAround(places []geodesy.LatLon, margin float64) lonLatBox {
	const leastRadius = 6335439 * (1 - 1e-3) // m: a (1 - e^2), at the equator along a meridian
	angle := margin / leastRadius * 180 / math.Pi
	var b lonLatBox
	first := float64(places[0].Lon)
	for i, p := range places {
		lat, lon := float64(p.Lat), first+math.Remainder(float64(p.Lon)-first, 360)
		south, north, half := lat-angle, lat+angle, 180.0
		if south > -90 && north < 90 {
			// the meridians that touch the circle (spherical right triangle)
			half = math.Asin(math.Min(1, math.Sin(angle*math.Pi/180)/p.Lat.Cos())) * 180 / math.Pi * (1 + 1e-3)
		}
		o := lonLatBox{south: max(-90, south), north: min(90, north), west: lon - half, east: lon + half}
		if i == 0 {
			b = o
			continue
		}
		b = lonLatBox{south: min(b.south, o.south), north: max(b.north, o.north), west: min(b.west, o.west), east: max(b.east, o.east)}
	}
	return b
}

// joinNames lists names, the first few by name.
func joinNames(names []string) string {
	const shown = 3
	if len(names) <= shown {
		return strings.Join(names, ", ")
	}
	return fmt.Sprintf("%s and %d more", strings.Join(names[:shown], ", "), len(names)-shown)
}
