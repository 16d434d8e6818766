package gdalio

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"regexp"
)

// A GeoPackage is an SQLite database, and the SQL in it that makes its tables
// is run when it is opened: a virtual table opens any file or address (the
// modules that GDAL brings along have some that do). So its list of tables is
// read here first, by the file format, https://sqlite.org/fileformat2.html.

// plainTables are the statements that make what a GeoPackage has; the virtual
// tables are the spatial index's (OGC 12-128r18, requirement 75).
var plainTables = regexp.MustCompile(`(?is)^\s*CREATE\s+(TABLE|(UNIQUE\s+)?INDEX|TRIGGER|VIEW|VIRTUAL\s+TABLE\s+(IF\s+NOT\s+EXISTS\s+)?("[^"]*"|'[^']*'|\[[^\]]*\]|\w+)\s+USING\s+rtree)\b`)

// Bounds on the list of tables: a national map has some hundred.
const (
	mostSchemaPages = 10_000
	mostSchemaBytes = 1 << 20 // of one table's statement
)

var (
	errNotGeoPackage = errors.New("its list of tables is damaged")
	errUnclosed      = errors.New("another program has it open, or did not close it; close it there, or open and close it once, and try again")
)

// isSQLite reports whether a file is a database of SQLite's.
func isSQLite(path string) bool {
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	var head [16]byte
	_, err = io.ReadFull(f, head[:])
	return err == nil && string(head[:]) == "SQLite format 3\x00"
}

// checkGeoPackage refuses a database with tables made of other files. Views
// are let be: what they call is fenced in when it is opened.
func checkGeoPackage(path string) error {
	// What is in these replaces pages of the file.
	for _, ending := range []string{"-wal", "-journal"} {
		if stat, err := os.Stat(path + ending); err == nil && stat.Size() > 0 {
			return errUnclosed
		}
	}
	f, err := os.Open(path)
	if err != nil {
		return errors.New("it cannot be opened")
	}
	defer f.Close()
	var head [100]byte
	if _, err := io.ReadFull(f, head[:]); err != nil {
		return errNotGeoPackage
	}
	s := schema{file: f, page: int64(binary.BigEndian.Uint16(head[16:])), seen: map[uint32]bool{}}
	if s.page == 1 {
		s.page = 65536
	}
	s.usable = int(s.page) - int(head[20])
	if s.page < 512 || s.page&(s.page-1) != 0 || s.usable < 480 || binary.BigEndian.Uint32(head[56:]) != 1 {
		return errNotGeoPackage // 1: UTF-8, in which every GeoPackage is
	}
	return s.tree(1)
}

// schema is the list of a database's tables while it is read.
type schema struct {
	file   io.ReaderAt
	page   int64 // bytes
	usable int   // of each page, bytes
	seen   map[uint32]bool
}

func (s *schema) read(number uint32) ([]byte, error) {
	if number == 0 || s.seen[number] || len(s.seen) == mostSchemaPages {
		return nil, errNotGeoPackage
	}
	s.seen[number] = true
	data := make([]byte, s.page)
	if _, err := s.file.ReadAt(data, int64(number-1)*s.page); err != nil {
		return nil, errNotGeoPackage
	}
	return data, nil
}

// tree goes through a table's pages from one on (section 1.6).
func (s *schema) tree(number uint32) error {
	data, err := s.read(number)
	if err != nil {
		return err
	}
	head := 0
	if number == 1 {
		head = 100
	}
	const leaf, interior = 13, 5
	kind, cells := data[head], int(binary.BigEndian.Uint16(data[head+3:]))
	at := head + 8
	if kind == interior {
		at += 4
	}
	if kind != leaf && kind != interior || at+2*cells > s.usable {
		return errNotGeoPackage
	}
	for i := range cells {
		cell := int(binary.BigEndian.Uint16(data[at+2*i:]))
		if cell+4 > s.usable {
			return errNotGeoPackage
		}
		if kind == interior {
			err = s.tree(binary.BigEndian.Uint32(data[cell:]))
		} else {
			err = s.row(data[cell:s.usable])
		}
		if err != nil {
			return err
		}
	}
	if kind == interior {
		return s.tree(binary.BigEndian.Uint32(data[head+8:]))
	}
	return nil
}

// varint is section 1.6's number and how many bytes it takes, 0 for none.
func varint(b []byte) (value uint64, n int) {
	for n < len(b) && n < 8 {
		value = value<<7 | uint64(b[n]&0x7f)
		n++
		if b[n-1]&0x80 == 0 {
			return value, n
		}
	}
	if n < len(b) && n == 8 {
		return value<<8 | uint64(b[n]), 9
	}
	return 0, 0
}

// row judges one table by its row of the list.
func (s *schema) row(cell []byte) error {
	size, n := varint(cell)
	_, m := varint(cell[n:])
	if n == 0 || m == 0 || size > mostSchemaBytes {
		return errNotGeoPackage
	}
	cell = cell[n+m:]
	total, most, least := int(size), s.usable-35, (s.usable-12)*32/255-23
	local := total
	if total > most {
		if local = least + (total-least)%(s.usable-4); local > most {
			local = least
		}
	}
	if local > len(cell) || total > local && local+4 > len(cell) {
		return errNotGeoPackage
	}
	record := append([]byte{}, cell[:local]...)
	if total > local {
		for next := binary.BigEndian.Uint32(cell[local:]); len(record) < total; {
			data, err := s.read(next)
			if err != nil {
				return err
			}
			next = binary.BigEndian.Uint32(data)
			record = append(record, data[4:min(s.usable, 4+total-len(record))]...)
		}
	}
	return judge(record)
}

// judge looks at a row's fifth column, the statement (sections 2.1 and 2.6).
func judge(record []byte) error {
	header, n := varint(record)
	if n == 0 || header > uint64(len(record)) {
		return errNotGeoPackage
	}
	body := header
	for column, at := 0, uint64(n); ; column++ {
		kind, n := varint(record[min(at, header):header])
		if n == 0 {
			return errNotGeoPackage
		}
		at += uint64(n)
		length := uint64(0)
		switch {
		case kind >= 12:
			length = (kind - 12 - kind&1) / 2
		case kind == 6, kind == 7:
			length = 8
		case kind == 5:
			length = 6
		case kind < 5:
			length = kind
		}
		if length > uint64(len(record)) || body+length > uint64(len(record)) {
			return errNotGeoPackage
		}
		if column < 4 {
			body += length
			continue
		}
		if kind == 0 { // the index of a key has none
			return nil
		}
		statement := string(record[body : body+length])
		if kind < 13 || kind&1 == 0 || !plainTables.MatchString(statement) {
			return fmt.Errorf("it has a table made of something else (%s), which may be any file or address; copy its layers to a plain one (ogr2ogr)", shortened(statement))
		}
		return nil
	}
}
