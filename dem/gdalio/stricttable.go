package gdalio

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/lukeroth/gdal"
)

// checkTable refuses a Shapefile whose table has anything but numbers in the
// columns of numbers with these names: dBASE keeps all values as text. A file
// without a table is GDAL's to refuse.
func checkTable(path, unit string, columns ...string) error {
	base := strings.TrimSuffix(path, filepath.Ext(path))
	for _, ending := range []string{".dbf", ".DBF"} {
		f, err := os.Open(base + ending)
		if err != nil {
			continue
		}
		defer f.Close()
		return checkDBF(f, unit, columns...)
	}
	return nil
}

// checkDBF reads a dBASE table as far as it goes. (The layout: a header of 32
// bytes with the number of records, its own length and a record's; 32 bytes a
// column with name, type and width; then the records, each after a byte that
// is "*" where it is deleted. From memory of dBASE III.)
func checkDBF(r io.Reader, unit string, columns ...string) error {
	in := bufio.NewReaderSize(r, 1<<16)
	head := make([]byte, 32)
	if _, err := io.ReadFull(in, head); err != nil {
		return nil // GDAL says what is wrong
	}
	records := binary.LittleEndian.Uint32(head[4:])
	headLength, recordLength := int(binary.LittleEndian.Uint16(head[8:])), int(binary.LittleEndian.Uint16(head[10:]))
	if headLength < 33 || recordLength < 2 {
		return nil
	}
	descriptions := make([]byte, headLength-32)
	if _, err := io.ReadFull(in, descriptions); err != nil {
		return nil
	}
	type column struct {
		name     string
		from, to int
	}
	var checked []column
	at := 1
	for ; len(descriptions) >= 32 && descriptions[0] != '\r'; descriptions = descriptions[32:] {
		name, _, _ := bytes.Cut(descriptions[:11], []byte{0})
		kind, width := descriptions[11], int(descriptions[16])
		isWanted := slices.ContainsFunc(columns, func(c string) bool { return strings.EqualFold(c, string(bytes.TrimSpace(name))) })
		if isWanted && (kind == 'N' || kind == 'F') { // a column of text is read as such
			checked = append(checked, column{string(name), at, at + width})
		}
		at += width
	}
	if len(checked) == 0 || at > recordLength {
		return nil
	}
	record := make([]byte, recordLength)
	for n := 1; n <= int(records); n++ {
		if _, err := io.ReadFull(in, record); err != nil {
			return nil
		}
		if record[0] == '*' {
			continue
		}
		for _, c := range checked {
			text := strings.Trim(string(record[c.from:c.to]), " \x00")
			if strings.Trim(text, "*") == "" { // stars stand for no value
				continue
			}
			if _, _, ok := parseHeight(text, ""); !ok {
				return &NumberError{thing("feature", n, ""), c.name, text, notHeight(unit)}
			}
		}
	}
	return nil
}

// checkColumn refuses a layer of a GeoPackage whose column of numbers holds
// anything else: SQLite keeps any value in any column, and GDAL reads of a text
// as far as it goes.
func checkColumn(dataset gdal.Dataset, layer gdal.Layer, field, unit string) error {
	definition := layer.Definition()
	i := definition.FieldIndex(field)
	column := definition.FieldDefinition(i)
	switch column.Type() {
	case gdal.FT_Integer, gdal.FT_Integer64, gdal.FT_Real:
	default:
		return nil
	}
	quoted := func(name string) string { return `"` + strings.ReplaceAll(name, `"`, `""`) + `"` }
	found := dataset.ExecuteSQL(fmt.Sprintf(`SELECT rowid AS number, CAST(%[1]s AS TEXT) AS value FROM %[2]s WHERE typeof(%[1]s) NOT IN ('integer', 'real', 'null') LIMIT 1`,
		quoted(column.Name()), quoted(layer.Name())), gdal.Geometry{}, "")
	if found == (gdal.Layer{}) {
		return errors.New("its heights cannot be looked through")
	}
	defer dataset.ReleaseResultSet(found)
	feature := found.NextFeature()
	if feature == nil {
		return nil
	}
	defer feature.Destroy()
	value := func(name string) string { return feature.FieldAsString(feature.FieldIndex(name)) }
	return &NumberError{"feature " + value("number"), column.Name(), value("value"), notHeight(unit)}
}
