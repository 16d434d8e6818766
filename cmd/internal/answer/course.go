package answer

import (
	"fmt"
	"path/filepath"
	"strconv"
	"strings"

	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/dem/units"
)

// Course is the turning points of a route, in order.
type Course struct {
	// Name is the line's or the file's.
	Name  string
	Turns []Place

	notes []note
}

// note is a sentence about a course, in any units.
type note func(u units.System) string

func (c *Course) notef(format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	c.notes = append(c.notes, func(units.System) string { return text })
}

// CourseFile says where turning points are read, and how the front end has its
// user choose among a file's lines.
type CourseFile struct {
	Path string
	// Line picks one of several lines, by name or number.
	Line string
	// Points walks the file's points in order, not its lines.
	Points bool
	// AskLine and AskPoints are what sets Line and Points, for an error or a
	// note that tells of it: "--name", "--points".
	AskLine, AskPoints string
	// Left says what a table or a shapefile leaves out.
	Left gdalio.PlaceOptions
}

// ReadCourse reads turning points: a route, else the one track or line of the
// file, else its points in order. With Points, the points whatever else there
// is. What of the file is joined or left out is noted.
func ReadCourse(f CourseFile) (*Course, error) {
	c := &Course{Name: strings.TrimSuffix(filepath.Base(f.Path), filepath.Ext(f.Path))}
	table := false
	switch strings.ToLower(filepath.Ext(f.Path)) {
	case ".csv", ".tsv", ".txt", ".shp":
		table = true
	case ".gpx", ".geojson", ".json", ".kml", ".kmz":
	default:
		return nil, fmt.Errorf("%s: a route is read from a .gpx, .geojson, .kml, .kmz, .shp or .csv file", f.Path)
	}
	if table && f.Line != "" {
		return nil, wrongf("%s %s: a table holds one route", f.AskLine, f.Line)
	}
	var line *gdalio.Line
	var err error
	list, none := gdalio.ReadPlacesWith(f.Path, f.Left)
	if !table && !f.Points {
		if line, err = c.line(f, len(list)); err != nil {
			return nil, err
		}
	}
	switch {
	case line != nil:
		if line.Name != "" {
			c.Name = line.Name
		}
		c.noteGaps(line)
		c.take(line.Points)
		c.noteUnused(list, f.AskPoints)
		c.NameAfter(PlacesOf(list))
	case none != nil:
		return nil, none
	default:
		c.take(list)
	}
	switch {
	case len(c.Turns) < 2:
		return nil, fmt.Errorf("%s holds %d turning point; a route needs two", f.Path, len(c.Turns))
	case len(c.Turns)-1 > policy.MostLegs:
		return nil, fmt.Errorf("%s holds %d points, and a card takes at most %d legs: it is a recorded track, not a plan; mark the turning points as waypoints or a route", f.Path, len(c.Turns), policy.MostLegs)
	}
	return c, nil
}

// line is the line of a file to walk; nil where it holds none. points is how
// many points it holds beside.
func (c *Course) line(f CourseFile, points int) (*gdalio.Line, error) {
	lines, err := gdalio.ReadLines(f.Path)
	if err != nil {
		return nil, err
	}
	var long, routes, tracks []gdalio.Line
	for _, l := range lines {
		switch {
		case len(l.Points) < 2:
			c.notef("%s was left out", lineLabel(l))
			continue
		case l.Route:
			routes = append(routes, l)
		default:
			tracks = append(tracks, l)
		}
		long = append(long, l)
	}
	if len(long) == 0 && f.Line == "" {
		return nil, nil
	}
	if f.Line == "" && len(routes) > 0 { // a route was planned, a track recorded
		long = routes
		for _, l := range tracks {
			c.notef("%s was left out: a route is taken before a track", lineLabel(l))
		}
	}
	ask := f.AskLine
	if points > 1 {
		ask += fmt.Sprintf(" (or walk the file's %d points in order with %s)", points, f.AskPoints)
	}
	return PickLine(f.Path, long, f.Line, ask)
}

// noteGaps says where the segments of a track were joined.
func (c *Course) noteGaps(l *gdalio.Line) {
	if len(l.Gaps) == 0 {
		return
	}
	c.notes = append(c.notes, func(u units.System) string {
		var joints []string
		for _, i := range l.Gaps {
			if len(joints) == mostListed {
				joints = append(joints, fmt.Sprintf("%d more", len(l.Gaps)-mostListed))
				break
			}
			joints = append(joints, fmt.Sprintf("point %d straight to point %d (%s)", i, i+1,
				u.Distance(geodesy.Inverse(l.Points[i-1].LatLon, l.Points[i].LatLon).Distance)))
		}
		return fmt.Sprintf("the track was recorded in %d pieces, joined in order: %s", len(l.Gaps)+1, strings.Join(joints, ", "))
	})
}

// noteUnused says how many points of the file beside its line are no turning
// points.
func (c *Course) noteUnused(list []gdalio.Place, ask string) {
	unused := 0
	for _, p := range list {
		met := false
		for _, turn := range c.Turns {
			met = met || geodesy.Inverse(turn.LatLon, p.LatLon).Distance < samePlace
		}
		if !met {
			unused++
		}
	}
	switch {
	case unused == 1:
		c.notef("1 point of the file beside its line was left out (%s walks points)", ask)
	case unused > 1:
		c.notef("%d points of the file beside its line were left out (%s walks points)", unused, ask)
	}
}

// take adds points but for those at the place before.
func (c *Course) take(list []gdalio.Place) {
	for i, p := range list {
		if n := len(c.Turns); n > 0 && geodesy.Inverse(c.Turns[n-1].LatLon, p.LatLon).Distance < samePlace {
			c.notef("point %d is where point %d is, and was left out", i+1, i)
			continue
		}
		turn := PlaceAt(p.LatLon)
		turn.Name = p.Name
		c.Turns = append(c.Turns, turn)
	}
}

// NameAfter names turning points that have no name after places where they are.
func (c *Course) NameAfter(list []Place) {
	for i := range c.Turns {
		for _, p := range list {
			if c.Turns[i].Name == "" && p.Name != "" && geodesy.Inverse(c.Turns[i].LatLon, p.LatLon).Distance < samePlace {
				c.Turns[i].Name = p.Name
			}
		}
	}
}

// mostListed are the lines that a complaint lists.
const mostListed = 6

// PickLine picks the one line meant of a file's: by its name, or by its number
// in the list, which tells apart what has no name or shares one. Without either
// there must be one. ask is what the front end's user sets to pick, for the
// error.
func PickLine(path string, lines []gdalio.Line, name, ask string) (*gdalio.Line, error) {
	name = strings.TrimSpace(name)
	var found []int
	for i, l := range lines {
		if name == "" || strings.EqualFold(l.Name, name) {
			found = append(found, i)
		}
	}
	if n, err := strconv.Atoi(name); len(found) == 0 && err == nil && n >= 1 && n <= len(lines) {
		found = []int{n - 1}
	}
	if len(found) == 1 {
		return &lines[found[0]], nil
	}
	listed := found
	if len(found) == 0 {
		for i := range lines {
			listed = append(listed, i)
		}
	}
	var list []string
	for _, i := range listed[:min(len(listed), mostListed)] {
		list = append(list, fmt.Sprintf("no. %d, %s", i+1, lineLabel(lines[i])))
	}
	if more := len(listed) - len(list); more > 0 {
		list = append(list, fmt.Sprintf("%d more", more))
	}
	all := strings.Join(list, "; ")
	switch {
	case len(found) == 0:
		return nil, wrongf("%s holds no line called %q; it holds %s", path, name, all)
	case name == "":
		return nil, wrongf("%s holds %d lines: %s. Say which with %s, by name or number", path, len(found), all, ask)
	}
	return nil, wrongf("%s holds %d lines called %q: %s. Say which with %s and its number", path, len(found), name, all, ask)
}

// lineLabel tells a line from others of its file.
func lineLabel(l gdalio.Line) string {
	kind := "line"
	if l.Route {
		kind = "route"
	}
	name := "without a name"
	if l.Name != "" {
		name = strconv.Quote(l.Name)
	}
	points := "1 point"
	if n := len(l.Points); n != 1 {
		points = fmt.Sprintf("%d points", n)
	}
	return fmt.Sprintf("%s %s of %s", kind, name, points)
}
