package geodesy

import (
	"math"
	"testing"
)

// FuzzNewCRS: whatever PROJ takes for a reference system brings places to
// WGS 84 or says that it cannot.
func FuzzNewCRS(f *testing.F) {
	for _, s := range []string{"EPSG:4326", "EPSG:32617", "EPSG:2274", "EPSG:4326+5773", "+proj=longlat +type=crs", "+proj=utm +zone=99 +type=crs",
		"+proj=tmerc +lat_0=0 +k=0 +type=crs", `GEOGCS["a",DATUM["b",SPHEROID["c",6378137,0]],PRIMEM["d",0],UNIT["e",1]]`, "urn:ogc:def:crs:EPSG::4326", "+proj=pipeline +step +proj=cart", ""} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, definition string) {
		c, err := NewCRS(definition)
		if err != nil {
			return
		}
		x, y := []float64{500000, 10, math.NaN()}, []float64{4000000, 40, 0}
		if err := c.ToWGS84(x, y); err == nil && c.Definition() == "" {
			t.Fatalf("%q is a system with no definition", definition)
		}
	})
}
