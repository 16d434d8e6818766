package dem

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// rough is hilly ground with slopes to about 45 degrees: waves and noise of
// a tenth of the spacing.
func rough(f Frame, seed uint64) *Grid {
	g := &Grid{Frame: f, Elevations: make([]float32, f.Columns*f.Rows)}
	random := rand.New(rand.NewPCG(seed, seed))
	for r := range f.Rows {
		for c := range f.Columns {
			h := 800 + 300*math.Sin(float64(c)/7) + 250*math.Cos(float64(r)/9) + 5*random.Float64()
			g.Elevations[r*f.Columns+c] = float32(h)
		}
	}
	return g
}

func TestSuspectsAreFoundWithTheirPlace(t *testing.T) {
	t.Parallel()
	f := lonLatFrame(200, 150) // posts about 75 and 93 m apart
	s, err := SuspectsOf(rough(f, 1))
	require.NoError(t, err)
	assert.Zero(t, s.Posts, "ground is not suspected")
	cases := []struct {
		name        string
		column, row int
		to          func(h float32) float32
		doubt       Doubt
	}{
		{"a spike", 50, 60, func(h float32) float32 { return h + 200 }, Spike},
		{"a pit", 50, 60, func(h float32) float32 { return h - 200 }, Spike},
		{"at the edge", 0, 60, func(h float32) float32 { return h + 200 }, Spike},
		{"under the sea", 51, 61, func(float32) float32 { return -700 }, OffEarth},
		{"over Everest", 51, 61, func(float32) float32 { return 9050 }, OffEarth},
		{"a high bit", 52, 62, func(h float32) float32 { return h + 4096 }, Spike},
	}
	for _, c := range cases {
		g := rough(f, 2)
		at := c.row*g.Columns + c.column
		g.Elevations[at] = c.to(g.Elevations[at])
		s, err := SuspectsOf(g)
		require.NoError(t, err)
		found := false
		for _, suspect := range s.First {
			if suspect.Column == c.column && suspect.Row == c.row {
				found = true
				assert.Equal(t, c.doubt, suspect.Doubt, c.name)
				place, err := g.Place(float64(c.column), float64(c.row))
				require.NoError(t, err)
				assert.Equal(t, place, suspect.Place)
				assert.Contains(t, suspect.String(), place.String())
			}
		}
		assert.True(t, found, c.name)
	}
	// half the block pushed up: a wall along it
	g := rough(f, 3)
	for i := 75 * g.Columns; i < len(g.Elevations); i++ {
		g.Elevations[i] += 1500
	}
	s, err = SuspectsOf(g)
	require.NoError(t, err)
	assert.EqualValues(t, g.Columns, s.Posts)
	assert.Equal(t, Wall, s.First[0].Doubt)
	assert.Equal(t, 74, s.First[0].Row)
}

// TestVoidsAreNoNeighbours: a post alone in a void is not judged.
func TestVoidsAreNoNeighbours(t *testing.T) {
	t.Parallel()
	g := rough(lonLatFrame(9, 9), 4)
	fillNaN(g.Elevations)
	g.Elevations[40] = 3000
	g.Elevations[41] = 100
	s, err := SuspectsOf(g)
	require.NoError(t, err)
	for _, suspect := range s.First {
		assert.Equal(t, Wall, suspect.Doubt)
	}
}

// TestSearchByPartsFindsWhatTheWholeHas, and Watch what its reads cover.
func TestSearchByPartsFindsWhatTheWholeHas(t *testing.T) {
	t.Parallel()
	g := rough(lonLatFrame(2100, 1100), 5)
	random := rand.New(rand.NewPCG(6, 6))
	for range 40 {
		g.Elevations[random.IntN(len(g.Elevations))] += 500
	}
	g.Elevations[1023] += 500 // beside the seam of two squares
	whole, err := SuspectsOf(g)
	require.NoError(t, err)
	last := int64(0)
	parts, err := Count(t.Context(), &memorySource{grid: g}, CensusOptions{Progress: func(done, total int64) {
		assert.Greater(t, done, last)
		last = done
	}})
	require.NoError(t, err)
	assert.EqualValues(t, len(g.Elevations), last)
	assert.Equal(t, whole, parts.Suspicion)

	w := Watch(&memorySource{grid: g})
	assert.Empty(t, w.Info().Warnings)
	read, err := w.Read(t.Context(), Window{Column: 1000, Columns: 60, Rows: 60})
	require.NoError(t, err)
	found, more := w.Found()
	require.NotEmpty(t, found)
	assert.False(t, more)
	assert.Equal(t, 1023, found[0].Column)
	assert.Contains(t, read.Source.Warnings[0], "stands out")
	_, err = w.Read(t.Context(), Window{Column: 1000, Columns: 60, Rows: 60})
	require.NoError(t, err)
	again, _ := w.Found()
	assert.Equal(t, found, again, "read twice, told once")
	_, err = w.Read(t.Context(), g.Whole())
	require.NoError(t, err)
	_, more = w.Found()
	assert.True(t, more)
}

// TestWhatIsReadAgreesWithTheCensusOnPostsThatStandOut: a post at the edge of
// what is read is judged by its neighbours beyond it too.
func TestWhatIsReadAgreesWithTheCensusOnPostsThatStandOut(t *testing.T) {
	t.Parallel()
	g := rough(lonLatFrame(200, 100), 8)
	spacing, err := g.judgedSpacing()
	require.NoError(t, err)
	const middle = 50
	for i := range g.Elevations { // a ridge that rises eastwards
		c, r := i%g.Columns, i/g.Columns
		g.Elevations[i] = float32(3000 + spacing*(float64(min(c, 20))-1.5*min(10, math.Abs(float64(r-middle)))))
	}
	g.Elevations[middle*g.Columns+129] += 2000 // beside the edge of a block
	census, err := Count(t.Context(), &memorySource{grid: g}, CensusOptions{})
	require.NoError(t, err)
	for _, read := range []func(w *Watched) error{
		func(w *Watched) error { // in blocks, as a leg does
			for column := 0; column < g.Columns; column += 10 {
				if _, err := w.Read(t.Context(), Window{Column: column, Row: 30, Columns: 10, Rows: 40}); err != nil {
					return err
				}
			}
			return nil
		},
		func(w *Watched) error {
			for column := 0; column < g.Columns; column += 10 {
				if err := w.ReadRows(t.Context(), Window{Column: column, Columns: 10, Rows: g.Rows}, func([]float32) error { return nil }); err != nil {
					return err
				}
			}
			return nil
		},
	} {
		w := Watch(&memorySource{grid: g})
		require.NoError(t, read(w))
		found, more := w.Found()
		assert.False(t, more)
		want := census.Suspicion.First[:0:0]
		for _, s := range census.Suspicion.First {
			if s.Row >= 30 && s.Row < 70 {
				want = append(want, s)
			}
		}
		require.NotEmpty(t, want)
		require.Len(t, found, len(want))
		for i := range want {
			assert.Equal(t, [2]int{want[i].Column, want[i].Row}, [2]int{found[i].Column, found[i].Row})
		}
	}
}
