package answer

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"reflect"
	"runtime"
	"slices"
	"strings"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/workers"
	"crowline/profile"
	"crowline/visibility"
)

// SightsRequest asks of many pairs of places whether one is seen from the other:
// each pair is a row of a table or a line of a GeoJSON collection, and the same is
// written again with the answer.
type SightsRequest struct {
	Sighting Sighting
	// In is read to its end, and what is answered is written to Out as soon as it
	// is, in the order of In. Each write is of whole rows.
	In  io.Reader
	Out io.Writer
	// Name is what In is called in errors.
	Name string
	// Place reads a place that a row names. Called from several goroutines.
	Place func(text string) (Place, error)
	// Say words an error for a row.
	Say func(error) string
}

// Check refuses what makes no sense.
func (r SightsRequest) Check() error { return r.Sighting.Check() }

// Reach is all the data has: what the rows name is not known before they are
// read.
func (r SightsRequest) Reach() Reach { return Reach{} }

// SightsRow is what is added to a row.
type SightsRow struct {
	// "visible", "hidden", or "unknown" where the line meets ground with no
	// data that the known ground does not settle.
	Verdict string `json:"verdict"`
	// The least by which the line clears the ground between, the cells that eye
	// and target stand in left out; below 0 where the ground stands over it,
	// empty where nothing lies between.
	ClearanceM float64 `json:"clearance_m" round:"2"`
	// Where along the line that is.
	ClearanceAtM float64 `json:"clearance_at_m" round:"1"`
	// Where along the line the ground stands that hides the target: the crest
	// that stands highest against the eye.
	BlockedAtM float64 `json:"blocked_at_m" round:"1"`
	// How high that ground is.
	BlockerElevationM float64 `json:"blocker_elevation_m" round:"1"`
	// How much higher the target would have to stand to be just seen.
	ExtraHeightM float64 `json:"extra_height_m" round:"2"`
	// How much higher the eye would have to be to just see it.
	ExtraEyeHeightM float64 `json:"extra_eye_height_m" round:"2"`
	// "visible" (95 % or more), "probably visible", "doubtful", "probably hidden"
	// or "hidden" (under 5 %); "unknown" where part of the line is; empty where the
	// data's error is not known.
	Likelihood string `json:"likelihood"`
	// The probability that it is seen, to half a per cent.
	Probability float64 `json:"probability" round:"3"`
	// Angle of the target above the horizontal.
	ElevationAngleDeg float64 `json:"elevation_angle_deg" round:"3"`
	// How far off it is.
	DistanceM float64 `json:"distance_m" round:"2"`
	// "ok", or why the row has no answer.
	Status string `json:"status"`
}

var _ = register[SightsRow]("sights, each row")

// SightsAnswer is how a batch ended.
type SightsAnswer struct {
	// How many rows there were.
	Rows int64 `json:"rows"`
	// Of these, in how many the target is seen.
	Visible int64 `json:"visible"`
	// In how many it is hidden.
	Hidden int64 `json:"hidden"`
	// In how many it is not known.
	Unknown int64 `json:"unknown"`
	// Rows with no answer: their status says why.
	Failed int64 `json:"failed"`
	// The status of the first of them.
	FirstFailure string `json:"first_failure,omitempty"`
	// What the sights assume.
	Assumptions Assumptions `json:"assumptions"`
	// The data the answers rest on.
	ElevationData ElevationData `json:"elevation_data"`
	// What always holds.
	Cautions []string `json:"cautions"`
	// The file the rows were written to.
	Written []string `json:"written,omitempty"`
}

var _ = register[SightsAnswer]("sights")

// sightsColumns are the keys of SightsRow in their order.
var sightsColumns = func() (names []string) {
	t := reflect.TypeFor[SightsRow]()
	for i := range t.NumField() {
		f, _ := fieldOf(t.Field(i))
		names = append(names, f.key)
	}
	return names
}()

// sightsLine is a row on its way.
type sightsLine struct {
	from, to sightsEnd
	// wrong is why the row asks nothing, or nil.
	wrong error
	// blank rows are written as they are.
	blank bool
	raw   []byte                 // of a table: the row, without its end
	pad   int                    // columns it lacks
	parts map[string]jsonMessage // of GeoJSON: the feature's members

	row SightsRow
	out []byte
}

// sightsEnd is an end of a line: a place, or a text that names one.
type sightsEnd struct {
	text string
	at   Place
}

// sightsFile reads rows and writes them.
type sightsFile interface {
	// head is what is written before the first row.
	head() ([]byte, error)
	// next is the next row; io.EOF after the last.
	next() (*sightsLine, error)
	// waits reports whether the next row may be long in coming.
	waits() bool
	// write appends a row that is answered; first is the first row.
	write(l *sightsLine, first bool) error
	// foot is what is written after the last row.
	foot() []byte
}

const (
	sightsBatch      = 256     // rows answered together
	sightsOrdered    = 8192    // where they are put in the order they lie on the ground
	sightsBatchBytes = 4 << 20 // of their text
	pipeWhole        = 4096    // bytes that a pipe takes whole or not at all (POSIX PIPE_BUF on Linux)
)

// Sights answers a SightsRequest: on all cores, each block of the ground read
// once where they fit in the memory a question may take, else those of some
// thousand rows in the order they lie on the ground. A row that asks nothing, or
// has no answer, says why and stops nothing.
func Sights(ctx context.Context, g *Ground, r SightsRequest) (*SightsAnswer, error) {
	file, err := openSights(r)
	if err != nil {
		return nil, err
	}
	head, err := file.head()
	if err != nil {
		return nil, err
	}
	if _, err := r.Out.Write(head); err != nil {
		return nil, err
	}
	b := newSightsBatch(g, r)
	most := sightsBatch
	if b.ordered {
		most = sightsOrdered
	}
	type read struct {
		lines []*sightsLine
		err   error
	}
	batches := make(chan read, 4)
	go func() {
		defer close(batches)
		for {
			var got read
			for size := 0; len(got.lines) < most && size < sightsBatchBytes && got.err == nil; {
				var l *sightsLine
				if l, got.err = file.next(); got.err != nil {
					break
				}
				got.lines = append(got.lines, l)
				size += len(l.raw)
				for _, p := range l.parts {
					size += len(p)
				}
				if file.waits() {
					break
				}
			}
			select {
			case batches <- got:
			case <-ctx.Done():
				return
			}
			if got.err != nil {
				return
			}
		}
	}()
	first := true
	for {
		select {
		case <-ctx.Done():
			_, _ = r.Out.Write(file.foot())
			return nil, ctx.Err()
		case got := <-batches:
			if err := b.answer(ctx, got.lines); err != nil {
				_, _ = r.Out.Write(file.foot())
				return nil, err
			}
			for _, l := range got.lines {
				if err := file.write(l, first); err != nil {
					return nil, err
				}
				first = false
			}
			if err := writeWhole(r.Out, got.lines); err != nil {
				return nil, err
			}
			if got.err == nil {
				continue
			}
			if _, err := r.Out.Write(file.foot()); err != nil {
				return nil, err
			}
			if !errors.Is(got.err, io.EOF) {
				return nil, got.err
			}
			return b.done(), nil
		}
	}
}

// writeWhole writes rows, some together as far as a pipe takes them whole, so that
// a run that is stopped leaves no part of one.
func writeWhole(w io.Writer, lines []*sightsLine) error {
	var together []byte
	flush := func() error {
		if len(together) == 0 {
			return nil
		}
		_, err := w.Write(together)
		together = together[:0]
		return err
	}
	for _, l := range lines {
		if len(together)+len(l.out) > pipeWhole {
			if err := flush(); err != nil {
				return err
			}
		}
		together = append(together, l.out...)
	}
	return flush()
}

// sightsBatcher answers rows.
type sightsBatcher struct {
	g       *Ground
	r       SightsRequest
	source  dem.Source
	ordered bool // the ground is larger than what is kept of it
	posts   []*dem.Blocks
	normals visibility.Normals
	total   SightsAnswer
	spacing float64
}

func newSightsBatch(g *Ground, r SightsRequest) *sightsBatcher {
	most := policy.HeldBytes
	if g.maxBytes > 0 {
		most = min(most, g.maxBytes/policy.HeldShare)
	}
	f := g.source.Layout()
	return &sightsBatcher{
		g: g, r: r, source: dem.Keep(g.source, most), ordered: 4*int64(f.Columns)*int64(f.Rows) > most,
		posts: make([]*dem.Blocks, runtime.GOMAXPROCS(0)), spacing: nan,
	}
}

// sightsBlocks is what a worker holds of the blocks that all share.
const sightsBlocks = 8 << 20

// answer answers rows, each in itself.
func (b *sightsBatcher) answer(ctx context.Context, lines []*sightsLine) error {
	err := workers.Each(ctx, len(lines), len(b.posts), func(_, i int) error {
		b.place(lines[i])
		return nil
	})
	if err != nil {
		return err
	}
	order := make([]int, len(lines))
	for i := range order {
		order[i] = i
	}
	if b.ordered {
		b.sort(order, lines)
	}
	spacings := make([]float64, len(lines))
	err = workers.Each(ctx, len(lines), len(b.posts), func(worker, i int) error {
		l := lines[order[i]]
		if l.blank {
			return nil
		}
		if l.wrong == nil {
			spacings[order[i]], l.wrong = b.look(ctx, worker, l)
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		if l.wrong != nil {
			l.row = SightsRow{
				ClearanceM: nan, ClearanceAtM: nan, BlockedAtM: nan, BlockerElevationM: nan, ExtraHeightM: nan, ExtraEyeHeightM: nan,
				Probability: nan, ElevationAngleDeg: nan, DistanceM: nan, Status: b.r.Say(l.wrong),
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	for i, l := range lines {
		if l.blank {
			continue
		}
		if math.IsNaN(b.spacing) && spacings[i] > 0 {
			b.spacing = spacings[i]
		}
		b.total.count(l)
	}
	return nil
}

func (t *SightsAnswer) count(l *sightsLine) {
	t.Rows++
	switch {
	case l.wrong != nil:
		if t.Failed++; t.Failed == 1 {
			t.FirstFailure = l.row.Status
		}
	case l.row.Verdict == visibility.Visible.String():
		t.Visible++
	case l.row.Verdict == visibility.Hidden.String():
		t.Hidden++
	default:
		t.Unknown++
	}
}

// place reads the places a row names.
func (b *sightsBatcher) place(l *sightsLine) {
	for _, end := range []*sightsEnd{&l.from, &l.to} {
		if l.wrong == nil && !l.blank && end.text != "" {
			end.at, l.wrong = b.r.Place(end.text)
		}
	}
}

// sort puts rows in the order that their middles lie on the ground, so that those
// of the same blocks follow each other: along the curve that interleaves the bits
// of column and row (Morton, A computer oriented geodetic data base, 1966).
func (b *sightsBatcher) sort(order []int, lines []*sightsLine) {
	f := b.source.Layout()
	key := make([]uint64, len(lines))
	for i, l := range lines {
		if l.wrong != nil || l.blank {
			continue
		}
		c0, r0, err0 := f.Locate(l.from.at.LatLon)
		c1, r1, err1 := f.Locate(l.to.at.LatLon)
		if err0 != nil || err1 != nil {
			continue
		}
		column := uint32(max(0, (c0+c1)/2) / dem.BlockColumns)
		row := uint32(max(0, (r0+r1)/2) / dem.BlockRows / 4) // as wide as high
		for bit := range 32 {
			key[i] |= uint64(column>>bit&1)<<(2*bit) | uint64(row>>bit&1)<<(2*bit+1)
		}
	}
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(key[i], key[j]) })
}

// look answers a row as Sight does, and gives the spacing of posts there.
func (b *sightsBatcher) look(ctx context.Context, worker int, l *sightsLine) (spacing float64, err error) {
	posts := b.posts[worker]
	if posts == nil || posts.Err() != nil { // what one row could not read may not be what the next needs
		posts = dem.NewBlocks(ctx, b.source, sightsBlocks)
		b.posts[worker] = posts
	}
	from, to := l.from.at.LatLon, l.to.at.LatLon
	far := geodesy.Inverse(from, to).Distance
	line, err := visibility.LookingLine(ctx, posts, from, to)
	if err != nil || far > profile.MaxLength || far < 2*dem.NearLimit {
		if _, named := profile.Trace(ctx, posts, from, to); named != nil { // in the words of the places as they were given
			err = named
		}
		if err == nil {
			err = fmt.Errorf("from %s to %s is %.0f km", from, to, far/1000)
		}
		return 0, err
	}
	s, conditions := b.r.Sighting, b.r.Sighting.conditions()
	observer := s.observer(line.From)
	seen, err := visibility.Along(line, observer, conditions)
	if err != nil {
		return 0, err
	}
	sight := sightLine(seen, nil)
	l.row = SightsRow{
		Verdict: seen.Verdict.String(), ClearanceM: sight.ClearanceM, ClearanceAtM: sight.ClearanceAtM, BlockedAtM: sight.BlockedAtM,
		BlockerElevationM: sight.BlockerElevationM, ExtraHeightM: sight.ExtraHeightM, ExtraEyeHeightM: sight.ExtraEyeHeightM,
		Probability: nan, ElevationAngleDeg: sight.ElevationAngleDeg, DistanceM: far, Status: "ok",
	}
	draws := sightDraws()
	draws.Concurrency, draws.Normals = 1, &b.normals
	likely, err := b.g.likelyDrawn(ctx, line, observer, conditions, draws)
	if err != nil {
		return 0, err
	}
	if likely != nil {
		l.row.Likelihood, l.row.Probability = likely.Word, likely.Probability
	}
	return line.Spacing, nil
}

// done is how the batch ended.
func (b *sightsBatcher) done() *SightsAnswer {
	t := &b.total
	t.ElevationData, t.Assumptions, t.Cautions = b.g.describe(b.spacing, 0), b.r.Sighting.describe(), cautions
	return t
}

// values appends what is added to a row as text, one value after another.
func (row *SightsRow) values(use func(key string, json []byte)) error {
	v := reflect.ValueOf(row).Elem()
	var b bytes.Buffer
	for i := range v.NumField() {
		f, _ := fieldOf(v.Type().Field(i))
		b.Reset()
		if s := v.Field(i); s.Kind() == reflect.String && s.String() == "" {
			b.WriteString("null")
		} else if err := encodeValue(&b, s, f.decimals); err != nil {
			return err
		}
		use(f.key, b.Bytes())
	}
	return nil
}

// clean is a text without control characters, which no terminal is to have.
func clean(text string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r >= 0x7f && r < 0xa0 {
			return '\uFFFD'
		}
		return r
	}, text)
}
