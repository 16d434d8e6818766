package fix

import (
	"context"
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
)

// The ellipse foreseen is the one that Resect gives for bearings without
// error, and the sets proposed are the best of all, found here the long way.
func TestBestMarksAgainstResect(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(5, 6))
	for trial := range 10 {
		shared := geodesy.Degrees(trial % 2)
		var marks []Mark
		for i := range 8 {
			marks = append(marks, Mark{Name: fmt.Sprint(i), Place: at(here, 6000*random.Float64()-3000, 6000*random.Float64()-3000)})
		}
		got, err := BestMarks(context.Background(), here, marks, MarkOptions{SharedError: shared})
		require.NoError(t, err)
		best := map[int]*Fix{}
		try := func(set ...Mark) {
			var bearings []Bearing
			for _, m := range set {
				bearings = append(bearings, Bearing{Name: m.Name, Place: m.Place, PlaceError: DefaultPlaceError, True: geodesy.Inverse(here, m.Place).Start})
			}
			f, err := Resect(context.Background(), bearings, Options{SharedError: shared})
			if err != nil || f.Crossing < LeastCrossing {
				return
			}
			if b := best[len(set)]; b == nil || f.Ellipse(0.95).SemiMajor < b.Ellipse(0.95).SemiMajor {
				best[len(set)] = f
			}
		}
		for i := range marks {
			for j := range i {
				try(marks[j], marks[i])
				for k := range j {
					try(marks[k], marks[j], marks[i])
				}
			}
		}
		require.NotNil(t, best[2])
		// of the axis; on the plane true north does not turn as one moves, and
		// 3 km tan(36°)/R is 3.4e-4 of a line's width
		const share = 5e-4
		for n, sets := range map[int][]MarkSet{2: got.Two, 3: got.Three} {
			require.NotEmpty(t, sets)
			want := best[n].Ellipse(0.95)
			assert.InDelta(t, want.SemiMajor, sets[0].Ellipse.SemiMajor, share*want.SemiMajor, "trial %d, sets of %d", trial, n)
			assert.InDelta(t, want.SemiMinor, sets[0].Ellipse.SemiMinor, share*want.SemiMajor)
		}
		assert.LessOrEqual(t, got.Three[0].Ellipse.SemiMajor, got.Two[0].Ellipse.SemiMajor)
	}
}

func TestBestMarksLeavesOutWhatIsHidden(t *testing.T) {
	t.Parallel()
	grid := tilted(t, 0, 0)
	row := (grid.Rows-1)/2 - 10 // a wall 300 m north
	for c := range grid.Columns {
		grid.Elevations[row*grid.Columns+c] = 300
	}
	marks := []Mark{
		{Name: "behind the wall", Place: at(here, 0, 1500)},
		{Name: "mast behind the wall", Place: at(here, 200, 1500), TopAboveGround: 600},
		{Name: "east", Place: at(here, 1500, 0)},
		{Name: "south", Place: at(here, 0, -1500)},
		{Name: "off the data", Place: at(here, 0, -9000)},
		{Name: "here", Place: here},
	}
	got, err := BestMarks(context.Background(), here, marks, MarkOptions{Posts: grid, EyeAboveGround: 1.6, Refraction: 0.13})
	require.NoError(t, err)
	assert.Equal(t, 3, got.Visible)
	assert.Equal(t, 1, got.Hidden)
	assert.Equal(t, 1, got.Unknown)
	require.Len(t, got.Three, 1)
	for _, set := range append(got.Two, got.Three...) {
		for _, m := range set.Marks {
			assert.NotEqual(t, "behind the wall", m.Name)
		}
	}

	few, err := BestMarks(context.Background(), here, marks, MarkOptions{Limit: 2})
	require.NoError(t, err)
	assert.Equal(t, 2, few.Visible)
	assert.Equal(t, 3, few.Beyond)
	assert.Len(t, few.Two, 1)
	assert.Empty(t, few.Three)
}

// TestDoubtfulMarksComeLast: two sure marks that cross badly come before a
// doubtful one that crosses well, which is given apart; where none is sure the
// best come first, and are said to be doubtful; where a sure set is the best
// there is nothing to add.
func TestDoubtfulMarksComeLast(t *testing.T) {
	t.Parallel()
	marks := []Mark{
		{Name: "north", Place: at(here, 0, 3000)},
		{Name: "north by east", Place: at(here, 500, 3000)},
		{Name: "east", Place: at(here, 3000, 0), Doubtful: true},
		{Name: "south-west", Place: at(here, -2500, -2500), Doubtful: true},
	}
	names := func(s MarkSet) (out []string) {
		for _, m := range s.Marks {
			out = append(out, m.Name)
		}
		return out
	}
	got, err := BestMarks(t.Context(), here, marks, MarkOptions{Keep: 10})
	require.NoError(t, err)
	require.Len(t, got.Two, 6)
	assert.ElementsMatch(t, []string{"north", "north by east"}, names(got.Two[0]))
	require.NotNil(t, got.IfSeen)
	assert.ElementsMatch(t, []string{"north", "east"}, names(*got.IfSeen))
	assert.Equal(t, 1, got.IfSeen.Doubtful)
	for _, sets := range [][]MarkSet{got.Two, got.Three} {
		for i, s := range sets {
			doubtful := 0
			for _, m := range s.Marks {
				if m.Doubtful {
					doubtful++
				}
			}
			assert.Equal(t, doubtful, s.Doubtful)
			if i == 0 || sets[i-1].Doubtful < s.Doubtful {
				continue
			}
			assert.Equal(t, sets[i-1].Doubtful, s.Doubtful)
			if poor := s.Crossing < LeastCrossing; poor == (sets[i-1].Crossing < LeastCrossing) {
				assert.LessOrEqual(t, sets[i-1].Ellipse.SemiMajor, s.Ellipse.SemiMajor)
			} else {
				assert.True(t, poor)
			}
		}
	}

	for i := range marks {
		marks[i].Doubtful = true
	}
	got, err = BestMarks(t.Context(), here, marks, MarkOptions{})
	require.NoError(t, err)
	assert.ElementsMatch(t, []string{"north", "east"}, names(got.Two[0]))
	assert.Equal(t, 2, got.Two[0].Doubtful)
	assert.Nil(t, got.IfSeen)

	marks[0].Doubtful, marks[2].Doubtful = false, false
	got, err = BestMarks(t.Context(), here, marks, MarkOptions{})
	require.NoError(t, err)
	assert.ElementsMatch(t, []string{"north", "east"}, names(got.Two[0]))
	assert.Nil(t, got.IfSeen)
}

func BenchmarkBestMarks(b *testing.B) {
	random := rand.New(rand.NewPCG(5, 6))
	var marks []Mark
	for range DefaultLimit {
		marks = append(marks, Mark{Place: at(here, 6000*random.Float64()-3000, 6000*random.Float64()-3000)})
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := BestMarks(context.Background(), here, marks, MarkOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}
