package gdalio

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const gpxHead = `<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">`

func TestReadLines(t *testing.T) {
	t.Parallel()
	// every file holds a line from 36.3 N, 84.2 W to 36.2 N, 84.1 W first
	cases := []struct {
		name, file, content, line string
		route                     bool
		lines                     int
	}{
		{"GPX route after a waypoint, with a track of two pieces", "p.gpx", gpxHead + `<wpt lat="1" lon="2"/>
<rte><name>day one</name><rtept lat="36.3" lon="-84.2"><name>knob</name></rtept><rtept lat="36.2" lon="-84.1"><name>ford</name></rtept></rte>
<trk><name>walked</name><trkseg><trkpt lat="1" lon="2"/><trkpt lat="1" lon="3"/></trkseg><trkseg><trkpt lat="1" lon="4"/><trkpt lat="1" lon="5"/></trkseg></trk></gpx>`, "day one", true, 2},
		{"GPX track", "p.gpx", gpxHead + `<trk><trkseg><trkpt lat="36.3" lon="-84.2"/><trkpt lat="36.2" lon="-84.1"/></trkseg></trk></gpx>`, "", false, 1},
		{"GeoJSON", "p.geojson", `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{},"geometry":{"type":"Point","coordinates":[0,0]}},
{"type":"Feature","properties":{"name":"stream"},"geometry":{"type":"LineString","coordinates":[[-84.2,36.3],[-84.1,36.2]]}}]}`, "stream", false, 1},
		{"GeoJSON of several", "p.json", `{"type":"Feature","properties":{"name":"stream"},"geometry":{"type":"MultiLineString","coordinates":[[[-84.2,36.3],[-84.1,36.2]],[[0,0],[1,1]]]}}`, "stream", false, 2},
		{"KML", "p.kml", `<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark><name>crest</name><LineString><coordinates>-84.2,36.3,0 -84.1,36.2,0</coordinates></LineString></Placemark></Document></kml>`, "crest", false, 1},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			lines, err := ReadLines(writeFile(t, c.file, c.content))
			require.NoError(t, err)
			require.Len(t, lines, c.lines)
			assert.Equal(t, c.line, lines[0].Name)
			assert.Equal(t, c.route, lines[0].Route)
			require.Len(t, lines[0].Points, 2)
			const tolerance = 1e-9 // degrees: as written
			assert.InDelta(t, 36.3, float64(lines[0].Points[0].LatLon.Lat), tolerance)
			assert.InDelta(t, -84.1, float64(lines[0].Points[1].LatLon.Lon), tolerance)
			if c.route {
				assert.Equal(t, "knob", lines[0].Points[0].Name)
				assert.Equal(t, "ford", lines[0].Points[1].Name)
			}
		})
	}
}

func TestRoutePointsKeepToTheirRoute(t *testing.T) {
	t.Parallel()
	lines, err := ReadLines(writeFile(t, "p.gpx", gpxHead+`<rte><rtept lat="1" lon="2"><name>a</name></rtept></rte>
<rte><rtept lat="3" lon="2"><name>b</name></rtept><rtept lat="4" lon="2"/><rtept lat="5" lon="2"><name>c</name></rtept></rte></gpx>`))
	require.NoError(t, err)
	require.Len(t, lines, 2)
	require.Len(t, lines[0].Points, 1, "a route of one point is told, not dropped")
	assert.Equal(t, "a", lines[0].Points[0].Name)
	var names []string
	for _, p := range lines[1].Points {
		names = append(names, p.Name)
	}
	assert.Equal(t, []string{"b", "", "c"}, names)
}

// TestATrackWithPauses: the segments of one track are one line in order, empty
// ones aside, and it is kept where it was paused. Another track is another
// line.
func TestATrackWithPauses(t *testing.T) {
	t.Parallel()
	lines, err := ReadLines(writeFile(t, "p.gpx", gpxHead+`<trk><name>day</name>
<trkseg><trkpt lat="1" lon="2"/><trkpt lat="1.1" lon="2"/></trkseg><trkseg></trkseg><trkseg><trkpt lat="1.2" lon="2"/></trkseg>
<trkseg><trkpt lat="1.3" lon="2"/><trkpt lat="1.4" lon="2"/><trkpt lat="1.5" lon="2"/></trkseg></trk>
<trk><name>empty</name></trk><trk><name>next day</name><trkseg><trkpt lat="7" lon="2"/></trkseg></trk></gpx>`))
	require.NoError(t, err)
	require.Len(t, lines, 2)
	assert.Equal(t, "day", lines[0].Name)
	assert.Equal(t, []int{2, 3}, lines[0].Gaps)
	require.Len(t, lines[0].Points, 6)
	for i, p := range lines[0].Points {
		const tolerance = 1e-9 // degrees: as written
		assert.InDelta(t, 1+float64(i)/10, float64(p.LatLon.Lat), tolerance)
	}
	assert.Equal(t, "next day", lines[1].Name)
	assert.Empty(t, lines[1].Gaps)
	assert.Len(t, lines[1].Points, 1)
}

func TestBadLines(t *testing.T) {
	t.Parallel()
	cases := []struct{ name, file, content, want string }{
		{"empty", "p.gpx", "", "is empty"},
		{"not GPX", "p.gpx", "hello", "GPX"},
		{"malformed KML", "p.kml", `<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark><LineString><coordinates>1,2`, "p.kml"},
		{"latitude off the Earth", "p.geojson", `{"type":"LineString","coordinates":[[10,0],[10,100]]}`, "latitude 100"},
		{"unknown ending", "p.csv", "lat,lon\n", ".gpx, .geojson, .kml and .kmz"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			lines, err := ReadLines(writeFile(t, c.file, c.content))
			require.Error(t, err, "%v", lines)
			assert.Contains(t, err.Error(), c.want)
			assert.NotContains(t, err.Error(), "\n")
		})
	}
	lines, err := ReadLines(writeFile(t, "p.geojson", `{"type":"FeatureCollection","features":[]}`))
	require.NoError(t, err)
	assert.Empty(t, lines)
}

// TestARouteAndItsMarksGoRound: waypoints, a route and a track in one GPX
// file are read back as they were.
func TestARouteAndItsMarksGoRound(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "route.gpx")
	marks := Layer{Shape: Points, Fields: []Field{{"name", Text}}, Features: []Feature{{Geometry: orb.Point{-84.2, 36.3}, Values: []any{"knob"}}}}
	route := Layer{Name: "routes", Shape: Lines, Fields: []Field{{"name", Text}}, Features: []Feature{
		{Geometry: orb.LineString{{-84.2, 36.3}, {-84.1, 36.2}, {-84, 36.2}}, Values: []any{"day one"}}}}
	track := Layer{Shape: Lines, Features: []Feature{{Geometry: orb.LineString{{1, 2}, {3, 4}}}}}
	require.NoError(t, WriteFeatures(t.Context(), path, GPX, marks, route, track))
	places, err := ReadPlaces(path)
	require.NoError(t, err)
	require.Len(t, places, 1)
	assert.Equal(t, "knob", places[0].Name)
	lines, err := ReadLines(path)
	require.NoError(t, err)
	require.Len(t, lines, 2)
	assert.True(t, lines[0].Route)
	assert.Equal(t, "day one", lines[0].Name)
	assert.Len(t, lines[0].Points, 3)
	assert.False(t, lines[1].Route)

	require.ErrorContains(t, WriteFeatures(t.Context(), path, GPX, route, marks), "in that order")
	require.ErrorContains(t, WriteFeatures(t.Context(), path, GPX, marks, marks), "one layer of each")
	require.ErrorContains(t, WriteFeatures(t.Context(), path, GPX, Layer{Shape: Mixed}), "one shape")
}

// TestRoutePointsKeepWhatIsKnown: the points of two routes are read back in
// their routes, by name, and their elevations are in the file.
func TestRoutePointsKeepWhatIsKnown(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "route.gpx")
	marks := Layer{Shape: Points, Fields: []Field{{"name", Text}}, Features: []Feature{{Geometry: orb.Point{-84.2, 36.3}, Values: []any{"knob"}}}}
	fields := []Field{{"name", Text}, {"ele", Real}, {"type", Text}, {"route_fid", Integer}, {"route_name", Text}}
	point := func(lon, lat float64, values ...any) Feature {
		return Feature{Geometry: orb.Point{lon, lat}, Values: values}
	}
	routes := Layer{Name: RoutePoints, Shape: Points, Fields: fields, Features: []Feature{
		point(-84.2, 36.3, "camp", 512.5, "turning point", 0, "day one"), point(-84.1, 36.2, "ford", nil, nil, 0, "day one"),
		point(-84.1, 36.2, "ford", nil, nil, 1, "day two"), point(-84, 36.25, "end <1>", 640.0, nil, 1, "day two"), point(-84, 36.35, nil, nil, nil, 1, "day two"),
	}}
	require.NoError(t, WriteFeatures(t.Context(), path, GPX, marks, routes))
	lines, err := ReadLines(path)
	require.NoError(t, err)
	require.Len(t, lines, 2)
	var names [][]string
	for _, l := range lines {
		assert.True(t, l.Route)
		one := []string{l.Name}
		for _, p := range l.Points {
			one = append(one, p.Name)
		}
		names = append(names, one)
	}
	assert.Equal(t, [][]string{{"day one", "camp", "ford"}, {"day two", "ford", "end <1>", ""}}, names)
	assert.Equal(t, "turning point", lines[0].Points[0].Kind)
	const tolerance = 1e-9 // degrees: as written
	assert.InDelta(t, 36.35, float64(lines[1].Points[2].LatLon.Lat), tolerance)
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Regexp(t, `<rtept lat="36.3" lon="-84.2">\s*<ele>512.5</ele>\s*<name>camp</name>`, string(text))
	assert.Equal(t, 2, strings.Count(string(text), "<ele>"), "none where it is not known")
	places, err := ReadPlaces(path)
	require.NoError(t, err)
	require.Len(t, places, 1, "points of a route are no waypoints")
	require.ErrorContains(t, WriteFeatures(t.Context(), path, GPX, routes, marks), "in that order")
}

// TestMixedShapesInOneLayer: points and lines side by side.
func TestMixedShapesInOneLayer(t *testing.T) {
	t.Parallel()
	layer := Layer{Name: "shapes", Shape: Mixed, Features: []Feature{{Geometry: orb.Point{-84.2, 36.3}}, {Geometry: orb.LineString{{1, 2}, {3, 4}}}}}
	for _, file := range []string{"s.geojson", "s.gpkg"} {
		path := filepath.Join(t.TempDir(), file)
		driver, err := VectorDriver(path)
		require.NoError(t, err)
		require.NoError(t, WriteFeatures(t.Context(), path, driver, layer))
		said := tool(t, "", "ogrinfo", "-ro", "-al", path)
		assert.Contains(t, said, "POINT (-84.2 36.3)")
		assert.Contains(t, said, "LINESTRING (1 2,3 4)")
	}
}
