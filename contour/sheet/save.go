package sheet

import (
	"bytes"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"crowline/dem/outfile"
)

// Formats lists the file name endings that Save knows.
var Formats = []string{".pdf", ".svg", ".png"}

// Save writes the document in the format that the path's ending names and
// returns the files written. PDF holds every page; the other formats hold one,
// so page 2 of name.svg goes to name-2.svg. dpi matters to PNG alone; 0 stands
// for 200. Each file is written beside its place and then renamed, so an
// interrupted run leaves no half a file; if any page cannot be drawn, none is
// written.
func (d *Document) Save(path string, dpi float64) (written []string, err error) {
	if dpi == 0 {
		dpi = 200
	}
	type file struct {
		path string
		body bytes.Buffer
	}
	var files []*file
	each := func(draw func(w io.Writer, page int) error) error {
		ext := filepath.Ext(path)
		for i := range d.Pages {
			f := &file{path: path}
			if i > 0 {
				f.path = fmt.Sprintf("%s-%d%s", strings.TrimSuffix(path, ext), i+1, ext)
			}
			if err := draw(&f.body, i); err != nil {
				return err
			}
			files = append(files, f)
		}
		return nil
	}
	switch ext := strings.ToLower(filepath.Ext(path)); ext {
	case ".pdf":
		f := &file{path: path}
		files = append(files, f)
		err = d.WritePDF(&f.body)
	case ".svg":
		err = each(d.WriteSVG)
	case ".png":
		err = each(func(w io.Writer, page int) error { return d.WritePNG(w, page, dpi) })
	default:
		return nil, fmt.Errorf("sheet: %q: the name must end in %s", path, strings.Join(Formats, ", "))
	}
	if err != nil {
		return nil, err
	}
	whole := make([]outfile.File, len(files))
	for i, f := range files {
		whole[i] = outfile.File{Path: f.path, Body: f.body.Bytes()}
		written = append(written, f.path)
	}
	if err := outfile.Write(whole...); err != nil {
		return nil, err
	}
	return written, nil
}
