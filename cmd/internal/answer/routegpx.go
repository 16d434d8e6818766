package answer

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"

	"github.com/paulmach/orb"

	"crowline/dem/gdalio"
)

// Waypoint is a point for a receiver.
type Waypoint struct {
	At Spot
	// Name and Kind are what it is called and what it is ("mark"); Text, which
	// may be "", is what is done with it.
	Name, Kind, Text string
}

// GPX writes the route for a receiver: its turning points and others as
// waypoints, and the route itself.
func (a *RouteAnswer) GPX(others []Waypoint) Output {
	return func(ctx context.Context, path string) ([]string, error) {
		return []string{path}, gdalio.WriteFeatures(ctx, path, gdalio.GPX, a.layers(others)...)
	}
}

// GPXBytes is what GPX writes, for a front end that names no file. It is written in
// a folder of its own, which is gone afterwards.
func (a *RouteAnswer) GPXBytes(ctx context.Context, others []Waypoint) (text []byte, err error) {
	folder, err := os.MkdirTemp("", "crowline-")
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(folder)) }()
	path := filepath.Join(folder, "route.gpx")
	if _, err := a.GPX(others)(ctx, path); err != nil {
		return nil, err
	}
	return os.ReadFile(path)
}

func (a *RouteAnswer) layers(others []Waypoint) []gdalio.Layer {
	points := gdalio.Layer{Shape: gdalio.Points, Fields: []gdalio.Field{
		{Name: "name", Type: gdalio.Text}, {Name: "type", Type: gdalio.Text}, {Name: "desc", Type: gdalio.Text}, {Name: "ele", Type: gdalio.Real}}}
	route := gdalio.Layer{Name: gdalio.RoutePoints, Shape: gdalio.Points, Fields: []gdalio.Field{
		{Name: "name", Type: gdalio.Text}, {Name: "type", Type: gdalio.Text}, {Name: "ele", Type: gdalio.Real},
		{Name: "route_fid", Type: gdalio.Integer}, {Name: "route_name", Type: gdalio.Text}}}
	at := func(s Spot) orb.Point {
		return orb.Point{Rounded(s.Lon, decimalsOf("lon")), Rounded(s.Lat, decimalsOf("lat"))}
	}
	elevation := func(s Spot) any {
		if math.IsNaN(s.ElevationM) {
			return nil
		}
		return Rounded(s.ElevationM, 1)
	}
	add := func(w Waypoint) {
		var text any // left out where there is none
		if w.Text != "" {
			text = w.Text
		}
		points.Features = append(points.Features, gdalio.Feature{Geometry: at(w.At), Values: []any{w.Name, w.Kind, text, elevation(w.At)}})
	}
	turn := func(s Spot, i int) {
		name := s.Name
		switch {
		case name != "":
		case i == 0:
			name = "start"
		default:
			name = fmt.Sprintf("end of leg %d", i)
		}
		const kind = "turning point"
		add(Waypoint{At: s, Name: name, Kind: kind})
		route.Features = append(route.Features, gdalio.Feature{Geometry: at(s), Values: []any{name, kind, elevation(s), 0, a.Name}})
	}
	turn(a.Legs[0].From, 0)
	for i := range a.Legs {
		turn(a.Legs[i].To, i+1)
	}
	for _, w := range others {
		add(w)
	}
	return []gdalio.Layer{points, route}
}
