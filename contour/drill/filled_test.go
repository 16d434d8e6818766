package drill

import (
	"context"
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/profile"
)

// TestNoAnswerRestsOnFilledGround: the Cumberland ground with small filled voids
// all over, every kind and level. The filled posts are made absurdly high and
// low, so an answer that rested on one would also be a strange one; and no
// marked point, no leg, and no ground round a landform or a reading has any.
func TestNoAnswerRestsOnFilledGround(t *testing.T) {
	t.Parallel()
	demo, err := demoGrid()
	require.NoError(t, err)
	grid := *demo
	grid.Elevations = append([]float32(nil), demo.Elevations...)
	grid.Filled = make([]bool, len(grid.Elevations))
	for i := range grid.Elevations {
		c, r := i%grid.Columns, i/grid.Columns
		if c%23 < 3 && r%21 < 3 {
			grid.Filled[i] = true
			grid.Elevations[i] += float32(60 - 120*((c+r)%2))
		}
	}
	asked := 0
	for _, level := range Levels {
		for seed := range uint64(2) {
			if level == Leader && seed > 0 {
				continue // the slowest to draw up; its kinds have been asked
			}
			o := demoOptions(level, seed)
			set, err := Make(context.Background(), &grid, o)
			require.NoError(t, err)
			assert.Contains(t, strings.Join(set.Notes, " "), "no answer rests on it")
			s := set.survey
			for _, q := range set.Questions {
				if q.Figure == nil || q.Kind == PageBearing {
					continue // nothing of the ground is in the answer
				}
				asked++
				for _, m := range q.Figure.Marks {
					c, r, err := grid.Locate(m.At())
					require.NoError(t, err)
					assert.False(t, dem.FilledAt(&grid, c, r), "%s %s", q.Kind, m.Name)
				}
				for _, l := range q.Figure.Legs {
					leg, err := profile.Trace(context.Background(), &grid, q.Figure.Marks[l[0]].At(), q.Figure.Marks[l[1]].At())
					require.NoError(t, err)
					assert.Empty(t, leg.Filled(), "%s", q.Kind)
				}
				if q.Kind == Landform || q.Kind == Elevation && q.Data.(ElevationAnswer).Top != 0 {
					assert.Zero(t, filledWithin(&grid, q.Figure.Marks[0].At(), s.along.Scale), "%s", q.Kind)
				}
			}
			if seed == 0 {
				document, err := set.Document(context.Background(), PageOptions{})
				require.NoError(t, err)
				var text []string
				for _, w := range textsOf(document.Pages[0].Items) {
					text = append(text, w.String)
				}
				assert.Contains(t, strings.Join(text, " "), "Dotted ground was filled in")
				_, err = json.Marshal(set)
				require.NoError(t, err)
			}
		}
	}
	assert.Greater(t, asked, 12)
	plain := makeDemo(t, demoOptions(Leader, 3))
	assert.NotContains(t, strings.Join(plain.Notes, " "), "filled in")
}

// filledWithin counts the filled posts within a distance of a place, looking
// at all.
func filledWithin(g *dem.Grid, at geodesy.LatLon, metres float64) int {
	n := 0
	for i, filled := range g.Filled {
		if !filled {
			continue
		}
		p, err := g.Place(float64(i%g.Columns), float64(i/g.Columns))
		if err == nil && geodesy.Inverse(at, p).Distance <= metres {
			n++
		}
	}
	return n
}
