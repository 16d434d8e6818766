package drill

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/contour"
	"crowline/contour/page"
	"crowline/contour/sheet"
	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/profile"
	"crowline/profile/magnetic"
	"crowline/visibility"
)

// each makes sets of one kind at some levels and hands every question on.
// Answers are then worked again by another way.
func each(t *testing.T, kind Kind, levels []Level, check func(t *testing.T, s *survey, q Question)) {
	t.Helper()
	n := 0
	for _, level := range levels {
		for seed := range uint64(2) {
			o := demoOptions(level, seed)
			o.Kinds = []Kind{kind}
			o.Count = 24 / len(levels)
			set := makeDemo(t, o)
			for _, q := range set.Questions {
				check(t, set.survey, q)
				n++
			}
		}
	}
	assert.GreaterOrEqual(t, n, 20, "too few questions to judge by")
}

// cut is where a leg meets a drawn contour line.
type cut struct {
	distance float64
	number   int
}

// cuts are the places where the straight leg from a to b meets the drawn
// lines: plain intersections of the lines' pieces with the leg's, on the
// grid's columns and rows. Nothing of the ground is asked.
func cuts(t *testing.T, s *survey, a, b geodesy.LatLon) (out []cut) {
	t.Helper()
	const pieces = 16 // a geodesic of 3 km bows by a few millimetres between 16 places
	var leg []contour.Position
	for _, p := range geodesy.Waypoints(a, b, pieces) {
		c, r, err := s.grid.Locate(p)
		require.NoError(t, err)
		leg = append(leg, contour.Position{Column: c, Row: r})
	}
	length := geodesy.Inverse(a, b).Distance
	cross := func(ax, ay, bx, by float64) float64 { return ax*by - ay*bx }
	low, high := leg[0], leg[0]
	for _, p := range leg {
		low = contour.Position{Column: min(low.Column, p.Column), Row: min(low.Row, p.Row)}
		high = contour.Position{Column: max(high.Column, p.Column), Row: max(high.Row, p.Row)}
	}
	for i := range s.lines {
		l := &s.lines[i]
		for k := 1; k < len(l.Points); k++ {
			p, q := l.Points[k-1], l.Points[k]
			if max(p.Column, q.Column) < low.Column || min(p.Column, q.Column) > high.Column ||
				max(p.Row, q.Row) < low.Row || min(p.Row, q.Row) > high.Row {
				continue
			}
			for j := 1; j < len(leg); j++ {
				u, v := leg[j-1], leg[j]
				if max(p.Column, q.Column) < min(u.Column, v.Column) || min(p.Column, q.Column) > max(u.Column, v.Column) ||
					max(p.Row, q.Row) < min(u.Row, v.Row) || min(p.Row, q.Row) > max(u.Row, v.Row) {
					continue
				}
				den := cross(v.Column-u.Column, v.Row-u.Row, q.Column-p.Column, q.Row-p.Row)
				if den == 0 {
					continue
				}
				along := cross(p.Column-u.Column, p.Row-u.Row, q.Column-p.Column, q.Row-p.Row) / den
				across := cross(p.Column-u.Column, p.Row-u.Row, v.Column-u.Column, v.Row-u.Row) / den
				if along >= 0 && along < 1 && across >= 0 && across < 1 {
					out = append(out, cut{length * (float64(j-1) + along) / pieces, l.Number})
				}
			}
		}
	}
	return out
}

// Contours counted where the legs cut the drawn lines.
func TestClimbsAreTheDrawnLines(t *testing.T) {
	t.Parallel()
	each(t, Climb, Levels, func(t *testing.T, s *survey, q Question) {
		data := q.Data.(ClimbAnswer)
		theKeysClimbIsTheLegs(t, s, q)
		least, letter := math.MaxInt, ""
		for i, l := range data.Legs {
			a, b := q.Figure.Marks[0].At(), q.Figure.Marks[i+1].At()
			all := len(cuts(t, s, a, b))
			from, err := dem.ElevationAt(s.grid, a)
			require.NoError(t, err)
			to, err := dem.ElevationAt(s.grid, b)
			require.NoError(t, err)
			// up + down are the cuts, up - down the levels between the ends
			climbed := math.Floor(to/s.interval()) - math.Floor(from/s.interval())
			assert.Equal(t, l.Up+l.Down, all, "leg to %s: %s", l.To, q.Answer)
			assert.InDelta(t, climbed, l.Up-l.Down, 0)
			if up := (all + int(climbed)) / 2; up < least {
				least, letter = up, l.To
			}
		}
		assert.Equal(t, data.Least, letter)
	})
}

// The closest four cuts of the drawn lines that follow one another up or
// down.
func TestSlopesAreTheDrawnLines(t *testing.T) {
	t.Parallel()
	each(t, Slope, []Level{Leader}, func(t *testing.T, s *survey, q Question) {
		data := q.Data.(SlopeAnswer)
		all := cuts(t, s, q.Figure.Marks[0].At(), q.Figure.Marks[1].At())
		best := math.Inf(1)
		sorted := make([]cut, len(all))
		copy(sorted, all)
		for i := range sorted {
			for j := i; j > 0 && sorted[j].distance < sorted[j-1].distance; j-- {
				sorted[j], sorted[j-1] = sorted[j-1], sorted[j]
			}
		}
		for i := 0; i+3 < len(sorted); i++ {
			up := sorted[i+1].number == sorted[i].number+1 && sorted[i+2].number == sorted[i].number+2 && sorted[i+3].number == sorted[i].number+3
			down := sorted[i+1].number == sorted[i].number-1 && sorted[i+2].number == sorted[i].number-2 && sorted[i+3].number == sorted[i].number-3
			if up || down {
				best = min(best, sorted[i+3].distance-sorted[i].distance)
			}
		}
		// m; inside a cell a drawn line runs straight between the cell's
		// edges, and so does the profile, but not between the same points
		tol := 0.25 * s.spacing
		assert.InDelta(t, best, data.RunM, tol, q.Answer)
		assert.InDelta(t, 100*3*s.interval()/data.RunM, data.Percent, 1e-9)
		assert.InDelta(t, math.Atan(data.Percent/100)*180/math.Pi, float64(data.Degrees), 1e-9)
	})
}

// The quarter rule by where a straight line up and down the slope cuts the
// drawn lines.
func TestElevationsAreReadFromTheDrawnLines(t *testing.T) {
	t.Parallel()
	tops := 0
	each(t, Elevation, Levels, func(t *testing.T, s *survey, q Question) {
		data := q.Data.(ElevationAnswer)
		at := q.Figure.Marks[0].At()
		h, err := dem.ElevationAt(s.grid, at)
		require.NoError(t, err)
		assert.InDelta(t, h, data.TrueM, 1e-9)
		assert.LessOrEqual(t, math.Abs(data.ReadM-h), 0.4*s.interval())
		lower := math.Floor(h/s.interval()) * s.interval()
		if data.Top != 0 {
			tops++
			assert.InDelta(t, lower+s.interval()/2, data.ReadM, 1e-9)
			return
		}
		// along the slope, by the cuts of a straight line with the drawn lines
		up, ok := s.uphill(at)
		require.True(t, ok)
		reach := s.paper(mostGapMM)
		first := func(b geodesy.TrueBearing, level float64) float64 {
			to, _ := geodesy.Direct(at, b, reach)
			near := math.Inf(1)
			for _, c := range cuts(t, s, at, to) {
				if s.levels.Elevation(c.number) == level {
					near = min(near, c.distance)
				}
			}
			return near
		}
		toUpper, toLower := first(up, lower+s.interval()), first(up.Back(), lower)
		const tol = 0.01 // mm of paper; the cut leg follows the geodesic
		assert.InDelta(t, data.GapMM, (toUpper+toLower)*1000/s.o.Scale, tol, q.Answer)
		assert.InDelta(t, data.Fraction*data.GapMM, toLower*1000/s.o.Scale, tol, q.Answer)
		want := lower + s.interval()/2
		switch fraction := toLower / (toLower + toUpper); {
		case fraction < 0.25:
			want = lower
		case fraction > 0.75:
			want = lower + s.interval()
		}
		assert.InDelta(t, want, data.ReadM, 1e-9)
	})
	assert.Positive(t, tops)
}

// Sight by the per-post test of the ground.
func TestSightsByThePerPostTest(t *testing.T) {
	t.Parallel()
	count := map[visibility.Verdict]int{}
	each(t, Sight, []Level{Leader}, func(t *testing.T, s *survey, q Question) {
		data := q.Data.(SightAnswer)
		count[data.Verdict]++
		assert.Equal(t, data.Verdict, perPost(t, s, q.Figure.Marks[0].At(), q.Figure.Marks[1].At()), q.Answer)
		assert.GreaterOrEqual(t, math.Abs(data.ClearanceM), s.apart())
	})
	assert.Greater(t, count[visibility.Visible], 5)
	assert.Greater(t, count[visibility.Hidden], 5)
}

func perPost(t *testing.T, s *survey, a, b geodesy.LatLon) visibility.Verdict {
	t.Helper()
	d := geodesy.Inverse(a, b)
	v, err := visibility.Reference(context.Background(), s.grid, s.observer(a), visibility.ViewshedOptions{
		Conditions: s.conditions(), Radius: d.Distance + 1,
		Sector: &visibility.Sector{From: geodesy.NewTrueBearing(geodesy.Degrees(d.Start) - 1), To: geodesy.NewTrueBearing(geodesy.Degrees(d.Start) + 1)}})
	require.NoError(t, err)
	c, r, err := v.Frame.Locate(b)
	require.NoError(t, err)
	return v.Verdicts[int(math.Round(r))*v.Window.Columns+int(math.Round(c))]
}

// A walker who stops every few metres and looks, along a line of its own from
// each stop: hidden before, seen after. The first stop is asked post by post.
func TestDestinationsByStoppingToLook(t *testing.T) {
	t.Parallel()
	each(t, Destination, []Level{Leader}, func(t *testing.T, s *survey, q Question) {
		data := q.Data.(DestinationAnswer)
		a, b := q.Figure.Marks[0].At(), q.Figure.Marks[1].At()
		assert.Equal(t, visibility.Hidden, perPost(t, s, a, b))
		g := geodesy.Inverse(a, b)
		whole, err := profile.Trace(context.Background(), s.grid, a, b)
		require.NoError(t, err)
		const (
			clear      = 5   // m of walking either side of the answer
			passedOver = 0.1 // m: the sight from a stop is a line of its own
		)
		for d := 0.0; d < g.Distance-10; d += 25 {
			if math.Abs(d-data.InViewAtM) < clear {
				continue
			}
			stop, _ := geodesy.Direct(a, g.Start, d)
			leg, err := profile.Trace(context.Background(), s.grid, stop, b)
			require.NoError(t, err)
			// Between posts the ground of a place is bilinear and the leg's is
			// straight: the walker stands on the leg's.
			for i := 1; i < len(whole.Points); i++ {
				if p, q := whole.Points[i-1], whole.Points[i]; p.Distance <= d && d < q.Distance {
					leg.Points[0].Elevation = p.Elevation + (q.Elevation-p.Elevation)*(d-p.Distance)/(q.Distance-p.Distance)
				}
			}
			sight, err := visibility.Along(leg, s.observer(stop), s.conditions())
			require.NoError(t, err)
			want := visibility.Visible
			if d < data.InViewAtM {
				want = visibility.Hidden
			}
			if sight.Verdict != want && math.Abs(sight.Clearance) < passedOver {
				continue
			}
			assert.Equal(t, want, sight.Verdict, "%.0f m of %.0f, answer %.0f: clear by %.2f m", d, g.Distance, data.InViewAtM, sight.Clearance)
		}
		assert.LessOrEqual(t, data.EarliestM, data.InViewAtM)
		assert.GreaterOrEqual(t, data.LatestM, data.InViewAtM)
	})
}

// The ground at places along the line, asked one by one, is the profile that
// is said to be right, and none of the others.
func TestProfilesAreTheGround(t *testing.T) {
	t.Parallel()
	rights := map[int]int{}
	each(t, Profile, []Level{Leader}, func(t *testing.T, s *survey, q Question) {
		data := q.Data.(ProfileAnswer)
		require.Len(t, q.Figure.Profiles, choices)
		rights[data.Right]++
		places := geodesy.Waypoints(q.Figure.Marks[0].At(), q.Figure.Marks[1].At(), samples-1)
		for i, c := range q.Figure.Profiles {
			sum := 0.0
			for k, p := range places {
				h, err := dem.ElevationAt(s.grid, p)
				require.NoError(t, err)
				sum += (h - c.ElevationM[k]) * (h - c.ElevationM[k])
			}
			rms := math.Sqrt(sum / samples)
			const tol = 4 // m; inside a cell of 90 m the profile is straight, ElevationAt bilinear
			if i+1 == data.Right {
				assert.Less(t, rms, float64(tol))
			} else {
				assert.Greater(t, rms, s.profilesApart()-tol)
			}
		}
	})
	assert.Len(t, rights, choices, "every number is right now and then: %v", rights)
}

// Each landform looked at from its mark in sixteen directions, at the scale
// it was found at.
func TestLandformsLookAsTheyAreDefined(t *testing.T) {
	t.Parallel()
	seen := map[landform.Kind]int{}
	wrong := 0
	each(t, Landform, Levels, func(t *testing.T, s *survey, q Question) {
		data := q.Data.(LandformAnswer)
		seen[data.Landform]++
		at := q.Figure.Marks[0].At()
		h, err := dem.ElevationAt(s.grid, at)
		require.NoError(t, err)
		const n = 16
		var rise [n]float64
		for i := range rise {
			p, _ := geodesy.Direct(at, geodesy.TrueBearing(i*360/n), s.along.Scale/2)
			there, err := dem.ElevationAt(s.grid, p)
			require.NoError(t, err)
			rise[i] = there - h
		}
		low, high, lowPair, highPair := 0, 0, false, false
		for i, v := range rise {
			opposite := rise[(i+n/2)%n]
			if v < 0 {
				low++
			}
			if v > 0 {
				high++
			}
			lowPair = lowPair || v < 0 && opposite < 0
			highPair = highPair || v > 0 && opposite > 0
		}
		fits := map[landform.Kind]bool{
			landform.Hill: low == n, landform.Depression: high == n, landform.Saddle: lowPair && highPair,
			landform.Ridge: lowPair, landform.Spur: lowPair, landform.Valley: highPair, landform.Draw: highPair, landform.Cliff: true,
		}[data.Landform]
		if !fits {
			wrong++
			t.Logf("%s at %s: %v", data.Landform, at, rise)
		}
	})
	assert.Zero(t, wrong)
	assert.GreaterOrEqual(t, len(seen), 5, "%v", seen)
}

// Bearings off the page: the letters' places on the map as drawn, by plain
// trigonometry on millimetres.
func TestPageBearingsAreThoseOfThePage(t *testing.T) {
	t.Parallel()
	each(t, PageBearing, []Level{Leader}, func(t *testing.T, s *survey, q Question) {
		data := q.Data.(BearingAnswer)
		centre := q.Figure.Centre.At()
		pg := &page.Page{Width: 210, Height: 297}
		panel, err := sheet.DrawPanel(context.Background(), pg, sheet.Plan{Scale: s.o.Scale, Centre: &centre},
			page.Box(20, 20, panelMM, panelMM), "x", nil, nil)
		require.NoError(t, err)
		a, err := panel.Place(q.Figure.Marks[0].At())
		require.NoError(t, err)
		b, err := panel.Place(q.Figure.Marks[1].At())
		require.NoError(t, err)
		bearing := math.Atan2(b.X-a.X, a.Y-b.Y) * 180 / math.Pi
		assert.InDelta(t, 0, math.Remainder(bearing-data.Answer, 360), pageRounding+0.01)
		assert.InDelta(t, math.Hypot(b.X-a.X, b.Y-a.Y)*s.o.Scale/1000, data.DistanceM, 2) // m; the grid's scale over the map
	})
}

// The house's typed bearings give the same answers.
func TestNorthsByTypedBearings(t *testing.T) {
	t.Parallel()
	each(t, Norths, Levels, func(t *testing.T, s *survey, q Question) {
		d := q.Data.(BearingAnswer)
		var got float64
		switch d.GivenNorth + " to " + d.AnswerNorth {
		case "grid to magnetic":
			got = float64(magnetic.GridMagneticAngle(d.Angle).Magnetic(geodesy.GridBearing(d.Given)))
		case "magnetic to grid":
			got = float64(magnetic.GridMagneticAngle(d.Angle).Grid(geodesy.MagneticBearing(d.Given)))
		case "true to magnetic":
			got = float64(magnetic.Declination(d.Angle).Magnetic(geodesy.TrueBearing(d.Given)))
		case "magnetic to true":
			got = float64(magnetic.Declination(d.Angle).True(geodesy.MagneticBearing(d.Given)))
		case "true to grid":
			got = float64(geodesy.Convergence(d.Angle).Grid(geodesy.TrueBearing(d.Given)))
		default:
			t.Fatalf("%s to %s", d.GivenNorth, d.AnswerNorth)
		}
		assert.InDelta(t, got, d.Answer, 1e-9, q.Text)
	})
}

// The handbook's worked conversions, by the words the questions use (US Army
// TC 3-25.26): back azimuth of 92 is 272.
func TestBackBearings(t *testing.T) {
	t.Parallel()
	assert.Equal(t, geodesy.GridBearing(272), geodesy.GridBearing(92).Back())
	each(t, BackBearing, []Level{Leader}, func(t *testing.T, _ *survey, q Question) {
		d := q.Data.(BearingAnswer)
		assert.InDelta(t, 180, math.Abs(d.Answer-d.Given), 0)
		assert.True(t, d.Answer >= 0 && d.Answer < 360)
	})
}
