package sheet

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/contour/page"
	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/visibility"
)

// view is a map of what an observer sees of a grid.
func view(t *testing.T, g *dem.Grid, places []geodesy.LatLon, opts visibility.ViewshedOptions) SeenMap {
	t.Helper()
	m := SeenMap{Title: "Ground seen", Ground: g, Radius: opts.Radius, Sector: opts.Sector,
		Summary: []string{"So much of it."}, Notes: []string{"Assumed: an eye.", "Data: some."}}
	var views []*visibility.Viewed
	for _, p := range places {
		v, err := visibility.Viewshed(context.Background(), g, visibility.NewObserver(p), opts)
		require.NoError(t, err)
		views = append(views, v)
		m.Observers = append(m.Observers, SeenFrom{Place: p, Elevation: v.GroundElevation})
	}
	m.Window, m.Verdicts = views[0].Window, views[0].Verdicts
	if len(views) == 1 {
		if f := views[0].Summary.Farthest; f != nil {
			m.Farthest = &f.Place
		}
		return m
	}
	c, err := visibility.Combine(context.Background(), g, views)
	require.NoError(t, err)
	m.Window, m.SeenBy = c.Window, c.Count
	m.Verdicts = make([]visibility.Verdict, len(c.Count))
	for i, n := range c.Count {
		m.Verdicts[i] = visibility.Hidden
		if n > 0 {
			m.Verdicts[i] = visibility.Visible
		}
	}
	return m
}

func seenDocument(t *testing.T, m SeenMap) (*page.Document, []string) {
	t.Helper()
	d, err := m.Document(context.Background(), page.A4)
	require.NoError(t, err)
	require.Len(t, d.Pages, 1)
	checkPage(t, d.Pages[0])
	return d, pageTexts(d.Pages[0])
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

func picture(t *testing.T, p *page.Page) page.Picture {
	t.Helper()
	for _, it := range p.Items {
		if g, ok := it.(*page.Group); ok {
			for _, it := range g.Items {
				if pic, ok := it.(page.Picture); ok {
					return pic
				}
			}
		}
	}
	t.Fatal("no picture")
	return page.Picture{}
}

func utmHills(t *testing.T) *dem.Grid {
	return made(t, "EPSG:32617", 200000, 4020000, 30, -30, 240, 200, hills)
}

// Every post's square has its verdict's tint at its middle, whichever way the
// grid's rows and columns run.
func TestSeenPostsAreTintedWhereTheyStand(t *testing.T) {
	t.Parallel()
	for name, turn := range map[string]struct{ dx, dy float64 }{
		"north up": {30, -30}, "rows northward": {30, 30}, "columns westward": {-30, -30}, "oblong posts": {45, -30},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			g := made(t, "EPSG:32617", 500000, 4020000, turn.dx, turn.dy, 90, 70, hills)
			at, err := g.Place(40, 30)
			require.NoError(t, err)
			m := view(t, g, []geodesy.LatLon{at}, visibility.ViewshedOptions{})
			d, _ := seenDocument(t, m)
			pic := picture(t, d.Pages[0])
			b := pic.Pixels.Bounds()
			// metres a pixel, alike along rows and columns
			perX, perY := 90*math.Abs(turn.dx)/pic.Rect.Width, 70*math.Abs(turn.dy)/pic.Rect.Height
			assert.InDelta(t, 1, perX/perY, 1e-3, "aspect; the scale factor differs by less over 2 km")
			seen := 0
			for r := range g.Rows {
				for c := range g.Columns {
					// east and north decide where on paper, not row and column
					x, y := (float64(c)+0.5)/90, (float64(r)+0.5)/70
					if turn.dx < 0 {
						x = 1 - x
					}
					if turn.dy > 0 {
						y = 1 - y
					}
					red, _, blue, _ := pic.Pixels.At(int(x*float64(b.Dx())), int(y*float64(b.Dy()))).RGBA()
					tinted := red != blue
					require.Equal(t, m.Verdicts[r*g.Columns+c] == visibility.Visible, tinted, "post %d %d", c, r)
					if tinted {
						seen++
					}
				}
			}
			assert.Greater(t, seen, 100)
		})
	}
}

func TestSeenLegendSaysWhatTheMapShows(t *testing.T) {
	t.Parallel()
	g := utmHills(t)
	at, err := g.Place(120, 90)
	require.NoError(t, err)
	m := view(t, g, []geodesy.LatLon{at}, visibility.ViewshedOptions{Radius: 1500})
	m.Observers[0].Name = "Camp"
	d, texts := seenDocument(t, m)
	all := strings.Join(texts, "\n")
	for _, want := range []string{"Ground seen", "So much of it.", "Camp", "Seen from Camp, ", "Seen", "Hidden: relief without a tint",
		"Looked at ground within 1.50 km; pale beyond", "Farthest ground seen, ", "Scale about 1:", "N", "to the right of its columns", "Assumed: an eye.", "Map corners (WGS 84): "} {
		assert.Contains(t, all, want)
	}
	assert.NotContains(t, all, "Not known")
	assert.NotContains(t, all, "outside the elevation data")
	drawTo(t, "seen", d)

	m.Units, m.Radius = US, 40000
	_, texts = seenDocument(t, m)
	all = strings.Join(texts, "\n")
	assert.Contains(t, all, " ft")
	assert.Contains(t, all, "24.85 mi")
	assert.Contains(t, all, "Part of the circle lies outside the elevation data")
}

// True north's arrow is turned from the page's top by the grid's convergence,
// the other way.
func TestSeenNorthArrow(t *testing.T) {
	t.Parallel()
	g := utmHills(t)
	at, err := g.Place(119.5, 99.5)
	require.NoError(t, err)
	l := &seenLayout{SeenMap: &SeenMap{Ground: g, Window: g.Whole()}}
	factors, err := geodesy.GridInZone(at, 17)
	require.NoError(t, err)
	require.Less(t, float64(factors.Convergence), -1.0)
	assert.InDelta(t, -float64(factors.Convergence), l.trueNorth(), 0.005)
}

func TestSeenByManyIsAScale(t *testing.T) {
	t.Parallel()
	g := utmHills(t)
	var places []geodesy.LatLon
	for i := range 9 {
		at, err := g.Place(30+20*float64(i), 40+14*float64(i))
		require.NoError(t, err)
		places = append(places, at)
	}
	for _, n := range []int{2, 3, 5, 6, 9} {
		_, texts := seenDocument(t, view(t, g, places[:n], visibility.ViewshedOptions{}))
		all := "\n" + strings.Join(texts, "\n") + "\n"
		assert.Contains(t, all, "Seen by how many of the "+string(rune('0'+n))+":")
		for i := range n {
			assert.Contains(t, all, "\n"+string(rune('1'+i))+"\n", "the observer's number")
		}
	}
	for n := 1; n <= 32; n++ {
		classes := seenClasses(n)
		assert.Equal(t, 1, classes[0].lo)
		assert.Equal(t, n, classes[len(classes)-1].hi)
		for i := 1; i < len(classes); i++ {
			assert.Equal(t, classes[i-1].hi+1, classes[i].lo)
			assert.Less(t, grey(classes[i].tint), grey(classes[i-1].tint)-15, "told apart in grey")
		}
		// the deepest shadow on hidden ground is lighter than any tint in light
		assert.Less(t, grey(classes[0].tint), 255*(1-seenShadow))
	}
}

// grey is how bright a colour prints in grey (ITU-R BT.601 luma).
func grey(c page.Color) float64 {
	return 0.299*float64(c.R) + 0.587*float64(c.G) + 0.114*float64(c.B)
}

func TestUnknownGroundIsHatched(t *testing.T) {
	t.Parallel()
	g := utmHills(t)
	for r := 60; r < 80; r++ {
		for c := 60; c < 90; c++ {
			g.Elevations[r*g.Columns+c] = float32(math.NaN())
		}
	}
	at, err := g.Place(120, 90)
	require.NoError(t, err)
	d, texts := seenDocument(t, view(t, g, []geodesy.LatLon{at}, visibility.ViewshedOptions{}))
	assert.Contains(t, strings.Join(texts, "\n"), "Not known: no elevation there, or on the way to it")
	frame := picture(t, d.Pages[0]).Rect
	hatched := 0.0
	for _, it := range d.Pages[0].Items {
		if group, ok := it.(*page.Group); ok && group.ID == "not-known" {
			for _, line := range group.Items[0].(page.Stroke).Lines {
				hatched += line[0].Away(line[1])
				column := (line[0].X - frame.X) / frame.Width * 240
				assert.Less(t, column, 91.0, "east of the void nothing is unknown from the east")
			}
		}
	}
	assert.Greater(t, hatched, 50.0)
}

func TestSeenMapSector(t *testing.T) {
	t.Parallel()
	g := utmHills(t)
	at, err := g.Place(120, 90)
	require.NoError(t, err)
	sector := &visibility.Sector{From: 350, To: 80}
	d, texts := seenDocument(t, view(t, g, []geodesy.LatLon{at}, visibility.ViewshedOptions{Sector: sector, Radius: 1200}))
	assert.Contains(t, strings.Join(texts, "\n"), "Looked at ground within 1.20 km on true bearings 350° to 080°; pale beyond")
	for _, it := range d.Pages[0].Items {
		if group, ok := it.(*page.Group); ok && group.ID == "limits" {
			// the arc and two edges, all east or north of the observer
			assert.Len(t, group.Items[1].(page.Stroke).Lines, 3)
		}
	}
}

func TestSeenMapRefusesNonsense(t *testing.T) {
	t.Parallel()
	g := utmHills(t)
	at, err := g.Place(120, 90)
	require.NoError(t, err)
	good := view(t, g, []geodesy.LatLon{at}, visibility.ViewshedOptions{})
	for name, spoil := range map[string]func(m *SeenMap){
		"no ground":        func(m *SeenMap) { m.Ground = nil },
		"window beyond":    func(m *SeenMap) { m.Window.Columns++ },
		"too few verdicts": func(m *SeenMap) { m.Verdicts = m.Verdicts[1:] },
		"nobody":           func(m *SeenMap) { m.Observers = nil },
		"no counts":        func(m *SeenMap) { m.Observers = append(m.Observers, m.Observers[0]) },
		"radius":           func(m *SeenMap) { m.Radius = math.NaN() },
		"notes that fill the page": func(m *SeenMap) {
			m.Notes = []string{strings.Repeat("a long note about nothing much ", 900)}
		},
	} {
		m := good
		spoil(&m)
		_, err := m.Document(context.Background(), page.A4)
		assert.ErrorIs(t, err, ErrPlan, name)
	}
	m := good
	m.Title = "東"
	var glyph *page.GlyphError
	_, err = m.Document(context.Background(), page.A4)
	assert.True(t, errors.As(err, &glyph))

	m = good
	m.Observers = []SeenFrom{{Name: "東", Place: at, Elevation: math.NaN()}}
	d, err := m.Document(context.Background(), page.A4)
	require.NoError(t, err)
	assert.Len(t, d.Warnings, 1)

	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err = good.Document(ctx, page.A4)
	assert.ErrorIs(t, err, context.Canceled)
}
