package magnetic_test

import (
	"fmt"
	"time"

	"crowline/dem/geodesy"
	"crowline/profile/magnetic"
)

// What to set on a compass for a bearing measured on the map, in the
// Cumberland Mountains of Tennessee.
func Example() {
	place := geodesy.LatLon{Lat: 36.3, Lon: -84.2}
	field, err := magnetic.WMM2025.At(place, 800, time.Date(2026, 7, 1, 0, 0, 0, 0, time.UTC))
	if err != nil {
		fmt.Println(err)
		return
	}
	convergence, err := geodesy.ConvergenceAt(place)
	if err != nil {
		fmt.Println(err)
		return
	}
	angle := field.Declination.GridMagnetic(convergence)
	fmt.Printf("declination %v, give or take %.1f°\n", field.Declination, float64(field.DeclinationSigma))
	fmt.Printf("grid-magnetic angle %v\n", angle)
	fmt.Printf("grid 137° is %.0f° on a compass with no declination setting\n", float64(angle.Magnetic(137)))
	// Output:
	// declination 6.0° W, give or take 0.4°
	// grid-magnetic angle 7.7° W
	// grid 137° is 145° on a compass with no declination setting
}
