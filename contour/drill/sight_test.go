package drill

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/units"
	"crowline/profile"
	"crowline/visibility"
)

// Questions of sight and of destinations, for many seeds, at every level and
// two scales, round places some kilometres apart, with their figures worked
// again.
func TestSightAndDestinationFigures(t *testing.T) {
	t.Parallel()
	around := []geodesy.LatLon{ridge, {Lat: 36.26, Lon: -84.295}, {Lat: 36.31, Lon: -84.25}}
	sights, destinations := map[visibility.Verdict]int{}, 0
	for seed := range uint64(4) {
		for i, level := range Levels {
			o := demoOptions(level, 100+seed)
			o.Around, o.Radius = around[(int(seed)+i)%len(around)], 5000
			o.Scale = []float64{25000, 50000}[seed%2]
			o.Kinds, o.Count = []Kind{Sight, Destination}, 8
			set := makeDemo(t, o)
			for _, q := range set.Questions {
				if q.Kind == Destination {
					oneRiseHidesADestination(t, set.survey, q)
					destinations++
					continue
				}
				figuresOfTheWholeLine(t, set.survey, q)
				figuresOffTheDrawnLines(t, set.survey, q)
				sights[q.Data.(SightAnswer).Verdict]++
			}
		}
	}
	assert.Greater(t, sights[visibility.Visible], 12, "both answers are asked")
	assert.Greater(t, sights[visibility.Hidden], 12, "both answers are asked")
	assert.Greater(t, destinations, 36)
}

// plainGaps is the clearance of the straight line from the eye at A to the
// ground at B over every place where the leg crosses an edge of the ground,
// both ends left out: the ground lowered by d²/2R less refraction, on a
// sphere.
func plainGaps(t *testing.T, s *survey, a, b geodesy.LatLon) (out []gap, length float64) {
	t.Helper()
	leg, err := profile.Trace(context.Background(), s.grid, a, b)
	require.NoError(t, err)
	const sphere = 6371e3 // m; at 4 km the ellipsoid's radii move the drop by 4 mm
	lowered := func(p profile.Point) float64 {
		return p.Elevation - (1-0.13)*p.Distance*p.Distance/(2*sphere)
	}
	length = leg.Distance
	eye, target := lowered(leg.Points[0])+1.6, lowered(leg.Points[len(leg.Points)-1])
	for _, p := range leg.Points {
		if p.Distance > 0 && p.Distance < length-dem.NearLimit {
			out = append(out, gap{p.Distance, eye*(1-p.Distance/length) + target*p.Distance/length - lowered(p)})
		}
	}
	return out, length
}

// plainLeast is the least of the gaps where ground stands over the line. Else
// the walk from A on which the gap only grows is left out, and that back from
// B, and it is the least of the rest: false where there is none.
func plainLeast(gaps []gap, eye float64) (gap, bool) {
	least := slices.MinFunc(gaps, func(p, q gap) int { return compare(p.clearance, q.clearance) })
	if least.clearance < 0 {
		return least, true
	}
	first, before := 0, eye
	for first < len(gaps) && gaps[first].clearance > before {
		before = gaps[first].clearance
		first++
	}
	last, after := len(gaps)-1, 0.0
	for last >= 0 && gaps[last].clearance > after {
		after = gaps[last].clearance
		last--
	}
	if first > last {
		return gap{}, false
	}
	return slices.MinFunc(gaps[first:last+1], func(p, q gap) int { return compare(p.clearance, q.clearance) }), true
}

func compare(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// The figures of every sight answer are those of the whole line, ends and
// all, by a plain look at each crossing; they are in the words of the key;
// and they are what visibility says of the same two places.
func figuresOfTheWholeLine(t *testing.T, s *survey, q Question) {
	t.Helper()
	data := q.Data.(SightAnswer)
	a, b := q.Figure.Marks[0].At(), q.Figure.Marks[1].At()
	gaps, length := plainGaps(t, s, a, b)
	least, ok := plainLeast(gaps, 1.6)
	require.True(t, ok, q.Answer)
	const tol = 0.01 // m; the sphere for the ellipsoid
	assert.InDelta(t, least.clearance, data.ClearanceM, tol, q.Answer)
	assert.InDelta(t, least.distance, data.AtM, tol, q.Answer)
	assert.InDelta(t, length, data.DistanceM, tol)
	assert.Equal(t, data.Verdict == visibility.Hidden, least.clearance < 0)
	stretches := 0 // of ground over the line
	for i, g := range gaps {
		if g.clearance < 0 && (i == 0 || gaps[i-1].clearance >= 0) {
			stretches++
		}
	}
	assert.LessOrEqual(t, stretches, 1, q.Answer)
	assert.GreaterOrEqual(t, math.Abs(least.clearance), s.apart()-tol)
	from := min(least.distance, length-least.distance)
	assert.GreaterOrEqual(t, from, 2*s.spacing-tol, "well inside the line")
	assert.GreaterOrEqual(t, from, 6*s.o.Scale/1000-tol, "well inside the line on paper")

	leg, err := profile.Trace(context.Background(), s.grid, a, b)
	require.NoError(t, err)
	sight, err := visibility.Along(leg, s.observer(a), s.conditions())
	require.NoError(t, err)
	assert.Equal(t, sight.Verdict, data.Verdict)
	if sight.Verdict == visibility.Hidden {
		assert.InDelta(t, sight.Clearance, data.ClearanceM, 0)
		assert.InDelta(t, sight.ClearanceAt, data.AtM, 0)
	} else { // the crest's: next to the ends the line comes nearer
		assert.GreaterOrEqual(t, data.ClearanceM, sight.Nearest)
	}

	assert.Contains(t, q.Answer, fmt.Sprintf("%.0f m", math.Abs(data.ClearanceM)))
	assert.Contains(t, q.Answer, s.distance(data.AtM)+" from A")
	i := slices.IndexFunc(q.Working, func(w string) bool { return len(w) > 0 && w[0] == 'T' })
	require.GreaterOrEqual(t, i, 0)
	assert.Contains(t, q.Working[i], s.distance(data.AtM)+" from A")
	assert.Contains(t, q.Working[i], fmt.Sprintf("the ground is at %.0f m and the line at %.0f m",
		leg.ElevationAt(data.AtM), leg.ElevationAt(data.AtM)+data.ClearanceM))
}

// A profile drawn by hand from the lines on the map, where the leg cuts them,
// gives the answer of the key and a figure that the key calls good.
func figuresOffTheDrawnLines(t *testing.T, s *survey, q Question) {
	t.Helper()
	data := q.Data.(SightAnswer)
	assert.LessOrEqual(t, data.LowestM, data.ClearanceM)
	assert.GreaterOrEqual(t, data.HighestM, data.ClearanceM)
	assert.LessOrEqual(t, data.HighestM-data.LowestM, 1.5*s.interval())
	a, b := q.Figure.Marks[0].At(), q.Figure.Marks[1].At()
	all := cuts(t, s, a, b)
	slices.SortFunc(all, func(p, q cut) int { return compare(p.distance, q.distance) })
	from, err := dem.ElevationAt(s.grid, a)
	require.NoError(t, err)
	to, err := dem.ElevationAt(s.grid, b)
	require.NoError(t, err)
	var gaps []gap
	draw := func(distance, elevation float64) {
		share := distance / data.DistanceM
		gaps = append(gaps, gap{distance, (from+1.6)*(1-share) + to*share - elevation})
	}
	above := from > s.levels.Elevation(all[0].number) // the first line
	for i, c := range all {
		if i > 0 && all[i-1].number == c.number {
			half := s.interval() / 2 // a top
			if !above {
				half = -half // a hollow
			}
			draw((all[i-1].distance+c.distance)/2, s.levels.Elevation(c.number)+half)
		}
		if i > 0 && all[i-1].number != c.number {
			above = all[i-1].number > c.number
		}
		above = !above // cut through
		draw(c.distance, s.levels.Elevation(c.number))
	}
	least, ok := plainLeast(gaps, 1.6)
	require.True(t, ok, q.Answer)
	// m; a drawn line and the profile cut a cell's edges in the same
	// places but run apart between them, by a quarter of a post on a
	// slope of one in two at the most
	tol := 0.125 * s.spacing
	assert.GreaterOrEqual(t, least.clearance, data.LowestM-tol, q.Answer)
	assert.LessOrEqual(t, least.clearance, data.HighestM+tol, q.Answer)
	assert.Equal(t, data.Verdict == visibility.Hidden, least.clearance < 0, q.Answer)
}

// What hides a destination is one stretch of ground over the line from A, and
// the highest against the eye is on it; every other place where the ground
// rises towards the line and falls away again is clear of it by what is
// asked, or part of the same rise.
func oneRiseHidesADestination(t *testing.T, s *survey, q Question) {
	t.Helper()
	data := q.Data.(DestinationAnswer)
	a, b := q.Figure.Marks[0].At(), q.Figure.Marks[1].At()
	gaps, length := plainGaps(t, s, a, b)
	over := 0 // stretches of ground over the line
	from, to := 0.0, 0.0
	for i, g := range gaps {
		if g.clearance < 0 && (i == 0 || gaps[i-1].clearance >= 0) {
			over++
			from = g.distance
		}
		if g.clearance < 0 {
			to = g.distance
		}
	}
	assert.Equal(t, 1, over, q.Answer)
	const tol = 0.01 // m; the sphere for the ellipsoid
	assert.GreaterOrEqual(t, data.BlockedAtM, from-tol)
	assert.LessOrEqual(t, data.BlockedAtM, to+tol)
	least, _ := plainLeast(gaps, 1.6)
	assert.LessOrEqual(t, least.clearance, -s.apart()+tol)
	assert.InDelta(t, least.distance, data.BlockedAtM, s.spacing+tol, "the highest over the line is the highest against the eye")
	assert.Contains(t, q.Margin, fmt.Sprintf("%s from A the ground stands %.0f m above the line", s.distance(least.distance), -least.clearance))
	for i := 1; i+1 < len(gaps); i++ {
		g := gaps[i]
		if gaps[i-1].clearance < g.clearance || gaps[i+1].clearance <= g.clearance {
			continue
		}
		dip := math.Inf(-1) // between it and the rise
		for _, d := range gaps {
			if d.distance >= min(g.distance, data.BlockedAtM) && d.distance <= max(g.distance, data.BlockedAtM) {
				dip = max(dip, d.clearance)
			}
		}
		assert.True(t, g.clearance >= s.apart()-tol || dip < g.clearance+min(s.apart(), s.interval()/4)+tol, "%s: another rise at %.0f m of %.0f", q.Answer, g.distance, length)
	}
	assert.LessOrEqual(t, data.EarliestM, data.InViewAtM)
	assert.GreaterOrEqual(t, data.LatestM, data.InViewAtM)
	assert.LessOrEqual(t, max(data.LatestM-data.InViewAtM, data.InViewAtM-data.EarliestM), length/8+tol)
}

// The crest that settles a sight, of gaps drawn at random, is the least by the
// plain look from both ends.
func TestLowestCrestIsThePlainLeast(t *testing.T) {
	t.Parallel()
	const seed = 11
	r := rand.New(rand.NewPCG(seed, 0))
	none, found := 0, 0
	for range 2000 {
		line := []gap{{0, 1.6}}
		for i := range 3 + r.IntN(9) {
			line = append(line, gap{float64(i + 1), r.Float64()*40 - 5})
		}
		line = append(line, gap{float64(len(line)), 0})
		want, ok := plainLeast(line[1:len(line)-1], 1.6)
		i, got := lowest(line)
		require.Equal(t, ok, got, "seed %d: %v", seed, line)
		if !ok {
			none++
			continue
		}
		found++
		assert.Equal(t, want, line[i], "seed %d: %v", seed, line)
	}
	assert.Greater(t, none, 10)
	assert.Greater(t, found, 1000)
}

// Legs that were asked about with figures of part of the line (28 November
// 2026): a sight whose first and last 280 m were left out of its clearance,
// and a destination behind A's own brow that was said to lie behind the rise
// beyond.
func TestFiguresOfPartOfTheLine(t *testing.T) {
	t.Parallel()
	o := demoOptions(Leader, 1)
	o.Around, o.Radius, o.Scale = geodesy.LatLon{Lat: 36.26, Lon: -84.295}, 5000, 25000
	s := makeDemo(t, o).survey
	ctx := context.Background()
	post := func(lat, lon geodesy.Degrees) geodesy.LatLon {
		p, ok := s.nearestPost(geodesy.LatLon{Lat: lat, Lon: lon})
		require.True(t, ok)
		return p
	}
	// From both ends the gap only grows up to one place: no ground rises
	// towards the line, and there is no figure to ask for.
	for _, ends := range [][2]geodesy.LatLon{
		{post(36.26917, -84.27167), post(36.25917, -84.26500)}, // said to clear by 60 m, 950 m from A
		{post(36.27500, -84.29417), post(36.28667, -84.29667)}, // 85 m, 280 m from A
	} {
		gaps, _ := plainGaps(t, s, ends[0], ends[1])
		_, ok := plainLeast(gaps, 1.6)
		assert.False(t, ok)
		q, err := s.sightBetween(ctx, ends[0], ends[1], visibility.Visible)
		require.NoError(t, err)
		assert.Nil(t, q)
	}
	a, b := post(36.25750, -84.27000), post(36.24417, -84.27500)
	gaps, _ := plainGaps(t, s, a, b)
	assert.Less(t, gaps[slices.IndexFunc(gaps, func(g gap) bool { return g.distance > 90 })].clearance, 0.0, "A's own brow stands over the line")
	q, err := s.destinationBetween(ctx, a, b)
	require.NoError(t, err)
	assert.Nil(t, q, "two rises hide B")
}

// In feet the figures are the same.
func TestSightFiguresInFeet(t *testing.T) {
	t.Parallel()
	o := demoOptions(Leader, 4)
	o.Kinds, o.Count, o.Units = []Kind{Sight}, 6, units.US
	set := makeDemo(t, o)
	require.NotEmpty(t, set.Questions)
	for _, q := range set.Questions {
		gaps, _ := plainGaps(t, set.survey, q.Figure.Marks[0].At(), q.Figure.Marks[1].At())
		least, ok := plainLeast(gaps, 1.6)
		require.True(t, ok)
		assert.Contains(t, q.Answer, fmt.Sprintf("%.0f ft", math.Abs(least.clearance)/0.3048))
	}
	assert.Contains(t, set.Key(), "one standard deviation "+set.deviation())
	assert.Contains(t, set.deviation(), " ft")
}
