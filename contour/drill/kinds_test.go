package drill

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/demo"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/visibility"
)

var mountainGrid = sync.OnceValues(func() (*dem.Grid, error) {
	raster, err := gdalio.OpenBytes(demo.Name, demo.Bytes(), gdalio.Options{})
	if err != nil {
		return nil, err
	}
	defer raster.Close()
	return raster.Read(context.Background(), raster.Layout().Whole())
})

// grounds are the two that every answer of a kind is worked out anew on: hills
// with posts 92 m apart and mountains with posts 30 m apart.
func grounds(t *testing.T) map[string]struct {
	grid *dem.Grid
	o    Options
} {
	t.Helper()
	hills, err := demoGrid()
	require.NoError(t, err)
	mountains, err := mountainGrid()
	require.NoError(t, err)
	high := demoOptions(Intermediate, 0)
	high.Around, high.Radius = geodesy.LatLon{Lat: 34.3297, Lon: -118.0548}, 4000
	high.Landforms = landform.FeatureOptions{Scale: 500, MinRelief: 20}
	high.VerticalError = demo.VerticalError
	low := demoOptions(Intermediate, 0)
	return map[string]struct {
		grid *dem.Grid
		o    Options
	}{"hills": {hills, low}, "mountains": {mountains, high}}
}

// seeded asks a kind at twenty seeds on two grounds and hands every question
// on, with a stream of chance of its own. At least some must be found on each.
func seeded(t *testing.T, kind Kind, check func(t *testing.T, s *survey, q Question, r *rand.Rand)) {
	t.Helper()
	for name, ground := range grounds(t) {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			n := 0
			for seed := range uint64(20) {
				o := ground.o
				o.Seed, o.Kinds, o.Count = seed, []Kind{kind}, 1
				set, err := Make(context.Background(), ground.grid, o)
				if errors.Is(err, ErrNone) {
					continue
				}
				require.NoError(t, err, "seed %d", seed)
				for _, q := range set.Questions {
					check(t, set.survey, q, rand.New(rand.NewPCG(seed, uint64(q.Number))))
					assert.NotEmpty(t, q.Mistakes, q.Kind)
					for _, m := range q.Mistakes {
						assert.NotEqual(t, strings.TrimSuffix(short(q.Answer), "."), m.Answer, "a mistake is the answer")
					}
					n++
				}
			}
			assert.GreaterOrEqual(t, n, 15, "too few questions to judge by")
		})
	}
}

// The figures by MGRS, which cuts digits off a place; a mark read half a
// millimetre off is one tenth out at most, as the key allows.
func TestGridReferencesByMGRS(t *testing.T) {
	t.Parallel()
	seeded(t, GridReference, func(t *testing.T, s *survey, q Question, r *rand.Rand) {
		d := q.Data.(GridReferenceAnswer)
		six := func(at geodesy.LatLon) string {
			text, err := geodesy.MGRS(at, 6)
			require.NoError(t, err)
			return text[len(text)-6:len(text)-3] + " " + text[len(text)-3:]
		}
		assert.Equal(t, six(d.Mark.At()), d.Six)
		assert.Equal(t, d.Six[:2]+" "+d.Six[4:6], d.Four)
		assert.Equal(t, six(d.Plotted.At()), d.Plot)
		assert.Contains(t, q.Text, d.Plot)
		assert.NotContains(t, q.Text+q.Reading, d.Six)
		for range 50 {
			off, _ := geodesy.Direct(d.Mark.At(), geodesy.NewTrueBearing(geodesy.Degrees(360*r.Float64())), s.paper(0.5*r.Float64()))
			read := six(off)
			for _, k := range [][2]int{{0, 3}, {4, 7}} {
				var a, b int
				_, err := fmt.Sscan(strings.TrimLeft(read[k[0]:k[1]], "0")+" "+strings.TrimLeft(d.Six[k[0]:k[1]], "0"), &a, &b)
				if err != nil {
					continue // all zeros
				}
				apart := (a - b + 1000) % 1000
				assert.True(t, apart <= 1 || apart == 999, "%s against %s", read, d.Six)
			}
		}
	})
}

// The shape by ground asked every few metres against a straight ruler, the gaps
// by the cuts of the drawn lines, the sight by the per-post test.
func TestSlopeShapesByARuler(t *testing.T) {
	t.Parallel()
	seeded(t, SlopeShape, func(t *testing.T, s *survey, q Question, _ *rand.Rand) {
		d := q.Data.(SlopeShapeAnswer)
		a, b := q.Figure.Marks[0].At(), q.Figure.Marks[1].At()
		const steps = 200
		var h [steps + 1]float64
		for i, at := range geodesy.Waypoints(a, b, steps) {
			var err error
			h[i], err = dem.ElevationAt(s.grid, at)
			require.NoError(t, err)
		}
		assert.Greater(t, h[0], h[steps])
		for i := steps / 4; i <= steps*3/4; i++ {
			off := h[i] - (h[0] + (h[steps]-h[0])*float64(i)/steps)
			if d.Shape == Convex {
				assert.GreaterOrEqual(t, off, s.apart()-s.interval()/4, q.Answer)
			} else {
				assert.LessOrEqual(t, off, -s.apart()+s.interval()/4, q.Answer)
			}
		}
		upper, lower := 0, 0
		for _, c := range cuts(t, s, a, b) {
			if c.distance < d.DistanceM/2 {
				upper++
			} else {
				lower++
			}
		}
		assert.Equal(t, d.Shape == Concave, upper > lower, "%d above, %d below", upper, lower)
		assert.Equal(t, d.Verdict, perPost(t, s, a, b))
		assert.Equal(t, d.Shape == Concave, d.Verdict == visibility.Visible)
	})
}

// The profile passes where the leg cuts the drawn lines, and lies on the strip.
func TestProfilesToDrawByTheDrawnLines(t *testing.T) {
	t.Parallel()
	seeded(t, DrawProfile, func(t *testing.T, s *survey, q Question, _ *rand.Rand) {
		d := q.Data.(DrawProfileAnswer)
		a, b := q.Figure.Marks[0].At(), q.Figure.Marks[1].At()
		all := cuts(t, s, a, b)
		slices.SortFunc(all, func(x, y cut) int { return compare(x.distance, y.distance) })
		require.Len(t, d.Crossings.DistanceM, len(all))
		for i, c := range all {
			// A drawn line and the profile part by a share of a cell.
			assert.InDelta(t, c.distance, d.Crossings.DistanceM[i], 0.25*s.spacing)
		}
		require.NotNil(t, q.Figure.Blank)
		for _, h := range d.Profile.ElevationM {
			assert.True(t, h >= q.Figure.Blank.LowestM && h <= q.Figure.Blank.HighestM)
		}
		assert.Equal(t, d.Verdict, perPost(t, s, a, b))
	})
}

// The time by the lines counted where the leg cuts them; a student who is one
// contour and half a millimetre out at each end is within what is right.
func TestWalkTimesByTheDrawnLines(t *testing.T) {
	t.Parallel()
	seeded(t, WalkTime, func(t *testing.T, s *survey, q Question, r *rand.Rand) {
		d := q.Data.(WalkTimeAnswer)
		a, b := q.Figure.Marks[0].At(), q.Figure.Marks[1].At()
		all := cuts(t, s, a, b)
		slices.SortFunc(all, func(x, y cut) int { return compare(x.distance, y.distance) })
		from, err := dem.ElevationAt(s.grid, a)
		require.NoError(t, err)
		up, at := 0, math.Floor(from/s.interval())
		for _, c := range all {
			// Going up, the line met is the one above.
			if float64(c.number) > at {
				up++
				at = float64(c.number)
			} else {
				at = float64(c.number) - 1
			}
		}
		assert.Equal(t, up, d.Up)
		km := geodesy.Inverse(a, b).Distance / 1000
		assert.InDelta(t, 60*km/5+float64(up)*s.interval()/10, d.Minutes, 1e-6)
		assert.InDelta(t, 650*km, d.Paces, 1e-6)
		for range 200 {
			read := km + s.paper(0.5*(r.Float64()-0.5)+0.5*(r.Float64()-0.5))/1000
			minutes := 60*read/5 + float64(up+r.IntN(3)-1)*s.interval()/10
			assert.True(t, minutes >= d.LeastMinutes && minutes <= d.MostMinutes, "%v", minutes)
			assert.True(t, 650*read >= d.LeastPaces && 650*read <= d.MostPaces)
		}
	})
}

// The stream goes from post to neighbouring post, never uphill but by the
// data's error; plain steepest descent from A, as far as it gets, keeps to it;
// and so do grounds drawn anew with errors of the plainest kind: normal figures
// at posts, averaged with their neighbours.
func TestStreamsByPlainSteepestDescent(t *testing.T) {
	t.Parallel()
	kept, drawn := map[string]int{}, map[string]int{}
	var mu sync.Mutex
	seeded(t, Water, func(t *testing.T, s *survey, q Question, r *rand.Rand) {
		d := q.Data.(WaterAnswer)
		var way []geodesy.LatLon
		lowest := math.Inf(1)
		for i, p := range d.Stream {
			way = append(way, p.At())
			lowest = min(lowest, p.ElevationM)
			assert.LessOrEqual(t, p.ElevationM, lowest+max(s.interval()/4, s.o.VerticalError))
			if i > 0 {
				assert.Less(t, geodesy.Inverse(way[i-1], way[i]).Distance, 1.6*s.spacing)
			}
		}
		centre, err := geodesy.ToUTMZone(d.Mark.At(), s.zone)
		require.NoError(t, err)
		box := mapBox{centre, math.Inf(1), math.Inf(1)}
		assert.True(t, box.keepsTo(descent(s, d.Mark.At(), nil), way, s.paper(streamNear)))
		for range 20 {
			mu.Lock()
			drawn[t.Name()]++
			if box.keepsTo(descent(s, d.Mark.At(), averaged(r)), way, s.paper(streamNear)) {
				kept[t.Name()]++
			}
			mu.Unlock()
		}
	})
	t.Cleanup(func() {
		for name, n := range drawn {
			// Of 19 of 20 asked for, some are lost by choosing on 20 draws.
			assert.Greater(t, float64(kept[name]), 0.85*float64(n), "%s: %d of %d", name, kept[name], n)
		}
	})
}

// averaged is an error at a post, one standard deviation, shared with the
// posts round it: the mean of nine normal figures, times three.
func averaged(r *rand.Rand) func(c, row int) float64 {
	at := map[[2]int]float64{}
	figure := func(c, row int) float64 {
		k := [2]int{c, row}
		if _, ok := at[k]; !ok {
			at[k] = r.NormFloat64()
		}
		return at[k]
	}
	return func(c, row int) float64 {
		sum := 0.0
		for y := -1; y <= 1; y++ {
			for x := -1; x <= 1; x++ {
				sum += figure(c+x, row+y)
			}
		}
		return sum / 3
	}
}

// descent is plain steepest descent over the posts until a hollow, 20 posts at
// most: beyond, a hollow an error made would have to be filled.
func descent(s *survey, at geodesy.LatLon, errorAt func(c, row int) float64) []geodesy.LatLon {
	c, r, _ := s.grid.Locate(at)
	column, row := int(math.Round(c)), int(math.Round(r))
	h := func(c, r int) float64 {
		v := s.grid.Elevation(c, r)
		if errorAt != nil {
			v += s.o.VerticalError * errorAt(c, r)
		}
		return v
	}
	way := []geodesy.LatLon{at}
	for range 20 {
		dx, dy, _ := s.grid.Spacing(float64(column), float64(row))
		best, to := 0.0, [2]int{}
		for y := -1; y <= 1; y++ {
			for x := -1; x <= 1; x++ {
				if fall := (h(column, row) - h(column+x, row+y)) / math.Hypot(float64(x)*dx, float64(y)*dy); x != 0 || y != 0 {
					if fall > best {
						best, to = fall, [2]int{x, y}
					}
				}
			}
		}
		if best == 0 {
			break
		}
		column, row = column+to[0], row+to[1]
		p, _ := s.grid.Place(float64(column), float64(row))
		way = append(way, p)
	}
	return way
}

// Saddles by going round a circle of posts, crests and floors by the ground to
// either side; every saddle of the landforms in the square is among those told.
func TestTracedLinesByTheGroundBesideThem(t *testing.T) {
	t.Parallel()
	seeded(t, Tracing, func(t *testing.T, s *survey, q Question, _ *rand.Rand) {
		d := q.Data.(TracingAnswer)
		require.Len(t, d.Square, 4)
		side := geodesy.Inverse(d.Square[0].At(), d.Square[1].At()).Distance
		assert.InDelta(t, s.paper(squareMM), side, 0.002*side) // the grid's scale factor
		centre, err := geodesy.ToUTMZone(q.Figure.Centre.At(), s.zone)
		require.NoError(t, err)
		box := mapBox{centre, s.paper(squareMM / 2), s.paper(squareMM / 2)}
		told := map[geodesy.LatLon]bool{}
		for _, p := range d.Saddles {
			told[p.At()] = true
		}
		for _, f := range s.features {
			at, err := s.grid.Place(float64(f.Column), float64(f.Row))
			require.NoError(t, err)
			if _, _, on := box.off(at); on && f.Kind == landform.Saddle {
				assert.True(t, told[at], "a saddle of the square is not told")
			}
		}
		assert.Len(t, told, len(d.Saddles))
		assert.NotEmpty(t, d.Saddles)
		// At most of its posts a crest stands over the ground on both sides
		// within half of what landforms are told by, and a floor under it.
		beside := func(lines [][]Place, sign float64) {
			assert.NotEmpty(t, lines)
			for _, line := range lines {
				good := 0
				for i := 1; i+1 < len(line); i++ {
					along := geodesy.Inverse(line[i-1].At(), line[i+1].At()).Start
					both := true
					for _, turn := range []geodesy.Degrees{90, -90} {
						best := math.Inf(-1)
						for k := 1; k <= 8; k++ {
							p, _ := geodesy.Direct(line[i].At(), geodesy.NewTrueBearing(geodesy.Degrees(along)+turn), s.along.Scale/2*float64(k)/8)
							h, err := dem.ElevationAt(s.grid, p)
							require.NoError(t, err)
							best = max(best, sign*(line[i].ElevationM-h))
						}
						both = both && best > 0
					}
					if both {
						good++
					}
				}
				assert.GreaterOrEqual(t, float64(good), 0.7*float64(len(line)-2))
			}
		}
		beside(d.Crests, 1)
		beside(d.Floors, -1)
	})
}

// The place by plain geometry on the grid; 1000 plots with the error of a
// protractor, of which the ellipse holds 95 of 100.
func TestCrossBearingsByPlottingThem(t *testing.T) {
	t.Parallel()
	for _, kind := range []Kind{Resection, Intersection} {
		t.Run(string(kind), func(t *testing.T) {
			t.Parallel()
			seeded(t, kind, func(t *testing.T, s *survey, q Question, r *rand.Rand) {
				d := q.Data.(CrossBearingsAnswer)
				var e, n [2]float64
				for i, m := range q.Figure.Marks {
					u, err := geodesy.ToUTMZone(m.At(), s.zone)
					require.NoError(t, err)
					e[i], n[i] = u.Easting, u.Northing
				}
				plot := func(slip float64) (float64, float64) {
					var b [2]float64
					for i := range b {
						b[i] = (d.BearingsDeg[i] + slip*r.NormFloat64()) * math.Pi / 180
					}
					// The place solves (x - xi) cos b = (y - yi) sin b for both.
					a1, b1, c1 := math.Cos(b[0]), -math.Sin(b[0]), e[0]*math.Cos(b[0])-n[0]*math.Sin(b[0])
					a2, b2, c2 := math.Cos(b[1]), -math.Sin(b[1]), e[1]*math.Cos(b[1])-n[1]*math.Sin(b[1])
					det := a1*b2 - a2*b1
					return (c1*b2 - c2*b1) / det, (a1*c2 - a2*c1) / det
				}
				x, y := plot(0)
				at, err := geodesy.ToUTMZone(d.Place.At(), s.zone)
				require.NoError(t, err)
				assert.InDelta(t, x, at.Easting, 0.01)
				assert.InDelta(t, y, at.Northing, 0.01)
				for i := range e {
					// From the place to a mark, or from a mark to the place.
					way := 90 - math.Atan2(n[i]-y, e[i]-x)*180/math.Pi
					if kind == Intersection {
						way += 180
					}
					assert.InDelta(t, 0, math.Remainder(way-d.BearingsDeg[i], 360), 1e-6)
				}
				near := 0
				for range 1000 {
					px, py := plot(plotError)
					if math.Hypot(px-x, py-y) <= d.MajorM {
						near++
					}
				}
				// Within the longer semi-axis lies at least what lies in the
				// ellipse, 95 of 100, but for chance: 4 standard errors.
				assert.Greater(t, near, 920)
			})
		})
	}
}
