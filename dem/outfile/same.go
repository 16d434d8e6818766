package outfile

import (
	"os"
	"path/filepath"
	"strings"
)

// Spot is where a path leads, to be compared with others: a file by the disk
// and the number it has there, whatever its names; one that is not there yet by
// its folder and its name.
type Spot struct {
	file   os.FileInfo // nil where nothing is there
	folder os.FileInfo // nil where that is not there either
	name   string
}

// maxLinks is how many links are followed, one to the next, as systems do.
const maxLinks = 40

// Look finds a path's spot. Links are followed, those to nothing too.
func Look(path string) Spot {
	s := Spot{}
	if info, err := os.Stat(path); err == nil {
		s.file = info
		return s
	}
	for range maxLinks {
		to, err := os.Readlink(path)
		if err != nil {
			break
		}
		if !filepath.IsAbs(to) {
			to = filepath.Join(filepath.Dir(path), to)
		}
		path = to
	}
	s.name = filepath.Base(path)
	s.folder, _ = os.Stat(filepath.Dir(path))
	return s
}

// Exists reports whether a file is there.
func (s Spot) Exists() bool { return s.file != nil }

// Same reports whether two spots are one file. Of files that are not there yet,
// names that differ in capitals alone are one: on some disks they are.
func (s Spot) Same(t Spot) bool {
	if s.file != nil || t.file != nil {
		return s.file != nil && t.file != nil && os.SameFile(s.file, t.file)
	}
	return s.folder != nil && t.folder != nil && os.SameFile(s.folder, t.folder) && strings.EqualFold(s.name, t.name)
}
