// The library asked from another module: a leg, the ground seen from its start,
// and a sheet of it. A test of crowline builds and runs it.
package main

import (
	"context"
	"fmt"
	"log"
	"os"

	"crowline/contour"
	"crowline/contour/page"
	"crowline/contour/sheet"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/profile"
	"crowline/visibility"
)

func check(err error) {
	if err != nil {
		log.Fatal(err)
	}
}

func main() { // program DEM.tif SHEET.pdf
	ctx := context.Background()
	raster, err := gdalio.Open(os.Args[1], gdalio.Options{})
	check(err)
	ground, err := raster.Read(ctx, raster.Layout().Whole())
	check(err)
	from, to := geodesy.LatLon{Lat: 36.2600, Lon: -84.2950}, geodesy.LatLon{Lat: 36.2200, Lon: -84.2400}

	leg, err := profile.Trace(ctx, ground, from, to)
	check(err)
	climb := leg.Climb(10, raster.Info().VerticalError)
	fmt.Printf("leg: %.0f m on true %.1f, up %.0f m, down %.0f m\n", leg.Distance, float64(leg.Start), climb.Ascent, climb.Descent)

	seen, err := visibility.Viewshed(ctx, ground, visibility.NewObserver(from), visibility.DefaultViewshedOptions())
	check(err)
	fmt.Printf("seen from its start: %d posts, %.0f km²\n", seen.Summary.Visible, seen.Summary.AreaSeen/1e6)

	levels := contour.Levels{Interval: 50}
	lines, err := contour.Trace(ctx, ground, levels, contour.Options{})
	check(err)
	document, err := sheet.Compose(ctx, sheet.Plan{
		Scale: 50000, Paper: page.A4, Ground: ground, Data: raster.Info(), Contours: sheet.Contours{Lines: lines, Levels: levels},
		Leg: &sheet.Leg{From: sheet.Place{Name: "Camp", At: from, Elevation: leg.Points[0].Elevation}, To: sheet.Place{Name: "Hollow", At: to, Elevation: leg.Points[len(leg.Points)-1].Elevation}},
	})
	check(err)
	written, err := document.Save(os.Args[2], 0)
	check(err)
	fmt.Println("sheet:", len(written), "file")
}
