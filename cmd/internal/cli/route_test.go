package cli

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	figures "crowline/dem/units"
)

// turns are the turning points of a route on the Cumberland ground; the third leg
// crosses a ridge whose end is near.
var turns = []struct {
	name     string
	lat, lon float64
}{{"Camp", 36.26, -84.295}, {"Hollow", 36.25058, -84.27389}, {"Gap", 36.26193, -84.29104}, {"", 36.27369, -84.30926}, {"Ford", 36.27854, -84.32820}}

// routeFiles writes the same route in each form, by name of form.
func routeFiles(t *testing.T) map[string]string {
	t.Helper()
	folder := t.TempDir()
	var csv, wpt, rte, trk, line, points strings.Builder
	csv.WriteString("name,lat,lon\n")
	for i, p := range turns {
		fmt.Fprintf(&csv, "%s,%.5f,%.5f\n", p.name, p.lat, p.lon)
		fmt.Fprintf(&wpt, `<wpt lat="%.5f" lon="%.5f"><name>%s</name></wpt>`, p.lat, p.lon, p.name)
		fmt.Fprintf(&rte, `<rtept lat="%.5f" lon="%.5f"><name>%s</name></rtept>`, p.lat, p.lon, p.name)
		fmt.Fprintf(&trk, `<trkpt lat="%.5f" lon="%.5f"/>`, p.lat, p.lon)
		comma := ","
		if i == 0 {
			comma = ""
		}
		fmt.Fprintf(&line, `%s[%.5f,%.5f]`, comma, p.lon, p.lat)
		fmt.Fprintf(&points, `%s{"type":"Feature","properties":{"name":"%s"},"geometry":{"type":"Point","coordinates":[%.5f,%.5f]}}`, comma, p.name, p.lon, p.lat)
	}
	const head = `<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">`
	out := map[string]string{}
	for name, file := range map[string][2]string{
		"csv": {"trip.csv", csv.String()}, "waypoints": {"trip.gpx", head + wpt.String() + `</gpx>`},
		"route":  {"trip.gpx", head + `<rte><name>trip</name>` + rte.String() + `</rte><trk><trkseg><trkpt lat="1" lon="2"/><trkpt lat="2" lon="2"/></trkseg></trk></gpx>`},
		"track":  {"trip.gpx", head + wpt.String() + `<trk><name>trip</name><trkseg>` + trk.String() + `</trkseg></trk></gpx>`},
		"line":   {"trip.geojson", `{"type":"Feature","properties":{"name":"trip"},"geometry":{"type":"LineString","coordinates":[` + line.String() + `]}}`},
		"points": {"trip.geojson", `{"type":"FeatureCollection","features":[` + points.String() + `]}`},
	} {
		require.NoError(t, os.Mkdir(filepath.Join(folder, name), 0o755))
		out[name] = filepath.Join(folder, name, file[0])
		require.NoError(t, os.WriteFile(out[name], []byte(file[1]), 0o644))
	}
	return out
}

func runRoute(t *testing.T, arguments ...string) routeTold {
	t.Helper()
	a := run(t, append([]string{"route", "--json"}, arguments...)...)
	require.Equal(t, exitOK, a.code, a.err)
	var v routeTold
	require.NoError(t, json.Unmarshal([]byte(a.out), &v))
	return v
}

// TestARouteIsTheSameInEveryForm of file that can hold it, names aside.
func TestARouteIsTheSameInEveryForm(t *testing.T) {
	t.Parallel()
	files := routeFiles(t)
	want := runRoute(t, files["csv"])
	require.Len(t, want.Legs, 4)
	for form, path := range files {
		v := runRoute(t, path)
		assert.Equal(t, want.Totals, v.Totals, form)
		assert.Equal(t, "trip", v.Name, form)
		if form != "line" { // whose points have no names
			assert.Equal(t, "Camp", v.Legs[0].From.Name, form)
			assert.Equal(t, "Hollow", v.Legs[0].To.Name, form)
		}
	}
}

// TestRouteLegsAreLegs: each leg's figures are those of the leg command, and
// the totals are their sums.
func TestRouteLegsAreLegs(t *testing.T) {
	t.Parallel()
	v := runRoute(t, routeFiles(t)["csv"])
	var distance, up, down, naismith float64
	for i, l := range v.Legs {
		var one legTold
		a := run(t, "leg", fmt.Sprintf("%.5f,%.5f", turns[i].lat, turns[i].lon), fmt.Sprintf("%.5f,%.5f", turns[i+1].lat, turns[i+1].lon), "--json")
		require.Equal(t, exitOK, a.code, a.err)
		require.NoError(t, json.Unmarshal([]byte(a.out), &one))
		assert.Equal(t, one.Bearing, l.Bearing)
		assert.Equal(t, one.Climb, l.Climb)
		assert.Equal(t, one.Time, l.Time)
		assert.Equal(t, one.Sight.Verdict, l.Sight.Verdict)
		distance += one.DistanceM
		up += one.Climb.AscentM
		down += one.Climb.DescentM
		naismith += *one.Time.NaismithLangmuirS
	}
	const rounding = 0.2 // m, s: figures are kept to a tenth
	assert.InDelta(t, distance, v.Totals.DistanceM, rounding)
	assert.InDelta(t, up, v.Totals.AscentM, rounding)
	assert.InDelta(t, down, v.Totals.DescentM, rounding)
	assert.InDelta(t, naismith, *v.Totals.NaismithLangmuirS, rounding)
}

// TestAWayRoundKeepsItsRule: what is proposed saves what the rule asks, and
// walking it as two legs gives the figures stated.
func TestAWayRoundKeepsItsRule(t *testing.T) {
	t.Parallel()
	v := runRoute(t, routeFiles(t)["csv"])
	found := 0
	for _, l := range v.Legs {
		w := l.WayRound
		if w == nil {
			continue
		}
		found++
		assert.GreaterOrEqual(t, w.SavedM, 60.0)
		assert.LessOrEqual(t, w.AscentM, 0.75*l.Climb.AscentM)
		assert.LessOrEqual(t, w.DistanceM, 1.15*l.DistanceM)
		path := filepath.Join(t.TempDir(), "round.csv")
		require.NoError(t, os.WriteFile(path, []byte(fmt.Sprintf("lat,lon\n%.7f,%.7f\n%.7f,%.7f\n%.7f,%.7f\n",
			l.From.Lat, l.From.Lon, w.At.Lat, w.At.Lon, l.To.Lat, l.To.Lon)), 0o644))
		round := runRoute(t, path, "--straight")
		assert.InDelta(t, w.AscentM, round.Totals.AscentM, 0.2)
		assert.InDelta(t, w.DistanceM, round.Totals.DistanceM, 0.2)
		assert.Nil(t, round.Legs[0].WayRound)
	}
	assert.Positive(t, found)
}

func TestRouteTextFitsATerminal(t *testing.T) {
	t.Parallel()
	files := routeFiles(t)
	text := checkWidth(t, "route", files["csv"])
	assert.Contains(t, text, "Way round: by 16SGF")
	assert.Equal(t, 4, strings.Count(text, "left ______"))
	checkWidth(t, "route", files["csv"], "--units", "us", "--time", "tobler")
	checkWidth(t, "route", "--help")
}

// TestTheCardIsReadBack: every leg's bearing, climb and time stand in the PDF
// as in JSON, and the text card is the text.
func TestTheCardIsReadBack(t *testing.T) {
	t.Parallel()
	pdftotext, err := exec.LookPath("pdftotext")
	if err != nil {
		t.Skip("pdftotext (poppler-utils) is not installed")
	}
	files, folder := routeFiles(t), t.TempDir()
	card := filepath.Join(folder, "card.pdf")
	v := runRoute(t, files["csv"], "-o", card, "--title", "Round by the gap")
	assert.Equal(t, []string{card}, v.Written)
	out, err := exec.Command(pdftotext, "-layout", card, "-").Output()
	require.NoError(t, err)
	text := strings.Join(strings.Fields(string(out)), " ")
	for _, l := range v.Legs {
		assert.Contains(t, text, figures.Dial(*l.Bearing.MagneticDeg)+"°")
		assert.Contains(t, text, fmt.Sprintf("up %.0f m", l.Climb.AscentM))
		assert.Contains(t, text, fmt.Sprintf("down %.0f m", l.Climb.DescentM))
		assert.Contains(t, text, l.To.MGRS)
	}
	for _, want := range []string{"Round by the gap", "In all", "page 1 of 1", "Tobler off path", "declination", "to fill in on the way", "Carry map and compass"} {
		assert.Contains(t, text, want)
	}
	plain := filepath.Join(folder, "card.txt")
	a := run(t, "route", files["csv"], "-o", plain)
	require.Equal(t, exitOK, a.code, a.err)
	body, err := os.ReadFile(plain)
	require.NoError(t, err)
	assert.Contains(t, a.out, strings.Split(string(body), "\nData and cautions\n")[0])
}

// TestTheRouteForAReceiver: turning points, marks and the route, and the file
// is a route again.
func TestTheRouteForAReceiver(t *testing.T) {
	t.Parallel()
	files := routeFiles(t)
	path := filepath.Join(t.TempDir(), "out.gpx")
	v := runRoute(t, files["csv"], "--gpx", path)
	places, err := gdalio.ReadPlaces(path)
	require.NoError(t, err)
	kinds := map[string]int{}
	for _, p := range places {
		kinds[p.Kind]++
	}
	marks, round := 0, 0
	for _, l := range v.Legs {
		marks += len(l.CardMarks)
		if l.WayRound != nil {
			round++
		}
	}
	assert.Equal(t, 5, kinds["turning point"])
	assert.Equal(t, marks, kinds["mark"])
	assert.Equal(t, round, kinds["way round"])
	again := runRoute(t, path)
	assert.Equal(t, v.Totals, again.Totals)
	assert.Equal(t, "Hollow", again.Legs[0].To.Name)
	assert.Equal(t, "end of leg 3", again.Legs[2].To.Name, "a turn without a name is called by the card's legs")
}

// TestEveryMarkOfTheCardIsAWaypoint: the marks that the card names are waypoints,
// called as on the card, at the places the card tells; and the points of the
// route have names and elevations.
func TestEveryMarkOfTheCardIsAWaypoint(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	file, gpx, card := filepath.Join(folder, "trip.csv"), filepath.Join(folder, "out.gpx"), filepath.Join(folder, "card.txt")
	require.NoError(t, os.WriteFile(file, []byte("name,lat,lon\nCamp,36.3264,-84.3960\nHollow,36.3718,-84.3822\nFord,36.3500,-84.3300\n,36.2900,-84.3000\n"), 0o644))
	v := runRoute(t, file, "--gpx", gpx, "-o", card)
	places, err := gdalio.ReadPlaces(gpx)
	require.NoError(t, err)
	waypoints := map[string]gdalio.Place{}
	for _, p := range places {
		waypoints[p.Name] = p
	}
	text := strings.Join(strings.Fields(readText(t, card)), " ")
	require.Len(t, v.Legs, 3)
	several := 0
	for _, l := range v.Legs {
		require.NotEmpty(t, l.CardMarks, "leg %d", l.Number)
		if l.WayRound != nil {
			assert.Contains(t, waypoints, fmt.Sprintf("%d way round", l.Number))
		}
		var steps []stepTold
		for _, s := range l.Chain.Steps {
			if s.Mark != nil && s.Mark.Kind != "destination" {
				steps = append(steps, s)
			}
		}
		for i, m := range l.CardMarks {
			assert.Equal(t, fmt.Sprintf("%d%c", l.Number, 'a'+i), m.Label)
			assert.Regexp(t, `[(]([^)]*; )?`+m.Label+`[)]`, text)
			p, ok := waypoints[m.Label+" "+m.Name]
			require.True(t, ok, "%s %s of %v", m.Label, m.Name, waypoints)
			assert.Equal(t, "mark", p.Kind)
			require.NotNil(t, p.Elevation)
			assert.InDelta(t, *m.At.ElevationM, *p.Elevation, 0.05)
			start := geodesy.LatLon{Lat: geodesy.Degrees(l.From.Lat), Lon: geodesy.Degrees(l.From.Lon)}
			to := geodesy.Inverse(start, p.LatLon)
			const near = 0.5 // m; places are kept to 1e-7 degree, distances to 0.1 m
			const line = 2.5 // m; the line of sight begins on the start's looking point
			several++
			assert.InDelta(t, math.Hypot(steps[i].Mark.AtM, steps[i].Mark.OffsetM), to.Distance, line)
			assert.InDelta(t, *steps[i].Mark.ElevationM, *p.Elevation, 0.05)
			if steps[i].Mark.OffsetM == 0 {
				assert.InDelta(t, *l.Bearing.TrueDeg, float64(to.Start), 0.1)
			}
		}
	}
	assert.Greater(t, several, 2)
	lines, err := gdalio.ReadLines(gpx)
	require.NoError(t, err)
	require.Len(t, lines, 1)
	var names []string
	for _, p := range lines[0].Points {
		names = append(names, p.Name)
	}
	assert.Equal(t, []string{"Camp", "Hollow", "Ford", "end of leg 3"}, names)
	written := readText(t, gpx)
	assert.Regexp(t, `<rtept lat="36.3718" lon="-84.3822">\s*<ele>427.8</ele>\s*<name>Hollow</name>`, written)
	assert.NotContains(t, written, "<desc></desc>")
}

func readText(t *testing.T, path string) string {
	t.Helper()
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	return string(text)
}

// TestLongNamesOnARouteCard: headings keep to the page too.
func TestLongNamesOnARouteCard(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), strings.Repeat("a long day out ", 6)+".csv")
	long := strings.Repeat("the old charcoal burners' clearing ", 3)
	require.NoError(t, os.WriteFile(path, []byte("name,lat,lon\n"+long+",36.26,-84.295\n"+long+"2,36.25058,-84.27389\n"), 0o644))
	assert.Contains(t, checkWidth(t, "route", path, "--straight"), "contour lines at ")
}

// TestALegWithAMark names it on the card.
func TestALegWithAMark(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "to.csv")
	require.NoError(t, os.WriteFile(path, []byte("lat,lon\n36.26,-84.295\n36.24,-84.29620\n36.24,-84.29620\n"), 0o644))
	v := runRoute(t, path)
	require.Len(t, v.Legs, 1)
	require.NotEmpty(t, v.Notes)
	assert.Contains(t, v.Notes[0], "point 3 is where point 2 is")
	assert.Contains(t, checkWidth(t, "route", path), "(1a)")
}

// TestTracksWithPauses: the segments of one track are one line in order, a
// segment of one point too, and the card says what was joined. What is left out
// of a file is said too.
func TestTracksWithPauses(t *testing.T) {
	t.Parallel()
	files := routeFiles(t)
	want := runRoute(t, files["csv"], "--straight")
	const head = `<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">`
	point := func(i int) string {
		return fmt.Sprintf(`<trkpt lat="%.5f" lon="%.5f"/>`, turns[i].lat, turns[i].lon)
	}
	write := func(body string) string {
		path := filepath.Join(t.TempDir(), "trip.gpx")
		require.NoError(t, os.WriteFile(path, []byte(head+body+`</gpx>`), 0o644))
		return path
	}
	track := `<trk><name>day</name><trkseg>` + point(0) + point(1) + `</trkseg><trkseg>` + point(2) + `</trkseg><trkseg>` + point(3) + point(4) + `</trkseg></trk>`
	v := runRoute(t, write(track), "--straight")
	assert.Equal(t, want.Totals, v.Totals)
	assert.Equal(t, "day", v.Name)
	require.Len(t, v.Notes, 1)
	assert.Contains(t, v.Notes[0], fmt.Sprintf("recorded in 3 pieces, joined in order: point 2 straight to point 3 (%s), point 3 straight to point 4 (%s)",
		figures.Metric.Distance(want.Legs[1].DistanceM), figures.Metric.Distance(want.Legs[2].DistanceM)))
	assert.Contains(t, checkWidth(t, "route", write(track), "--straight"), "recorded in 3 pieces")

	one := `<trk><name>day</name><trkseg>` + point(0) + `</trkseg><trkseg>` + point(1) + `</trkseg></trk>`
	v = runRoute(t, write(one), "--straight")
	assert.Equal(t, want.Legs[0].DistanceM, v.Totals.DistanceM, "two segments of one point are a leg")

	// a route is taken before a track, and points beside the line are no turns
	wpt := `<wpt lat="36.25" lon="-84.28"><name>spring</name></wpt><wpt lat="36.24" lon="-84.28"><name>hut</name></wpt>`
	rte := `<rte><name>a dot</name><rtept lat="36.2" lon="-84.2"/></rte><rte><name>plan</name><rtept lat="36.26" lon="-84.295"/><rtept lat="36.25" lon="-84.28"/></rte>`
	v = runRoute(t, write(wpt+rte+track), "--straight")
	assert.Equal(t, "plan", v.Name)
	assert.Equal(t, "spring", v.Legs[0].To.Name)
	assert.Equal(t, []string{
		`route "a dot" of 1 point was left out`,
		`line "day" of 5 points was left out: a route is taken before a track`,
		`1 point of the file beside its line was left out (--points walks points)`,
	}, v.Notes)
	v = runRoute(t, write(wpt+rte+track), "--straight", "--name", "day")
	assert.Equal(t, want.Totals, v.Totals)
	v = runRoute(t, write(wpt+rte+track), "--straight", "--points")
	require.Len(t, v.Legs, 1)
	assert.Equal(t, "spring", v.Legs[0].From.Name)
	assert.Equal(t, "hut", v.Legs[0].To.Name)

	// several tracks are chosen between, by number where names do not do
	twice := track + one
	path := write(twice)
	badLines(t, []badLine{
		{"two tracks of one name", []string{"route", path}, exitUsage, `no. 1, line "day" of 5 points; no. 2, line "day" of 2 points. Say which with --name, by name or number`},
		{"the name is no help", []string{"route", path, "--name", "day"}, exitUsage, "Say which with --name and its number"},
		{"no such number", []string{"route", path, "--name", "3"}, exitUsage, `holds no line called "3"`},
		{"points instead", []string{"route", write(wpt + twice)}, exitUsage, "walk the file's 2 points in order with --points"},
		{"no waypoints", []string{"route", path, "--points"}, exitError, "no named or unnamed point"},
	})
	assert.Equal(t, want.Totals, runRoute(t, path, "--straight", "--name", "1").Totals)
	assert.Len(t, runRoute(t, path, "--straight", "--name", "2").Legs, 1)
}

func TestRoutesThatCannotBeWorkedOut(t *testing.T) {
	t.Parallel()
	files, folder := routeFiles(t), t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(t.TempDir(), name)
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
		return path
	}
	var long strings.Builder
	long.WriteString("lat,lon\n")
	for i := range 200 {
		fmt.Fprintf(&long, "36.26,%.4f\n", -84.3+float64(i)/2000)
	}
	two := write("two.gpx", `<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><rte><name>one</name><rtept lat="36.26" lon="-84.3"/><rtept lat="36.27" lon="-84.3"/></rte><rte><name>two</name><rtept lat="36.26" lon="-84.3"/><rtept lat="36.28" lon="-84.3"/></rte></gpx>`)
	badLines(t, []badLine{
		{"no file", []string{"route"}, exitUsage, "one file"},
		{"missing file", []string{"route", filepath.Join(folder, "none.gpx")}, exitError, "none.gpx"},
		{"not a route", []string{"route", write("w.gpx", "words")}, exitError, "w.gpx"},
		{"unknown ending", []string{"route", write("w.doc", "words")}, exitError, ".gpx, .geojson, .kml, .kmz, .shp or .csv"},
		{"one point", []string{"route", write("one.csv", "lat,lon\n36.26,-84.3\n")}, exitError, "needs two"},
		{"a recorded track", []string{"route", write("long.csv", long.String())}, exitError, "recorded track"},
		{"two routes", []string{"route", two}, exitUsage, "--name"},
		{"no such route", []string{"route", two, "--name", "three"}, exitUsage, "three"},
		{"a name for a table", []string{"route", files["csv"], "--name", "x"}, exitUsage, "--name"},
		{"off the data", []string{"route", write("off.csv", "name,lat,lon\nA,36.26,-84.3\nB,36.27,-84.3\nC,40,-84\nD,40.1,-84\n")}, exitError, "leg 3, C to D"},
		{"bad rule", []string{"route", files["csv"], "--time", "guess"}, exitUsage, "naismith"},
		{"bad pace", []string{"route", files["csv"], "--pace", "0"}, exitUsage, "--pace"},
		{"bad paper", []string{"route", files["csv"], "--paper", "a9", "-o", "card.pdf"}, exitUsage, "a9"},
		{"unknown card", []string{"route", files["csv"], "-o", filepath.Join(folder, "card.doc")}, exitUsage, "a card's name ends in .pdf, .svg, .png or .txt"},
		{"no folder", []string{"route", files["csv"], "-o", filepath.Join(folder, "no", "card.pdf")}, exitError, "no folder"},
		{"paper too narrow", []string{"route", files["csv"], "--paper", "150x200", "-o", filepath.Join(folder, "card.pdf")}, exitError, "250 x 100"},
		{"gpx by another name", []string{"route", files["csv"], "--gpx", filepath.Join(folder, "out.kml")}, exitUsage, ".gpx"},
	})
	left, err := os.ReadDir(folder)
	require.NoError(t, err)
	assert.Empty(t, left, "nothing half-written")
	assert.Equal(t, exitOK, run(t, "route", two, "--name", "Two").code)
}
