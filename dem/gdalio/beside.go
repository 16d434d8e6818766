package gdalio

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"

	"crowline/dem/outfile"
)

// sqliteFull is SQLite's word for a full disk (SQLITE_FULL), on which a
// GeoPackage is written.
const sqliteFull = "database or disk is full"

// writeBeside lets write make a file, with any side files, in a folder of
// its own next to path, and moves all of them into place only when it has
// succeeded. What write left behind is removed in every case.
func writeBeside(path string, write func(temporary string) error) error {
	folder := filepath.Dir(path)
	if err := CheckWritable(path); err != nil {
		return err
	}
	temporary, err := outfile.Begin(func() (string, error) { return os.MkdirTemp(folder, ".crowline-*") })
	if err != nil {
		return outfile.Error(path, err)
	}
	defer outfile.Done(temporary)
	name, err := checkedPath(filepath.Join(temporary, filepath.Base(path)))
	if err != nil {
		return outfile.Error(path, err)
	}
	err = write(name)
	if failed := writeFailure(temporary); failed != nil {
		err = failed // whatever the driver made of it
	} else if err != nil && strings.Contains(err.Error(), sqliteFull) {
		err = syscall.ENOSPC
	}
	if err != nil {
		return outfile.Error(path, err)
	}
	made, err := os.ReadDir(temporary)
	if err != nil {
		return outfile.Error(path, err)
	}
	sides := SideFiles(path)
	for _, f := range made {
		side := filepath.Join(folder, f.Name())
		if f.Name() == filepath.Base(path) || slices.Contains(sides, side) {
			continue
		}
		if _, err := os.Lstat(side); err == nil { // a driver's own idea
			return outfile.InTheWay(path, side)
		}
	}
	for _, f := range made {
		from, to := filepath.Join(temporary, f.Name()), filepath.Join(folder, f.Name())
		if err := outfile.Place(from, to); err != nil {
			return outfile.Error(path, err)
		}
	}
	return nil
}
