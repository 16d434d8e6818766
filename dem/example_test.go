package dem_test

import (
	"fmt"
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// A grid made by hand: four posts a hundredth of a degree apart, one of them a
// void. Ground is straight between posts, and not known beside the void.
func ExampleElevationAt() {
	crs, err := geodesy.NewCRS("EPSG:4326")
	if err != nil {
		fmt.Println(err)
		return
	}
	grid := &dem.Grid{
		Frame:      dem.Frame{Columns: 2, Rows: 2, X0: 7.60, Y0: 46.01, DX: 0.01, DY: -0.01, CRS: crs},
		Elevations: []float32{1000, 1200, 1100, float32(math.NaN())},
	}
	for _, at := range []geodesy.LatLon{{Lat: 46.01, Lon: 7.605}, {Lat: 46.005, Lon: 7.60}, {Lat: 46.005, Lon: 7.605}, {Lat: 47, Lon: 7.6}} {
		elevation, err := dem.ElevationAt(grid, at)
		fmt.Printf("%.0f %v\n", elevation, err != nil)
	}
	// Output:
	// 1100 false
	// 1050 false
	// 0 true
	// 0 true
}
