package gdalio_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/testdata/cumberland"
)

// The highest of the Cumberland ground, and the height of one place.
func Example() {
	ctx := context.Background()
	raster, err := gdalio.OpenBytes(cumberland.Name, cumberland.Bytes(), gdalio.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	defer raster.Close()
	census, err := dem.Count(ctx, raster, dem.CensusOptions{})
	if err != nil {
		fmt.Println(err)
		return
	}
	top, _ := raster.Layout().Place(float64(census.Highest.Column), float64(census.Highest.Row))
	fmt.Printf("%s: highest %.0f m at %s\n", raster.Info().Name, census.Highest.Elevation, top)

	// only the ground round the place is read
	caryville := geodesy.LatLon{Lat: 36.2990, Lon: -84.2230}
	window, _ := dem.WindowAround(raster.Layout(), []geodesy.LatLon{caryville}, 500)
	grid, err := raster.Read(ctx, window)
	if err != nil {
		fmt.Println(err)
		return
	}
	elevation, err := dem.ElevationAt(grid, caryville)
	fmt.Printf("%.0f m, %v\n", elevation, err)
	// Output:
	// cumberland.tif (SRTM): highest 1076 m at 36.19833,-84.23083
	// 332 m, <nil>
}

// A folder of tiles as one ground: here the Cumberland ground's file, copied into a
// folder of its own.
func ExampleOpenMany() {
	ctx := context.Background()
	folder, err := os.MkdirTemp("", "tiles")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(folder)
	if err := os.WriteFile(filepath.Join(folder, "cumberland.tif"), cumberland.Bytes(), 0o644); err != nil {
		fmt.Println(err)
		return
	}
	mosaic, err := gdalio.OpenMany(ctx, []string{folder}, gdalio.ManyOptions{IndexFolder: filepath.Join(folder, ".index")})
	if err != nil {
		fmt.Println(err)
		return
	}
	defer mosaic.Close()

	// nothing is read before a question is put, and then only its ground
	caryville := geodesy.LatLon{Lat: 36.2990, Lon: -84.2230}
	ground, err := mosaic.For(ctx, []geodesy.LatLon{caryville}, 500)
	if err != nil {
		fmt.Println(err)
		return
	}
	posts := dem.NewBlocks(ctx, ground, 0)
	elevation, err := dem.ElevationAt(posts, caryville)
	fmt.Printf("%.0f m, %v\n", elevation, err)
	// Output: 332 m, <nil>
}
