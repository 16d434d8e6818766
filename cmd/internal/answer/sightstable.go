package answer

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"crowline/dem/geodesy"
)

// Bounds of a batch's input: a row of a table has two places and what the user
// knows of them.
const (
	longestRow     = 64 << 10
	longestFeature = 16 << 20
	mostColumns    = 1000
	sightsBuffer   = 1 << 20
	toldOfBadRow   = 200 // bytes of a row that is no row of the table
)

// openSights tells a table from GeoJSON by how it begins.
func openSights(r SightsRequest) (sightsFile, error) {
	in := bufio.NewReaderSize(r.In, sightsBuffer)
	bom := ""
	if b, _ := in.Peek(3); string(b) == "\ufeff" {
		bom = string(b)
		_, _ = in.Discard(3)
	}
	for {
		b, err := in.Peek(1)
		if errors.Is(err, io.EOF) {
			return nil, fmt.Errorf("%s is empty: it wants a first line with from and to, or a GeoJSON collection of lines", r.Name)
		}
		if err != nil {
			return nil, fmt.Errorf("%s cannot be read: %w", r.Name, err)
		}
		if strings.ContainsRune(" \t\r\n", rune(b[0])) {
			_, _ = in.Discard(1)
			continue
		}
		if b[0] == '{' {
			return &sightsGeoJSON{name: r.Name, in: in}, nil
		}
		return &sightsTable{name: r.Name, in: in, bom: bom}, nil
	}
}

// sightsTable is a table with a heading: comma, semicolon or tab between columns
// (RFC 4180).
type sightsTable struct {
	name, bom string
	in        *bufio.Reader
	pending   []byte // lines read, and given back by a row that was none

	separator byte
	end       string // of a line
	columns   int
	places    [2][]int // of each end: the column that names it, or those of its latitude and longitude
	ended     bool
}

// sightsHeadings are the headings of the columns of an end, in lower case: one
// that names it, or latitude and longitude.
var sightsHeadings = [2][3][]string{
	{{"from"}, {"from_lat", "from_latitude", "lat_from", "lat1"}, {"from_lon", "from_longitude", "lon_from", "lon1", "from_lng"}},
	{{"to"}, {"to_lat", "to_latitude", "lat_to", "lat2"}, {"to_lon", "to_longitude", "lon_to", "lon2", "to_lng"}},
}

func (t *sightsTable) head() ([]byte, error) {
	raw, whole, err := t.line(nil)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("%s: %w", t.name, err)
	}
	t.end = "\n"
	if bytes.HasSuffix(raw, []byte("\r\n")) {
		t.end = "\r\n"
	}
	text := strings.TrimRight(string(raw), "\r\n")
	t.separator = ','
	for _, s := range []byte{';', '\t'} {
		if strings.IndexByte(text, s) >= 0 && strings.IndexByte(text, ',') < 0 {
			t.separator = s
		}
	}
	fields, ok := splitRow(text, t.separator)
	wants := fmt.Errorf("%s: its first line names no columns from and to, nor from_lat, from_lon, to_lat and to_lon", t.name)
	if !whole || !ok || clean(strings.ReplaceAll(text, "\t", " ")) != strings.ReplaceAll(text, "\t", " ") {
		return nil, wants
	}
	t.columns = len(fields)
	if t.columns > mostColumns {
		return nil, fmt.Errorf("%s has %d columns; at most %d are read", t.name, t.columns, mostColumns)
	}
	find := func(names []string) int {
		return slices.IndexFunc(fields, func(f string) bool { return slices.Contains(names, strings.ToLower(strings.TrimSpace(f))) })
	}
	for i, f := range fields {
		f = strings.ToLower(strings.TrimSpace(f))
		if slices.Contains(sightsColumns, f) {
			return nil, fmt.Errorf("%s has a column %s already, which the answer would be: rename it or take it out", t.name, f)
		}
		for _, other := range fields[:i] {
			if f != "" && f == strings.ToLower(strings.TrimSpace(other)) {
				return nil, fmt.Errorf("%s has two columns called %q: rename one", t.name, f)
			}
		}
	}
	for i, h := range sightsHeadings {
		name, lat, lon := find(h[0]), find(h[1]), find(h[2])
		switch {
		case lat >= 0 && lon >= 0:
			t.places[i] = []int{lat, lon}
		case name >= 0:
			t.places[i] = []int{name}
		default:
			return nil, wants
		}
	}
	return []byte(t.bom + text + string(t.separator) + strings.Join(sightsColumns, string(t.separator)) + t.end), nil
}

// waits reports whether nothing more has come yet.
func (t *sightsTable) waits() bool { return len(t.pending) == 0 && t.in.Buffered() == 0 }

// line appends the next line to row, with its end; false where the row is then too
// long, of which only the beginning is kept.
func (t *sightsTable) line(row []byte) (_ []byte, whole bool, err error) {
	from := len(row)
	if len(t.pending) > 0 {
		n := len(t.pending)
		if i := bytes.IndexByte(t.pending, '\n'); i >= 0 {
			n = i + 1
		}
		row, t.pending = append(row, t.pending[:n]...), t.pending[n:]
		if row[len(row)-1] == '\n' {
			return row, len(row) <= longestRow, nil
		}
	}
	whole = true
	for {
		part, err := t.in.ReadSlice('\n')
		if room := longestRow - len(row); len(part) > room {
			whole = false
			part = part[:max(0, room)]
		}
		row = append(row, part...)
		if errors.Is(err, bufio.ErrBufferFull) {
			continue
		}
		if err != nil && errors.Is(err, io.EOF) && len(row) > from {
			err = nil // the last line needs no end
		}
		return row, whole, err
	}
}

func (t *sightsTable) next() (*sightsLine, error) {
	raw, whole, err := t.line(nil)
	if err != nil {
		if !errors.Is(err, io.EOF) {
			err = fmt.Errorf("%s: %w", t.name, err)
		}
		return nil, err
	}
	first := len(raw) // of the row's first line
	for whole && openQuote(raw, t.separator) {
		var more []byte
		if more, whole, err = t.line(raw); err != nil || !whole {
			break
		}
		raw = more
	}
	open := whole && err == nil
	if !open && first < len(raw) { // it never closes: the lines after its first are rows of their own
		t.pending = append(slices.Clone(raw[first:]), t.pending...)
		raw = raw[:first]
	}
	text := strings.TrimRight(string(raw), "\r\n")
	l := &sightsLine{raw: []byte(text)}
	if text == "" {
		l.blank = true
		return l, nil
	}
	fields, ok := splitRow(text, t.separator)
	switch plain := strings.ReplaceAll(strings.ReplaceAll(strings.ReplaceAll(text, "\t", " "), "\n", " "), "\r", " "); {
	case !open && first > longestRow-1:
		return t.none(l, fmt.Errorf("the row is longer than %d KB", longestRow>>10)), nil
	case !ok || !open:
		return t.none(l, errors.New("a quotation mark too many or too few")), nil
	case clean(plain) != plain:
		return t.none(l, errors.New("the row holds control characters")), nil
	case len(fields) > t.columns:
		return t.none(l, fmt.Errorf("the row has %d columns, the first line %d", len(fields), t.columns)), nil
	case len(fields) < t.columns:
		l.pad = t.columns - len(fields)
		l.wrong = fmt.Errorf("the row has %d columns, the first line %d", len(fields), t.columns)
		return l, nil
	}
	for i, end := range []*sightsEnd{&l.from, &l.to} {
		what := []string{"from", "to"}[i]
		columns := t.places[i]
		values := make([]string, len(columns))
		for j, c := range columns {
			if values[j] = strings.TrimSpace(fields[c]); values[j] == "" && l.wrong == nil {
				l.wrong = fmt.Errorf("no place in %s", what)
			}
		}
		if l.wrong == nil {
			l.wrong = end.read(values)
		}
	}
	return l, nil
}

// read takes an end from a text, or from a latitude and a longitude.
func (e *sightsEnd) read(values []string) error {
	if len(values) == 1 {
		e.text = values[0]
		return nil
	}
	lat, latOK := geodesy.ParseNumber(values[0])
	lon, lonOK := geodesy.ParseNumber(values[1])
	if !latOK || !lonOK {
		e.text = values[0] + ", " + values[1]
		return nil
	}
	p, err := geodesy.NewLatLon(geodesy.Degrees(lat), geodesy.Degrees(lon))
	e.at = PlaceAt(p)
	return err
}

// none makes a row that is none of the table's: what it held stands in the first
// column, so that the others stay under their headings.
func (t *sightsTable) none(l *sightsLine, wrong error) *sightsLine {
	text := clean(strings.ToValidUTF8(string(l.raw[:min(len(l.raw), toldOfBadRow)]), "\uFFFD"))
	if len(l.raw) > toldOfBadRow {
		text += " ..."
	}
	l.raw, l.pad, l.wrong = []byte(quoted(text, t.separator)), t.columns-1, wrong
	return l
}

// quoted is a value as a table has it.
func quoted(text string, separator byte) string {
	if strings.ContainsAny(text, "\"\r\n"+string(separator)) || strings.TrimSpace(text) != text {
		return `"` + strings.ReplaceAll(text, `"`, `""`) + `"`
	}
	return text
}

func (t *sightsTable) write(l *sightsLine, _ bool) error {
	if l.blank {
		l.out = []byte(t.end)
		return nil
	}
	l.out = slices.Grow(slices.Clone(l.raw), 128)
	l.out = append(l.out, bytes.Repeat([]byte{t.separator}, l.pad)...)
	err := l.row.values(func(_ string, value []byte) {
		l.out = append(l.out, t.separator)
		switch {
		case string(value) == "null":
		case value[0] == '"':
			l.out = append(l.out, quoted(jsonText(value), t.separator)...)
		default:
			l.out = append(l.out, value...)
		}
	})
	l.out = append(l.out, t.end...)
	return err
}

func (t *sightsTable) foot() []byte { return nil }

// splitRow are the values of a row; false where its quotation marks are none of a
// table's.
func splitRow(text string, separator byte) (fields []string, ok bool) {
	for i := 0; ; i++ {
		if i < len(text) && text[i] == '"' {
			var b strings.Builder
			for i++; ; i++ {
				if i >= len(text) {
					return fields, false
				}
				if text[i] == '"' {
					if i+1 >= len(text) || text[i+1] != '"' {
						break
					}
					i++
				}
				b.WriteByte(text[i])
			}
			fields = append(fields, b.String())
			i++
		} else {
			n := strings.IndexByte(text[i:], separator)
			if n < 0 {
				n = len(text) - i
			}
			fields = append(fields, text[i:i+n])
			i += n
		}
		if i >= len(text) {
			return fields, true
		}
		if text[i] != separator {
			return fields, false
		}
	}
}

// openQuote reports whether a row ends within quotation marks, so that the next
// line is part of it.
func openQuote(row []byte, separator byte) bool {
	if bytes.IndexByte(row, '"') < 0 {
		return false
	}
	inside, start := false, true
	for i := 0; i < len(row); i++ {
		switch c := row[i]; {
		case inside && c == '"':
			if i+1 < len(row) && row[i+1] == '"' {
				i++
				continue
			}
			if next := i + 1; next < len(row) && row[next] != separator && row[next] != '\n' && row[next] != '\r' {
				return false // no table's: splitRow says so
			}
			inside = false
		case !inside && start && c == '"':
			inside = true
		}
		start = !inside && row[i] == separator
	}
	return inside
}
