package sheet

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/contour"
	"crowline/contour/page"
	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/visibility"
)

// view is a map of what is seen of a grid from some places, at a scale that
// shows all of it.
func view(t *testing.T, g *dem.Grid, places []geodesy.LatLon, opts visibility.ViewshedOptions) Plan {
	t.Helper()
	v := &View{Radius: opts.Radius, Sector: opts.Sector, Words: ", eye 1.6 m"}
	var views []*visibility.Viewed
	for _, p := range places {
		seen, err := visibility.Viewshed(context.Background(), g, visibility.NewObserver(p), opts)
		require.NoError(t, err)
		views = append(views, seen)
		v.From = append(v.From, Place{At: p, Elevation: seen.GroundElevation})
	}
	v.Frame, v.Verdicts = &views[0].Frame, views[0].Verdicts
	if len(views) == 1 {
		if f := views[0].Summary.Farthest; f != nil {
			v.Farthest = &f.Place
		}
	} else {
		c, err := visibility.Combine(context.Background(), g, views)
		require.NoError(t, err)
		v.Frame, v.SeenBy = &c.Frame, c.Count
		v.Verdicts = make([]visibility.Verdict, len(c.Count))
		for i, n := range c.Count {
			v.Verdicts[i] = visibility.Hidden
			if n > 0 {
				v.Verdicts[i] = visibility.Visible
			}
		}
	}
	p := planOn(t, g, contour.Levels{Interval: 20})
	p.Title, p.Headline, p.Notes, p.View, p.Relief = "Ground seen", "So much of it.", []string{"Assumed: an eye."}, v, 0.4
	p, err := p.FitScale(v.Judged(), places...)
	require.NoError(t, err)
	return p
}

func viewDocument(t *testing.T, p Plan) (*page.Document, string) {
	t.Helper()
	d := compose(t, p)
	require.Len(t, d.Pages, 1)
	checkPage(t, d.Pages[0])
	return d, "\n" + strings.Join(pageTexts(d.Pages[0]), "\n") + "\n"
}

func pageTexts(p *page.Page) (out []string) {
	var walk func(items []page.Item)
	walk = func(items []page.Item) {
		for _, it := range items {
			switch v := it.(type) {
			case *page.Group:
				walk(v.Items)
			case page.Text:
				out = append(out, v.String)
			}
		}
	}
	walk(p.Items)
	return out
}

func utmHills(t *testing.T) *dem.Grid {
	return made(t, "EPSG:32617", 200000, 4020000, 30, -30, 240, 200, hills)
}

// tintOf is the picture laid over the map's ground.
func tintOf(t *testing.T, p *page.Page) page.Picture {
	t.Helper()
	g := groupOf(p, "view")
	require.NotNil(t, g)
	return g.Items[0].(page.Picture)
}

// TestPostsOutOfSightAreTintedWhereTheyStand, whichever way the grid's rows and
// columns run.
func TestPostsOutOfSightAreTintedWhereTheyStand(t *testing.T) {
	t.Parallel()
	for name, turn := range map[string]struct{ dx, dy float64 }{
		"north up": {30, -30}, "rows northward": {30, 30}, "columns westward": {-30, -30}, "oblong posts": {45, -30},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			g := made(t, "EPSG:32617", 500000, 4020000, turn.dx, turn.dy, 90, 70, hills)
			at, err := g.Place(40, 30)
			require.NoError(t, err)
			p := view(t, g, []geodesy.LatLon{at}, visibility.ViewshedOptions{})
			d, _ := viewDocument(t, p)
			frames, err := p.Frames()
			require.NoError(t, err)
			proj, err := newProjection(frames[0].Centre, p.North, p.Scale)
			require.NoError(t, err)
			pic := tintOf(t, d.Pages[0])
			b := pic.Pixels.Bounds()
			hidden := 0
			for i, verdict := range p.View.Verdicts {
				q, err := p.View.Frame.Place(float64(i%g.Columns), float64(i/g.Columns))
				require.NoError(t, err)
				on, err := proj.place(q)
				require.NoError(t, err)
				_, _, _, alpha := pic.Pixels.At(int((on.X/pic.Rect.Width+0.5)*float64(b.Dx())), int((on.Y/pic.Rect.Height+0.5)*float64(b.Dy()))).RGBA()
				require.Equal(t, verdict == visibility.Hidden, alpha > 0, "post %d", i)
				if alpha > 0 {
					hidden++
				}
			}
			assert.Greater(t, hidden, 100)
		})
	}
}

func TestTheKeySaysWhatTheViewShows(t *testing.T) {
	t.Parallel()
	g := utmHills(t)
	at, err := g.Place(120, 90)
	require.NoError(t, err)
	p := view(t, g, []geodesy.LatLon{at}, visibility.ViewshedOptions{Radius: 1500})
	p.View.From[0].Name = "Camp"
	d, said := viewDocument(t, p)
	for _, want := range []string{"Ground seen", "So much of it.", "Camp", "Looked from here", "Ground out of sight from Camp, eye 1.6 m",
		"How far was looked: 1.50 km", "Not looked at", "Farthest ground seen, ", "Scale 1:", "Contour interval 20 metres", "Grid", "Assumed: an eye."} {
		assert.Contains(t, strings.ReplaceAll(said, "\n", " "), want)
	}
	assert.NotContains(t, said, "Not known whether it is seen")
	drawTo(t, "seen", d)

	p.Leg = &Leg{From: Place{Name: "Camp", At: at, Elevation: 400}, To: Place{Name: "Knob", At: p.View.From[0].At, Elevation: 400}}
	p.Leg.To.At.Lat += 0.01
	p.WithoutProfile = true
	_, said = viewDocument(t, p)
	assert.NotContains(t, said, "Looked from here", "the leg's start has a sign of its own")
}

// TestAViewTellsHowSureItIs: with the data's error there are three steps, each of
// its own tint and lines and named in the key; unknown ground stays its own.
func TestAViewTellsHowSureItIs(t *testing.T) {
	t.Parallel()
	g := utmHills(t)
	for r := 86; r < 94; r++ {
		for c := 124; c < 128; c++ {
			g.Elevations[r*g.Columns+c] = float32(math.NaN())
		}
	}
	at, err := g.Place(120, 90)
	require.NoError(t, err)
	p := view(t, g, []geodesy.LatLon{at}, visibility.ViewshedOptions{})
	seen, err := visibility.Viewshed(t.Context(), g, visibility.NewObserver(at), visibility.ViewshedOptions{})
	require.NoError(t, err)
	p.View.Likely, err = visibility.HowSureViewed(t.Context(), g, seen, visibility.Draws{VerticalError: 5, Samples: 20}, nil)
	require.NoError(t, err)
	p.View.From[0].Name = "Camp"
	p, err = p.FitScale(p.View.Judged(), at)
	require.NoError(t, err)
	d, said := viewDocument(t, p)
	said = strings.ReplaceAll(said, "\n", " ")
	for _, want := range []string{"Clear: 75 % chance to see it, or more", "Within the data's error: 25 to 75 %",
		"Ground out of sight from Camp, eye 1.6 m: under 25 %", "Not known whether it is seen", "20 grounds, drawn from the data's error of ±5.0 m"} {
		assert.Contains(t, said, want)
	}
	hidden, within := groupOf(d.Pages[0], "hidden"), groupOf(d.Pages[0], "within-error")
	require.NotNil(t, hidden)
	require.NotNil(t, within)
	assert.Empty(t, hidden.Items[0].(page.Stroke).Dash)
	assert.NotEmpty(t, within.Items[0].(page.Stroke).Dash, "told apart by its lines")
	require.NotNil(t, groupOf(d.Pages[0], "not-known"))
	alphas := map[uint8]int{}
	pic := tintOf(t, d.Pages[0]).Pixels
	for y := range pic.Bounds().Dy() {
		for x := range pic.Bounds().Dx() {
			_, _, _, a := pic.At(x, y).RGBA()
			alphas[uint8(a>>8)]++
		}
	}
	assert.Len(t, alphas, 3, "no tint, a light one and a deep one: %v", alphas)
	drawTo(t, "how-sure", d)

	p.View.Likely = nil
	_, said = viewDocument(t, p)
	assert.NotContains(t, said, "under 25 %")
	assert.NotContains(t, said, "error of ±")

	p.View.Likely = &visibility.ViewedLikelihood{Steps: make([]visibility.Step, 3)}
	_, err = Compose(t.Context(), p)
	require.ErrorIs(t, err, ErrPlan)
}

// TestRoomIsKeptForHowSureAViewIs: the frame is the same before it is known.
func TestRoomIsKeptForHowSureAViewIs(t *testing.T) {
	t.Parallel()
	g := utmHills(t)
	at, err := g.Place(120, 90)
	require.NoError(t, err)
	p := view(t, g, []geodesy.LatLon{at}, visibility.ViewshedOptions{})
	known := *p.View
	known.Likely = &visibility.ViewedLikelihood{Steps: make([]visibility.Step, len(known.Verdicts)), Model: visibility.ErrorModel{VerticalError: 5, Samples: 20}}
	unknown := known
	unknown.Verdicts, unknown.Frame = nil, nil
	unknown.Likely = &visibility.ViewedLikelihood{Model: visibility.ErrorModel{VerticalError: 5, Samples: 100}}
	p.View = &unknown
	before, err := p.Frames()
	require.NoError(t, err)
	p.View = &known
	after, err := p.Frames()
	require.NoError(t, err)
	assert.Equal(t, before, after)
}

func TestSeenFromManyIsAScale(t *testing.T) {
	t.Parallel()
	g := utmHills(t)
	var places []geodesy.LatLon
	for i := range 9 {
		at, err := g.Place(30+20*float64(i), 40+14*float64(i))
		require.NoError(t, err)
		places = append(places, at)
	}
	for _, n := range []int{2, 3, 5, 6, 9} {
		p := view(t, g, places[:n], visibility.ViewshedOptions{})
		p.View.Words = ""
		d, said := viewDocument(t, p)
		assert.Contains(t, said, fmt.Sprintf("\nOut of sight from all %d\n", n))
		assert.Contains(t, said, fmt.Sprintf("\nSeen from all %d: no tint\n", n))
		assert.Contains(t, said, fmt.Sprintf("\nSeen from 1 of %d\n", n))
		for i := range n {
			assert.Contains(t, said, fmt.Sprintf("\n%d\n", i+1), "the number of the place")
		}
		if n == 3 {
			drawTo(t, "seen-by-three", d)
		}
	}
	for n := 2; n <= 32; n++ {
		classes := (&View{From: make([]Place, n)}).classes(DefaultStyle())
		assert.Equal(t, 0, classes[0].hi)
		assert.Equal(t, n-1, classes[len(classes)-1].hi)
		for i := 1; i < len(classes); i++ {
			assert.Equal(t, classes[i-1].hi+1, classes[i].lo)
			assert.Less(t, classes[i].alpha, classes[i-1].alpha-20, "told apart")
		}
		assert.Greater(t, classes[len(classes)-1].alpha, uint8(20), "told from ground that all see")
	}
}

func TestUnknownGroundIsHatched(t *testing.T) {
	t.Parallel()
	// a bowl, in which all is seen but for the void
	g := made(t, "EPSG:32617", 500000, 4020000, 30, -30, 240, 200, func(c, r float64) float64 { return 400 + math.Hypot(c-120, r-90) })
	for r := 60; r < 80; r++ {
		for c := 60; c < 90; c++ {
			g.Elevations[r*g.Columns+c] = float32(math.NaN())
		}
	}
	at, err := g.Place(120, 90)
	require.NoError(t, err)
	p := view(t, g, []geodesy.LatLon{at}, visibility.ViewshedOptions{})
	d, said := viewDocument(t, p)
	assert.Contains(t, said, "Not known whether it is seen")
	assert.Contains(t, said, "No elevation data")
	east, err := g.Place(91, 70)
	require.NoError(t, err)
	proj, err := newProjection(*p.Centre, p.North, p.Scale)
	require.NoError(t, err)
	edge, err := proj.place(east)
	require.NoError(t, err)
	frame := tintOf(t, d.Pages[0]).Rect
	hatched := 0.0
	for _, line := range groupOf(d.Pages[0], "not-known").Items[0].(page.Stroke).Lines {
		hatched += line[0].Away(line[1])
		assert.Less(t, line[0].X, frame.Centre().X+edge.X+1, "east of the void nothing is unknown from the east")
	}
	assert.Greater(t, hatched, 50.0)
}

func TestASectorIsDrawn(t *testing.T) {
	t.Parallel()
	g := utmHills(t)
	at, err := g.Place(120, 90)
	require.NoError(t, err)
	sector := &visibility.Sector{From: 350, To: 80}
	p := view(t, g, []geodesy.LatLon{at}, visibility.ViewshedOptions{Sector: sector, Radius: 1200})
	d, said := viewDocument(t, p)
	assert.Contains(t, strings.ReplaceAll(said, "\n", " "), "How far was looked: 1.20 km, on true bearings 350° to 080°")
	// a quarter of the circle is drawn at more than the scale of all of it
	whole, err := Plan{}.FitScale(&g.Frame)
	require.NoError(t, err)
	assert.Less(t, p.Scale, whole.Scale/2)
	// the arc and two edges, all east or north of the observer
	assert.Len(t, groupOf(d.Pages[0], "limits").Items[1].(page.Stroke).Lines, 3)
}

func TestViewsThatMakeNoSenseAreRefused(t *testing.T) {
	t.Parallel()
	g := utmHills(t)
	at, err := g.Place(120, 90)
	require.NoError(t, err)
	good := view(t, g, []geodesy.LatLon{at}, visibility.ViewshedOptions{})
	for name, spoil := range map[string]func(v *View){
		"no frame":         func(v *View) { v.Frame = nil },
		"too few verdicts": func(v *View) { v.Verdicts = v.Verdicts[1:] },
		"nobody":           func(v *View) { v.From = nil },
		"no counts":        func(v *View) { v.From = append(v.From, v.From[0]) },
		"radius":           func(v *View) { v.Radius = math.NaN() },
	} {
		p, v := good, *good.View
		p.View = &v
		spoil(&v)
		_, err := Compose(context.Background(), p)
		assert.ErrorIs(t, err, ErrPlan, name)
	}
	p, v := good, *good.View
	p.View = &v
	v.From = []Place{{Name: "東", At: at, Elevation: math.NaN()}}
	d, err := Compose(context.Background(), p)
	require.NoError(t, err)
	assert.Len(t, d.Warnings, 1)
}

// TestAMapChoosesTheLargestScaleThatShowsAll of the ground, and paper for a
// scale.
func TestAMapChoosesTheLargestScaleThatShowsAll(t *testing.T) {
	t.Parallel()
	const slack = 0.01 // mm: what is written is as exact
	for name, g := range map[string]*dem.Grid{"grid": utmHills(t), "degrees": demoGround(t)} {
		for _, north := range []North{GridNorth, TrueNorth} {
			p := planOn(t, g, contour.Levels{Interval: 20})
			p.North = north
			fitted, err := p.FitScale(&g.Frame)
			require.NoError(t, err)
			holds := func(p Plan) bool {
				frames, err := p.Frames()
				require.NoError(t, err)
				require.Len(t, frames, 1)
				proj, err := newProjection(frames[0].Centre, p.North, p.Scale)
				require.NoError(t, err)
				m := frames[0].Map
				for _, c := range [][2]float64{{0, 0}, {1, 0}, {0, 1}, {1, 1}, {0.5, 0}, {0.5, 1}} {
					at, err := g.Place(c[0]*float64(g.Columns-1), c[1]*float64(g.Rows-1))
					require.NoError(t, err)
					q, err := proj.place(at)
					require.NoError(t, err)
					if math.Abs(q.X) > m.Width/2+slack || math.Abs(q.Y) > m.Height/2+slack {
						return false
					}
				}
				return true
			}
			assert.True(t, holds(fitted), name)
			larger := fitted
			larger.Scale /= 1.35
			assert.False(t, holds(larger), "%s: 1:%g could be larger", name, fitted.Scale)

			// on paper for its scale nothing of the map is off the posts, and all
			// but the corners that lean is on it
			p.Scale = fitted.Scale / 2
			paper, err := p.FitPaper(&g.Frame)
			require.NoError(t, err)
			paper.Style = DefaultStyle()
			drawn := compose(t, paper)
			drawTo(t, "paper-"+name, drawn)
			pg := drawn.Pages[0]
			checkPage(t, pg)
			assert.Nil(t, groupOf(pg, "no-elevation"), name)
			frames, err := paper.Frames()
			require.NoError(t, err)
			alongRow, alongColumn, err := g.Spacing(float64(g.Columns-1)/2, float64(g.Rows-1)/2)
			require.NoError(t, err)
			all := float64(g.Columns-1) * alongRow * float64(g.Rows-1) * alongColumn * 1e6 / p.Scale / p.Scale
			// the grid stands 5 degrees from its zone, and leans by 3
			assert.Greater(t, frames[0].Map.Width*frames[0].Map.Height, 0.85*all, name)
			p.Scale = 500
			_, err = p.FitPaper(&g.Frame)
			require.ErrorIs(t, err, ErrPlan)
		}
	}
}
