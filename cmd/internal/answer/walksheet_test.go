package answer

import (
	"cmp"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/contour/page"
	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/profile"
)

// TestAWalkHoldsWhatItSays: every leg and every point of a walk is asked anew by
// the plain definitions: lengths, slopes of the ground, cliffs, what catches, and
// that the walk comes back to where it set out.
func TestAWalkHoldsWhatItSays(t *testing.T) {
	t.Parallel()
	places := []Place{PlaceAt(geodesy.LatLon{Lat: 34.3297, Lon: -118.0548}), PlaceAt(geodesy.LatLon{Lat: 34.32, Lon: -118.12})}
	for _, around := range places {
		for _, points := range []int{0, 5} {
			r := WalkSheetRequest{Around: around, Radius: 1800, Points: points, Sighting: DefaultSighting(), Walk: DefaultWalk(), Lines: DefaultLines(), Paper: page.A4}
			r.Lines.Scale = 0
			require.NoError(t, r.Check())
			g, err := Open(t.Context(), Data{}, r.Reach())
			require.NoError(t, err)
			defer g.Close()
			a, err := WalkSheet(t.Context(), g, r)
			require.NoError(t, err)
			if points > 0 {
				require.Len(t, a.Points, points)
			}
			require.GreaterOrEqual(t, len(a.Points), leastWalkPoints)
			require.LessOrEqual(t, len(a.Points), mostWalkPoints)
			require.Len(t, a.Legs, len(a.Points))
			sum, up := 0.0, 0.0
			for i := range a.Legs {
				l, from, to := &a.Legs[i], &a.Points[i], &a.Points[(i+1)%len(a.Points)]
				require.Equal(t, from.At.LatLon(), l.From.LatLon())
				require.Equal(t, to.At.LatLon(), l.To.LatLon())
				assert.Equal(t, string(rune('A'+i)), from.Letter)
				line, err := profile.Trace(t.Context(), g.posts(t.Context()), from.At.LatLon(), to.At.LatLon())
				require.NoError(t, err)
				assert.LessOrEqual(t, line.Distance, min(r.Radius, 1200.0))
				assert.GreaterOrEqual(t, line.Distance, 200.0)
				slopes := line.Gradient()
				assert.Less(t, float64(max(slopes.Steepest, slopes.GroundSteepest)), 30.0)
				assert.Zero(t, line.Unknown())
				require.NotNil(t, l.Cliffs)
				assert.Empty(t, *l.Cliffs)
				require.NotNil(t, l.CatchingFeature, "nothing catches beyond %s", to.Letter)
				assert.LessOrEqual(t, l.CatchingFeature.LatestM, 500.0)
				assert.Equal(t, l.CatchingFeature, to.Catching)
				assert.LessOrEqual(t, geodesy.Inverse(around.LatLon, from.At.LatLon()).Distance, r.Radius)
				assert.LessOrEqual(t, from.SlopeDeg, 15.0)
				assert.Contains(t, []string{"top", "saddle", "end of a spur", "end of a ridge", "where two valleys meet"}, from.Kind)
				sum, up = sum+line.Distance, up+l.Climb.AscentM
				if from.Kind == "top" { // no post beside it is higher
					posts := g.posts(t.Context())
					c, row, err := posts.Layout().Locate(from.At.LatLon())
					require.NoError(t, err)
					at := posts.Elevation(int(math.Round(c)), int(math.Round(row)))
					for dc := -1; dc <= 1; dc++ {
						for dr := -1; dr <= 1; dr++ {
							assert.LessOrEqual(t, posts.Elevation(int(math.Round(c))+dc, int(math.Round(row))+dr), at)
						}
					}
				}
			}
			assert.InDelta(t, sum, a.Totals.DistanceM, 1e-6)
			assert.InDelta(t, up, a.Totals.AscentM, 1e-9)
		}
	}
}

// TestAWalkOnSteepGroundComesBackTheSameWay (2026-12-01): ground without a round
// has a walk to a last point and back. Both ways are as gentle, and clear of cliffs.
func TestAWalkOnSteepGroundComesBackTheSameWay(t *testing.T) {
	t.Parallel()
	terrain := filepath.Join(cmp.Or(os.Getenv("CROWLINE_TERRAIN"), "../../../../shared/dem"), "bigtujunga_srtm30.tif")
	if _, err := os.Stat(terrain); err != nil {
		t.Skip("no elevation files; set CROWLINE_TERRAIN to the folder that has bigtujunga_srtm30.tif")
	}
	for _, at := range []geodesy.LatLon{{Lat: 34.35, Lon: -118.2}, {Lat: 34.28, Lon: -118.15}, {Lat: 34.40, Lon: -118.0}} {
		r := WalkSheetRequest{Around: PlaceAt(at), Radius: 2000, Sighting: DefaultSighting(), Walk: DefaultWalk(), Lines: DefaultLines(), Paper: page.A4}
		g, err := Open(t.Context(), Data{Paths: []string{terrain}}, r.Reach())
		require.NoError(t, err)
		defer g.Close()
		a, err := WalkSheet(t.Context(), g, r)
		require.NoError(t, err)
		require.False(t, a.Round)
		require.GreaterOrEqual(t, len(a.Points), leastWalkPoints)
		require.Len(t, a.Legs, len(a.Points)-1)
		assert.Nil(t, a.Points[0].Catching)
		for i := range a.Legs {
			require.NotNil(t, a.Points[i+1].Catching)
			there, back := a.Points[i].At.LatLon(), a.Points[i+1].At.LatLon()
			assert.GreaterOrEqual(t, a.Legs[i].DistanceM, 120.0)
			for _, ends := range [][2]geodesy.LatLon{{there, back}, {back, there}} {
				l, err := Leg(t.Context(), g, LegRequest{From: PlaceAt(ends[0]), To: PlaceAt(ends[1]), Sighting: r.Sighting, Walk: r.Walk, Marks: 1})
				require.NoError(t, err)
				require.NotNil(t, l.Cliffs)
				assert.Empty(t, *l.Cliffs)
				assert.Less(t, max(l.Climb.SteepestDeg, l.Climb.GroundSteepestDeg), 30.0)
			}
		}
		path := filepath.Join(t.TempDir(), "walk.gpx")
		written, err := a.GPX()(t.Context(), path)
		require.NoError(t, err)
		require.Equal(t, []string{path}, written)
		places, err := gdalio.ReadPlaces(path)
		require.NoError(t, err)
		require.Len(t, places, len(a.Points))
		lines, err := gdalio.ReadLines(path)
		require.NoError(t, err)
		require.Len(t, lines, 1)
		require.Len(t, lines[0].Points, len(a.Points))
		for i, p := range lines[0].Points {
			assert.Less(t, geodesy.Inverse(p.LatLon, a.Points[i].At.LatLon()).Distance, 1.0)
		}
	}
}

// TestNoWalkOnAPlain: where nothing can be recognised none is made up.
func TestNoWalkOnAPlain(t *testing.T) {
	t.Parallel()
	grid := &dem.Grid{Frame: dem.Frame{Columns: 200, Rows: 200, X0: 10, Y0: 50, DX: 0.0003, DY: -0.0003, CRS: geodesy.WGS84}, Elevations: make([]float32, 200*200)}
	path := filepath.Join(t.TempDir(), "plain.tif")
	require.NoError(t, gdalio.WriteGeoTIFF(t.Context(), path, &grid.Frame, []gdalio.Band{{Float32: grid.Elevations}}))
	r := WalkSheetRequest{Around: PlaceAt(geodesy.LatLon{Lat: 49.97, Lon: 10.03}), Radius: 1500, Sighting: DefaultSighting(), Walk: DefaultWalk(), Lines: DefaultLines(), Paper: page.A4}
	g, err := Open(t.Context(), Data{Paths: []string{path}}, r.Reach())
	require.NoError(t, err)
	defer g.Close()
	_, err = WalkSheet(t.Context(), g, r)
	require.ErrorContains(t, err, "no walk for a class")
}

// TestWalkSheetsAreChecked: what makes no walk is refused before data is opened.
func TestWalkSheetsAreChecked(t *testing.T) {
	t.Parallel()
	good := WalkSheetRequest{Radius: 1500, Sighting: DefaultSighting(), Walk: DefaultWalk(), Lines: DefaultLines(), Paper: page.A4}
	require.NoError(t, good.Check())
	for name, spoil := range map[string]func(*WalkSheetRequest){
		"radius": func(r *WalkSheetRequest) { r.Radius = 100 }, "far": func(r *WalkSheetRequest) { r.Radius = 1e4 },
		"points": func(r *WalkSheetRequest) { r.Points = 9 }, "few": func(r *WalkSheetRequest) { r.Points = 4 },
		"scale": func(r *WalkSheetRequest) { r.Lines.Scale = 1 }, "paper": func(r *WalkSheetRequest) { r.Paper = page.Paper{} },
	} {
		r := good
		spoil(&r)
		assert.Error(t, r.Check(), name)
	}
}
