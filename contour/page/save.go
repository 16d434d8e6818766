package page

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"crowline/dem/outfile"
)

// Formats lists the file name endings that Save knows.
var Formats = []string{".pdf", ".svg", ".png"}

// ManyFiles reports whether a document of several pages goes to several files
// under that name.
func ManyFiles(path string) bool {
	ending := strings.ToLower(filepath.Ext(path))
	return ending == ".svg" || ending == ".png"
}

// PageFile is the name of a page's file, counted from 1, where pages go to
// files of their own.
func PageFile(path string, page int) string {
	if page == 1 {
		return path
	}
	ending := filepath.Ext(path)
	return fmt.Sprintf("%s-%d%s", strings.TrimSuffix(path, ending), page, ending)
}

// CheckPages refuses a name under which Save could not write that many pages,
// for files are there that nobody named.
func CheckPages(path string, pages int) error {
	if !ManyFiles(path) {
		return nil
	}
	for page := 2; page <= pages; page++ {
		if _, err := os.Lstat(PageFile(path, page)); err == nil {
			return outfile.InTheWay(path, PageFile(path, page))
		}
	}
	return nil
}

// Save writes the document in the format that the path's ending names and
// returns the files written. PDF holds every page; the other formats hold one,
// so page 2 of name.svg goes to name-2.svg, and is refused if that is there:
// nobody named it. dpi matters to PNG alone; 0 stands
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
		for i := range d.Pages {
			f := &file{path: PageFile(path, i+1)}
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
		return nil, fmt.Errorf("page: %q: the name must end in %s", path, strings.Join(Formats, ", "))
	}
	if err != nil {
		return nil, err
	}
	whole := make([]outfile.File, len(files))
	for i, f := range files {
		whole[i] = outfile.File{Path: f.path, Body: f.body.Bytes()}
		if i > 0 {
			whole[i].Beside = path
		}
		written = append(written, f.path)
	}
	if err := outfile.Write(whole...); err != nil {
		return nil, err
	}
	return written, nil
}
