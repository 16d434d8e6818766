package drill

import (
	"context"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/contour/page"
	"crowline/dem/geodesy"
)

// TestASheetOfMinutes: the questions take the minutes asked for, every kind
// comes once before any comes twice, and fifteen minutes are two pages at most
// of questions.
func TestASheetOfMinutes(t *testing.T) {
	t.Parallel()
	for _, level := range Levels {
		for _, minutes := range []int{15, 30} {
			o := demoOptions(level, 11)
			o.Count, o.Minutes = 0, minutes
			set := makeDemo(t, o)
			spent, _ := set.total()
			assert.LessOrEqual(t, spent, minutes)
			assert.Greater(t, spent, minutes-fullEnough, "%s, %d minutes: %v", level, minutes, set.Notes)
			times := map[Kind]int{}
			for i, q := range set.Questions {
				assert.Equal(t, i+1, q.Number)
				times[q.Kind]++
			}
			once := 0
			for _, k := range KindsOf(level) {
				once += MinutesOf(k)
			}
			if once > minutes {
				assert.Len(t, times, len(set.Questions), "a kind twice though not all came once: %v", times)
			}
			for _, paper := range []page.Paper{page.A4, page.Letter} {
				doc, err := set.Document(context.Background(), PageOptions{Part: QuestionsOnly, Paper: paper})
				require.NoError(t, err)
				assert.Empty(t, doc.Warnings)
				if minutes == 15 {
					assert.LessOrEqual(t, len(doc.Pages), 2, level)
					key, err := set.Document(context.Background(), PageOptions{Part: KeyOnly, Paper: paper})
					require.NoError(t, err)
					assert.Len(t, key.Pages, 1, "%s: the key of a quarter of an hour is a page", level)
				}
			}
		}
	}
}

// TestSharedMapsHoldTheirQuestions: every mark is on its map, clear of the
// edge and of other questions' marks, worked out by plain millimetres on the
// grid; most questions share.
func TestSharedMapsHoldTheirQuestions(t *testing.T) {
	t.Parallel()
	shared, all := 0, 0
	for seed := range uint64(3) {
		o := demoOptions(Levels[seed], seed)
		set := makeDemo(t, o)
		type mark struct {
			question, on int
			x, y         float64
		}
		var marks []mark
		for _, q := range set.Questions {
			if q.Figure == nil {
				continue
			}
			all++
			if q.Figure.Map == 0 {
				continue
			}
			shared++
			zone := geodesy.UTMZone(o.Around)
			middle, err := geodesy.ToUTMZone(set.Maps[q.Figure.Map-1].At(), zone)
			require.NoError(t, err)
			for _, m := range q.Figure.Marks {
				at, err := geodesy.ToUTMZone(m.At(), zone)
				require.NoError(t, err)
				x, y := (at.Easting-middle.Easting)*1000/set.Scale, (at.Northing-middle.Northing)*1000/set.Scale
				assert.LessOrEqual(t, math.Abs(x), sharedWidth/2.0-edgeMM)
				assert.LessOrEqual(t, math.Abs(y), sharedHeight/2.0-edgeMM)
				for _, other := range marks {
					if other.on == q.Figure.Map && other.question != q.Number {
						assert.Greater(t, math.Hypot(x-other.x, y-other.y), marksMM-0.1)
					}
				}
				marks = append(marks, mark{q.Number, q.Figure.Map, x, y})
				// no dot or letter over another question's leg, walked in steps
				for _, other := range set.Questions {
					if other.Figure == nil || other.Figure.Map != q.Figure.Map || other.Number == q.Number {
						continue
					}
					for _, l := range other.Figure.Legs {
						for _, p := range geodesy.Waypoints(other.Figure.Marks[l[0]].At(), other.Figure.Marks[l[1]].At(), 50) {
							assert.Greater(t, geodesy.Inverse(p, m.At()).Distance*1000/set.Scale, legMM-0.1)
						}
					}
				}
			}
		}
	}
	assert.Greater(t, 3*shared, 2*all, "%d of %d questions share a map", shared, all)
}

// TestTheKeyOpensWithAllAnswers: one row a question at the top of the key, its
// points beside it and their sum under them.
func TestTheKeyOpensWithAllAnswers(t *testing.T) {
	t.Parallel()
	o := demoOptions(Beginner, 4)
	o.Count, o.Minutes = 0, 15
	set := makeDemo(t, o)
	doc, err := set.Document(context.Background(), PageOptions{Part: KeyOnly})
	require.NoError(t, err)
	var said []string
	for _, text := range textsOf(doc.Pages[0].Items) {
		said = append(said, text.String)
	}
	end := slices.Index(said, "In all")
	require.Positive(t, end)
	table := strings.Join(said[:end], "\n")
	for _, q := range set.Questions {
		first, _, _ := strings.Cut(short(q.Answer), " ")
		assert.Contains(t, table, "\n"+first)
		assert.NotEmpty(t, q.Within)
		assert.Positive(t, q.Points)
	}
	assert.Less(t, end, slices.IndexFunc(said, func(s string) bool { return strings.HasPrefix(s, "Answer 1:") }))
	assert.NotContains(t, set.QuestionsOnly().Questions[0].Within, "±")
	for _, q := range set.QuestionsOnly().Questions {
		assert.Empty(t, q.Within)
	}
}

func TestMinutesOrCount(t *testing.T) {
	t.Parallel()
	grid, err := demoGrid()
	require.NoError(t, err)
	for says, o := range map[string]Options{"not both": {Count: 3, Minutes: 15}, "1 to 240": {Minutes: 241}} {
		o.Around, o.Radius = ridge, 5000
		_, err := Make(context.Background(), grid, o)
		assert.ErrorContains(t, err, says)
	}
}
