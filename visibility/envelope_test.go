package visibility

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// at is the envelope's value looked up by itself, the plain way;
// -Inf where no ground has been met.
func (e *envelope) at(t float64) float64 {
	best := noGround
	pieces, t := e.look(t)
	for i := range pieces {
		p := &pieces[i]
		if p.t0 > t {
			break
		}
		if p.t1 >= t {
			best = max(best, p.at(t))
		}
	}
	return best
}

// TestEnvelopeIsTheHighestEdge: after any edges in any order the envelope is
// at each t the highest of those that reach it, and no bin's lowest value is
// above it anywhere.
func TestEnvelopeIsTheHighestEdge(t *testing.T) {
	t.Parallel()
	type edge struct{ t0, u0, t1, u1 float64 }
	for seed := range uint64(300) {
		random := rand.New(rand.NewPCG(seed, 31))
		var e envelope
		lo := -1 + 0.25*float64(random.IntN(8))
		most := 1 << random.IntN(7)
		e.reset(lo, lo+0.25, min(most, 1<<random.IntN(7)), most)
		var edges []edge
		for range 1 + random.IntN(120) {
			width := 0.3 * math.Pow(random.Float64(), 4)
			t0 := lo - 0.05 + 0.35*random.Float64()
			x := edge{t0, random.NormFloat64(), t0 + width, random.NormFloat64()}
			if n := len(edges); n > 0 && random.IntN(3) == 0 { // joined to the one before
				x.t0, x.u0 = edges[n-1].t1, edges[n-1].u1
				x.t1 = x.t0 + width
			}
			if random.IntN(4) == 0 {
				x.u1 = x.u0
			}
			edges = append(edges, x)
			if random.IntN(2) == 0 {
				e.add(x.t1, x.u1, x.t0, x.u0, int64(len(edges)))
			} else {
				e.add(x.t0, x.u0, x.t1, x.u1, int64(len(edges)))
			}
		}
		for b, pieces := range e.bins {
			for i, p := range pieces {
				require.Less(t, p.t0, p.t1, "seed %d", seed)
				require.True(t, i == 0 || pieces[i-1].t1 <= p.t0, "seed %d: bin %d is out of order", seed, b)
			}
		}
		var reader envelopeReader
		places := make([]float64, 300)
		for i := range places {
			places[i] = lo + 0.25*random.Float64()
			if random.IntN(3) == 0 { // where edges end and meet
				x := edges[random.IntN(len(edges))]
				places[i] = max(lo, min(x.t1, lo+0.25))
			}
		}
		if seed%2 == 0 {
			slices.Sort(places)
		}
		for _, at := range places {
			require.Equal(t, e.at(at), reader.at(&e, at), "seed %d", seed)
		}
		for range 300 {
			at := lo + 0.25*random.Float64()
			want := math.Inf(-1)
			for _, x := range edges {
				if x.t0 <= at && at <= x.t1 {
					want = max(want, x.u0+(x.u1-x.u0)*(at-x.t0)/(x.t1-x.t0))
				}
			}
			got := e.at(at)
			if math.IsInf(want, -1) {
				require.True(t, math.IsInf(got, -1), "seed %d: %v at %v", seed, got, at)
				continue
			}
			require.InDelta(t, want, got, 1e-9, "seed %d, t %v", seed, at) // edges as narrow as 1e-8 turn rounding of t into 1e-8 of their height
			require.LessOrEqual(t, e.low[e.bin(at)], got+1e-9)
			require.LessOrEqual(t, e.lowest(at-0.01, at+0.01), got+1e-9)
			require.InDelta(t, got, e.top(at).at(at), 0)
		}
	}
}

// TestVoidSpans: the set of lines that met a void is the union of the spans
// given, ends included.
func TestVoidSpans(t *testing.T) {
	t.Parallel()
	for seed := range uint64(200) {
		random := rand.New(rand.NewPCG(seed, 32))
		var e envelope
		e.reset(0, 0.25, 4, 16)
		var spans []span
		for range random.IntN(30) {
			a := -0.02 + 0.3*random.Float64()
			s := span{a, a + 0.05*math.Pow(random.Float64(), 3)}
			spans = append(spans, s)
			e.addVoid(s.t1, s.t0)
		}
		for range 300 {
			at := 0.25 * random.Float64()
			if len(spans) > 0 && random.IntN(3) == 0 {
				at = spans[random.IntN(len(spans))].t1
			}
			if at < 0 || at > 0.25 {
				assert.True(t, e.unknown(at))
				continue
			}
			in := false
			for _, s := range spans {
				in = in || s.t0 <= at && at <= s.t1
			}
			require.Equal(t, in, e.unknown(at), "seed %d, t %v", seed, at)
		}
	}
}
