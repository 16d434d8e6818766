package visibility_test

import (
	"context"
	"fmt"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/profile"
	"crowline/testdata/cumberland"
	"crowline/visibility"
)

// Can the end of a leg be seen from its start, and what hides it?
func ExampleAlong() {
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
	sight, err := visibility.Along(leg, visibility.NewObserver(from), visibility.DefaultConditions())
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%s: ground at %.0f m, %.0f m high, stands in front\n", sight.Verdict, sight.BlockedAt, sight.BlockerElevation)
	// Output:
	// hidden: ground at 138 m, 699 m high, stands in front
}
