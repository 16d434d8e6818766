package landform_test

import (
	"context"
	"fmt"

	"crowline/dem/gdalio"
	"crowline/dem/landform"
	"crowline/testdata/cumberland"
)

// The summits of the Cumberland ground, Cumberland Mountains, Tennessee, that stand
// 150 m or more above the way to higher ground.
func ExampleSummits() {
	ctx := context.Background()
	r, err := gdalio.OpenBytes(cumberland.Name, cumberland.Bytes(), gdalio.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	defer r.Close()
	g, err := r.Read(ctx, r.Layout().Whole())
	if err != nil {
		fmt.Println(err)
		return
	}
	summits, err := landform.Summits(ctx, g, landform.SummitOptions{MinProminence: 150})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, s := range summits {
		if s.Prominence < 150 {
			continue // not known to be so prominent within the data
		}
		sure := ""
		if s.AtLeast {
			sure = "at least "
		}
		fmt.Printf("%s %.0f m, prominence %s%.0f m\n", s.Place, s.Elevation, sure, s.Prominence)
	}
	// Output:
	// 36.19833,-84.23083 1076 m, prominence at least 199 m
	// 36.43667,-84.20417 852 m, prominence at least 174 m
	// 36.33917,-84.27250 956 m, prominence 174 m
	// 36.21500,-84.19250 817 m, prominence 171 m
	// 36.35083,-84.25083 689 m, prominence 161 m
	// 36.27917,-84.27250 996 m, prominence 157 m
	// 36.42417,-84.33417 810 m, prominence 152 m
}
