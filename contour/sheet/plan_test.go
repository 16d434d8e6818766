package sheet

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/contour"
	"crowline/contour/page"
	"crowline/dem/geodesy"
)

// What a sheet shows does not change when contours, profile, marks and
// declination are handed in, or the ground that was read would not fit it.
func TestFramesDoNotDependOnWhatComesLater(t *testing.T) {
	t.Parallel()
	for _, paper := range []page.Paper{page.A4, page.A3, page.Letter, {Width: 176, Height: 250}} {
		full := demoPlan(t)
		full.Paper = paper
		bare := full
		bare.Ground, bare.Contours, bare.Profile, bare.Marks, bare.Declination = nil, Contours{}, nil, nil, nil
		view := *full.View
		view.Verdicts = nil
		bare.View = &view
		want, err := full.Frames()
		require.NoError(t, err)
		got, err := bare.Frames()
		require.NoError(t, err)
		assert.Equal(t, want, got, "%v", paper)
	}
}

// Pages of a leg follow it from start to destination, each sharing a stretch
// with the next, and number themselves.
func TestPagesCoverTheLeg(t *testing.T) {
	t.Parallel()
	from, to := ll(36.20, -84.40), ll(36.42, -84.10)
	nan := math.NaN()
	p := Plan{Scale: 25000, Leg: &Leg{From: Place{Name: "W", At: from, Elevation: nan}, To: Place{Name: "E", At: to, Elevation: nan}}}
	frames, err := p.Frames()
	require.NoError(t, err)
	require.Greater(t, len(frames), 3)
	d := compose(t, p)
	require.Len(t, d.Pages, len(frames))
	on := make([]int, 1001)
	for pg, f := range frames {
		proj, err := newProjection(f.Centre, GridNorth, p.Scale)
		require.NoError(t, err)
		for i, at := range geodesy.Waypoints(from, to, 1000) {
			q, err := proj.place(at)
			require.NoError(t, err)
			c := f.Map.Centre()
			if f.Map.Contains(q.Add(c.X, c.Y)) {
				on[i]++
			}
			e := f.Extent
			if f.Map.Contains(q.Add(c.X, c.Y)) {
				assert.True(t, at.Lat >= e.South && at.Lat <= e.North && at.Lon >= e.West && at.Lon <= e.East)
			}
		}
		var b bytes.Buffer
		require.NoError(t, d.WriteSVG(&b, pg))
		assert.Contains(t, b.String(), fmt.Sprintf("page %d of %d", pg+1, len(frames)))
	}
	shared := 0
	for i, n := range on {
		assert.Positive(t, n, "%d thousandths along the leg", i)
		if n > 1 {
			shared++
		}
	}
	assert.Greater(t, shared, 20*(len(frames)-1), "neighbours share a stretch")

	p.Scale = 1000
	_, err = Compose(context.Background(), p)
	assert.ErrorIs(t, err, ErrPages)
}

func TestPlanRefusesNonsense(t *testing.T) {
	t.Parallel()
	good := kilometrePlan(t, GridNorth, ll(36.3, -84.2), 52)
	for name, spoil := range map[string]func(p *Plan){
		"no scale":        func(p *Plan) { p.Scale = 0 },
		"scale NaN":       func(p *Plan) { p.Scale = math.NaN() },
		"relief":          func(p *Plan) { p.Relief = 2 },
		"nowhere":         func(p *Plan) { p.Leg, p.Centre = nil, nil },
		"same ends":       func(p *Plan) { p.Leg.To = p.Leg.From },
		"declination NaN": func(p *Plan) { p.Declination = &Declination{East: geodesy.Degrees(math.NaN())} },
		"no frame":        func(p *Plan) { p.Contours.Lines = make([]contour.Line, 1) },
		"bad profile":     func(p *Plan) { p.Profile = &ProfileDrawing{} },
		"no room":         func(p *Plan) { p.Paper = page.Paper{Width: 148, Height: 148}; p.Profile = hump() },
	} {
		p := good
		leg := *good.Leg
		p.Leg = &leg
		spoil(&p)
		_, err := Compose(context.Background(), p)
		assert.ErrorIs(t, err, ErrPlan, name)
	}
	p := good
	p.Centre = &geodesy.LatLon{Lat: 86, Lon: 10}
	_, err := Compose(context.Background(), p)
	assert.ErrorContains(t, err, "true north up")
	p.North, p.Leg = TrueNorth, nil
	_, err = Compose(context.Background(), p)
	assert.NoError(t, err, "near a pole a sheet has true north up and no grid")

	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err = Compose(ctx, demoPlan(t))
	assert.ErrorIs(t, err, context.Canceled)
}

func TestNamesTheFaceLacksAreReportedNotGarbled(t *testing.T) {
	t.Parallel()
	p := kilometrePlan(t, GridNorth, ll(36.3, -84.2), 52)
	p.Leg.To.Name = "富士山"
	d := compose(t, p)
	require.Len(t, d.Warnings, 1)
	assert.Contains(t, d.Warnings[0], "富")
	_, texts := readSVG(t, svgOf(t, d))
	assert.Contains(t, texts, p.Leg.To.At.String())
	assert.Equal(t, "富士山", p.Leg.To.Name, "the caller's plan is left alone")

	// A title made of the names goes without; one that was asked for is refused.
	p.Title = ""
	d = compose(t, p)
	assert.Equal(t, "A to "+p.Leg.To.At.String(), d.Title)
	p.Title = "富士山"
	_, err := Compose(context.Background(), p)
	var glyphs *page.GlyphError
	assert.True(t, errors.As(err, &glyphs))
}

// What Save leaves can be opened: no half a file under the final name.
func TestSheetSaves(t *testing.T) {
	t.Parallel()
	d := compose(t, kilometrePlan(t, GridNorth, ll(36.3, -84.2), 52))
	dir := t.TempDir()
	for _, ext := range page.Formats {
		written, err := d.Save(filepath.Join(dir, "sheet"+ext), 72)
		require.NoError(t, err)
		require.Len(t, written, 1)
	}
}

// Whatever is typed, a paper that is accepted can be named again.
func FuzzParsePaper(f *testing.F) {
	for _, s := range []string{"a4", "letter", "250x400", "1e2x1e3", "x", "-1x200", "200 x 300", "0x1p8x200"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		p, err := page.ParsePaper(s)
		if err != nil {
			return
		}
		require.NoError(t, p.Validate())
		require.NotEmpty(t, p.Name)
	})
}
