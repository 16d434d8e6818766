package answer

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"crowline/dem/geodesy"
)

type jsonMessage = json.RawMessage

// jsonText is what a JSON string says.
func jsonText(value []byte) string {
	var s string
	_ = json.Unmarshal(value, &s) // it was just written
	return s
}

// sightsGeoJSON is a FeatureCollection (RFC 7946) whose lines go from their first
// place to their last.
type sightsGeoJSON struct {
	name    string
	in      *bufio.Reader
	bounded *atMost
	decoder *json.Decoder
	members []string // that stand before the features, as they are written again
	after   []string // and after them
	read    int
	began   bool
}

// atMost gives an error after so many bytes unless told to begin anew.
type atMost struct {
	r    io.Reader
	left int
}

var errTooLarge = fmt.Errorf("a feature is larger than %d MB", longestFeature>>20)

func (a *atMost) Read(b []byte) (int, error) {
	if a.left <= 0 {
		return 0, errTooLarge
	}
	n, err := a.r.Read(b[:min(len(b), a.left)])
	a.left -= n
	return n, err
}

func (s *sightsGeoJSON) head() ([]byte, error) {
	s.bounded = &atMost{s.in, longestFeature}
	s.decoder = json.NewDecoder(s.bounded)
	if _, err := s.decoder.Token(); err != nil {
		return nil, s.wrong(err)
	}
	if err := s.others(&s.members); err != nil {
		return nil, err
	}
	out := `{"type":"FeatureCollection"`
	for _, m := range s.members {
		out += "," + m
	}
	s.began = true
	return []byte(out + `,"features":[`), nil
}

// others reads members up to the list of features, or to the end.
func (s *sightsGeoJSON) others(list *[]string) error {
	size := 0
	for s.decoder.More() {
		token, err := s.decoder.Token()
		if err != nil {
			return s.wrong(err)
		}
		key, _ := token.(string)
		if key == "features" && !s.began {
			if token, err = s.decoder.Token(); err != nil {
				return s.wrong(err)
			}
			if token != json.Delim('[') {
				return fmt.Errorf("%s: its features are no list", s.name)
			}
			return nil
		}
		var value json.RawMessage
		if err := s.decoder.Decode(&value); err != nil {
			return s.wrong(err)
		}
		if key == "type" && string(value) != `"FeatureCollection"` {
			return fmt.Errorf("%s is no FeatureCollection: it wants one of lines, each from a place to another", s.name)
		}
		if text := string(value); key == "crs" && text != "null" && !strings.Contains(text, "CRS84") && !strings.Contains(text, "4326") {
			return fmt.Errorf("%s is not in WGS 84: bring it there, as ogr2ogr -t_srs EPSG:4326 does", s.name)
		}
		if key != "type" {
			name, _ := json.Marshal(key)
			member := string(name) + ":" + compact(value)
			if size += len(member); size > longestFeature {
				return s.wrong(errTooLarge)
			}
			*list = append(*list, member)
		}
		s.bounded.left = longestFeature
	}
	if !s.began {
		return fmt.Errorf("%s has no features: it wants a FeatureCollection of lines, each from a place to another", s.name)
	}
	return nil
}

func compact(value json.RawMessage) string {
	var b bytes.Buffer
	if json.Compact(&b, value) != nil {
		return "null"
	}
	return b.String()
}

func (s *sightsGeoJSON) wrong(err error) error {
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return fmt.Errorf("%s ends early, after %d features", s.name, s.read)
	}
	return fmt.Errorf("%s: after %d features: %w", s.name, s.read, err)
}

func (s *sightsGeoJSON) waits() bool { return false }

func (s *sightsGeoJSON) next() (*sightsLine, error) {
	s.bounded.left = longestFeature
	if !s.decoder.More() {
		if _, err := s.decoder.Token(); err != nil {
			return nil, s.wrong(err)
		}
		if err := s.others(&s.after); err != nil {
			return nil, err
		}
		if _, err := s.decoder.Token(); err != nil {
			return nil, s.wrong(err)
		}
		return nil, io.EOF
	}
	var value json.RawMessage
	if err := s.decoder.Decode(&value); err != nil {
		return nil, s.wrong(err)
	}
	s.read++
	l := &sightsLine{}
	if json.Unmarshal(value, &l.parts) != nil || l.parts == nil {
		l.parts, l.wrong = map[string]jsonMessage{}, errors.New("no feature")
		return l, nil
	}
	var properties map[string]jsonMessage
	if p, ok := l.parts["properties"]; ok && json.Unmarshal(p, &properties) != nil {
		l.parts["properties"], l.wrong = nil, errors.New("its properties are no object")
		return l, nil
	}
	for _, key := range sightsColumns {
		if _, has := properties[key]; has {
			l.wrong = fmt.Errorf("it has a property %s already, which the answer would be: rename it or take it out", key)
			return l, nil
		}
	}
	l.wrong = l.ends(l.parts["geometry"])
	return l, nil
}

// ends takes a feature's places from its line.
func (l *sightsLine) ends(geometry jsonMessage) error {
	var g struct {
		Type        string      `json:"type"`
		Coordinates jsonMessage `json:"coordinates"`
	}
	var line [][]float64
	if json.Unmarshal(geometry, &g) != nil || g.Type != "LineString" {
		return errors.New("its geometry is no LineString")
	}
	if json.Unmarshal(g.Coordinates, &line) != nil || len(line) < 2 || len(line[0]) < 2 || len(line[len(line)-1]) < 2 {
		return errors.New("its line has no two places")
	}
	for i, end := range []*sightsEnd{&l.from, &l.to} {
		at := line[i*(len(line)-1)]
		p, err := geodesy.NewLatLon(geodesy.Degrees(at[1]), geodesy.Degrees(at[0]))
		if err != nil {
			return err
		}
		end.at = PlaceAt(p)
	}
	return nil
}

func (s *sightsGeoJSON) write(l *sightsLine, first bool) error {
	var b bytes.Buffer
	if !first {
		b.WriteByte(',')
	}
	b.WriteString("\n{\"type\":\"Feature\"")
	for _, key := range slices.Sorted(maps.Keys(l.parts)) {
		if key == "type" || key == "properties" {
			continue
		}
		b.WriteByte(',')
		if err := writeString(&b, key); err != nil {
			return err
		}
		b.WriteByte(':')
		b.WriteString(compact(l.parts[key]))
	}
	if _, has := l.parts["geometry"]; !has {
		b.WriteString(`,"geometry":null`)
	}
	b.WriteString(`,"properties":{`)
	var properties map[string]jsonMessage
	_ = json.Unmarshal(l.parts["properties"], &properties) // next has looked at it
	had := false
	if l.wrong != nil {
		delete(properties, "status")
	}
	for _, key := range slices.Sorted(maps.Keys(properties)) {
		if had {
			b.WriteByte(',')
		}
		had = true
		if err := writeString(&b, key); err != nil {
			return err
		}
		b.WriteByte(':')
		b.WriteString(compact(properties[key]))
	}
	err := l.row.values(func(key string, value []byte) {
		if _, has := properties[key]; has {
			return
		}
		if had {
			b.WriteByte(',')
		}
		had = true
		fmt.Fprintf(&b, "%q:%s", key, value)
	})
	b.WriteString("}}")
	l.out = b.Bytes()
	return err
}

func (s *sightsGeoJSON) foot() []byte {
	out := "\n]"
	for _, m := range s.after {
		out += "," + m
	}
	return []byte(out + "}\n")
}
