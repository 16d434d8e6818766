package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
)

// benchTiles: a leg in a folder of 10 000 tiles costs what its own tiles
// cost. The same leg is run in a folder that holds the tiles about it alone.
// Both folders are indexed beforehand.
func benchTiles(ctx context.Context, folder string) error {
	const side, posts = 100, 40 // tiles a side, posts a side of a tile
	all, few := filepath.Join(folder, "tiles-all"), filepath.Join(folder, "tiles-few")
	if err := makeTiles(ctx, all, few, side, posts); err != nil {
		return err
	}
	cache := filepath.Join(folder, "cache")
	if err := os.Setenv("XDG_CACHE_HOME", cache); err != nil {
		return err
	}
	leg := func(tiles string) (result, error) {
		return measure(ctx, "./crowline", "leg", "17S 512000 4088000", "17S 519000 4081000", "--dem", tiles, "--json", "--marks", "0")
	}
	for _, tiles := range []string{few, all} {
		first, err := measure(ctx, "./crowline", "dem", "index", tiles)
		if err != nil {
			return err
		}
		report("dem index "+filepath.Base(tiles), first, result{})
	}
	small, err := leg(few)
	if err != nil {
		return err
	}
	report("10 km leg among the tiles about it", small, result{})
	large, err := leg(all)
	if err != nil {
		return err
	}
	report("10 km leg among 10 000 tiles (peer: the line above)", large, small)
	return nil
}

// makeTiles makes two folders of tiles, unless they are there already. They
// are made beside their places and renamed when they are whole.
func makeTiles(ctx context.Context, all, few string, side, posts int) error {
	if _, err := os.Stat(all); err == nil {
		return nil
	}
	for _, f := range []string{few, all + partEnding, few + partEnding} {
		if err := os.RemoveAll(f); err != nil {
			return err
		}
	}
	if err := cutTiles(ctx, all+partEnding, few+partEnding, side, posts); err != nil {
		return err
	}
	// the one looked for comes last
	if err := os.Rename(few+partEnding, few); err != nil {
		return err
	}
	return os.Rename(all+partEnding, all)
}

// cutTiles cuts one fractal ground into files; few gets links to those
// within 20 km of the leg's corner of it.
func cutTiles(ctx context.Context, all, few string, side, posts int) error {
	for _, f := range []string{all, few} {
		if err := os.MkdirAll(f, 0o755); err != nil {
			return err
		}
	}
	crs, err := geodesy.NewCRS("EPSG:32617")
	if err != nil {
		return err
	}
	n := side * posts
	ground := fractal(n, n)
	for j := range side {
		for i := range side {
			values := make([]float32, 0, posts*posts)
			for r := range posts {
				at := (j*posts+r)*n + i*posts
				values = append(values, ground[at:at+posts]...)
			}
			f := dem.Frame{Columns: posts, Rows: posts, X0: 500005 + float64(i*posts)*10, Y0: 4099995 - float64(j*posts)*10, DX: 10, DY: -10, CRS: crs}
			name := fmt.Sprintf("tile-%02d-%02d.tif", j, i)
			if err := gdalio.WriteGeoTIFF(ctx, filepath.Join(all, name), &f, []gdalio.Band{{Name: "elevation", Float32: values}}); err != nil {
				return err
			}
			// the leg runs from 12 km east and south of the corner to 19 km
			if i >= 10 && i < 70 && j >= 10 && j < 70 {
				if err := os.Link(filepath.Join(all, name), filepath.Join(few, name)); err != nil {
					return err
				}
			}
		}
	}
	return nil
}
