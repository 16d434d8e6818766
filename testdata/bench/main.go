// Command bench times whole crowline runs beside GDAL's programs on the same
// files, on one machine in one go, and prints the ratios: wall time is the
// median of the runs, memory the largest. It makes its own elevation files
// in a temporary folder (about 3 GB for the largest; -large=false leaves
// that one out).
package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"syscall"
	"time"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
)

var (
	runs    = flag.Int("runs", 3, "runs of each command")
	large   = flag.Bool("large", true, "make and use the 40 000 x 40 000 raster and the 64 million post grid")
	only    = flag.String("only", "", "run one part: leg, viewshed, contours, sheet or tiles")
	keep    = flag.String("folder", "", "keep the elevation files here, and use those already there")
	makeOne = flag.Int("make", 0, "only make the grid of so many posts a side in -folder (bench runs itself with this)")
)

func main() {
	flag.Parse()
	if *makeOne > 0 {
		if _, err := terrain(context.Background(), *keep, *makeOne); err != nil {
			fmt.Fprintln(os.Stderr, "bench:", err)
			os.Exit(1)
		}
		return
	}
	if err := bench(context.Background()); err != nil {
		fmt.Fprintln(os.Stderr, "bench:", err)
		os.Exit(1)
	}
}

func bench(ctx context.Context) error {
	folder := *keep
	if folder == "" {
		var err error
		if folder, err = os.MkdirTemp("", "crowline-bench"); err != nil {
			return err
		}
		defer os.RemoveAll(folder)
	} else if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	fmt.Printf("%s/%s, %d cores, %d runs each; wall is the median, memory the largest\n", runtime.GOOS, runtime.GOARCH, runtime.NumCPU(), *runs)
	for _, part := range []struct {
		name string
		run  func(context.Context, string) error
	}{{"leg", benchLeg}, {"viewshed", benchViewshed}, {"contours", benchContours}, {"sheet", benchSheet}, {"tiles", benchTiles}} {
		if *only == "" || *only == part.name {
			fmt.Printf("\n%s\n", part.name)
			if err := part.run(ctx, folder); err != nil {
				return fmt.Errorf("%s: %w", part.name, err)
			}
		}
	}
	return nil
}

// result of running one command some times.
type result struct {
	wall   time.Duration
	memory int64 // bytes
}

// measure runs a command line.
func measure(arguments ...string) (result, error) {
	var walls []time.Duration
	var r result
	for range *runs {
		command := exec.Command(arguments[0], arguments[1:]...)
		var said strings.Builder
		command.Stderr = &said
		start := time.Now()
		err := command.Run()
		walls = append(walls, time.Since(start))
		if err != nil {
			return r, fmt.Errorf("%s: %w: %s", strings.Join(arguments, " "), err, strings.TrimSpace(said.String()))
		}
		usage, ok := command.ProcessState.SysUsage().(*syscall.Rusage)
		if ok {
			r.memory = max(r.memory, usage.Maxrss*1024) // kilobytes on Linux
		}
	}
	slices.Sort(walls)
	r.wall = walls[len(walls)/2]
	return r, nil
}

// report prints one line; peer may be the zero result.
func report(label string, r, peer result) {
	fmt.Printf("  %-58s %8.3f s  %7.1f MB", label, r.wall.Seconds(), float64(r.memory)/1e6)
	if peer.wall > 0 {
		fmt.Printf("   %.2f x the peer's time, %.2f x its memory", r.wall.Seconds()/peer.wall.Seconds(), float64(r.memory)/float64(peer.memory))
	}
	fmt.Println()
}

// pair times ours beside the peer's.
func pair(label string, ours, peer []string) error {
	p, err := measure(peer...)
	if err != nil {
		return err
	}
	name := filepath.Base(peer[0])
	if name == "sh" { // a command that first makes room for its output
		name = "gdal_contour"
	}
	report(label+", "+name, p, result{})
	o, err := measure(ours...)
	if err != nil {
		return err
	}
	report(label+", crowline", o, p)
	return nil
}

// terrain makes, or finds, a square grid of n x n posts, 10 m apart.
func terrain(ctx context.Context, folder string, n int) (string, error) {
	path := filepath.Join(folder, fmt.Sprintf("fractal-%d.tif", n))
	if _, err := os.Stat(path); err == nil {
		return path, nil
	}
	if *makeOne == 0 {
		// In a process of its own: the memory a command is charged with begins
		// at its parent's.
		self, err := os.Executable()
		if err != nil {
			return "", err
		}
		out, err := exec.CommandContext(ctx, self, "-make", fmt.Sprint(n), "-folder", folder).CombinedOutput()
		if err != nil {
			return "", fmt.Errorf("making %s: %w: %s", path, err, out)
		}
		return path, nil
	}
	crs, err := geodesy.NewCRS("EPSG:32617")
	if err != nil {
		return "", err
	}
	f := dem.Frame{Columns: n, Rows: n, X0: 500005, Y0: 4099995, DX: 10, DY: -10, CRS: crs}
	return path, gdalio.WriteGeoTIFF(ctx, path, &f, []gdalio.Band{{Name: "elevation", Float32: fractal(n, n)}})
}

func parallelRows(rows int, work func(int)) {
	var group sync.WaitGroup
	for w := range runtime.NumCPU() {
		group.Add(1)
		go func() {
			defer group.Done()
			for r := w; r < rows; r += runtime.NumCPU() {
				work(r)
			}
		}()
	}
	group.Wait()
}

// benchLeg: a 10 km leg must cost what the leg costs, not what the file
// holds. gdalinfo opens the same file and reads no heights: the floor.
func benchLeg(ctx context.Context, folder string) error {
	small, err := terrain(ctx, folder, 1000)
	if err != nil {
		return err
	}
	files := []string{small}
	if *large {
		big := filepath.Join(folder, "tiled-40000.tif")
		if _, err := os.Stat(big); err != nil {
			command := exec.Command("gdal_translate", "-q", "-outsize", "40000", "40000", "-r", "bilinear", "-ot", "Int16",
				"-a_ullr", "500000", "4100000", "900000", "3700000", // 10 m posts
				"-co", "TILED=YES", "-co", "COMPRESS=DEFLATE", "-co", "ZLEVEL=1", "-co", "NUM_THREADS=ALL_CPUS", small, big)
			if out, err := command.CombinedOutput(); err != nil {
				return fmt.Errorf("gdal_translate: %w: %s", err, out)
			}
		}
		files = append(files, big)
	}
	for _, file := range files {
		label := "10 km leg on " + filepath.Base(file)
		if err := pair(label+", no marks", []string{"./crowline", "leg", "17S 500500 4099500", "17S 507500 4092500", "--dem", file, "--json", "--marks", "0"}, []string{"gdalinfo", file}); err != nil {
			return err
		}
		full, err := measure("./crowline", "leg", "17S 500500 4099500", "17S 507500 4092500", "--dem", file, "--json")
		if err != nil {
			return err
		}
		report(label+", with marks, chain and landforms, crowline", full, result{})
	}
	return nil
}
