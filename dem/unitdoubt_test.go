package dem

import (
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
	assert.Empty(t, UnitDoubt(g, known))
	assert.Contains(t, UnitDoubt(scaled(1/0.3048), append(known, outside, low)), "look to be in feet and were taken as metres")
	assert.Contains(t, UnitDoubt(scaled(0.3048), known), "look to be in metres and were taken as feet")
	assert.Contains(t, UnitDoubt(scaled(0.3048), known), "--height-unit m")
	assert.Empty(t, UnitDoubt(scaled(2), known), "some other trouble")
	assert.Empty(t, UnitDoubt(scaled(1/0.3048), []Known{outside, low}))
	wrong := append([]Known{{Place: known[0].Place, Elevation: known[0].Elevation * 3.28}}, known...)
	assert.Empty(t, UnitDoubt(g, wrong), "one wrong figure among many")
}
