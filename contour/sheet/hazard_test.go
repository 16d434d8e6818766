package sheet

import (
	"context"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/contour/page"
	"crowline/dem/geodesy"
)

// hazardous is a leg of 2 km due north with steep ground from 500 to 700 m and a
// cliff beside it.
func hazardous() Plan {
	from := geodesy.LatLon{Lat: 46, Lon: 7.5}
	at := func(east, north float64) geodesy.LatLon {
		return geodesy.NewPlane(from).Inverse(east, north)
	}
	return Plan{Scale: 25000, North: TrueNorth, Paper: page.A4, WithoutProfile: true,
		Leg: &Leg{From: Place{Name: "A", At: from, Elevation: math.NaN()}, To: Place{Name: "B", At: at(0, 2000), Elevation: math.NaN()}},
		Hazards: []Hazard{
			{Kind: Steep, Parts: [][]geodesy.LatLon{{at(0, 500), at(0, 600), at(0, 700)}}},
			{Kind: Cliff, Parts: [][]geodesy.LatLon{{at(200, 900), at(260, 900), at(260, 930), at(200, 930)}, {at(300, 900)}}},
		}}
}

// Steep ground is rungs square to the line over just its stretch, and a cliff is
// solid: neither is told by a colour alone, and both are in the key.
func TestHazardsAreDrawnByShape(t *testing.T) {
	t.Parallel()
	d, err := Compose(context.Background(), hazardous())
	require.NoError(t, err)
	require.Len(t, d.Pages, 1)
	rungs, solid := 0, 0
	low, high := math.Inf(1), math.Inf(-1)
	for _, item := range group(d.Pages[0], "hazards").Items {
		switch x := item.(type) {
		case page.Stroke:
			if x.Width == rungWidth {
				for _, l := range x.Lines {
					rungs++
					assert.InDelta(t, l[0].Y, l[1].Y, 1e-6, "square to a leg due north") // mm
					assert.InDelta(t, 2*rungHalf, math.Abs(l[0].X-l[1].X), 1e-6)
					low, high = min(low, l[0].Y), max(high, l[0].Y)
				}
			}
		case page.Fill:
			if x.Color == page.Ink {
				solid++
			}
		}
	}
	assert.GreaterOrEqual(t, rungs, 6)
	const exact = 0.01 // mm; what the projection bends
	assert.InDelta(t, 8.0, high-low, exact, "200 m at 1:25 000 are 8 mm")
	assert.Equal(t, 1, solid)
	assert.Contains(t, textsOf(group(d.Pages[0], "key")), "BEWARE: cliff")

	bad := hazardous()
	bad.Hazards = []Hazard{{Kind: Steep, Parts: [][]geodesy.LatLon{{bad.Leg.From.At}}}}
	_, err = Compose(context.Background(), bad)
	assert.ErrorIs(t, err, ErrPlan)
}

// Two sightings of one mark share its sign and its words.
func TestOneSignForAMarkSightedTwice(t *testing.T) {
	t.Parallel()
	p := hazardous()
	top := geodesy.NewPlane(p.Leg.From.At).Inverse(-700, 1500)
	later := geodesy.NewPlane(p.Leg.From.At).Inverse(0, 800)
	p.Marks = []Mark{{Place: Place{Name: "top", At: top, Elevation: math.NaN()}, Label: "1"}, {Place: Place{Name: "top", At: top, Elevation: math.NaN()}, Label: "3", From: &later}}
	d, err := Compose(context.Background(), p)
	require.NoError(t, err)
	assert.Equal(t, 1, strings.Count(strings.Join(textsOf(group(d.Pages[0], "marks")), "\n"), "1, 3  top"))
}

func group(pg *page.Page, id string) *page.Group {
	for _, item := range pg.Items {
		if g, ok := item.(*page.Group); ok && g.ID == id {
			return g
		}
	}
	return &page.Group{}
}

func textsOf(g *page.Group) (out []string) {
	for _, item := range g.Items {
		if x, ok := item.(page.Text); ok {
			out = append(out, x.String)
		}
	}
	return out
}
