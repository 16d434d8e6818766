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

// readRoute reads turning points: a route, else the one line of the file,
// else its points in order. With points, the points whatever else there is.
func readRoute(path, name string, points bool) (*route, error) {
	r := &route{name: strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))}
	table := false
	switch strings.ToLower(filepath.Ext(path)) {
	case ".csv", ".tsv", ".txt":
		table = true
	}
	if table && name != "" {
		return nil, usageErrorf("--name %s: a table holds one route", name)
	}
	var line *gdalio.Line
	var err error
	if !table && !points {
		if line, err = routeLine(path, name); err != nil {
			return nil, err
		}
	}
	if line != nil {
		if line.Name != "" {
			r.name = line.Name
		}
		r.take(line.Points)
		r.nameFrom(path)
	} else {
		list, err := gdalio.ReadPlaces(path)
		if err != nil {
			return nil, err
		}
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

// routeLine is the line of a file to walk; nil where it holds none.
func routeLine(path, name string) (*gdalio.Line, error) {
	lines, err := gdalio.ReadLines(path)
	if err != nil {
		return nil, err
	}
	var routes, found []gdalio.Line
	var names []string
	for _, l := range lines {
		if l.Route {
			routes = append(routes, l)
		}
	}
	if name == "" && len(routes) > 0 { // a route was planned, a track recorded
		lines = routes
	}
	for _, l := range lines {
		names = append(names, fmt.Sprintf("%q", l.Name))
		if name == "" || strings.EqualFold(l.Name, strings.TrimSpace(name)) {
			found = append(found, l)
		}
	}
	switch {
	case name == "" && len(found) == 0:
		return nil, nil
	case len(found) == 0:
		return nil, usageErrorf("%s holds no line called %q; it holds %s", path, name, strings.Join(names, ", "))
	case len(found) > 1 && name == "":
		return nil, usageErrorf("%s holds %d lines, %s; say which with --name, or --points for its points in order", path, len(found), strings.Join(names[:min(len(names), 6)], ", "))
	case len(found) > 1:
		return nil, fmt.Errorf("%s holds %d lines called %q; keep the one you mean", path, len(found), name)
	}
	return &found[0], nil
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

// nameFrom names points of the route that have no name after waypoints of the
// same file at the same place.
func (r *route) nameFrom(path string) {
	list, err := gdalio.ReadPlaces(path)
	if err != nil {
		return // a file of lines alone
	}
	r.nameAfter(list)
}

func (r *route) nameAfter(list []gdalio.Place) {
	for i := range r.places {
		for _, p := range list {
			if r.places[i].Name == "" && p.Name != "" && geodesy.Inverse(r.places[i].LatLon, p.LatLon).Distance < samePlace {
				r.places[i].Name = p.Name
			}
		}
	}
}
