package demo

import (
	_ "embed"
	"slices"
)

// Name is what answers call the data.
const Name = "bigtujunga.tif"

// VerticalError is one standard deviation of an elevation, metres: the 9.0 m
// for 90 % of heights that was measured for SRTM in North America, over
// 1.6449. The file says the same of itself when dem/gdalio opens it.
const VerticalError = 5.47

//go:embed bigtujunga.tif
var data []byte

// Bytes is the data as a GeoTIFF: a copy, the caller's to keep.
func Bytes() []byte { return slices.Clone(data) }
