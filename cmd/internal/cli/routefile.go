package cli

import (
	"fmt"
	"path/filepath"
	"strings"

	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
)

// maxRouteLegs bounds a card: nobody walks more turning points in a day, and
// a recorded track has thousands of points and no legs.
const maxRouteLegs = 100

// samePlace is how near two places are one, metres.
const samePlace = 1.0

// route is the turning points of a card, in order.
type route struct {
	name   string
	places []namedPlace
	notes  []string
}

// readRoute reads turning points: a route, else the one track or line of the
// file, else its points in order. With points, the points whatever else there
// is. Whatever of the file is joined or left out is noted.
func readRoute(path, name string, points bool, u units) (*route, error) {
	r := &route{name: strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))}
	table := false
	switch strings.ToLower(filepath.Ext(path)) {
	case ".csv", ".tsv", ".txt":
		table = true
	case ".gpx", ".geojson", ".json", ".kml":
	default:
		return nil, fmt.Errorf("%s: a route is read from a .gpx, .geojson, .kml or .csv file", path)
	}
	if table && name != "" {
		return nil, usageErrorf("--name %s: a table holds one route", name)
	}
	var line *gdalio.Line
	var err error
	list, none := gdalio.ReadPlaces(path)
	if !table && !points {
		if line, err = r.line(path, name, len(list)); err != nil {
			return nil, err
		}
	}
	switch {
	case line != nil:
		if line.Name != "" {
			r.name = line.Name
		}
		r.noteGaps(line, u)
		r.take(line.Points)
		r.noteUnused(list)
		r.nameAfter(list)
	case none != nil:
		return nil, none
	default:
		r.take(list)
	}
	switch {
	case len(r.places) < 2:
		return nil, fmt.Errorf("%s holds %d turning point; a route needs two", path, len(r.places))
	case len(r.places)-1 > maxRouteLegs:
		return nil, fmt.Errorf("%s holds %d points, and a card takes at most %d legs: it is a recorded track, not a plan; mark the turning points as waypoints or a route", path, len(r.places), maxRouteLegs)
	}
	return r, nil
}

// line is the line of a file to walk; nil where it holds none. points is how
// many points it holds beside.
func (r *route) line(path, name string, points int) (*gdalio.Line, error) {
	lines, err := gdalio.ReadLines(path)
	if err != nil {
		return nil, err
	}
	var long, routes, tracks []gdalio.Line
	for _, l := range lines {
		switch {
		case len(l.Points) < 2:
			r.notes = append(r.notes, lineLabel(l)+" was left out")
			continue
		case l.Route:
			routes = append(routes, l)
		default:
			tracks = append(tracks, l)
		}
		long = append(long, l)
	}
	if len(long) == 0 && name == "" {
		return nil, nil
	}
	if name == "" && len(routes) > 0 { // a route was planned, a track recorded
		long = routes
		for _, l := range tracks {
			r.notes = append(r.notes, lineLabel(l)+" was left out: a route is taken before a track")
		}
	}
	flag := "--name"
	if points > 1 {
		flag += fmt.Sprintf(" (or walk the file's %d points in order with --points)", points)
	}
	return pickLine(path, long, name, flag)
}

// noteGaps says where the segments of a track were joined.
func (r *route) noteGaps(l *gdalio.Line, u units) {
	if len(l.Gaps) == 0 {
		return
	}
	var joints []string
	for _, i := range l.Gaps {
		if len(joints) == mostListed {
			joints = append(joints, fmt.Sprintf("%d more", len(l.Gaps)-mostListed))
			break
		}
		joints = append(joints, fmt.Sprintf("point %d straight to point %d (%s)", i, i+1,
			u.distance(geodesy.Inverse(l.Points[i-1].LatLon, l.Points[i].LatLon).Distance)))
	}
	r.notes = append(r.notes, fmt.Sprintf("the track was recorded in %d pieces, joined in order: %s", len(l.Gaps)+1, strings.Join(joints, ", ")))
}

// noteUnused says how many points of the file beside its line are no turning
// points.
func (r *route) noteUnused(list []gdalio.Place) {
	unused := 0
	for _, p := range list {
		met := false
		for _, turn := range r.places {
			met = met || geodesy.Inverse(turn.LatLon, p.LatLon).Distance < samePlace
		}
		if !met {
			unused++
		}
	}
	switch {
	case unused == 1:
		r.notes = append(r.notes, "1 point of the file beside its line was left out (--points walks points)")
	case unused > 1:
		r.notes = append(r.notes, fmt.Sprintf("%d points of the file beside its line were left out (--points walks points)", unused))
	}
}

// take adds points but for those at the place before.
func (r *route) take(list []gdalio.Place) {
	for i, p := range list {
		if n := len(r.places); n > 0 && geodesy.Inverse(r.places[n-1].LatLon, p.LatLon).Distance < samePlace {
			r.notes = append(r.notes, fmt.Sprintf("point %d is where point %d is, and was left out", i+1, i))
			continue
		}
		r.places = append(r.places, namedPlace{p.Name, p.LatLon})
	}
}

// nameAfter names points of the route that have no name after places where they
// are.
func (r *route) nameAfter(list []gdalio.Place) {
	for i := range r.places {
		for _, p := range list {
			if r.places[i].Name == "" && p.Name != "" && geodesy.Inverse(r.places[i].LatLon, p.LatLon).Distance < samePlace {
				r.places[i].Name = p.Name
			}
		}
	}
}
