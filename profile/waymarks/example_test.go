package waymarks_test

import (
	"context"
	"fmt"
	"testing"

	"crowline/profile/waymarks"
)

// A valley floor lies 600 m beyond the destination.
func ExampleFind() {
	t := new(testing.T)
	r := made{of: func(x, y float64) float64 { return 500 + 0.25*max(y-600, 600-y) + 0.02*x }}.request(t)
	w, err := waymarks.Find(context.Background(), r)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("too far: at the %s, %.0f m beyond\n", w.Catch.Name, w.Catch.Beyond)
	// Output: too far: at the valley floor, 600 m beyond
}
