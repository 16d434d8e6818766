package fix

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/visibility"
)

// shaped is ground within 6 km of here, its elevation a function of metres east
// and north.
func shaped(t *testing.T, elevation func(east, north float64) float64) *dem.Grid {
	t.Helper()
	g := tilted(t, 0, 0)
	for r := range g.Rows {
		for c := range g.Columns {
			p, err := g.Place(float64(c), float64(r))
			require.NoError(t, err)
			e, n := geodesy.NewPlane(here).Forward(p)
			g.Elevations[r*g.Columns+c] = float32(elevation(e, n))
		}
	}
	return g
}

// norths are how far north of here the places of a fix lie, metres.
func norths(t *testing.T, f *Fix) (out []float64) {
	t.Helper()
	for _, c := range append([]Candidate{f.Candidate}, f.Others...) {
		_, n := metres(t, here, c.Place)
		out = append(out, n)
	}
	return out
}

func toTheNorth(distance float64) []Bearing {
	return []Bearing{{Name: "mark", Place: at(here, 0, distance), True: 0}}
}

// Ridges 2 km apart, running east: going south from a mark 2 km north, the
// ground passes 200 m on each flank, at 0, 1, 2 ... km. No one of them is the
// place. At 250 m, the crests' height, there is one a ridge.
func TestRidgesLeaveSeveralPlaces(t *testing.T) {
	t.Parallel()
	const flank = 50 * math.Pi / 1000 // rise per metre where it passes 200 m
	grid := shaped(t, func(_, n float64) float64 { return 200 + 50*math.Sin(n*math.Pi/1000) })
	f, err := Resect(context.Background(), toTheNorth(2500), Options{Posts: grid, Altimeter: &Altimeter{Elevation: 200, Error: 3}, VerticalError: 4})
	require.NoError(t, err)
	assert.True(t, f.Ambiguous())
	require.Len(t, f.Others, mostOthers-1)
	assert.Zero(t, f.Further)
	for i, n := range norths(t, f) { // nearest first
		assert.InDelta(t, 2000-1000*float64(i), n, 1, "m; a chord of 30 m of the sine bulges 0.5 m")
	}
	// the bearing's width, and sqrt(3²+4²) of altimeter on the flank; the flank
	// flattens toward the crest, which adds some
	e := f.Others[1].Ellipse(OneSigma)
	assert.InDelta(t, 2500*math.Tan(2*math.Pi/180), e.SemiMajor, 3)
	assert.InDelta(t, 5/flank, e.SemiMinor, 2)
	assert.InDelta(t, 0, math.Remainder(float64(f.Weakest()), 180), 0.1, "they lie along the bearing")

	require.Contains(t, kinds(f), Ambiguous)
	require.Contains(t, kinds(f), OffData)
	for _, w := range f.Warnings {
		switch w.Kind {
		case Ambiguous:
			assert.Contains(t, w.Sentence.Text(visibility.Metric), "8 places fit about as well")
		case OffData: // 6 km south of here
			assert.Contains(t, w.Sentence.Text(visibility.Metric), "the data ends 8.5 km from mark")
		case PoorGeometry:
			assert.Fail(t, "how one of several places is known is no matter")
		}
	}

	f, err = Resect(context.Background(), toTheNorth(3500), Options{Posts: grid, Altimeter: &Altimeter{Elevation: 250, Error: 3}, VerticalError: 4})
	require.NoError(t, err)
	for i, n := range norths(t, f) { // crests at 2500, 500 ...: what fits is nearly flat about them
		assert.InDelta(t, 2500-2000*float64(i), n, 30, "m; a post spacing")
	}
	assert.Len(t, f.Others, 4)
}

// A slope reaches the reading, and a hill behind it all but does: its top is 2
// or 8 m too low where the error is 5 m. Three times the error, and it is out.
func TestAHillALittleTooLowIsARival(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		low   float64
		rival bool
	}{{2, true}, {8, true}, {15, false}} {
		top := math.Inf(-1) // between posts 30 m apart, up to 4 m lower
		grid := shaped(t, func(e, n float64) float64 {
			hill := 200 - c.low - math.Hypot(e, n+3000)/5
			top = max(top, float64(float32(hill)))
			return max(100+(n+1000)/5, hill)
		})
		f, err := Resect(context.Background(), toTheNorth(1500), Options{Posts: grid, Altimeter: &Altimeter{Elevation: 200, Error: 5}})
		require.NoError(t, err)
		assert.InDelta(t, -500, norths(t, f)[0], 1)
		assert.Equal(t, c.rival, f.Ambiguous(), "%g m low", c.low)
		if c.rival {
			require.Len(t, f.Others, 1)
			assert.InDelta(t, -3000, norths(t, f)[1], 30) // m; a post spacing
			assert.InDelta(t, (200-top)*(200-top)/25, f.Others[0].ChiSquare, 0.5, "rays pass 16 m apart, up to 1 m below it")
		}
	}
}

// A hill beside the line of bearing, within twice its error, is a place to be
// too; one beyond is not.
func TestAHillBesideTheBearingIsARival(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		aside float64 // degrees
		rival bool
	}{{3, true}, {9, false}} {
		x, y := 4500*math.Sin(c.aside*math.Pi/180), 1500-4500*math.Cos(c.aside*math.Pi/180)
		grid := shaped(t, func(e, n float64) float64 {
			return max(100+(n+1000)/5, 230-math.Hypot(e-x, n-y)/2)
		})
		f, err := Resect(context.Background(), toTheNorth(1500), Options{Posts: grid, Altimeter: &Altimeter{Elevation: 200, Error: 5}})
		require.NoError(t, err)
		assert.Equal(t, c.rival, f.Ambiguous(), "%g degrees aside", c.aside)
		for _, o := range f.Others {
			assert.Less(t, geodesy.Inverse(o.Place, at(here, x, y)).Distance, 90.0) // m; 30 m of height at 1 in 2, and a spacing
		}
	}
}

// Of places that fit equally, those from which the mark is seen come first.
func TestPlacesThatSeeTheMarkComeFirst(t *testing.T) {
	t.Parallel()
	grid := shaped(t, func(_, n float64) float64 { return 200 + 50*math.Sin(n*math.Pi/1000) })
	f, err := Resect(context.Background(), toTheNorth(2500), Options{Posts: grid, Altimeter: &Altimeter{Elevation: 200, Error: 5},
		Sight: &Sight{EyeAboveGround: 1.6, Conditions: visibility.Conditions{TargetAboveGround: 40, Refraction: 0.13}}})
	require.NoError(t, err)
	order := ""
	for _, c := range append([]Candidate{f.Candidate}, f.Others...) {
		order += string(c.Bearings[0].Sight.String()[0])
	}
	// a mast of 40 m on a crest of 250 m: its own flank and the one across the
	// valley see it, over the next crest, 250 m too, no place at 200 m does
	assert.Equal(t, "vvhhhhhh", order)
	for _, w := range f.Warnings {
		assert.NotEqual(t, HiddenMark, w.Kind, "it is seen from some")
	}
}

// Level ground says nothing of the place, however far it reaches.
func TestLevelGroundIsNoFix(t *testing.T) {
	t.Parallel()
	for _, rise := range []float64{0, 0.001} {
		grid := shaped(t, func(_, n float64) float64 { return 200 + rise*n })
		_, err := Resect(context.Background(), toTheNorth(1500), Options{Posts: grid, Altimeter: &Altimeter{Elevation: 200, Error: 10}})
		require.ErrorIs(t, err, ErrNoFix)
		assert.ErrorContains(t, err, "the altimeter does not say where")
	}
	grid := shaped(t, func(_, n float64) float64 { return 200 + n/5 })
	_, err := Resect(context.Background(), toTheNorth(1500), Options{Posts: grid, Altimeter: &Altimeter{Elevation: 9000, Error: 10}})
	require.ErrorIs(t, err, ErrNoFix)
	assert.ErrorContains(t, err, "stands at the elevation read")
}

// A slope that passes the reading where the data ends: the place may be beyond.
func TestAPlaceAtTheDataEdge(t *testing.T) {
	t.Parallel()
	grid := shaped(t, func(_, n float64) float64 { return 200 + n/5 })
	f, err := Resect(context.Background(), toTheNorth(1500), Options{Posts: grid, Altimeter: &Altimeter{Elevation: 200 - 5900/5, Error: 20}})
	require.NoError(t, err)
	require.False(t, f.Ambiguous())
	var said bool
	for _, w := range f.Warnings {
		said = said || w.Kind == OffData && w.Sentence.Text(visibility.Metric) == "the ground that fits reaches to where the data ends: the place may lie farther out than the ellipse says"
	}
	assert.True(t, said, "%+v", f.Warnings)
}

// Two bearings that may as well be parallel bound no place; an altimeter does.
func TestAnAltimeterBoundsParallelBearings(t *testing.T) {
	t.Parallel()
	grid := shaped(t, func(_, n float64) float64 { return 200 + n/5 })
	f, err := Resect(context.Background(), []Bearing{{Name: "near", Place: at(here, 0, 1500), True: 0}, {Name: "far", Place: at(here, 0, 3000), True: 0}},
		Options{Posts: grid, Altimeter: &Altimeter{Elevation: 200, Error: 5}})
	require.NoError(t, err)
	assert.False(t, f.Ambiguous())
	assert.Less(t, geodesy.Inverse(here, f.Place).Distance, 1.0)
}

// Nothing is known to run over a gap in a line: a bearing that crosses only the
// gap meets no line, and one that passes a lone point is on it there.
func TestNoLineRunsOverAGap(t *testing.T) {
	t.Parallel()
	ends := []geodesy.LatLon{at(here, -900, 0), at(here, -400, 0), at(here, 400, 0), at(here, 900, 0)}
	whole := &Line{Error: 15, Points: ends}
	f, err := Resect(context.Background(), toTheNorth(2000), Options{Line: whole})
	require.NoError(t, err)
	assert.Less(t, geodesy.Inverse(here, f.Place).Distance, 0.1)

	_, err = Resect(context.Background(), toTheNorth(2000), Options{Line: &Line{Error: 15, Points: ends, Gaps: []int{2}}})
	require.ErrorIs(t, err, ErrNoFix)
	assert.ErrorContains(t, err, "does not come near the known line")

	lone := []geodesy.LatLon{ends[0], ends[1], at(here, 20, 300), ends[2], ends[3]}
	l := &Line{Error: 15, Points: lone, Gaps: []int{2, 3}}
	f, err = Resect(context.Background(), toTheNorth(2000), Options{Line: l})
	require.NoError(t, err)
	// 59 m of bearing against 15 m of point
	assert.Less(t, geodesy.Inverse(lone[2], f.Place).Distance, 5.0)
	d, _ := l.nearest(geodesy.NewPlane(lone[2]))
	assert.Less(t, d, 1e-6)
	d, _ = l.nearest(geodesy.NewPlane(at(here, 0, -50)))
	assert.InDelta(t, math.Hypot(20, 350), d, 0.1, "the lone point, not the gap between the others")

	for _, gaps := range [][]int{{0}, {5}, {2, 2}, {3, 2}} {
		_, err = Resect(context.Background(), toTheNorth(2000), Options{Line: &Line{Error: 15, Points: lone, Gaps: gaps}})
		assert.ErrorContains(t, err, "ascending")
	}
}

// A stream of many short pieces that bends away 40 m short of the bearing, 70 m
// wide there, fits, and so does where it crosses farther on.
func TestALineThatComesNearIsARival(t *testing.T) {
	t.Parallel()
	var points []geodesy.LatLon
	for e := -600.0; e <= -40; e += 8 {
		points = append(points, at(here, e, 0))
	}
	for e := -40.0; e >= -600; e -= 8 {
		points = append(points, at(here, e, -300))
	}
	for e := -600.0; e <= 600; e += 8 {
		points = append(points, at(here, e, -1500))
	}
	f, err := Resect(context.Background(), toTheNorth(2000), Options{Line: &Line{Error: 15, Points: points}})
	require.NoError(t, err)
	require.Len(t, f.Others, 1)
	assert.InDelta(t, -1500, norths(t, f)[0], 1)
	// its end, 300 m long, is one place
	assert.InDelta(t, -150, norths(t, f)[1], 160)
	assert.Greater(t, f.Others[0].ChiSquare, 0.2)
}

// Samples of a walk, and the parts of it that lie within 1 or pass through 0.
func TestWithin(t *testing.T) {
	t.Parallel()
	nan := math.NaN()
	for _, c := range []struct {
		name    string
		samples []float64
		want    []stretch
	}{
		{"none", nil, nil},
		{"all outside", []float64{3, 2, 5}, nil},
		{"steps across", []float64{3, -1.5}, []stretch{{2. / 3, 2. / 3, 2. / 3}}},
		{"comes near", []float64{3, 0.5, 0.25, 2}, []stretch{{1, 2, 2}}},
		{"at its end", []float64{3, 2, 1}, []stretch{{2, 2, 2}}},
		{"enters and crosses", []float64{3, 1, -1, -3}, []stretch{{1, 2, 1.5}}},
		{"leaves by a step across", []float64{0.5, -4.5, -9}, []stretch{{0, 0.1, 0.1}}},
		{"a void between", []float64{0.5, nan, -0.5}, []stretch{{0, 0, 0}, {2, 2, 2}}},
		{"two", []float64{3, -3, -3, 0.5, 3}, []stretch{{0.5, 0.5, 0.5}, {2 + 3/3.5, 3, 2 + 3/3.5}}},
		{"the passage nearest the middle", []float64{1, -0.5, 0.5, -0.5, 0.5, 1, 1, 1, 1}, []stretch{{0, 8, 3.5}}},
	} {
		got := within(c.samples, 1)
		require.Len(t, got, len(c.want), c.name)
		for i, w := range c.want {
			assert.InDelta(t, w.from, got[i].from, 1e-12, c.name)
			assert.InDelta(t, w.to, got[i].to, 1e-12, c.name)
			assert.InDelta(t, w.at, got[i].at, 1e-12, c.name)
		}
	}
}
