package drill

import (
	"context"
	"encoding/json"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/contour/page"
	"crowline/dem"
	"crowline/profile"
)

// theKeysClimbIsTheLegs: the key had the climb on the ground with a dead band
// of a whole interval, 102 m where leg and the count say 148 m.
func theKeysClimbIsTheLegs(t *testing.T, s *survey, q Question) {
	t.Helper()
	for i, l := range q.Data.(ClimbAnswer).Legs {
		leg, err := profile.Trace(context.Background(), s.grid, q.Figure.Marks[0].At(), q.Figure.Marks[i+1].At())
		require.NoError(t, err)
		want := leg.Climb(profile.DeadBand(s.grid.Source.VerticalError), s.o.VerticalError)
		assert.InDelta(t, want.Ascent, l.TrueM, 1e-9)
		assert.InDelta(t, want.Error, l.SigmaM, 1e-9)
		lines := s.levels.CountAlong(s.grid, positions(leg))
		within := max(1, float64(lines.Rises)) * s.interval()
		assert.LessOrEqual(t, math.Abs(l.TrueM-l.AscentM), within, "the count is of other ground: %s", q.Working[i])
	}
}

// TestAnAssumedErrorIsSaidToBe: 5 m stood as the data's own where it states
// none.
func TestAnAssumedErrorIsSaidToBe(t *testing.T) {
	t.Parallel()
	grid, err := demoGrid()
	require.NoError(t, err)
	unstated := *grid
	unstated.Source.VerticalError = 0
	o := demoOptions(Leader, 3)
	o.Kinds, o.Count = []Kind{Elevation, Sight, Climb, Slope, Destination}, 5
	for _, row := range []struct {
		grid    *dem.Grid
		given   float64
		assumed bool
	}{{&unstated, 0, true}, {&unstated, 7, false}} {
		o.VerticalError = row.given
		set, err := Make(context.Background(), row.grid, o)
		require.NoError(t, err)
		assert.Equal(t, row.assumed, set.VerticalErrorAssumed)
		all := set.Text() + set.Key() + set.IntervalReason + strings.Join(set.Notes, "\n")
		doc, err := set.Document(context.Background(), PageOptions{})
		require.NoError(t, err)
		for _, p := range doc.Pages {
			all += "\n"
			for _, s := range textsOf(p.Items) { // lines are wrapped
				all += " " + s.String
			}
		}
		assert.Equal(t, !row.assumed, strings.Contains(all, "the data's error of"))
		assert.Equal(t, !row.assumed, strings.Contains(all, "with heights good to"))
		assert.Equal(t, row.assumed, strings.Contains(all, "assumed"))
		if !row.assumed {
			continue
		}
		const figure = len("one standard deviation 5.0 m, assumed")
		for at, rest := 0, all; ; rest = rest[at+1:] {
			if at = strings.Index(rest, "one standard deviation"); at < 0 {
				break
			}
			assert.Contains(t, rest[at:min(len(rest), at+figure)], "assumed")
		}
	}
}

// TestEveryMapTellsUpFromDown: eleven of forty elevation maps carried one
// contour number, and none said how its numbers read.
func TestEveryMapTellsUpFromDown(t *testing.T) {
	t.Parallel()
	for seed := range uint64(2) {
		o := demoOptions(Intermediate, seed)
		o.Kinds, o.Count = []Kind{Elevation, Landform, Slope, PageBearing}, 20
		set := makeDemo(t, o)
		doc, err := set.Document(context.Background(), PageOptions{Part: QuestionsOnly})
		require.NoError(t, err)
		assert.Empty(t, doc.Warnings)
		maps, said := 0, 0
		for _, p := range doc.Pages {
			for _, it := range p.Items {
				g, ok := it.(*page.Group)
				if !ok || !strings.HasSuffix(g.ID, "-contour-numbers") {
					continue
				}
				maps++
				different := map[string]bool{}
				for _, text := range textsOf(g.Items) {
					different[text.String] = true
				}
				assert.GreaterOrEqual(t, len(different), 2, "seed %d, %s", seed, g.ID)
			}
			for _, text := range textsOf(p.Items) {
				if strings.HasPrefix(text.String, "Contour numbers are metres.") {
					said++
				}
			}
		}
		drawn := len(set.Maps)
		for _, q := range set.Questions {
			if q.Figure.Map == 0 {
				drawn++
			}
		}
		assert.Equal(t, drawn, maps)
		assert.Equal(t, drawn, said)
	}
}

// TestTheReadingRuleStandsInQuestionAndKey: what is measured off the map says
// how and how near is right, where it is asked and where it is answered.
func TestTheReadingRuleStandsInQuestionAndKey(t *testing.T) {
	t.Parallel()
	o := demoOptions(Leader, 5)
	o.Kinds, o.Count = Kinds, 2*len(Kinds)
	set := makeDemo(t, o)
	counted := map[Kind]bool{Landform: true, BackBearing: true, Norths: true} // nothing is measured
	for _, q := range set.Questions {
		if counted[q.Kind] {
			assert.Empty(t, q.Reading, q.Kind)
			continue
		}
		assert.Regexp(t, "right|fits", q.Reading, q.Kind)
		assert.Contains(t, set.Text(), q.Reading)
		assert.Contains(t, set.Key(), q.Reading)
	}
	for _, part := range []Part{QuestionsOnly, KeyOnly} {
		doc, err := set.Document(context.Background(), PageOptions{Part: part})
		require.NoError(t, err)
		var all []string
		for _, p := range doc.Pages {
			for _, s := range textsOf(p.Items) {
				all = append(all, s.String)
			}
		}
		for _, q := range set.Questions {
			assert.Contains(t, strings.Join(all, " "), q.Reading)
		}
	}
}

// TestQuestionsAloneHoldNoAnswer: the JSON of the questions told the answers,
// and the elevation of every mark.
func TestQuestionsAloneHoldNoAnswer(t *testing.T) {
	t.Parallel()
	o := demoOptions(Leader, 5)
	o.Kinds, o.Count = Kinds, 2*len(Kinds)
	set := makeDemo(t, o)
	alone := set.QuestionsOnly()
	require.Len(t, alone.Questions, len(set.Questions))
	for i := range alone.Questions {
		q := &alone.Questions[i]
		if q.Figure != nil {
			for k := range q.Figure.Marks {
				assert.True(t, math.IsNaN(q.Figure.Marks[k].ElevationM))
				q.Figure.Marks[k].ElevationM = -1 // JSON has no NaN
			}
			for k := range q.Figure.Outline {
				assert.True(t, math.IsNaN(q.Figure.Outline[k].ElevationM))
				q.Figure.Outline[k].ElevationM = -1
			}
			assert.Nil(t, q.Figure.Drawn)
			assert.Nil(t, q.Figure.Traces)
			assert.Nil(t, q.Figure.Within)
			assert.True(t, math.IsNaN(q.Figure.Centre.ElevationM))
			q.Figure.Centre.ElevationM = -1
			assert.Nil(t, q.Figure.Key)
		}
	}
	body, err := json.Marshal(alone.Questions)
	require.NoError(t, err)
	for _, q := range set.Questions {
		for _, told := range append(append([]string{}, q.Working...), q.Margin, q.Answer) {
			if len(told) > 6 { // "231°." is also a bearing that is asked about
				assert.NotContains(t, string(body), told)
			}
		}
	}
	for _, key := range []string{"answer", "working", "margin", "data"} {
		assert.NotContains(t, string(body), `"`+key+`"`)
	}
	assert.NotEmpty(t, set.Questions[0].Answer, "the set itself is left as it was")
}

// TestNoLineOfADrillIsTooThinToPrint: contours ruled under profiles were
// 0.08 mm.
func TestNoLineOfADrillIsTooThinToPrint(t *testing.T) {
	t.Parallel()
	o := demoOptions(Leader, 5)
	o.Kinds, o.Count = []Kind{Profile, Sight, Slope}, 3
	doc, err := makeDemo(t, o).Document(context.Background(), PageOptions{})
	require.NoError(t, err)
	strokes := 0
	var walk func(items []page.Item)
	walk = func(items []page.Item) {
		for _, it := range items {
			switch v := it.(type) {
			case *page.Group:
				walk(v.Items)
			case page.Stroke:
				strokes++
				assert.GreaterOrEqual(t, v.Width, page.LeastWidth)
			}
		}
	}
	for _, p := range doc.Pages {
		walk(p.Items)
	}
	assert.Greater(t, strokes, 100)
}
