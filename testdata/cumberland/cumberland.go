package cumberland

import (
	_ "embed"
	"path/filepath"
	"runtime"
	"slices"
)

// Name is what answers call the data.
const Name = "cumberland.tif"

// VerticalError is one standard deviation of an elevation, metres: SRTM's
// goal of 16 m for 90 % of heights, over 1.6449.
const VerticalError = 9.73

//go:embed cumberland.tif
var data []byte

// Bytes is the data as a GeoTIFF: a copy, the caller's to keep.
func Bytes() []byte { return slices.Clone(data) }

// Path is where the file lies on this machine, for tests that open it as a
// user would: beside this source file, whatever folder a test runs in.
func Path() string {
	_, source, _, _ := runtime.Caller(0)
	return filepath.Join(filepath.Dir(source), Name)
}
