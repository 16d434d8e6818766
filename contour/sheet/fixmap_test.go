package sheet

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/contour/page"
	"crowline/dem/geodesy"
)

// The lines of a fix go through the place from their marks to the map's edge, its
// region is outlined and hatched, and where there is no place the map says so large.
func TestAFixOnAMap(t *testing.T) {
	t.Parallel()
	plane := geodesy.NewPlane(geodesy.LatLon{Lat: 46, Lon: 7.5})
	at := func(x, y float64) geodesy.LatLon { return plane.Inverse(x, y) }
	here := at(0, 0)
	fix := FixDrawing{Sure: true, Places: []Place{{Name: "The place", At: here, Elevation: math.NaN()}},
		Regions: [][]geodesy.LatLon{{at(-60, -60), at(60, -60), at(60, 60), at(-60, 60)}}}
	marks := []Place{{Name: "Knob", At: at(900, 300), Elevation: math.NaN()}, {Name: "Tower", At: at(-300, 1000), Elevation: math.NaN()}}
	for _, m := range marks {
		fix.Rays = append(fix.Rays, Ray{From: m.At, True: geodesy.Inverse(m.At, here).Start, Words: "read 123° true"})
	}
	plan := Plan{Scale: 25000, North: TrueNorth, Centre: &here, Points: marks, Fix: &fix}
	d, err := Compose(context.Background(), plan)
	require.NoError(t, err)
	pg := d.Pages[0]
	frames, err := plan.Frames()
	require.NoError(t, err)
	middle := frames[0].Map.Centre()
	rays := 0
	for _, item := range group(pg, "rays").Items {
		s, ok := item.(page.Stroke)
		if !ok || s.Color != DefaultStyle().Sight.Color {
			continue
		}
		for _, line := range s.Lines {
			nearest := math.Inf(1)
			for i := 1; i < len(line); i++ {
				d := line[i].Minus(line[i-1])
				along := max(0, min(1, middle.Minus(line[i-1]).Dot(d)/d.Dot(d)))
				nearest = min(nearest, middle.Away(line[i-1].Plus(d.Times(along))))
			}
			const exact = 0.01 // mm; a geodesic is straight to less on a page
			if nearest < exact {
				rays++
			}
		}
	}
	assert.Equal(t, len(marks), rays)
	assert.NotEmpty(t, group(pg, "region").Items)
	assert.Contains(t, textsOf(group(pg, "places")), "Knob")
	assert.Contains(t, textsOf(group(pg, "fix")), "The place")

	unsure := fix
	unsure.Sure, unsure.Banner = false, "NO PLACE TO WALK FROM YET"
	plan.Fix = &unsure
	d, err = Compose(context.Background(), plan)
	require.NoError(t, err)
	assert.Contains(t, textsOf(group(d.Pages[0], "rays")), "NO PLACE TO WALK FROM YET")
	assert.Contains(t, textsOf(group(d.Pages[0], "key")), "Best fit, no place to walk on")

	plan.Fix = &FixDrawing{}
	_, err = Compose(context.Background(), plan)
	assert.ErrorIs(t, err, ErrPlan)
}
