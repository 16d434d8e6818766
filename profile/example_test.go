package profile_test

import (
	"context"
	"fmt"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/profile"
	"crowline/testdata/cumberland"
)

// What a straight leg climbs on real ground, and how long it takes.
func ExampleTrace() {
	ctx := context.Background()
	raster, err := gdalio.OpenBytes(cumberland.Name, cumberland.Bytes(), gdalio.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	defer raster.Close()
	from, to := geodesy.LatLon{Lat: 36.2600, Lon: -84.2950}, geodesy.LatLon{Lat: 36.2200, Lon: -84.2400}
	leg, err := profile.Trace(ctx, dem.NewBlocks(ctx, raster, 0), from, to)
	if err != nil {
		fmt.Println(err)
		return
	}
	climb := leg.Climb(10, cumberland.VerticalError) // rises and falls under 10 m left out
	fmt.Printf("%.0f m on true %.1f, up %.0f m, down %.0f m, each give or take %.0f m\n", leg.Distance, float64(leg.Start), climb.Ascent, climb.Descent, climb.Error)
	if times, ok := leg.Times(climb).Whole(); ok {
		fmt.Println(times[profile.ByTobler].Round(60e9), "by Tobler off path")
	}
	// Output:
	// 6644 m on true 131.9, up 706 m, down 587 m, each give or take 31 m
	// 4h1m0s by Tobler off path
}
