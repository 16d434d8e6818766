package profile

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// TestProfileDoesNotDependOnTheCRS: the same posts, stored on a grid in
// metres and on one in US survey feet, give the same profile; and the same
// smooth ground, taken at other posts in longitude and latitude, gives it
// within the error of interpolation.
func TestProfileDoesNotDependOnTheCRS(t *testing.T) {
	t.Parallel()
	metres, err := geodesy.NewCRS("EPSG:32616")
	require.NoError(t, err)
	feet, err := geodesy.NewCRS("+proj=utm +zone=16 +datum=WGS84 +units=us-ft +type=crs")
	require.NoError(t, err)
	// smooth ground by place: hills of 200 m, 2 km across
	ground := func(p geodesy.LatLon) float64 {
		return 600 + 200*math.Sin(float64(p.Lat)*350)*math.Cos(float64(p.Lon)*280)
	}
	fill := func(f dem.Frame) *dem.Grid {
		g := &dem.Grid{Frame: f, Elevations: make([]float32, f.Columns*f.Rows)}
		for r := range f.Rows {
			for c := range f.Columns {
				p, err := f.Place(float64(c), float64(r))
				require.NoError(t, err)
				g.Elevations[r*f.Columns+c] = float32(ground(p))
			}
		}
		return g
	}
	inMetres := fill(dem.Frame{Columns: 200, Rows: 200, X0: 740000, Y0: 4020000, DX: 30, DY: -30, CRS: metres})
	const foot = 1200.0 / 3937
	inFeet := &dem.Grid{Elevations: inMetres.Elevations, Frame: dem.Frame{Columns: 200, Rows: 200,
		X0: 740000 / foot, Y0: 4020000 / foot, DX: 30 / foot, DY: -30 / foot, CRS: feet}}
	corner, err := inMetres.Place(0, 0)
	require.NoError(t, err)
	const step = 1.0 / 3600
	inDegrees := fill(dem.Frame{Columns: 240, Rows: 200, X0: math.Round(float64(corner.Lon)*3600) / 3600, Y0: math.Round(float64(corner.Lat)*3600) / 3600,
		DX: step, DY: -step, CRS: geodesy.WGS84})

	a, err := inMetres.Place(40.3, 50.7)
	require.NoError(t, err)
	b, err := inMetres.Place(171.9, 138.2)
	require.NoError(t, err)
	var legs []*Leg
	for _, g := range []*dem.Grid{inMetres, inFeet, inDegrees} {
		leg, err := Trace(context.Background(), g, a, b)
		require.NoError(t, err)
		legs = append(legs, leg)
	}
	require.Len(t, legs[1].Points, len(legs[0].Points))
	for i, p := range legs[0].Points {
		assert.InDelta(t, p.Distance, legs[1].Points[i].Distance, 1e-4)
		assert.InDelta(t, p.Elevation, legs[1].Points[i].Elevation, 1e-4)
	}
	// Linear interpolation over 31 m of ground whose curvature is at most
	// 200 m x (350 rad/deg x deg/111 km)² errs by h²/8 of it: 0.24 m.
	const tolerance = 0.25 // m
	for _, p := range legs[0].Points {
		assert.InDelta(t, p.Elevation, legs[2].ElevationAt(p.Distance), 2*tolerance)
	}
	assert.InDelta(t, legs[0].Climb(5, 0).Ascent, legs[2].Climb(5, 0).Ascent, 6*tolerance)
}
