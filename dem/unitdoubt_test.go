package dem

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
)

func TestUnitDoubt(t *testing.T) {
	t.Parallel()
	g := rough(lonLatFrame(100, 100), 9)
	var known []Known
	for i, at := range [][2]float64{{20, 30}, {50, 50}, {70.5, 20.25}, {33, 81}} {
		p, err := g.Place(at[0], at[1])
		require.NoError(t, err)
		h, err := ElevationAt(g, p)
		require.NoError(t, err)
		known = append(known, Known{Name: string(rune('A' + i)), Place: p, Elevation: h + 3})
	}
	scaled := func(by float32) *Grid {
		s := *g
		s.Elevations = make([]float32, len(g.Elevations))
		for i, h := range g.Elevations {
			s.Elevations[i] = h * by
		}
		return &s
	}
	outside := Known{Place: geodesy.LatLon{Lat: 10, Lon: 10}, Elevation: 1000}
	low := Known{Place: known[0].Place, Elevation: 30}
	assert.Empty(t, UnitDoubt(g, "metre", known))
	assert.Contains(t, UnitDoubt(scaled(1/0.3048), "metre", append(known, outside, low)), "the heights look to be in feet and were taken as metres")
	assert.Contains(t, UnitDoubt(scaled(0.3048), "foot", known), "the heights look to be in metres and were taken as feet")
	assert.Contains(t, UnitDoubt(scaled(0.3048), "US survey foot", known), "--height-unit m")
	assert.Contains(t, UnitDoubt(scaled(0.3048), "metre", known), "the elevations of the places look to be in feet")
	assert.Empty(t, UnitDoubt(scaled(1/0.3048), "foot", known), "feet three times over are no unit's")
	assert.Empty(t, UnitDoubt(scaled(2), "metre", known), "some other trouble")
	assert.Empty(t, UnitDoubt(scaled(1/0.3048), "metre", []Known{outside, low}))
	wrong := append([]Known{{Place: known[0].Place, Elevation: known[0].Elevation * 3.28}}, known...)
	assert.Empty(t, UnitDoubt(g, "metre", wrong), "one wrong figure among many")
	unnamed := []Known{{Place: known[1].Place, Elevation: known[1].Elevation}}
	assert.Contains(t, UnitDoubt(scaled(1/0.3048), "metre", unnamed), known[1].Place.String())
}

// TestHighMountainsInFeet: a summit of 14 000 ft read as metres is beyond
// any land and said to be feet perhaps; so is no summit of 4 300 m, no feet
// read as feet, and no value that is absurd in feet too.
func TestHighMountainsInFeet(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name        string
		summit      float32
		unit        string
		inFeet, any bool
	}{
		{"feet taken as metres", 14000, "metre", true, true},
		{"metres", 4300, "metre", false, false},
		{"absurd either way", 32767, "metre", false, true},
		{"feet, and absurd", 14000, "foot", false, true},
	} {
		g := tilted(lonLatFrame(60, 60))
		for i := range g.Elevations { // slopes of 30 degrees at most, 30 m posts
			c0, r0 := float64(i%60-30), float64(i/60-30)
			g.Elevations[i] = c.summit - float32(10*math.Hypot(c0, r0))
		}
		g.Source.VerticalUnit = c.unit
		watched := Watch(&memorySource{grid: g})
		read, err := watched.Read(t.Context(), g.Whole())
		require.NoError(t, err)
		text := strings.Join(read.Source.Warnings, " ")
		assert.Equal(t, c.inFeet, strings.Contains(text, "may be in feet and taken as metres"), "%s: %s", c.name, text)
		assert.Equal(t, c.any, strings.Contains(text, "beyond any land"), "%s: %s", c.name, text)
	}
}
