package scene_test

import (
	"context"
	"fmt"
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/units"
	"crowline/visibility"
	"crowline/visibility/scene"
)

// Two cones stand on a plain, the farther one higher. What can an observer 3 to
// 4 km south-west of them point at, and in which words?
func ExampleLook() {
	crs, err := geodesy.NewCRS("EPSG:32617")
	if err != nil {
		fmt.Println(err)
		return
	}
	const posts, spacing = 301, 30.0 // m
	g := &dem.Grid{
		Frame:      dem.Frame{Columns: posts, Rows: posts, X0: 500000, Y0: 4009000, DX: spacing, DY: -spacing, CRS: crs},
		Elevations: make([]float32, posts*posts),
	}
	cone := func(column, row, cx, cy int, height, slope float64) float64 {
		return height - slope*spacing*math.Hypot(float64(column-cx), float64(row-cy))
	}
	for row := range posts {
		for column := range posts {
			h := max(0, cone(column, row, 150, 80, 300, 0.5), cone(column, row, 200, 60, 400, 0.5))
			g.Elevations[row*posts+column] = float32(h)
		}
	}
	place, err := g.Place(130, 170)
	if err != nil {
		fmt.Println(err)
		return
	}
	v, err := scene.Look(context.Background(), g, visibility.NewObserver(place), scene.DefaultOptions())
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, t := range v.Things {
		fmt.Printf("%s on %s: %s\n", t.Kind, units.Dial(float64(t.Bearing)), v.Describe(t, units.Metric))
	}
	if on, ok := v.Skyline(20); ok {
		fmt.Println("on 020:", v.DescribeSkyline(on, units.Metric))
	}
	// Output:
	// ridge end on 000: where the near ridge on the right ends against the far one on true bearing 000, 2.70 km
	// top on 013: the highest top on the skyline, 2.77 km
	// notch on 023: the sharp notch, a fist right of the highest top on the skyline, 3.84 km
	// top on 032: the pointed top on the skyline, 2 fists right of the highest top on the skyline, 3.91 km
	// on 020: the skyline 7.4° (4 fingers) right of the highest top, and 2.9° (a finger) left of the sharp notch; 2.71 km, 2.5° up
}
