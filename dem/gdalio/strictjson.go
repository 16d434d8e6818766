package gdalio

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"crowline/dem/geodesy"
)

// checkGeoJSON refuses coordinates that are not JSON numbers, and attributes
// with these names that are neither a number, nor the text of one in the unit,
// nor null. It reads a file of any size without holding it.
func checkGeoJSON(r io.Reader, unit string, heights ...string) error {
	c := geoJSONCheck{r: bufio.NewReaderSize(r, 1<<16), unit: unit, heights: heights}
	if start, err := c.r.Peek(3); err == nil && bytes.Equal(start, []byte("\ufeff")) {
		_, _ = c.r.Discard(3)
	}
	return c.value(jsonObject, "")
}

// Parts of a GeoJSON document, by what their values may be.
type jsonPart int

const (
	jsonOther       jsonPart = iota // anything
	jsonObject                      // the document, a feature or a geometry
	jsonFeatures                    // the list of features
	jsonGeometries                  // a list of geometries
	jsonCoordinates                 // numbers, and lists of them
	jsonProperties                  // a feature's attributes
	jsonHeight                      // an attribute that is a height
)

type geoJSONCheck struct {
	r       *bufio.Reader
	unit    string
	heights []string
	feature int // its number, from 1
	depth   int
}

var errNotJSON = errors.New("not a readable GeoJSON file: it is not whole, or no JSON")

// next is the next character that is no space.
func (c *geoJSONCheck) next() (byte, error) {
	for {
		b, err := c.r.ReadByte()
		if err != nil {
			return 0, errNotJSON
		}
		if b != ' ' && b != '\n' && b != '\t' && b != '\r' {
			return b, nil
		}
	}
}

// wrong is the error of a value.
func (c *geoJSONCheck) wrong(part jsonPart, key, text string) error {
	where := thing("feature", max(c.feature, 1), "")
	if part == jsonCoordinates {
		return &NumberError{where, "coordinate", text, "is not a number; in GeoJSON it has digits and a point, and no quotes"}
	}
	return &NumberError{where, key, text, notHeight(c.unit)}
}

func (c *geoJSONCheck) value(part jsonPart, key string) error {
	const deepest = 256
	first, err := c.next()
	if err != nil {
		return err
	}
	if first == '{' || first == '[' {
		if c.depth++; c.depth > deepest {
			return fmt.Errorf("not a readable GeoJSON file: lists %d deep", deepest)
		}
		defer func() { c.depth-- }()
	}
	switch first {
	case '{':
		if part == jsonCoordinates || part == jsonHeight {
			return c.wrong(part, key, "{")
		}
		return c.object(part)
	case '[':
		if part == jsonHeight {
			return c.wrong(part, key, "[")
		}
		return c.list(part, key)
	case '"':
		text, err := c.text(part == jsonCoordinates || part == jsonHeight)
		if err != nil {
			return err
		}
		if part == jsonCoordinates {
			return c.wrong(part, key, text)
		}
		if part == jsonHeight {
			if _, _, ok := parseHeight(text, c.unit); !ok {
				return c.wrong(part, key, text)
			}
		}
		return nil
	}
	word, err := c.word(first)
	if err != nil {
		return err
	}
	_, number := geodesy.ParseNumber(word)
	if !number && (part == jsonCoordinates || part == jsonHeight && word != "null") {
		return c.wrong(part, key, word)
	}
	return nil
}

// object reads on from behind its brace.
func (c *geoJSONCheck) object(part jsonPart) error {
	first, err := c.next()
	if err != nil || first == '}' {
		return err
	}
	for {
		if first != '"' {
			return errNotJSON
		}
		key, err := c.text(true)
		if err != nil {
			return err
		}
		if b, err := c.next(); err != nil || b != ':' {
			return errNotJSON
		}
		if err := c.value(c.member(part, key), key); err != nil {
			return err
		}
		switch b, err := c.next(); {
		case err != nil || b != ',' && b != '}':
			return errNotJSON
		case b == '}':
			return nil
		}
		if first, err = c.next(); err != nil {
			return err
		}
	}
}

// member is the part that an object's member is.
func (c *geoJSONCheck) member(part jsonPart, key string) jsonPart {
	isHeight := slices.ContainsFunc(c.heights, func(h string) bool { return strings.EqualFold(h, key) })
	switch {
	case part == jsonProperties && isHeight:
		return jsonHeight
	case part != jsonObject && part != jsonFeatures && part != jsonGeometries:
		return jsonOther
	case isHeight: // of a feature without properties GDAL takes the members for them
		return jsonHeight
	}
	switch key {
	case "features":
		return jsonFeatures
	case "geometry":
		return jsonObject
	case "geometries":
		return jsonGeometries
	case "coordinates":
		return jsonCoordinates
	case "properties":
		return jsonProperties
	}
	return jsonOther
}

// list reads on from behind its bracket.
func (c *geoJSONCheck) list(part jsonPart, key string) error {
	b, err := c.next()
	if err != nil || b == ']' {
		return err
	}
	_ = c.r.UnreadByte()
	inner := part
	if part == jsonFeatures || part == jsonGeometries {
		inner = jsonObject
	}
	for {
		if part == jsonFeatures {
			c.feature++
		}
		if err := c.value(inner, key); err != nil {
			return err
		}
		switch b, err := c.next(); {
		case err != nil || b != ',' && b != ']':
			return errNotJSON
		case b == ']':
			return nil
		}
	}
}

// text reads on from behind its quote. What is not kept may be of any length.
func (c *geoJSONCheck) text(keep bool) (string, error) {
	const longest = 1 << 16
	raw := []byte{'"'}
	for {
		b, err := c.r.ReadByte()
		if err != nil {
			return "", errNotJSON
		}
		if keep && len(raw) < longest {
			raw = append(raw, b)
		}
		switch b {
		case '"':
			if !keep {
				return "", nil
			}
			if !bytes.ContainsRune(raw, '\\') {
				return string(raw[1 : len(raw)-1]), nil
			}
			var text string
			if err := json.Unmarshal(raw, &text); err != nil {
				return "", errNotJSON
			}
			return text, nil
		case '\\':
			if b, err = c.r.ReadByte(); err != nil {
				return "", errNotJSON
			}
			if keep && len(raw) < longest {
				raw = append(raw, b)
			}
		}
	}
}

// word reads a number, or a word as null, that begins so.
func (c *geoJSONCheck) word(first byte) (string, error) {
	const longest = 1000
	word := []byte{first}
	for {
		b, err := c.r.ReadByte()
		if errors.Is(err, io.EOF) {
			return string(word), nil
		}
		if err != nil {
			return "", errNotJSON
		}
		switch b {
		case ' ', '\n', '\t', '\r', ',', ']', '}', ':', '"', '[', '{':
			return string(word), c.r.UnreadByte()
		}
		if word = append(word, b); len(word) > longest {
			return "", errNotJSON
		}
	}
}
