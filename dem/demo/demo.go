package demo

import (
	_ "embed"
	"slices"
)

// Name is what answers call the data.
const Name = "cumberland.tif"

// VerticalError is one standard deviation of an elevation, metres: SRTM's
// goal of 16 m for 90 % of heights, over 1.6449.
const VerticalError = 9.73

//go:embed cumberland.tif
var cumberland []byte

// Bytes is the data as a GeoTIFF: a copy, the caller's to keep.
func Bytes() []byte { return slices.Clone(cumberland) }
