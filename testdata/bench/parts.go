package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/visibility"
)

// bigTujunga is real mountain ground, used where a copy is at hand.
func bigTujunga() (string, bool) {
	for _, folder := range []string{os.Getenv("CROWLINE_TERRAIN"), filepath.Join("..", "shared", "dem")} {
		path := filepath.Join(folder, "bigtujunga_srtm30.tif")
		if _, err := os.Stat(path); err == nil && folder != "" {
			return path, true
		}
	}
	return "", false
}

// sizes of the grids that show growth: 1, 4, 16 and 64 million posts.
func sizes(folder string) []int {
	s := []int{1000, 2000, 4000}
	if *large {
		if short := lacks(folder, 2<<30); short != "" {
			fmt.Println("  64 million posts left out:", short)
			return s
		}
		s = append(s, 8000)
	}
	return s
}

// benchViewshed: ours is exact, gdal_viewshed's is an approximation. Its
// refraction and eye are set to ours. Its normal output, visible or not, is
// the peer of our default; its GROUND output, the height above ground needed to be seen, is
// the peer of ours with --needed, which has the verdict and that height. Its maximum distance is none, as is ours.
func benchViewshed(ctx context.Context, folder string) error {
	out, theirs := written(filepath.Join(folder, "seen.tif")), written(filepath.Join(folder, "seen-peer.tif"))
	defer os.Remove(out)
	defer os.Remove(theirs)
	run := func(label, file string, east, north float64, place string) error {
		peer := func(mode string) []string {
			return []string{"gdal_viewshed", "-q", "-om", mode, "-md", "0", "-cc", "0.87", "-oz", "1.6", "-ox", number(east), "-oy", number(north), file, theirs}
		}
		ours := []string{"./crowline", "viewshed", place, "--dem", file, "-o", out}
		if err := pair(ctx, label+", verdicts", ours, peer("NORMAL")); err != nil {
			return err
		}
		if without("gdal_viewshed", "gdal_translate") == "" {
			share, err := apart(ctx, "-overlap", out, theirs)
			if err != nil {
				return err
			}
			fmt.Printf("  %-58s %8s  of the ground either sees, both see (ours is the per-post answer, by test)\n", label+", overlap with the peer", share)
		}
		return pair(ctx, label+", with heights needed", append(slices.Clone(ours), "--needed"), peer("GROUND"))
	}
	for _, n := range sizes(folder) {
		file, err := terrain(ctx, folder, n)
		if err != nil {
			return err
		}
		east, north := 500005+10*float64(n/2), 4099995-10*float64(n/2)
		place := fmt.Sprintf("17S %.0f %.0f", east, north)
		if err := run(fmt.Sprintf("%d million posts", n*n/1000000), file, east, north, place); err != nil {
			return err
		}
		if n == 4000 {
			said, err := apart(ctx, "-highest", file)
			if err != nil {
				return err
			}
			var column, row int
			if _, err := fmt.Sscan(said, &column, &row); err != nil {
				return fmt.Errorf("the highest post of %s: %q: %w", file, said, err)
			}
			east, north := 500005+10*float64(column), 4099995-10*float64(row)
			if err := run("16 million, from the highest post", file, east, north, fmt.Sprintf("17S %.0f %.0f", east, north)); err != nil {
				return err
			}
		}
	}
	if file, ok := bigTujunga(); ok {
		return run("Big Tujunga, 0.77 million posts", file, 392000, 3796000, "11S 392000 3796000")
	}
	fmt.Println("  Big Tujunga left out: no copy at hand (set CROWLINE_TERRAIN)")
	return nil
}

// highest is the highest post of a file, which sees the most.
func highest(ctx context.Context, file string) (column, row int, err error) {
	r, err := gdalio.Open(file, gdalio.Options{})
	if err != nil {
		return 0, 0, err
	}
	defer r.Close()
	g, err := r.Read(ctx, r.Layout().Whole())
	if err != nil {
		return 0, 0, err
	}
	best := 0
	for i, h := range g.Elevations {
		if h > g.Elevations[best] {
			best = i
		}
	}
	return best % g.Columns, best / g.Columns, nil
}

// overlap is the share of the posts that either file calls visible which both
// do: intersection over union.
func overlap(ctx context.Context, ours, theirs string) (float64, error) {
	plain, err := plainVerdicts(ctx, ours)
	if err != nil {
		return 0, err
	}
	defer os.Remove(plain)
	var grids [2]*dem.Grid
	for i, path := range []string{plain, theirs} {
		r, err := gdalio.Open(path, gdalio.Options{})
		if err != nil {
			return 0, err
		}
		defer r.Close()
		if grids[i], err = r.Read(ctx, r.Layout().Whole()); err != nil {
			return 0, err
		}
	}
	if len(grids[0].Elevations) != len(grids[1].Elevations) {
		return 0, fmt.Errorf("%s and %s differ in size", ours, theirs)
	}
	both, either := 0, 0
	for i, v := range grids[0].Elevations {
		a, b := v == float32(visibility.Visible), grids[1].Elevations[i] == 255
		if a && b {
			both++
		}
		if a || b {
			either++
		}
	}
	return float64(both) / float64(max(1, either)), nil
}

// plainVerdicts is the first band of a viewshed without its name, by which it
// would not be read as elevations.
func plainVerdicts(ctx context.Context, viewshed string) (string, error) {
	plain := strings.TrimSuffix(viewshed, ".tif") + "-plain.tif"
	if err := os.Remove(plain); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return "", err
	}
	return plain, translate(ctx, plain, "GTiff", "-b", "1", "-co", "PROFILE=GeoTIFF", "--config", "GDAL_PAM_ENABLED", "NO", viewshed)
}

func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// benchContours: the same levels to the same format, FlatGeobuf with its
// spatial index, in the data's own reference system, two coordinates a
// point. Ours also has each line's kind and whether it is closed and goes
// round a depression, and syncs the file to disk before it renames it.
func benchContours(ctx context.Context, folder string) error {
	for _, n := range sizes(folder) {
		file, err := terrain(ctx, folder, n)
		if err != nil {
			return err
		}
		ours, theirs := written(filepath.Join(folder, "ours.fgb")), written(filepath.Join(folder, "theirs.fgb"))
		peer := []string{"gdal_contour", "-q", "-f", "FlatGeobuf", "-a", "elevation", "-i", "20", file, theirs}
		if err := pair(ctx, fmt.Sprintf("%d million posts, every 20 m", n*n/1000000),
			[]string{"./crowline", "contours", "--dem", file, "--interval", "20m", "--data-crs", "-o", ours}, peer); err != nil {
			return err
		}
		os.Remove(ours)
		os.Remove(theirs)
	}
	return nil
}

// benchSheet: a whole page, and the lines alone.
func benchSheet(ctx context.Context, folder string) error {
	page, lines := written(filepath.Join(folder, "sheet.pdf")), written(filepath.Join(folder, "lines.geojson"))
	for _, row := range []struct {
		label     string
		arguments []string
	}{
		{"A4 sheet of the demo leg, 1:25 000, PDF", []string{"./crowline", "sheet", demoFrom, demoTo, "--scale", "25000", "--paper", "a4", "-o", page}},
		{"contours of the demo data, GeoJSON", []string{"./crowline", "contours", "-o", lines}},
	} {
		r, err := measure(ctx, row.arguments...)
		if err != nil {
			return err
		}
		report(row.label, r, result{})
	}
	return nil
}

// The demo's leg.
const (
	demoFrom = "34.3297,-118.0548"
	demoTo   = "34.3008,-118.0514"
)
