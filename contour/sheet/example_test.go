package sheet_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"crowline/contour"
	"crowline/contour/page"
	"crowline/contour/sheet"
	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/testdata/cumberland"
)

// A sheet of a leg on the built-in ground: lay out the page, read the ground it
// shows, trace contours on that, draw.
func ExampleCompose() {
	ctx := context.Background()
	raster, err := gdalio.OpenBytes(cumberland.Name, cumberland.Bytes(), gdalio.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	defer raster.Close()
	day := time.Date(2026, 5, 16, 0, 0, 0, 0, time.UTC)
	plan := sheet.Plan{
		Scale: 25000,
		Paper: page.A4,
		Leg: &sheet.Leg{
			From: sheet.Place{Name: "Camp", At: geodesy.LatLon{Lat: 36.300, Lon: -84.250}, Elevation: 666},
			To:   sheet.Place{Name: "Ford", At: geodesy.LatLon{Lat: 36.325, Lon: -84.212}, Elevation: 342},
		},
		Marks: []sheet.Mark{{Place: sheet.Place{
			Name: "Knob", At: geodesy.LatLon{Lat: 36.318, Lon: -84.235}, Elevation: 512}, Note: "on the skyline"}},
		Declination: &sheet.Declination{East: -4.9, Sigma: 0.4, Annual: 0.03, Model: "WMM2025", Date: day},
		Date:        day,
		Data:        raster.Info(),
	}
	frames, err := plan.Frames()
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println("ground to read:", frames[0].Extent)
	var grid *dem.Grid // all of it here; a large file is read by the window of frames[i].Extent
	if grid, err = raster.Read(ctx, raster.Layout().Whole()); err != nil {
		fmt.Println(err)
		return
	}
	levels := contour.Levels{Interval: 20}
	lines, err := contour.Trace(ctx, grid, levels, contour.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	plan.Ground = grid
	plan.Contours = sheet.Contours{Lines: lines, Levels: levels}
	document, err := sheet.Compose(ctx, plan)
	if err != nil {
		fmt.Println(err)
		return
	}
	dir, err := os.MkdirTemp("", "sheet")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	written, err := document.Save(filepath.Join(dir, "camp.pdf"), 0)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(document.Title, "on", len(document.Pages), "page:", filepath.Base(written[0]))
	// Output:
	// ground to read: 36.29403,-84.25667 to 36.33096,-84.20532
	// Camp to Ford on 1 page: camp.pdf
}
