package gdalio

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"crowline/dem/outfile"
)

// shapefileSides are the endings, in place of .shp, of the files that together
// are a shapefile.
var shapefileSides = []string{".shx", ".dbf", ".prj", ".cpg"}

// journals are SQLite's files beside a GeoPackage that another program has
// open or left unfinished. They would be taken as belonging to what replaces it.
var journals = []string{"-wal", "-journal", "-shm"}

// prjReaders are the endings of rasters that take their reference system from
// a .prj of their name.
var prjReaders = []string{".asc", ".grd", ".arc", ".bil", ".bip", ".bsq", ".flt", ".hdr", ".bt"}

// SideFiles are the files that writing one makes beside it, there or not.
func SideFiles(path string) []string {
	if !strings.EqualFold(filepath.Ext(path), ".shp") {
		return nil
	}
	var out []string
	for _, ending := range shapefileSides {
		out = append(out, withEnding(path, ending))
	}
	return out
}

func withEnding(path, ending string) string {
	return strings.TrimSuffix(path, filepath.Ext(path)) + ending
}

// CheckWritable refuses a file that could not be written without replacing
// another beside it that was not named. A shapefile's own files go with it when
// it is replaced; where it is not there yet they are another's, and so is a .prj
// that a raster of the same name reads, or would.
func CheckWritable(path string) error {
	if err := outfile.CheckTarget(path); err != nil {
		return err
	}
	if strings.EqualFold(filepath.Ext(path), ".gpkg") {
		for _, ending := range journals {
			if _, err := os.Lstat(path + ending); err == nil {
				return fmt.Errorf("cannot write %s: %s says that another program has it open or did not finish it; close that, or name another file", path, path+ending)
			}
		}
	}
	_, none := os.Lstat(path)
	for _, side := range SideFiles(path) {
		info, err := os.Lstat(side)
		if err == nil && (none != nil || !info.Mode().IsRegular()) {
			return outfile.InTheWay(path, side)
		}
		if strings.EqualFold(filepath.Ext(side), ".prj") {
			if raster := readsPRJ(side); raster != "" {
				return fmt.Errorf("cannot write %s: %s goes with it and would be read as the reference system of %s; name another file", path, side, raster)
			}
		}
	}
	return nil
}

// readsPRJ is a raster that reads a .prj, "" for none.
func readsPRJ(prj string) string {
	list, err := os.ReadDir(filepath.Dir(prj))
	if err != nil {
		return ""
	}
	stem := withEnding(filepath.Base(prj), "")
	for _, f := range list {
		name := f.Name()
		if slices.Contains(prjReaders, strings.ToLower(filepath.Ext(name))) && strings.EqualFold(withEnding(name, ""), stem) {
			return filepath.Join(filepath.Dir(prj), name)
		}
	}
	return ""
}
