package gdalio

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"golang.org/x/text/encoding/charmap"
)

// newXML reads a file's tokens as they stand, whatever its encoding: entities
// of its own are an error, so that nothing is read here otherwise than by GDAL.
func newXML(r io.Reader) *xml.Decoder {
	d := xml.NewDecoder(r)
	d.CharsetReader = func(_ string, in io.Reader) (io.Reader, error) {
		// all that GDAL knows beside UTF-8 have digits, points and letters alike
		return charmap.Windows1252.NewDecoder().Reader(in), nil
	}
	return d
}

// xmlElement is an element that is open, and the text directly in it.
type xmlElement struct {
	name string
	attr []xml.Attr
	text []byte
}

// walkXML calls closed for every element at its end, with those it is in,
// outermost first and itself last.
func walkXML(r io.Reader, kind string, closed func(open []*xmlElement) error) error {
	const deepest = 256
	d := newXML(r)
	var open, spare []*xmlElement
	for {
		token, err := d.RawToken()
		var syntax *xml.SyntaxError
		switch {
		case errors.Is(err, io.EOF):
			return nil // whether it is whole is GDAL's to say
		case errors.As(err, &syntax) && strings.HasPrefix(syntax.Msg, "invalid character entity"):
			// what it stands for may be points that GDAL would read unchecked
			return fmt.Errorf("line %d: the entity%s is not read: write what it stands for in its place", syntax.Line, strings.TrimPrefix(syntax.Msg, "invalid character entity"))
		case errors.As(err, &syntax):
			return fmt.Errorf("not a readable %s file: line %d: %s", kind, syntax.Line, syntax.Msg)
		case err != nil:
			return fmt.Errorf("not a readable %s file: %w", kind, err)
		}
		switch t := token.(type) {
		case xml.StartElement:
			if len(open) == deepest {
				return fmt.Errorf("not a readable %s file: elements %d deep", kind, deepest)
			}
			if len(spare) <= len(open) {
				spare = append(spare, &xmlElement{})
			}
			e := spare[len(open)]
			e.name, e.attr, e.text = t.Name.Local, t.Attr, e.text[:0]
			open = append(open, e)
		case xml.CharData:
			if len(open) > 0 {
				open[len(open)-1].text = append(open[len(open)-1].text, t...)
			}
		case xml.EndElement:
			if len(open) == 0 {
				return fmt.Errorf("not a readable %s file: an element ends that did not begin", kind)
			}
			if err := closed(open); err != nil {
				return err
			}
			open = open[:len(open)-1]
		}
	}
}

// checkGPX refuses points whose lat, lon or, of a waypoint, ele is not wholly a
// number.
func checkGPX(r io.Reader) error {
	kinds := map[string]string{"wpt": "waypoint", "rtept": "route point", "trkpt": "track point"}
	counts := map[string]int{}
	var name string
	var ele *string // of the point that is open
	return walkXML(r, "GPX", func(open []*xmlElement) error {
		e := open[len(open)-1]
		kind := kinds[e.name]
		if kind == "" {
			if len(open) < 2 || kinds[open[len(open)-2].name] == "" {
				return nil
			}
			switch text := strings.TrimSpace(string(e.text)); e.name {
			case "name":
				name = text
			case "ele":
				ele = &text
			}
			return nil
		}
		counts[kind]++
		where := thing(kind, counts[kind], name)
		elevation := ele
		name, ele = "", nil
		var degrees [2]string
		for i, what := range []string{"lat", "lon"} {
			at := slices.IndexFunc(e.attr, func(a xml.Attr) bool { return a.Name.Space == "" && a.Name.Local == what })
			if at < 0 {
				return fmt.Errorf("%s has no %s", where, what)
			}
			degrees[i] = e.attr[at].Value
		}
		if err := checkLatLon(where, degrees[0], degrees[1]); err != nil {
			return err
		}
		if elevation != nil && e.name == "wpt" { // no other is read
			if _, _, ok := parseHeight(*elevation, ""); !ok {
				return &NumberError{where, "ele", *elevation, notHeight("m")}
			}
		}
		return nil
	})
}

// checkKML refuses coordinates that are not wholly numbers: longitude, latitude
// and perhaps a height, with commas between.
func checkKML(r io.Reader) error {
	placemarks := 0
	return walkXML(r, "KML", func(open []*xmlElement) error {
		e := open[len(open)-1]
		if e.name == "Placemark" {
			placemarks++
		}
		if e.name != "coordinates" {
			return nil
		}
		// the name stands before the coordinates, or is not known yet
		where := thing("placemark", placemarks+1, "")
		points := strings.Fields(string(e.text))
		if len(points) == 0 {
			return fmt.Errorf("%s has no coordinates", where)
		}
		for _, p := range points {
			parts := strings.Split(p, ",")
			if len(parts) != 2 && len(parts) != 3 {
				return &NumberError{where, "coordinates", p, "are not longitude,latitude or longitude,latitude,height"}
			}
			if err := checkLatLon(where, parts[1], parts[0]); err != nil {
				return err
			}
			if len(parts) == 3 {
				if _, _, ok := parseHeight(parts[2], ""); !ok {
					return &NumberError{where, "height", parts[2], notHeight("m")}
				}
			}
		}
		return nil
	})
}
