package cli

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/cmd/internal/answer"
	"crowline/dem/geodesy"
	"crowline/visibility/fix"
)

// Three summits of the Cumberland ground that are seen from legFrom, and the true
// bearings to them from there.
var fixMarks = [][2]float64{{36.27083, -84.29750}, {36.26500, -84.30333}, {36.20500, -84.28000}}

// standpoint is legFrom.
var standpoint = geodesy.LatLon{Lat: 36.26, Lon: -84.295}

// readings are --bearing flags with exact bearings, turned by some degrees.
func readings(turns ...float64) []string {
	var out []string
	for i, m := range fixMarks[:len(turns)] {
		g := geodesy.Inverse(standpoint, geodesy.LatLon{Lat: geodesy.Degrees(m[0]), Lon: geodesy.Degrees(m[1])})
		out = append(out, "--bearing", fmt.Sprintf("%.5f,%.5f=%.4f", m[0], m[1], float64(g.Start)+turns[i]))
	}
	return out
}

// fixSeen is what the tests look at of a fix's JSON.
type fixSeen struct {
	Method       string
	Place        *answer.Spot
	UTM          string
	Ellipse95    *answer.Ellipse `json:"ellipse_95"`
	EllipseSigma *answer.Ellipse `json:"ellipse_one_sigma"`
	Region       *answer.FixRegion
	FitToWalkOn  bool `json:"fit_to_walk_on"`
	Bearings     []struct {
		Name, Sight string
		GivenFrom   string  `json:"given_from_north"`
		ResidualDeg float64 `json:"residual_deg"`
		SightFilled bool    `json:"rests_on_filled"`
		OverCover   *struct {
			Sight   struct{ Verdict string }
			Depends bool `json:"depends_on_cover"`
		} `json:"over_cover"`
	}
	Ambiguous  bool
	Candidates []struct {
		Place     answer.Spot
		Ellipse95 *answer.Ellipse `json:"ellipse_95"`
		Region    *answer.FixRegion
		Bearings  []any
	}
	Further       int `json:"further_candidates"`
	Redundancy    int
	Altimeter     *answer.FixAltimeter
	Line          *answer.FixLine
	Warnings      []answer.FixWarning
	MarkErrorM    float64 `json:"mark_error_m"`
	SightsChecked bool    `json:"sights_checked"`
	GroundFilled  bool    `json:"ground_filled"`
	ElevationData any     `json:"elevation_data"`
}

func runFix(t *testing.T, arguments ...string) fixSeen {
	t.Helper()
	a := run(t, append([]string{"fix", "--json"}, arguments...)...)
	require.Equal(t, exitOK, a.code, a.err)
	var v fixSeen
	require.NoError(t, json.Unmarshal([]byte(a.out), &v))
	return v
}

// offset is how far a place is from where it should be, metres.
func offset(p *answer.Spot, want geodesy.LatLon) float64 {
	return geodesy.Inverse(p.LatLon(), want).Distance
}

const fixTolerance = 1.0 // m; bearings are written to 1e-4 degree, 0.01 m at 6 km

func TestFixFindsWhereTheBearingsWereTaken(t *testing.T) {
	t.Parallel()
	v := runFix(t, readings(0, 0, 0)...)
	assert.Less(t, offset(v.Place, standpoint), fixTolerance)
	assert.Equal(t, "resection", v.Method)
	assert.True(t, v.SightsChecked)
	for _, b := range v.Bearings {
		assert.Equal(t, "visible", b.Sight, b.Name)
		assert.InDelta(t, 0, b.ResidualDeg, 0.01)
	}
	assert.Greater(t, v.Ellipse95.SemiMajorM, v.Ellipse95.SemiMinorM)
	// 2.4477 is sqrt(-2 ln 0.05) (chi-square, two degrees of freedom)
	assert.InDelta(t, 2.4477, v.Ellipse95.SemiMajorM/v.EllipseSigma.SemiMajorM, 0.01)
	for _, w := range v.Warnings {
		assert.NotEqual(t, fix.Blunder, w.Kind)
	}
}

// TestMagneticAndTrueBearingsAgree: the declination there is taken off, by
// the flag or by the bearing's own letter.
func TestMagneticAndTrueBearingsAgree(t *testing.T) {
	t.Parallel()
	d := *describeAt(t)
	list := readings(-d, -d, -d)
	v := runFix(t, append(list, "--magnetic")...)
	assert.Less(t, offset(v.Place, standpoint), 5.0) // the declination above is rounded to 0.001 degree
	assert.Equal(t, "magnetic", v.Bearings[0].GivenFrom)
	for i := 1; i < len(list); i += 2 {
		list[i] += "m"
	}
	w := runFix(t, list...)
	assert.Equal(t, v.Place, w.Place)
	exact := readings(0, 0, 0)
	for i := 1; i < len(exact); i += 2 {
		exact[i] += "t"
	}
	assert.Less(t, offset(runFix(t, append(exact, "--magnetic")...).Place, standpoint), fixTolerance)
}

func describeAt(t *testing.T) *float64 {
	t.Helper()
	var v struct {
		Declination struct{ Deg float64 }
	}
	require.NoError(t, json.Unmarshal([]byte(run(t, "declination", legFrom, "--elevation", "723", "--json").out), &v))
	return &v.Declination.Deg
}

func TestIntersectFindsWhatWasSighted(t *testing.T) {
	t.Parallel()
	var flags []string
	for _, m := range fixMarks {
		g := geodesy.Inverse(geodesy.LatLon{Lat: geodesy.Degrees(m[0]), Lon: geodesy.Degrees(m[1])}, standpoint)
		flags = append(flags, "--bearing", fmt.Sprintf("%.5f,%.5f=%.4f", m[0], m[1], float64(g.Start)))
	}
	v := runFix(t, append(flags, "--intersect")...)
	assert.Equal(t, "intersection", v.Method)
	assert.Less(t, offset(v.Place, standpoint), fixTolerance)
}

func TestAWrongBearingIsSaid(t *testing.T) {
	t.Parallel()
	v := runFix(t, readings(0, 0, 25)...)
	require.NotEmpty(t, v.Warnings)
	assert.Equal(t, fix.Blunder, v.Warnings[0].Kind)
	a := run(t, append([]string{"fix"}, readings(0, 0, 25)...)...)
	assert.Contains(t, a.out, "Do not walk on this fix yet")
}

// TestOneBearingAndALine: the line runs through the standpoint, square to
// the bearing.
func TestOneBearingAndALine(t *testing.T) {
	t.Parallel()
	bearing := readings(0)
	g := geodesy.Inverse(standpoint, geodesy.LatLon{Lat: geodesy.Degrees(fixMarks[0][0]), Lon: geodesy.Degrees(fixMarks[0][1])})
	left, _ := geodesy.Direct(standpoint, geodesy.NewTrueBearing(geodesy.Degrees(g.Start)-90), 500)
	right, _ := geodesy.Direct(standpoint, geodesy.NewTrueBearing(geodesy.Degrees(g.Start)+90), 500)
	path := filepath.Join(t.TempDir(), "stream.gpx")
	require.NoError(t, os.WriteFile(path, []byte(fmt.Sprintf(
		`<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><name>stream</name><trkseg><trkpt lat="%.7f" lon="%.7f"/><trkpt lat="%.7f" lon="%.7f"/></trkseg></trk>
<trk><name>track</name><trkseg><trkpt lat="1" lon="2"/><trkpt lat="2" lon="2"/></trkseg></trk></gpx>`, left.Lat, left.Lon, right.Lat, right.Lon)), 0o644))
	v := runFix(t, append(bearing, "--line", path, "--line-name", "Stream")...)
	assert.Less(t, offset(v.Place, standpoint), fixTolerance)
	require.NotNil(t, v.Line)
	assert.Less(t, *v.Line.DistanceM, fixTolerance)

	a := run(t, append([]string{"fix", "--line", path}, bearing...)...)
	assert.Equal(t, exitUsage, a.code)
	assert.Contains(t, a.err, "--line-name")
}

// TestALineIsNotJoinedOverAPause: the bearing crosses a track only where its
// recording was paused.
func TestALineIsNotJoinedOverAPause(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "stream.gpx")
	write := func(pause string) {
		require.NoError(t, os.WriteFile(path, []byte(`<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><name>stream</name><trkseg>
<trkpt lat="36.26" lon="-84.305"/><trkpt lat="36.26" lon="-84.300"/>`+pause+`<trkpt lat="36.26" lon="-84.290"/><trkpt lat="36.26" lon="-84.285"/></trkseg></trk></gpx>`), 0o644))
	}
	write("")
	assert.Less(t, offset(runFix(t, append(readings(0), "--line", path)...).Place, standpoint), fixTolerance)
	write("</trkseg><trkseg>")
	a := run(t, append([]string{"fix", "--line", path}, readings(0)...)...)
	assert.Equal(t, exitError, a.code)
	assert.Contains(t, a.err, "does not come near the known line")
}

func TestAnAltimeterCounts(t *testing.T) {
	t.Parallel()
	v := runFix(t, append(readings(0, 0), "--altimeter", "2400ft")...)
	require.NotNil(t, v.Altimeter)
	assert.InDelta(t, 731.5, v.Altimeter.ElevationM, 0.1)
	assert.Equal(t, 1, v.Redundancy)
}

// TestSeveralPlacesAreNoFix: one bearing and an altimeter, and the ground along
// the bearing stands at that elevation in several places. None is called yours.
func TestSeveralPlacesAreNoFix(t *testing.T) {
	t.Parallel()
	arguments := append(readings(0), "--altimeter", "685m")
	v := runFix(t, arguments...)
	assert.True(t, v.Ambiguous)
	assert.Nil(t, v.Place)
	assert.Nil(t, v.Ellipse95)
	assert.Nil(t, v.EllipseSigma)
	assert.Empty(t, v.UTM)
	require.Greater(t, len(v.Candidates), 1)
	near := 0
	for i, c := range v.Candidates {
		if offset(&c.Place, standpoint) < c.Region.FarthestM {
			near++
		}
		assert.InDelta(t, 685, c.Place.ElevationM, 3*math.Hypot(10, 9.7), "%d", i)
		assert.Len(t, c.Bearings, 1)
	}
	assert.Equal(t, 1, near, "where the bearing was taken is one of them")
	assert.Equal(t, fix.Ambiguous, v.Warnings[0].Kind)

	text := checkWidth(t, append([]string{"fix"}, arguments...)...)
	assert.NotContains(t, text, "You are at")
	assert.Contains(t, text, "Where you may be")
	assert.Contains(t, text, fmt.Sprintf("%d places fit", len(v.Candidates)+v.Further))
	assert.Equal(t, len(v.Candidates), strings.Count(text, "if it is the one"))
	assert.Equal(t, strings.Count(text, "19 times"), strings.Count(text, "if it is the one"), "no other claim")
	assert.Contains(t, text, "tells these places apart")

	// tiles are opened as far out as the search goes
	tiles := runFix(t, append([]string{"--dem", demoTiles(t)}, arguments...)...)
	assert.Contains(t, v.Warnings[1].Text, "the data ends 12.5 km")
	assert.Contains(t, tiles.Warnings[1].Text, "the data ends 11.2 km", "14 rows of 92.5 m are in no tile")
	require.Len(t, tiles.Candidates, len(v.Candidates))
	for i, c := range tiles.Candidates {
		assert.Less(t, offset(&c.Place, geodesy.LatLon{Lat: geodesy.Degrees(v.Candidates[i].Place.Lat), Lon: geodesy.Degrees(v.Candidates[i].Place.Lon)}), 100.0, "a post spacing")
	}

	// seen from there, or pointed at from afar
	assert.Contains(t, run(t, append([]string{"fix", "--intersect"}, arguments...)...).out, "Where the point may be")
}

// TestMarksAreAsUnsureAsForFixSaysThem: the ellipse that landmarks --for-fix
// promises is the one that fix gives for those marks' bearings, and both say
// what marks were taken to be good to.
func TestMarksAreAsUnsureAsForFixSaysThem(t *testing.T) {
	t.Parallel()
	for _, mark := range []string{"", "40m"} {
		var extra []string
		if mark != "" {
			extra = []string{"--mark-error", mark}
		}
		a := run(t, append([]string{"landmarks", legFrom, "--for-fix", "--json"}, extra...)...)
		require.Equal(t, exitOK, a.code, a.err)
		var v landmarksAnswer
		require.NoError(t, json.Unmarshal([]byte(a.out), &v))
		set := v.ForFix.Three[0]
		for _, m := range set.Marks {
			extra = append(extra, "--bearing", fmt.Sprintf("%.7f,%.7f=%.2f", m.Lat, m.Lon, m.TrueDeg))
		}
		f := runFix(t, extra...)
		assert.Equal(t, v.ForFix.PlaceErrorM, f.MarkErrorM)
		if f.Ellipse95 == nil {
			// lines so flat bend within the patch that fits: it is a little longer
			const bend = 0.15
			require.NotNil(t, f.Region)
			assert.InDelta(t, 2*set.SemiMajorM, f.Region.LongestM, bend*2*set.SemiMajorM, "marks to %s", mark)
			assert.InDelta(t, 2*set.SemiMinorM, f.Region.AcrossM, bend*2*set.SemiMinorM, "marks to %s", mark)
			continue
		}
		const share = 0.01 // true north turns over the size of a fix, and bearings are kept to 0.01 degree
		assert.InDelta(t, set.SemiMajorM, f.Ellipse95.SemiMajorM, share*set.SemiMajorM, "marks to %s", mark)
		assert.InDelta(t, set.SemiMinorM, f.Ellipse95.SemiMinorM, share*set.SemiMajorM, "marks to %s", mark)
	}
	assert.Contains(t, run(t, append([]string{"fix"}, readings(0, 0)...)...).out, "compass good to 2° and marks to 15 m")
	assert.Contains(t, run(t, "landmarks", legFrom, "--for-fix").out, "compass good to 2° and marks to 15 m")
	for _, command := range []string{"fix", "landmarks"} {
		assert.Regexp(t, `(?s)--mark-error length.{0,160}\(default 15m\)`, run(t, command, "--help").out, command)
	}
}

// TestAFlatFixIsNoPlaceToWalkFrom: two lines that cross at 11 degrees. The answer
// opens with what it is not, and gives the ground that fits as a polygon.
func TestAFlatFixIsNoPlaceToWalkFrom(t *testing.T) {
	t.Parallel()
	arguments := []string{"--bearing", "46.03,7.0=356", "--bearing", "46.08,7.014=4.5"}
	v := runFix(t, arguments...)
	assert.False(t, v.FitToWalkOn)
	assert.Nil(t, v.Ellipse95)
	assert.Nil(t, v.EllipseSigma)
	require.NotNil(t, v.Region)
	ring := v.Region.Polygon.Coordinates[0]
	assert.Equal(t, ring[0], ring[len(ring)-1])
	assert.Equal(t, "Polygon", v.Region.Polygon.Type)
	assert.Greater(t, v.Region.FarthestM, 500.0)
	text := checkWidth(t, append([]string{"fix"}, arguments...)...)
	assert.True(t, strings.HasPrefix(text, "Not a place to walk from yet\n  The two lines cross at "), text)
	assert.NotContains(t, text, "You are at")
	assert.Contains(t, strings.Join(strings.Fields(text), " "), "fits. Take another bearing to something near west or east of you.")

	good := runFix(t, "--bearing", "46.01,7.0=0", "--bearing", "46.0,7.0144=90")
	assert.True(t, good.FitToWalkOn)
	assert.NotNil(t, good.Ellipse95)
	assert.Nil(t, good.Region)
}

// TestAFixOffTheDemoData needs no elevation data.
func TestAFixOffTheDemoData(t *testing.T) {
	onDemoGround(t)
	v := runFix(t, "--bearing", "46.01,7.0=0", "--bearing", "46.0,7.0144=90")
	assert.Nil(t, v.ElevationData)
	assert.False(t, v.SightsChecked)
	assert.Contains(t, run(t, "fix", "--json", "--bearing", "46.01,7.0=0", "--bearing", "46.0,7.0144=90").out, `"elevation_m": null`)
	for _, w := range v.Warnings {
		assert.NotEqual(t, fix.HiddenMark, w.Kind)
	}
}

func TestFixTextFitsATerminal(t *testing.T) {
	t.Parallel()
	for _, arguments := range [][]string{
		readings(0, 0, 0), readings(0, 0), readings(0, 0, 25), append(readings(0, 0), "--units", "us", "--altimeter", "2400ft"),
		{"--bearing", "46.01,7.0=0", "--bearing", "46.0,7.0144=90"}, {"--help"},
	} {
		checkWidth(t, append([]string{"fix"}, arguments...)...)
	}
	checkWidth(t, "landmarks", legFrom, "--for-fix")
}

func checkWidth(t *testing.T, arguments ...string) string {
	t.Helper()
	a := run(t, arguments...)
	require.Equal(t, exitOK, a.code, "%v: %s", arguments, a.err)
	assert.NotEmpty(t, a.out)
	for _, line := range strings.Split(a.out, "\n") {
		if strings.HasPrefix(line, "      --") || strings.HasPrefix(line, "  -") {
			continue // flag tables are laid out by the flag library
		}
		assert.LessOrEqual(t, utf8.RuneCountInString(line), 80, "%v: %s", arguments, line)
	}
	return a.out
}

// badLines checks runs that cannot be answered: one clear line, the right
// exit code, nothing on standard output.
func badLines(t *testing.T, rows []badLine) {
	t.Helper()
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			a := run(t, row.arguments...)
			assert.Equal(t, row.code, a.code, a.err)
			assert.Contains(t, a.err, row.says)
			assert.Empty(t, a.out)
			assert.Len(t, strings.Split(strings.TrimSpace(a.err), "\n"), 1, a.err)
			assert.NotContains(t, a.err, "ERROR ")
		})
	}
}

type badLine struct {
	name      string
	arguments []string
	code      int
	says      string
}

func TestFixesThatCannotBeMade(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	points := filepath.Join(folder, "points.gpx")
	require.NoError(t, os.WriteFile(points, []byte(`<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><wpt lat="1" lon="2"/></gpx>`), 0o644))
	badLines(t, []badLine{
		{"nothing", []string{"fix"}, exitUsage, "at least one bearing"},
		{"one bearing", append([]string{"fix"}, readings(0)...), exitUsage, "one bearing gives a line"},
		{"no equals sign", []string{"fix", "--bearing", "36,-84"}, exitUsage, "MARK=DEG"},
		{"no degrees", []string{"fix", "--bearing", "36,-84=north"}, exitUsage, "north"},
		{"too many degrees", []string{"fix", "--bearing", "36,-84=400"}, exitUsage, "400"},
		{"no such mark", []string{"fix", "--bearing", "Knob=40", "--bearing", "Hut=80"}, exitUsage, "Knob"},
		{"an argument", []string{"fix", "36,-84"}, exitUsage, "--bearing"},
		{"compass error", append([]string{"fix", "--compass-error", "0"}, readings(0, 0)...), exitUsage, "--compass-error"},
		{"altimeter error", append([]string{"fix", "--altimeter", "700", "--altimeter-error", "0"}, readings(0, 0)...), exitUsage, "--altimeter-error"},
		{"no line file", append([]string{"fix", "--line", filepath.Join(folder, "none.gpx")}, readings(0, 0)...), exitError, "none.gpx"},
		{"no line in it", append([]string{"fix", "--line", points}, readings(0, 0)...), exitError, "holds no line"},
		{"a name and no file", append([]string{"fix", "--line-name", "stream"}, readings(0, 0)...), exitUsage, "goes with --line"},
		{"date after the model", append([]string{"fix", "--magnetic", "--date", "2031-01-01"}, readings(0, 0)...), exitError, "2030"},
		{"parallel lines", []string{"fix", "--bearing", "36.2,-84.3=0", "--bearing", "36.3,-84.3=0"}, exitError, "the lines of position are parallel"},
		// the readings cross half a degree apart, 73 km behind the marks
		{"all but parallel lines", []string{"fix", "--bearing", "36.27083,-84.29750=349.41", "--bearing", "36.26500,-84.30333=349.9"}, exitError, "as good as parallel"},
	})
}

func TestForFixNamesMarksInSight(t *testing.T) {
	t.Parallel()
	var v struct {
		Marks []markJSON    `json:"marks"`
		Fix   *fixMarksJSON `json:"for_fix"`
	}
	a := run(t, "landmarks", legFrom, "--for-fix", "--json")
	require.Equal(t, exitOK, a.code, a.err)
	require.NoError(t, json.Unmarshal([]byte(a.out), &v))
	require.NotNil(t, v.Fix)
	require.NotEmpty(t, v.Fix.Two)
	require.NotEmpty(t, v.Fix.Three)
	for _, set := range append(v.Fix.Two, v.Fix.Three...) {
		for _, m := range set.Marks {
			listed := v.Marks[m.Rank-1]
			assert.Equal(t, "visible", listed.Sight.Verdict)
			assert.False(t, listed.TooSmall)
			assert.InDelta(t, listed.TrueDeg, m.TrueDeg, 0.011)
		}
	}
	// a place named 30 m from a summit is the same mark, and gives its name
	path := filepath.Join(t.TempDir(), "marks.csv")
	require.NoError(t, os.WriteFile(path, []byte("name,lat,lon\nNorth knob,36.27105,-84.29765\n"), 0o644))
	a = run(t, "landmarks", legFrom, "--for-fix", "--json", "--places", path)
	require.Equal(t, exitOK, a.code, a.err)
	require.NoError(t, json.Unmarshal([]byte(a.out), &v))
	for _, set := range v.Fix.Three {
		for i, m := range set.Marks {
			for _, other := range set.Marks[:i] {
				assert.Greater(t, geodesy.Inverse(geodesy.LatLon{Lat: geodesy.Degrees(m.Lat), Lon: geodesy.Degrees(m.Lon)},
					geodesy.LatLon{Lat: geodesy.Degrees(other.Lat), Lon: geodesy.Degrees(other.Lon)}).Distance, answer.DefaultPolicy().OneMark)
			}
		}
	}
	for i, s := range v.Fix.Two[1:] {
		before := v.Fix.Two[i]
		assert.LessOrEqual(t, before.Doubtful, s.Doubtful)
		if before.Doubtful == s.Doubtful && (before.CrossingDeg < float64(fix.LeastCrossing)) == (s.CrossingDeg < float64(fix.LeastCrossing)) {
			assert.LessOrEqual(t, before.SemiMajorM, s.SemiMajorM+0.1)
		}
	}
}

// TestDoubtfulMarksAreNotProposedAsSure: 2026-11-28. The best two of this
// place were seen with 74 and 56 %, and nothing said so. Sure marks come
// first; a doubtful one is called so; and where the data's error is not known
// nothing counts and nothing is doubted.
func TestDoubtfulMarksAreNotProposedAsSure(t *testing.T) {
	t.Parallel()
	const place = "36.26000,-84.29500"
	var v struct {
		Marks []markJSON    `json:"marks"`
		Fix   *fixMarksJSON `json:"for_fix"`
	}
	a := run(t, "landmarks", place, "--for-fix", "--json")
	require.Equal(t, exitOK, a.code, a.err)
	require.NoError(t, json.Unmarshal([]byte(a.out), &v))
	require.True(t, v.Fix.SureKnown)
	check := func(s markSetJSON) {
		doubtful := 0
		for _, m := range s.Marks {
			listed := v.Marks[m.Rank-1].Sight.Likely
			require.NotNil(t, listed)
			assert.Equal(t, *listed.Probability, *m.Probability)
			if *m.Probability < 0.75 {
				doubtful++
			}
		}
		assert.Equal(t, doubtful, s.Doubtful)
	}
	for _, s := range append(append(v.Fix.Two, v.Fix.Three...), *v.Fix.IfSeen) {
		check(s)
	}
	assert.Zero(t, v.Fix.Two[0].Doubtful)
	assert.Positive(t, v.Fix.IfSeen.Doubtful)
	assert.Less(t, v.Fix.IfSeen.SemiMajorM, v.Fix.Two[0].SemiMajorM)
	text := flat(run(t, "landmarks", place, "--for-fix").out)
	assert.Contains(t, text, "no two marks seen with 75 % or more cross at 30° or more")
	assert.Regexp(t, `if seen better: summit \(mark \d: probably (visible|hidden), \d\d % chance to see it\)`, text)
	for i := 1; i < len(v.Marks); i++ {
		if v.Marks[i].Sight.Verdict == "visible" && v.Marks[i].TooSmall == v.Marks[i-1].TooSmall {
			assert.LessOrEqual(t, v.Marks[i].Score, v.Marks[i-1].Score)
		}
	}

	// the same ground, its error unknown
	path := holedDemo(t, geodesy.LatLon{Lat: 36.42, Lon: -84.1}) // far from any line of these
	a = run(t, "landmarks", place, "--for-fix", "--json", "--dem", path)
	require.Equal(t, exitOK, a.code, a.err)
	v.Marks, v.Fix = nil, nil
	require.NoError(t, json.Unmarshal([]byte(a.out), &v))
	assert.False(t, v.Fix.SureKnown)
	assert.Nil(t, v.Fix.IfSeen)
	for _, m := range v.Marks {
		assert.Nil(t, m.Sight.Likely)
		assert.NotContains(t, m.Why, "sure")
	}
	for _, s := range v.Fix.Two {
		assert.Zero(t, s.Doubtful)
		assert.Nil(t, s.Marks[0].Probability)
	}
	assert.Contains(t, flat(run(t, "landmarks", place, "--for-fix", "--dem", path).out), "taken as seen: the accuracy of the heights is not stated")
}

// TestAFixOnAMap: the place with its region, or that there is none; on no elevation
// data as well, and over nothing that is read.
func TestAFixOnAMap(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	places := filepath.Join(folder, "p.csv")
	require.NoError(t, os.WriteFile(places, []byte("name,lat,lon\nKnob,36.27083,-84.2975\nTower,36.265,-84.30333\nGate,36.25058,-84.27389\n"), 0o600))
	draw := func(arguments ...string) string {
		file := filepath.Join(t.TempDir(), "f.svg")
		a := run(t, append([]string{"fix", "--places", places, "-o", file}, arguments...)...)
		require.Equal(t, exitOK, a.code, a.err)
		assert.Contains(t, a.out, file)
		body, err := os.ReadFile(file)
		require.NoError(t, err)
		return string(body)
	}
	sure := draw("--bearing", "Knob=349.4", "--bearing", "Tower=306.5")
	for _, text := range []string{">The place<", ">Tower<", "read 307° true", "Holds the place", "The place is known to"} {
		assert.True(t, strings.Contains(sure, text), text) // a drawing is too long to be printed
	}
	assert.False(t, strings.Contains(sure, "NO PLACE"))
	flat := draw("--bearing", "Knob=349m", "--bearing", "Tower=340m", "--units", "us")
	for _, text := range []string{"NO PLACE TO WALK FROM YET", ">Best fit<", "read 340° magnetic"} {
		assert.True(t, strings.Contains(flat, text), text)
	}
	off := draw("--bearing", "47,8=80", "--bearing", "47.02,8.01=120", "--intersect")
	assert.True(t, strings.Contains(off, "There is no elevation data here") && strings.Contains(off, "NO PLACE TO WALK TO YET"))
	assert.Equal(t, exitUsage, run(t, "fix", "--bearing", "Knob=349", "--bearing", "Gate=100", "--places", places, "-o", places).code)
	assert.Equal(t, exitUsage, run(t, "fix", "--bearing", "Knob=349", "--bearing", "Gate=100", "--places", places, "-o", filepath.Join(folder, "x.doc")).code)
}
