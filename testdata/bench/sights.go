package main

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"

	"crowline/dem/geodesy"
)

// benchSights: 100 000 sights of 5 km over the demo data, as a table. No program
// beside us answers a batch of them.
func benchSights(ctx context.Context, folder string) error {
	const sights, length = 100_000, 5000 // metres
	random := rand.New(rand.NewPCG(18, 6))
	var table bytes.Buffer
	fmt.Fprintln(&table, "from_lat,from_lon,to_lat,to_lon")
	inside := func(p geodesy.LatLon) bool {
		return p.Lat > 34.25 && p.Lat < 34.39 && p.Lon > -118.15 && p.Lon < -117.965
	}
	for n := 0; n < sights; {
		from := geodesy.LatLon{Lat: geodesy.Degrees(34.25 + 0.14*random.Float64()), Lon: geodesy.Degrees(-118.15 + 0.185*random.Float64())}
		to, _ := geodesy.Direct(from, geodesy.TrueBearing(360*random.Float64()), length)
		if inside(to) {
			fmt.Fprintf(&table, "%.6f,%.6f,%.6f,%.6f\n", float64(from.Lat), float64(from.Lon), float64(to.Lat), float64(to.Lon))
			n++
		}
	}
	pairs, seen := filepath.Join(folder, "pairs.csv"), written(filepath.Join(folder, "seen.csv"))
	if err := os.WriteFile(pairs, table.Bytes(), 0o644); err != nil {
		return err
	}
	defer os.Remove(seen)
	r, err := measure(ctx, "./crowline", "sights", pairs, "-o", seen)
	if err != nil {
		return err
	}
	report("100 000 sights of 5 km on the demo data, crowline", r, result{})
	return nil
}
