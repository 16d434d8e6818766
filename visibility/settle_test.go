package visibility

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
)

// seenPlainly draws so many grounds of a line, every point of it, one after the
// other, and counts those that show the target: Probability without its short cuts.
func seenPlainly(t *testing.T, s *section, m ErrorModel) int {
	t.Helper()
	spaces := max(1, int(math.Round(s.leg.Distance/s.leg.Spacing)))
	space := s.leg.Distance / float64(spaces)
	keep := math.Exp(-space / m.CorrelationLength)
	seen := 0
	for block := 0; block*samplesPerBlock < m.Samples; block++ {
		random := rand.New(rand.NewPCG(m.Seed, uint64(block)))
		for range samplesPerBlock {
			lowering := s.lowering - m.RefractionError*random.NormFloat64()
			errors := make([]float64, spaces+1)
			errors[0] = m.VerticalError * random.NormFloat64()
			for i := 1; i <= spaces; i++ {
				errors[i] = keep*errors[i-1] + m.VerticalError*math.Sqrt(1-keep*keep)*random.NormFloat64()
			}
			eye := s.eye + errors[0]
			last := s.leg.Points[len(s.leg.Points)-1]
			slope := (s.top+errors[spaces]-lowering*last.Drop-eye)/s.leg.Distance + GrazingSlope
			shows := true
			for i, p := range s.leg.Points {
				if !s.between(i) {
					continue
				}
				node := min(int(p.Distance/space), spaces-1)
				h := p.Elevation + dem.Lerp(errors[node], errors[node+1], p.Distance/space-float64(node)) - lowering*p.Drop
				shows = shows && (h-eye)/p.Distance <= slope
			}
			if shows {
				seen++
			}
		}
	}
	return seen
}

// TestProbabilityIsThatOfEveryPoint: what is left out of the draws, and drawn
// side by side, from kept numbers or not, changes no count. A node's error that
// is forgotten may, once in a million draws.
func TestProbabilityIsThatOfEveryPoint(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(18, 1))
	var normals Normals
	kinds := map[string]int{}
	for range 150 {
		rough := 20 * random.Float64()
		n := 12 + random.IntN(120)
		g := sightGrid(n, 20, func(c, r int) float64 {
			return 500 + rough*math.Sin(float64(c)/3)*math.Cos(float64(r)/4) + 0.3*rough*random.Float64()
		})
		leg := traceCells(t, g, 2, 3+random.Float64(), float64(n-3)+random.Float64(), 3+14*random.Float64())
		m := DefaultErrorModel(0.3+4*random.Float64(), leg)
		m.Samples, m.Seed, m.Concurrency = 1000, 5, 1
		o := Observer{Place: leg.From, EyeAboveGround: 15 * random.Float64()}
		conditions := Conditions{TargetAboveGround: 15 * random.Float64(), Refraction: 0.13}
		s, err := newSection(leg, o, conditions)
		require.NoError(t, err)
		want := seenPlainly(t, s, m)
		got, err := Probability(t.Context(), leg, o, conditions, m)
		require.NoError(t, err)
		require.Equal(t, want, int(math.Round(got.Probability*1000)))
		m.Normals = &normals
		kept, err := Probability(t.Context(), leg, o, conditions, m)
		require.NoError(t, err)
		require.Equal(t, got, kept)
		d := newDraws(s, m, false)
		switch {
		case d.hidden:
			kinds["settled as hidden"]++
			require.Zero(t, want)
		case len(d.points) == 0:
			kinds["settled as seen"]++
			require.Equal(t, 1000, want)
		case want > 0 && want < 1000:
			kinds["drawn"]++
		}
		if len(d.points) < len(leg.Points)-2 {
			kinds["with ground left out"]++
		}
		if len(d.needed) > 1 && d.nodes > 2*d.forget {
			kinds["with errors forgotten"]++
		}
	}
	for _, kind := range []string{"settled as hidden", "drawn", "with ground left out", "with errors forgotten"} {
		assert.Greater(t, kinds[kind], 3, "%v", kinds)
	}
}
