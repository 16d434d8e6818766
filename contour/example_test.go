package contour_test

import (
	"context"
	"fmt"
	"math"

	"crowline/contour"
	"crowline/dem"
	"crowline/dem/geodesy"
)

// A round hill of 252 m at 36.4 N, 84.2 W in the Cumberland Mountains,
// contoured every 20 m with an index line every 100 m.
func Example() {
	grid := &dem.Grid{
		Frame: dem.Frame{Columns: 61, Rows: 61, X0: -84.225, Y0: 36.425, DX: 3.0 / 3600, DY: -3.0 / 3600, CRS: geodesy.WGS84},
	}
	for row := range grid.Rows {
		for column := range grid.Columns {
			d := math.Hypot(float64(column-30), float64(row-30))
			grid.Elevations = append(grid.Elevations, float32(252-5*d))
		}
	}
	levels := contour.Levels{Interval: 20}
	lines, err := contour.Trace(context.Background(), grid, levels, contour.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	places, err := contour.LonLat(&grid.Frame, lines)
	if err != nil {
		fmt.Println(err)
		return
	}
	for i, line := range lines {
		if line.Closed {
			fmt.Printf("%s m, %s, highest at %.4f N\n", line.Label(), line.Kind, places[i][0][1])
		}
	}
	crossed := levels.CountAlong(grid, []contour.Position{{Column: 4, Row: 29}, {Column: 59, Row: 32}})
	fmt.Printf("over the top: %d lines up, %d down\n", crossed.Up, crossed.Down)
	// Output:
	// 120 m, intermediate, highest at 36.4220 N
	// 140 m, intermediate, highest at 36.4187 N
	// 160 m, intermediate, highest at 36.4153 N
	// 180 m, intermediate, highest at 36.4120 N
	// 200 m, index, highest at 36.4087 N
	// 220 m, intermediate, highest at 36.4053 N
	// 240 m, intermediate, highest at 36.4020 N
	// over the top: 6 lines up, 7 down
}

// The interval of a 1:25 000 map of data with this error.
func ExampleChoose() {
	choice, err := contour.Choose(contour.Question{
		Scale:         25000,
		VerticalError: 5,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(choice.Reason)
	// Output:
	// 20 m: maps at 1:25000 usually have 10 m, but with heights good to 5 m, lines less than 16 m apart would mislead (90 % within half an interval)
}
