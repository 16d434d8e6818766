package fetch_test

import (
	"fmt"

	"crowline/dem/fetch"
	"crowline/dem/geodesy"
)

// The tiles of an open data set that a day out near a corner of four needs.
func ExampleSource_Tiles() {
	source, err := fetch.Find("copernicus-glo-30", nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	tiles, err := source.Tiles(geodesy.LatLon{Lat: 36.02, Lon: -84.01}, 5000)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, t := range tiles {
		fmt.Println(t.Name)
	}
	// Output:
	// Copernicus_DSM_COG_10_N36_00_W085_00_DEM.tif
	// Copernicus_DSM_COG_10_N36_00_W084_00_DEM.tif
	// Copernicus_DSM_COG_10_N35_00_W085_00_DEM.tif
	// Copernicus_DSM_COG_10_N35_00_W084_00_DEM.tif
}
