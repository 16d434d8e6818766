package geodesy_test

import (
	"fmt"

	"crowline/dem/geodesy"
)

// A leg between two places, written as a map reader writes them.
func Example() {
	from, err := geodesy.ParsePlace(`36°21'30"N 84°12'W`)
	if err != nil {
		fmt.Println(err)
		return
	}
	to, err := geodesy.ParsePlace("16S 754000 4026500")
	if err != nil {
		fmt.Println(err)
		return
	}
	leg := geodesy.Inverse(from, to)
	convergence, err := geodesy.ConvergenceAt(from)
	if err != nil {
		fmt.Println(err)
		return
	}
	reference, err := geodesy.MGRS(from, 8)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("from %s\n", reference)
	fmt.Printf("%.0f m on %.1f° true, %.1f° grid\n", leg.Distance, float64(leg.Start), float64(convergence.Grid(leg.Start)))
	// Output:
	// from 16SGF51242733
	// 2882 m on 108.5° true, 106.8° grid
}

// An error says which part is wrong and what to write instead.
func ExampleParsePlace() {
	for _, text := range []string{"36.358,-84.2", "36°72'N 84°12'W", "-118.3,36.6"} {
		p, err := geodesy.ParsePlace(text)
		if err != nil {
			fmt.Println(err)
			continue
		}
		fmt.Println(p, p.DMS())
	}
	// Output:
	// 36.35800,-84.20000 36°21'28.8"N 84°12'00.0"W
	// place "36°72'N 84°12'W": "72" is not a number of minutes; write less than 60
	// place "-118.3,36.6": "-118.3" is not a latitude, which is at most 90; if it is the longitude, write it second: 36.6,-118.3
}
