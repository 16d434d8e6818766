// Command bench times whole crowline runs beside GDAL's programs on the same
// files, on one machine in one go, and prints the ratios: wall time is the
// median of the runs, memory the largest. It makes its own elevation files
// in a temporary folder, some 4 GB at the most at one time (under 1 GB with
// -large=false), and says what it leaves out where a program, the data or the
// room on the disk is missing.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"syscall"
	"time"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
)

var (
	runs    = flag.Int("runs", 3, "runs of each command")
	large   = flag.Bool("large", true, "make and use the 40 000 x 40 000 raster and the 64 million post grid")
	only    = flag.String("only", "", "run one part: leg, viewshed, contours, sights, sheet, tiles, http or desk")
	keep    = flag.String("folder", "", "keep the elevation files here, and use those already there")
	compare = flag.Bool("overlap", false, "only print the overlap of the two viewsheds named (bench runs itself with this)")
	summit  = flag.Bool("highest", false, "only print the column and row of the highest post of the file named (bench runs itself with this)")
	makeOne = flag.Int("make", 0, "only make the grid of so many posts a side in -folder (bench runs itself with this)")
)

func main() {
	flag.Parse()
	// an interrupt leaves no files behind
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	if *makeOne > 0 {
		if _, err := terrain(ctx, *keep, *makeOne); err != nil {
			fmt.Fprintln(os.Stderr, "bench:", err)
			os.Exit(1)
		}
		return
	}
	if *compare {
		share, err := overlap(ctx, flag.Arg(0), flag.Arg(1))
		if err != nil {
			fmt.Fprintln(os.Stderr, "bench:", err)
			os.Exit(1)
		}
		fmt.Printf("%.3f\n", share)
		return
	}
	if *summit {
		column, row, err := highest(ctx, flag.Arg(0))
		if err != nil {
			fmt.Fprintln(os.Stderr, "bench:", err)
			os.Exit(1)
		}
		fmt.Println(column, row)
		return
	}
	if err := bench(ctx); err != nil {
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
	if _, err := os.Stat("crowline"); err != nil {
		return errors.New("there is no ./crowline here; run this in the repository's root after make build")
	}
	fmt.Printf("%s/%s, %d cores, %d runs each; wall is the median, memory the largest\n", runtime.GOOS, runtime.GOARCH, runtime.NumCPU(), *runs)
	fmt.Printf("elevation files are made in %s\n", folder)
	parts := []struct {
		name string
		run  func(context.Context, string) error
	}{{"leg", benchLeg}, {"viewshed", benchViewshed}, {"contours", benchContours}, {"sights", benchSights}, {"sheet", benchSheet}, {"tiles", benchTiles}, {"http", benchHTTP}, {"desk", benchDesk}}
	var errs []error
	ran := 0
	for _, part := range parts {
		if *only != "" && *only != part.name {
			continue
		}
		ran++
		fmt.Printf("\n%s\n", part.name)
		err := part.run(ctx, folder)
		if ctx.Err() != nil {
			return errors.New("stopped")
		}
		if err != nil { // the other parts stand without it
			fmt.Println("  stopped:", err)
			errs = append(errs, fmt.Errorf("%s: %w", part.name, err))
		}
	}
	if ran == 0 {
		return fmt.Errorf("there is no part %q", *only)
	}
	return errors.Join(errs...)
}

// without says which of some programs is not installed, or "".
func without(programs ...string) string {
	for _, p := range programs {
		if _, err := exec.LookPath(p); err != nil {
			return p + " is not installed (package gdal-bin)"
		}
	}
	return ""
}

// lacks says that a folder's disk has no room for so many bytes, or "".
func lacks(folder string, bytes int64) string {
	var s syscall.Statfs_t
	if syscall.Statfs(folder, &s) != nil {
		return "" // unknown; writing will tell
	}
	if free := int64(s.Bavail) * int64(s.Bsize); free < bytes {
		return fmt.Sprintf("%s has %.1f GB free, and %.1f GB are wanted (-folder says where)", folder, float64(free)/1e9, float64(bytes)/1e9)
	}
	return ""
}

// result of running one command some times.
type result struct {
	wall   time.Duration
	memory int64 // bytes
}

// measure runs a command line.
func measure(ctx context.Context, arguments ...string) (result, error) {
	var walls []time.Duration
	var r result
	for range *runs {
		for _, a := range arguments {
			if outputs[a] { // to write over a file costs the disk's time, and a program may refuse
				os.Remove(a)
			}
		}
		command := exec.CommandContext(ctx, arguments[0], arguments[1:]...)
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

// outputs are files that commands write, removed before each run.
var outputs = map[string]bool{}

// written says that a file is an output.
func written(path string) string {
	outputs[path] = true
	return path
}

// report prints one line; peer may be the zero result.
func report(label string, r, peer result) {
	fmt.Printf("  %-58s %8.3f s  %7.1f MB", label, r.wall.Seconds(), float64(r.memory)/1e6)
	if peer.wall > 0 {
		fmt.Printf("   %.2f x the peer's time, %.2f x its memory", r.wall.Seconds()/peer.wall.Seconds(), float64(r.memory)/float64(peer.memory))
	}
	fmt.Println()
}

// pair times ours beside the peer's, or alone where the peer is missing.
func pair(ctx context.Context, label string, ours, peer []string) error {
	name := filepath.Base(peer[0])
	var p result
	if missing := without(name); missing != "" {
		fmt.Println("  no ratio:", missing)
	} else {
		var err error
		if p, err = measure(ctx, peer...); err != nil {
			return err
		}
		report(label+", "+name, p, result{})
	}
	o, err := measure(ctx, ours...)
	if err != nil {
		return err
	}
	report(label+", crowline", o, p)
	return nil
}

// apart runs this program in a process of its own, for the memory a command
// is charged with begins at its parent's, and returns what it prints.
func apart(ctx context.Context, arguments ...string) (string, error) {
	self, err := os.Executable()
	if err != nil {
		return "", err
	}
	command := exec.CommandContext(ctx, self, arguments...)
	command.Cancel = func() error { return command.Process.Signal(os.Interrupt) } // it clears up behind itself
	out, err := command.CombinedOutput()
	if err != nil {
		return "", fmt.Errorf("%w: %s", err, out)
	}
	return strings.TrimSpace(string(out)), nil
}

// partEnding ends the name of what is being made. It is renamed when it is
// whole, so that a run that was stopped leaves nothing the next would take for
// done.
const partEnding = ".part"

// translate makes a raster with gdal_translate, unless it is there already.
// The arguments end with the file it is made from.
func translate(ctx context.Context, path, format string, arguments ...string) error {
	if _, err := os.Stat(path); err == nil {
		return nil
	}
	command := exec.CommandContext(ctx, "gdal_translate", append(append([]string{"-q", "-of", format}, arguments...), path+partEnding)...)
	if out, err := command.CombinedOutput(); err != nil {
		return fmt.Errorf("gdal_translate: %w: %s", err, out)
	}
	return os.Rename(path+partEnding, path)
}

// terrain makes, or finds, a square grid of n x n posts, 10 m apart.
func terrain(ctx context.Context, folder string, n int) (string, error) {
	path := filepath.Join(folder, fmt.Sprintf("fractal-%d.tif", n))
	if _, err := os.Stat(path); err == nil {
		return path, nil
	}
	if *makeOne == 0 {
		if _, err := apart(ctx, "-make", fmt.Sprint(n), "-folder", folder); err != nil {
			return "", fmt.Errorf("making %s: %w", path, err)
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

// benchLeg: a 10 km leg must cost what the leg costs, not what the file
// holds. gdalinfo opens the same file and reads no heights: the floor.
func benchLeg(ctx context.Context, folder string) error {
	small, err := terrain(ctx, folder, 1000)
	if err != nil {
		return err
	}
	files := []string{small}
	missing := without("gdal_translate")
	if missing == "" {
		missing = lacks(folder, 2<<30)
	}
	switch {
	case !*large:
	case missing != "":
		fmt.Println("  40 000 x 40 000 posts left out:", missing)
	default:
		big := filepath.Join(folder, "tiled-40000.tif")
		err := translate(ctx, big, "GTiff", "-outsize", "40000", "40000", "-r", "bilinear", "-ot", "Int16",
			"-a_ullr", "500000", "4100000", "900000", "3700000", // 10 m posts
			"-co", "TILED=YES", "-co", "COMPRESS=DEFLATE", "-co", "ZLEVEL=1", "-co", "NUM_THREADS=ALL_CPUS", small)
		if err != nil {
			return err
		}
		files = append(files, big)
	}
	for _, file := range files {
		label := "10 km leg on " + filepath.Base(file)
		if err := pair(ctx, label+", no marks", []string{"./crowline", "leg", "17S 500500 4099500", "17S 507500 4092500", "--dem", file, "--json", "--marks", "0"}, []string{"gdalinfo", file}); err != nil {
			return err
		}
		full, err := measure(ctx, "./crowline", "leg", "17S 500500 4099500", "17S 507500 4092500", "--dem", file, "--json")
		if err != nil {
			return err
		}
		report(label+", with marks, chain and landforms, crowline", full, result{})
	}
	return nil
}
