package dem

import (
	"context"
	"math"
	"testing"

	"github.com/paulmach/orb"

	"crowline/dem/geodesy"
)

// BenchmarkLayCover lays cover on 16 million posts in UTM: rasters on other
// reference systems, read through blocks too, beside placing every post by
// itself; and polygons.
func BenchmarkLayCover(b *testing.B) {
	const side = 4000
	utm, err := geodesy.NewCRS("EPSG:32611")
	if err != nil {
		b.Fatal(err)
	}
	neighbour, err := geodesy.NewCRS("EPSG:32612")
	if err != nil {
		b.Fatal(err)
	}
	frame := Frame{Columns: side, Rows: side, X0: 370000, Y0: 3810000, DX: 10, DY: -10, CRS: utm}
	ground := &Grid{Frame: frame, Elevations: make([]float32, side*side)}
	// a canopy of the same ground, 10 m cells of longitude and latitude
	canopy := &Grid{Frame: Frame{Columns: 5000, Rows: 4200, X0: -118.45, Y0: 34.45, DX: 0.0001, DY: -0.0001, CRS: geodesy.WGS84}}
	canopy.Elevations = make([]float32, canopy.Columns*canopy.Rows)
	for i := range canopy.Elevations {
		canopy.Elevations[i] = float32(i % 31)
	}
	projected := &Grid{Elevations: canopy.Elevations, Frame: Frame{
		Columns: canopy.Columns, Rows: canopy.Rows, X0: -185000, Y0: 3840000, DX: 11, DY: -11, CRS: neighbour}}
	var woods []CoverPolygon
	for i := range 700 {
		lon, lat := -118.4+0.4*math.Mod(float64(i)*0.618, 1), 34.1+0.3*float64(i)/700
		ring := orb.Ring{}
		for k := range 17 {
			t := 2 * math.Pi * float64(k%16) / 16
			ring = append(ring, orb.Point{lon + 0.003*math.Cos(t), lat + 0.003*math.Sin(t)})
		}
		woods = append(woods, CoverPolygon{orb.MultiPolygon{{ring}}, 10 + float64(i%20)})
	}
	polygons, err := PolygonCover(woods)
	if err != nil {
		b.Fatal(err)
	}
	raster, projectedRaster := RasterCover(canopy, CoverOptions{}), RasterCover(projected, CoverOptions{})
	for name, lay := range map[string]func() error{
		"raster": func() error {
			_, err := LayCover(context.Background(), ground, raster, LayOptions{})
			return err
		},
		"projected raster": func() error {
			_, err := LayCover(context.Background(), ground, projectedRaster, LayOptions{})
			return err
		},
		"projected raster post by post": func() error {
			_, err := layOneByOne(ground, projectedRaster)
			return err
		},
		"raster through blocks": func() error {
			blocks := NewBlocks(context.Background(), &memorySource{grid: canopy}, 0)
			_, err := LayCover(context.Background(), ground, RasterCover(blocks, CoverOptions{}), LayOptions{})
			return err
		},
		"raster post by post": func() error {
			_, err := layOneByOne(ground, raster)
			return err
		},
		"polygons": func() error {
			_, err := LayCover(context.Background(), ground, polygons, LayOptions{})
			return err
		},
	} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if err := lay(); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.N)*side*side/b.Elapsed().Seconds(), "posts/s")
		})
	}
}
