package drill_test

import (
	"context"
	"fmt"

	"crowline/contour/drill"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/testdata/cumberland"
)

// Three questions on the built-in ground, and how one is answered.
func Example() {
	ctx := context.Background()
	raster, err := gdalio.OpenBytes(cumberland.Name, cumberland.Bytes(), gdalio.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	defer raster.Close()
	grid, err := raster.Read(ctx, raster.Layout().Whole())
	if err != nil {
		fmt.Println(err)
		return
	}
	set, err := drill.Make(ctx, grid, drill.Options{
		Around: geodesy.LatLon{Lat: 36.29, Lon: -84.27}, Radius: 7000, Seed: 1, Count: 3,
		Kinds: []drill.Kind{drill.BackBearing, drill.Sight, drill.Slope}, Refraction: 0.13,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, q := range set.Questions {
		fmt.Println(q.Number, q.Kind)
	}
	q := set.Questions[2]
	fmt.Println(q.Text)
	fmt.Println(q.Answer)
	document, err := set.Document(ctx, drill.PageOptions{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(len(document.Pages), "pages, the last of them answers")
	// Output:
	// 1 sight
	// 2 slope
	// 3 back-bearing
	// You walk on a bearing of 276°. What is the back bearing?
	// 096°.
	// 2 pages, the last of them answers
}
