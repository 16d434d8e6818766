package landform

import (
	"cmp"
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// counted counts the posts asked for.
type counted struct {
	*dem.Grid
	asked map[[2]int]bool
}

func (c *counted) Elevation(column, row int) float64 {
	c.asked[[2]int{column, row}] = true
	return c.Grid.Elevation(column, row)
}

// TestSummitsInIsSummits: on all spans the same list, and on some of them the
// same list less the others, with level tops, equal heights and voids, in a
// window of a larger frame.
func TestSummitsInIsSummits(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	found, atLeast, flat := 0, 0, 0
	for seed := range uint64(120) {
		random := rand.New(rand.NewPCG(seed, 8))
		columns, rowCount := 12+random.IntN(30), 12+random.IntN(30)
		levels := []int{3, 8, 40, 100000}[seed%4]
		h := make([]float32, columns*rowCount)
		for i := range h {
			h[i] = float32(random.IntN(levels))
			if seed%3 == 1 && random.IntN(60) == 0 {
				h[i] = void
			}
		}
		whole := square(t, columns, rowCount, h)
		window := dem.Window{Column: random.IntN(4), Row: random.IntN(4)}
		window.Columns, window.Rows = columns-window.Column-random.IntN(4), rowCount-window.Row-random.IntN(4)
		var part []float32
		for r := range window.Rows {
			part = append(part, h[(window.Row+r)*columns+window.Column:][:window.Columns]...)
		}
		grid := &dem.Grid{Frame: whole.Frame.Sub(window), Elevations: part, Window: window}
		for _, least := range []float64{0, 1, float64(levels) / 4} {
			want, err := Summits(ctx, grid, SummitOptions{MinProminence: least})
			require.NoError(t, err)
			var spans []Span
			for r := range rowCount {
				spans = append(spans, Span{r, 0, columns - 1})
			}
			same(t, want, window, whole, spans, least)
			for i := range spans {
				spans[i].First = random.IntN(columns)
				spans[i].Last = spans[i].First + random.IntN(columns/2)
			}
			same(t, want, window, whole, spans, least)
			for _, s := range want {
				found++
				if s.AtLeast {
					atLeast++
				}
				if s.Posts > 1 {
					flat++
				}
			}
		}
	}
	assert.Greater(t, min(found, atLeast, flat), 500)
}

func same(t *testing.T, all []Summit, window dem.Window, whole *dem.Grid, spans []Span, least float64) {
	t.Helper()
	var want []Summit
	for _, s := range all {
		s.Column, s.Row = s.Column+window.Column, s.Row+window.Row
		if slices.ContainsFunc(spans, func(p Span) bool { return p.Row == s.Row && p.First <= s.Column && s.Column <= p.Last }) {
			want = append(want, s)
		}
	}
	for _, posts := range []dem.Posts{whole, singly{whole}} {
		got, err := SummitsIn(context.Background(), posts, window, spans, least)
		require.NoError(t, err)
		sameSummits(t, got, want)
	}
}

// singly hides that posts are a grid in memory.
type singly struct{ dem.Posts }

func sameSummits(t *testing.T, got, want []Summit) {
	t.Helper()
	require.Len(t, got, len(want))
	for i, w := range want {
		g := got[i]
		assert.InDelta(t, float64(w.Place.Lat), float64(g.Place.Lat), 1e-12)
		assert.InDelta(t, float64(w.Place.Lon), float64(g.Place.Lon), 1e-12)
		g.Place = w.Place
		most := w.MostProminence
		if w.AtLeast {
			most = math.Inf(1)
		}
		assert.Equal(t, Summit{Post: w.Post, Posts: w.Posts, Prominence: w.Prominence, AtLeast: w.AtLeast, MostProminence: most, Parent: -1}, g)
	}
	assert.True(t, slices.IsSortedFunc(got, func(a, b Summit) int { return cmp.Compare(b.Prominence, a.Prominence) }))
}

// TestSummitsInReadsLittle: small hills by the thousand, and a span across
// them: only what is near it is asked for.
func TestSummitsInReadsLittle(t *testing.T) {
	t.Parallel()
	const n = 300
	h := make([]float32, n*n)
	for r := range n {
		for c := range n {
			h[r*n+c] = float32(20*math.Sin(float64(c)/3)*math.Sin(float64(r)/3) + float64(c+r)/5)
		}
	}
	g := &counted{square(t, n, n, h), map[[2]int]bool{}}
	spans := []Span{{144, 20, 280}, {145, 20, 280}, {146, 20, 280}, {147, 20, 280}, {148, 20, 280}}
	got, err := SummitsIn(context.Background(), g, g.Whole(), spans, 15)
	require.NoError(t, err)
	assert.Greater(t, len(got), 5)
	assert.Less(t, len(g.asked), n*n/8)

	_, err = SummitsIn(context.Background(), g, g.Whole(), spans, math.NaN())
	assert.Error(t, err)
	stopped, stop := context.WithCancel(context.Background())
	stop()
	_, err = SummitsIn(stopped, g, g.Whole(), spans, 15)
	assert.ErrorIs(t, err, context.Canceled)
}

// torn is ground of which a read has failed.
type torn struct{ *dem.Grid }

var errTorn = errors.New("the file is torn off")

func (torn) Err() error { return errTorn }

// TestSummitsOfGroundThatCouldNotBeRead: what is missing may be the summit.
func TestSummitsOfGroundThatCouldNotBeRead(t *testing.T) {
	t.Parallel()
	g := &dem.Grid{Frame: dem.Frame{Columns: 3, Rows: 3, DX: 1, DY: -1, CRS: geodesy.WGS84}, Elevations: make([]float32, 9)}
	_, err := SummitsIn(t.Context(), torn{g}, g.Whole(), []Span{{Row: 1, First: 0, Last: 2}}, 1)
	require.ErrorIs(t, err, errTorn)
}
