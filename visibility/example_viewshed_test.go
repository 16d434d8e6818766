package visibility_test

import (
	"context"
	"fmt"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/visibility"
)

// A ridge 30 m high stands 900 m east of an observer on a plain. What is
// seen, and how high must a target stand behind it?
func ExampleViewshed() {
	crs, err := geodesy.NewCRS("EPSG:32617")
	if err != nil {
		fmt.Println(err)
		return
	}
	g := &dem.Grid{
		Frame:      dem.Frame{Columns: 101, Rows: 51, X0: 499500, Y0: 4050000, DX: 30, DY: -30, CRS: crs},
		Elevations: make([]float32, 101*51),
	}
	for row := range g.Rows {
		g.Elevations[row*g.Columns+40] = 30
	}
	place, err := g.Place(10, 25)
	if err != nil {
		fmt.Println(err)
		return
	}
	opts := visibility.DefaultViewshedOptions()
	opts.HeightNeeded = true
	v, err := visibility.Viewshed(context.Background(), g, visibility.NewObserver(place), opts)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, column := range []int{39, 40, 41, 70} {
		i := 25*v.Window.Columns + column
		fmt.Printf("%4d m east: %s, needs %.0f m\n", 30*(column-10), v.Verdicts[i], v.HeightNeeded[i])
	}
	// Output:
	//  870 m east: visible, needs 0 m
	//  900 m east: visible, needs 0 m
	//  930 m east: hidden, needs 31 m
	// 1800 m east: hidden, needs 59 m
}
