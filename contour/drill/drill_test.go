package drill

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/contour/page"
	"crowline/contour/sheet"
	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/dem/units"
	"crowline/testdata/cumberland"
)

var demoGrid = sync.OnceValues(func() (*dem.Grid, error) {
	raster, err := gdalio.OpenBytes(cumberland.Name, cumberland.Bytes(), gdalio.Options{})
	if err != nil {
		return nil, err
	}
	defer raster.Close()
	return raster.Read(context.Background(), raster.Layout().Whole())
})

// ridge is high, steep ground in the middle of the Cumberland ground.
var ridge = geodesy.LatLon{Lat: 36.29, Lon: -84.27}

func demoOptions(level Level, seed uint64) Options {
	day := time.Date(2026, 5, 16, 0, 0, 0, 0, time.UTC)
	return Options{
		Around: ridge, Radius: 7000, Seed: seed, Level: level, Count: 10, Refraction: 0.13, Date: day,
		Declination: &sheet.Declination{East: -4.9, Sigma: 0.4, Annual: 0.03, Model: "WMM2025", Date: day},
	}
}

func makeDemo(t *testing.T, o Options) *Set {
	t.Helper()
	grid, err := demoGrid()
	require.NoError(t, err)
	set, err := Make(context.Background(), grid, o)
	require.NoError(t, err)
	return set
}

// document of a set as PDF.
func pdf(t *testing.T, s *Set, o PageOptions) []byte {
	t.Helper()
	doc, err := s.Document(context.Background(), o)
	require.NoError(t, err)
	assert.Empty(t, doc.Warnings)
	var b bytes.Buffer
	require.NoError(t, doc.WritePDF(&b))
	return b.Bytes()
}

func TestSameSeedSameSheet(t *testing.T) {
	t.Parallel()
	a, b := makeDemo(t, demoOptions(Intermediate, 3)), makeDemo(t, demoOptions(Intermediate, 3))
	assert.Equal(t, a.Text()+a.Key(), b.Text()+b.Key())
	assert.True(t, bytes.Equal(pdf(t, a, PageOptions{}), pdf(t, b, PageOptions{})))
	other := makeDemo(t, demoOptions(Intermediate, 4))
	assert.NotEqual(t, a.Text(), strings.Replace(other.Text(), "Seed 4", "Seed 3", 1))
}

// The PDF read back: as many answers as questions, in order, each question's
// map and profiles on its page, the key apart.
func TestSheetReadBack(t *testing.T) {
	t.Parallel()
	if _, err := exec.LookPath("pdftotext"); err != nil {
		t.Skip("pdftotext (poppler-utils) is not installed")
	}
	for _, level := range Levels {
		for name, paper := range map[string]page.Paper{"a4": page.A4, "letter": page.Letter} {
			t.Run(string(level)+" "+name, func(t *testing.T) {
				t.Parallel()
				set := makeDemo(t, demoOptions(level, 7))
				require.Len(t, set.Questions, 10)
				path := filepath.Join(t.TempDir(), "drill.pdf")
				require.NoError(t, os.WriteFile(path, pdf(t, set, PageOptions{Paper: paper}), 0o600))
				text, err := exec.Command("pdftotext", "-raw", path, "-").Output()
				require.NoError(t, err)
				var questions, answers []string
				for _, m := range regexp.MustCompile(`(Question|Answer) (\d+)\b`).FindAllStringSubmatch(string(text), -1) {
					if m[1] == "Question" {
						questions = append(questions, m[2])
					} else {
						answers = append(answers, m[2])
					}
				}
				assert.Len(t, questions, 10)
				assert.ElementsMatch(t, questions, answers)
				assert.True(t, slices.IsSortedFunc(answers, func(a, b string) int { return cmp.Or(len(a)-len(b), strings.Compare(a, b)) }))
				pages := strings.Split(string(text), "\f")
				for _, pg := range pages {
					assert.False(t, strings.Contains(pg, "Question 1") && strings.Contains(pg, "Answer 1"), "the key stands apart")
				}
				figuresStand(t, set, paper)
			})
		}
	}
}

// figuresStand checks on the drawn pages that every map is true to its frame,
// lettered, numbered, and that nothing leaves the paper or lies on another.
func figuresStand(t *testing.T, set *Set, paper page.Paper) {
	doc, err := set.Document(context.Background(), PageOptions{Paper: paper})
	require.NoError(t, err)
	groups := map[string]*page.Group{}
	for _, pg := range doc.Pages {
		for _, it := range pg.Items {
			if g, ok := it.(*page.Group); ok {
				assert.NotContains(t, groups, g.ID)
				groups[g.ID] = g
			}
		}
		var texts []page.Text
		for _, s := range textsOf(pg.Items) {
			if s.Turn == 0 { // the box of turned text is more than its ink
				texts = append(texts, s)
			}
		}
		for i, a := range texts {
			box := a.Box()
			assert.True(t, box.X >= 0 && box.Y >= 0 && box.Right() <= paper.Width && box.Bottom() <= paper.Height, "%q leaves the page", a.String)
			for _, b := range texts[:i] {
				o := b.Box()
				const touch = 0.05 // mm; boxes hold the descent of letters that have none
				assert.False(t, box.X+touch < o.Right() && o.X+touch < box.Right() && box.Y+touch < o.Bottom() && o.Y+touch < box.Bottom(),
					"%q lies on %q", a.String, b.String)
			}
		}
	}
	for _, q := range set.Questions {
		id := fmt.Sprintf("q%d", q.Number)
		if q.Figure == nil {
			assert.NotContains(t, groups, id+"-letters")
			continue
		}
		on, before := id, ""
		if n := q.Figure.Map; n > 0 {
			on, before = fmt.Sprintf("m%d", n), strconv.Itoa(q.Number)
		}
		for _, part := range []string{"contours", "contour-numbers", "grid", "letters", "scale"} {
			require.Contains(t, groups, on+"-"+part)
		}
		var letters []string
		for _, s := range textsOf(groups[on+"-letters"].Items) {
			letters = append(letters, s.String)
		}
		for _, m := range q.Figure.Marks {
			assert.Contains(t, letters, before+m.Name)
		}
		if len(q.Figure.Profiles) > 0 {
			assert.Contains(t, groups, id+"-profiles")
		}
		if q.Figure.Blank != nil {
			assert.Contains(t, groups, id+"-strip")
			assert.Contains(t, groups, fmt.Sprintf("a%d-strip", q.Number))
		}
		if len(q.Figure.Traces) > 0 {
			on := fmt.Sprintf("a%d", q.Number)
			if n := q.Figure.Map; n > 0 {
				on = fmt.Sprintf("am%d", n)
			}
			assert.Contains(t, groups, on+"-drawn")
		}
		if q.Figure.Key != nil {
			assert.Contains(t, groups, fmt.Sprintf("a%d-profile", q.Number))
		}
	}
}

func textsOf(items []page.Item) (out []page.Text) {
	for _, it := range items {
		switch v := it.(type) {
		case *page.Group:
			out = append(out, textsOf(v.Items)...)
		case page.Text:
			out = append(out, v)
		}
	}
	return out
}

func TestPartsAreSeparateFiles(t *testing.T) {
	t.Parallel()
	set := makeDemo(t, demoOptions(Leader, 2))
	both, err := set.Document(context.Background(), PageOptions{})
	require.NoError(t, err)
	questions, err := set.Document(context.Background(), PageOptions{Part: QuestionsOnly})
	require.NoError(t, err)
	key, err := set.Document(context.Background(), PageOptions{Part: KeyOnly})
	require.NoError(t, err)
	assert.Len(t, both.Pages, len(questions.Pages)+len(key.Pages))
	for _, p := range questions.Pages {
		for _, s := range textsOf(p.Items) {
			assert.NotContains(t, s.String, "Answer")
		}
	}
}

func TestJSON(t *testing.T) {
	t.Parallel()
	o := demoOptions(Leader, 5)
	o.Kinds, o.Count = Kinds, 20
	set := makeDemo(t, o)
	body, err := json.Marshal(set)
	require.NoError(t, err)
	var back struct {
		Seed      uint64  `json:"seed"`
		Interval  float64 `json:"contour_interval"`
		Questions []struct {
			Number  int            `json:"number"`
			Kind    Kind           `json:"kind"`
			Text    string         `json:"text"`
			Answer  string         `json:"answer"`
			Working []string       `json:"working"`
			Margin  string         `json:"margin"`
			Data    map[string]any `json:"data"`
		} `json:"questions"`
	}
	require.NoError(t, json.Unmarshal(body, &back))
	require.Len(t, back.Questions, len(set.Questions))
	seen := map[Kind]bool{}
	for i, q := range back.Questions {
		assert.Equal(t, i+1, q.Number)
		seen[q.Kind] = true
		assert.NotEmpty(t, q.Text)
		assert.NotEmpty(t, q.Answer)
		assert.NotEmpty(t, q.Working)
		assert.NotEmpty(t, q.Margin)
		assert.NotEmpty(t, q.Data)
		assert.Contains(t, set.Text(), q.Text)
		assert.Contains(t, set.Key(), q.Answer)
	}
	assert.Len(t, seen, len(Kinds))
	assert.NotContains(t, string(body), "NaN")
}

func TestUSUnits(t *testing.T) {
	t.Parallel()
	o := demoOptions(Intermediate, 9)
	o.Units = units.US
	set := makeDemo(t, o)
	assert.Equal(t, "ft", set.IntervalUnit)
	for _, q := range set.Questions {
		assert.NotRegexp(t, `\d (m|km)\b`, q.Text+q.Answer+strings.Join(q.Working, " ")+q.Margin)
	}
	pdf(t, set, PageOptions{Paper: page.Letter})
}

func TestWhatCannotBeAskedIsSaid(t *testing.T) {
	t.Parallel()
	grid, err := demoGrid()
	require.NoError(t, err)
	ctx := context.Background()

	// The Cumberland ground with an error of 60 m carries no sight or profile.
	o := demoOptions(Intermediate, 1)
	o.VerticalError, o.Declination = 60, nil
	o.Kinds = []Kind{Sight, Norths, BackBearing}
	o.Count = 4
	set, err := Make(ctx, grid, o)
	require.NoError(t, err)
	for _, q := range set.Questions {
		if q.Kind == Sight {
			assert.GreaterOrEqual(t, math.Abs(q.Data.(SightAnswer).ClearanceM), 2*math.Sqrt2*60)
		}
		assert.NotEqual(t, Norths, q.Kind)
	}
	assert.Contains(t, strings.Join(set.Notes, "\n"), "the declination is not known")

	// Level ground gives none.
	flat := &dem.Grid{Frame: grid.Frame, Elevations: make([]float32, len(grid.Elevations)), Source: grid.Source}
	for i := range flat.Elevations {
		flat.Elevations[i] = float32(100 + i%grid.Columns)
	}
	o = demoOptions(Leader, 1)
	o.Kinds = []Kind{Sight, Destination, Landform}
	_, err = Make(ctx, flat, o)
	require.ErrorIs(t, err, ErrNone)
}

func TestRefusals(t *testing.T) {
	t.Parallel()
	grid, err := demoGrid()
	require.NoError(t, err)
	cases := map[string]struct {
		change func(*Options)
		want   string
	}{
		"outside":      {func(o *Options) { o.Around.Lat = 40 }, "outside"},
		"no radius":    {func(o *Options) { o.Radius = 0 }, "holds no ground"},
		"small radius": {func(o *Options) { o.Radius = 500 }, "half a map"},
		"level":        {func(o *Options) { o.Level = "expert" }, "level"},
		"kind":         {func(o *Options) { o.Kinds = []Kind{"riddle"} }, "kind"},
		"no kind":      {func(o *Options) { o.Kinds = []Kind{} }, "no kind"},
		"too many":     {func(o *Options) { o.Count = 51 }, "1 to 50"},
		"scale":        {func(o *Options) { o.Scale = 10 }, "scale"},
		"error":        {func(o *Options) { o.VerticalError = -1 }, "vertical error"},
		"eye":          {func(o *Options) { o.EyeAboveGround = -1 }, "eye"},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			o := demoOptions(Beginner, 1)
			c.change(&o)
			_, err := Make(context.Background(), grid, o)
			require.ErrorContains(t, err, c.want)
		})
	}
	set := &Set{Title: "read from JSON"}
	_, err = set.Document(context.Background(), PageOptions{})
	require.ErrorContains(t, err, "Make")
	_, err = makeDemo(t, demoOptions(Beginner, 1)).Document(context.Background(), PageOptions{Paper: page.Paper{Width: 150, Height: 200}})
	require.ErrorContains(t, err, "too small")
}

func TestCancelled(t *testing.T) {
	t.Parallel()
	grid, err := demoGrid()
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err = Make(ctx, grid, demoOptions(Leader, 1))
	require.ErrorIs(t, err, context.Canceled)
}
