package fix_test

import (
	"context"
	"fmt"

	"crowline/dem/geodesy"
	"crowline/visibility/fix"
)

// Own place from three bearings, a compass good to two degrees.
func Example() {
	f, err := fix.Resect(context.Background(), []fix.Bearing{
		{Name: "dam", Place: geodesy.LatLon{Lat: 36.2236, Lon: -84.0906}, True: 98},
		{Name: "summit", Place: geodesy.LatLon{Lat: 36.2890, Lon: -84.1650}, True: 358},
		{Name: "bridge", Place: geodesy.LatLon{Lat: 36.2010, Lon: -84.2050}, True: 229},
	}, fix.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	e := f.Ellipse(0.95)
	fmt.Printf("%s, 95 %% within %.0f by %.0f m, longest along %03.0f\n", f.Place, e.SemiMajor, e.SemiMinor, float64(e.Along))
	for _, b := range f.Bearings {
		fmt.Printf("%s %.1f km, residual %+.1f\n", b.Name, b.Distance/1000, float64(b.Residual))
	}
	// Output:
	// 36.23148,-84.16218, 95 % within 508 by 355 m, longest along 048
	// dam 6.5 km, residual +0.3
	// summit 6.4 km, residual +0.3
	// bridge 5.1 km, residual +0.3
}
