// Command torture asks ./crowline for a leg over thousands of damaged files of
// many formats, each in a process of its own, and counts what became of it.
//
// Refused: an error of one line. Noticed: another answer than over the whole file,
// with a warning that the whole file does not have. Harmless: the same answer.
// Silent: another answer, and no word of it; a shifted origin or spacing of a file
// that says where it lies in one place alone is of these, and so is damage to
// heights that stay ground of an ordinary shape, where the format has no checksum.
// Crashed: ended by a signal, or said more than one line. Hung: not ended in time.
// The exit code is 1 where any crashed or hung.
package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"runtime"
	"strings"
	"time"

	"crowline/dem/demo"
	"crowline/dem/workers"
)

var (
	runs = flag.Int("runs", 10000, "how many damaged files are tried")
	most = flag.Duration("for", 20*time.Minute, "stop after this time, with fewer runs")
	seed = flag.Uint64("seed", 1, "of the damage")
)

// hung is how long a run may take on a busy machine; a whole one takes a fifth of
// a second.
const hung = 30 * time.Second

// kinds are formats and compressions, as gdal_translate makes them: the ending,
// and its arguments.
var kinds = []struct{ name, ending, arguments string }{
	{"GeoTIFF", "tif", "-of GTiff"}, {"GeoTIFF, DEFLATE", "tif", "-of GTiff -co COMPRESS=DEFLATE -co TILED=YES -co BLOCKXSIZE=64 -co BLOCKYSIZE=64"},
	{"GeoTIFF, LZW", "tif", "-of GTiff -co COMPRESS=LZW -co PREDICTOR=2"}, {"GeoTIFF, ZSTD", "tif", "-of GTiff -co COMPRESS=ZSTD"},
	{"GeoTIFF, PackBits", "tif", "-of GTiff -co COMPRESS=PACKBITS"}, {"GeoTIFF, LZMA", "tif", "-of GTiff -co COMPRESS=LZMA"},
	{"GeoTIFF, LERC", "tif", "-of GTiff -co COMPRESS=LERC"}, {"GeoTIFF, float", "tif", "-of GTiff -ot Float32 -co COMPRESS=DEFLATE -co PREDICTOR=3"},
	{"COG", "tif", "-of COG -co COMPRESS=DEFLATE"}, {"ASCII grid", "asc", "-of AAIGrid"}, {"Imagine", "img", "-of HFA"},
	{"Imagine, packed", "img", "-of HFA -co COMPRESSED=YES"}, {"ENVI", "dat", "-of ENVI"}, {"ESRI band", "bil", "-of EHdr"},
	{"VRT", "vrt", "-of VRT"}, {"Surfer", "grd", "-of GS7BG"}, {"SAGA", "sdat", "-of SAGA"}, {"JPEG 2000", "jp2", "-of JP2OpenJPEG -co QUALITY=100 -co REVERSIBLE=YES"},
	{"NetCDF", "nc", "-of netCDF"}, {"PCRaster", "map", "-of PCRaster -ot Float32"},
}

// outcomes in the order they are printed.
var outcomes = []string{"refused", "noticed", "harmless", "silent", "crashed", "hung"}

func main() {
	flag.Parse()
	failed, err := torture(context.Background())
	if err != nil {
		fmt.Fprintln(os.Stderr, "torture:", err)
	}
	if err != nil || failed {
		os.Exit(1)
	}
}

// whole is an undamaged file and what is answered over it.
type whole struct {
	kind   int
	path   string
	beside map[string][]byte // the files that go with it, by name
	data   []byte
	answer map[string]any
	warned string
}

func torture(ctx context.Context) (failed bool, err error) {
	program, err := filepath.Abs("crowline")
	if err != nil {
		return false, err
	}
	if _, err := os.Stat(program); err != nil {
		return false, errors.New("there is no ./crowline here; run this in the repository's root after make build")
	}
	folder, err := os.MkdirTemp("", "crowline-torture")
	if err != nil {
		return false, err
	}
	defer os.RemoveAll(folder)
	files, err := wholes(ctx, program, folder)
	if err != nil {
		return false, err
	}
	deadline := time.Now().Add(*most)
	ended := make([]string, *runs)
	err = workers.Each(ctx, *runs, runtime.NumCPU(), func(worker, i int) error {
		if time.Now().After(deadline) {
			return nil
		}
		f := files[i%len(files)]
		random := rand.New(rand.NewPCG(*seed, uint64(i)))
		place := filepath.Join(folder, fmt.Sprintf("w%d", worker))
		if err := os.RemoveAll(place); err != nil {
			return err
		}
		if err := os.MkdirAll(place, 0o755); err != nil {
			return err
		}
		for name, data := range f.beside {
			if err := os.WriteFile(filepath.Join(place, name), data, 0o644); err != nil {
				return err
			}
		}
		path := filepath.Join(place, filepath.Base(f.path))
		if err := os.WriteFile(path, damage(f.data, random), 0o644); err != nil {
			return err
		}
		var said string
		ended[i], said = try(ctx, program, path, f)
		if ended[i] == "crashed" || ended[i] == "hung" {
			fmt.Printf("  run %d, %s, %s: %.300q\n", i, kinds[f.kind].name, ended[i], said)
		}
		return nil
	})
	if err != nil {
		return false, err
	}
	return report(files, ended), nil
}

// report prints the table; true where any crashed or hung.
func report(files []*whole, ended []string) bool {
	counts := map[string]map[string]int{}
	count := func(kind, outcome string) {
		if counts[kind] == nil {
			counts[kind] = map[string]int{}
		}
		counts[kind][outcome]++
	}
	for i, outcome := range ended {
		if outcome == "" {
			continue
		}
		for _, kind := range []string{kinds[files[i%len(files)].kind].name, "all"} {
			count(kind, "tried")
			count(kind, outcome)
		}
	}
	line := func(kind string) {
		fmt.Printf("  %-20s %6d tried", kind, counts[kind]["tried"])
		for _, o := range outcomes {
			fmt.Printf(", %5d %s", counts[kind][o], o)
		}
		fmt.Println()
	}
	for _, f := range files {
		line(kinds[f.kind].name)
	}
	line("all")
	return counts["all"]["crashed"]+counts["all"]["hung"] > 0
}

// wholes makes a file of every kind that gdal_translate can make here and
// crowline answers over.
func wholes(ctx context.Context, program, folder string) (files []*whole, err error) {
	ground := filepath.Join(folder, "ground.tif")
	if err := os.WriteFile(ground, demo.Bytes(), 0o644); err != nil {
		return nil, err
	}
	for i, k := range kinds {
		place := filepath.Join(folder, fmt.Sprintf("kind%d", i))
		if err := os.MkdirAll(place, 0o755); err != nil {
			return nil, err
		}
		path := filepath.Join(place, "dem."+k.ending)
		arguments := append(append([]string{"-q", "-srcwin", "250", "200", "180", "180"}, strings.Fields(k.arguments)...), ground, path)
		if out, err := exec.CommandContext(ctx, "gdal_translate", arguments...).CombinedOutput(); err != nil {
			fmt.Printf("  %s left out: %.100s\n", k.name, bytes.TrimSpace(out))
			continue
		}
		f := &whole{kind: i, path: path, beside: map[string][]byte{}}
		list, err := os.ReadDir(place)
		if err != nil {
			return nil, err
		}
		for _, e := range list {
			data, err := os.ReadFile(filepath.Join(place, e.Name()))
			if err != nil {
				return nil, err
			}
			if e.Name() == filepath.Base(path) {
				f.data = data
			} else {
				f.beside[e.Name()] = data
			}
		}
		out, errs, err := ask(ctx, program, path)
		if err == nil {
			f.answer, f.warned, err = answered(out)
		}
		if err != nil {
			fmt.Printf("  %s left out: %.100s\n", k.name, strings.TrimSpace(errs))
			continue
		}
		files = append(files, f)
	}
	if len(files) == 0 {
		return nil, errors.New("no file could be made: is gdal_translate installed (package gdal-bin)?")
	}
	fmt.Printf("  %d formats and compressions\n", len(files))
	return files, nil
}

// ask is a leg over the file's middle.
func ask(ctx context.Context, program, path string) (out []byte, errs string, err error) {
	ctx, cancel := context.WithTimeout(ctx, hung)
	defer cancel()
	cmd := exec.CommandContext(ctx, program, "leg", "34.3297,-118.0548", "34.3150,-118.0550", "--dem", path, "--json", "--marks", "0", "--date", "2026-07-01")
	var stdout, stderr bytes.Buffer
	cmd.Stdout, cmd.Stderr, cmd.WaitDelay = &stdout, &stderr, time.Second
	err = cmd.Run()
	if ctx.Err() != nil {
		err = ctx.Err()
	}
	return stdout.Bytes(), stderr.String(), err
}

// answered are the figures of an answer, and its warnings.
func answered(out []byte) (figures map[string]any, warned string, err error) {
	var all map[string]any
	if err := json.Unmarshal(out, &all); err != nil {
		return nil, "", err
	}
	data, _ := all["elevation_data"].(map[string]any)
	figures = map[string]any{}
	for _, key := range []string{"from", "to", "distance_m", "climb", "sight"} {
		figures[key] = all[key]
	}
	return figures, fmt.Sprint(data["warnings"]), nil
}

// try is what becomes of a damaged file.
func try(ctx context.Context, program, path string, f *whole) (outcome, said string) {
	out, errs, err := ask(ctx, program, path)
	var exit *exec.ExitError
	switch {
	case errors.Is(err, context.DeadlineExceeded):
		return "hung", errs
	case errors.As(err, &exit) && (exit.ExitCode() == 1 || exit.ExitCode() == 2) && strings.Count(errs, "\n") == 1:
		return "refused", errs
	case err != nil:
		return "crashed", errs
	}
	figures, warned, err := answered(out)
	switch {
	case err != nil || errs != "":
		return "crashed", errs
	case reflect.DeepEqual(figures, f.answer):
		return "harmless", ""
	case warned != f.warned:
		return "noticed", ""
	}
	return "silent", ""
}

// damage is a file with bits turned, a stretch of it zeroed, shifted or random, or
// its end cut off; half the time in its first kilobyte, where headers are.
func damage(data []byte, random *rand.Rand) []byte {
	out := bytes.Clone(data)
	within := len(out)
	if random.IntN(2) == 0 {
		within = min(within, 1024)
	}
	at := random.IntN(within)
	stretch := out[at:min(len(out), at+1+random.IntN(64))]
	switch random.IntN(5) {
	case 0:
		for range 1 + random.IntN(4) {
			out[random.IntN(within)] ^= 1 << random.IntN(8)
		}
	case 1:
		clear(stretch)
	case 2:
		for i := range stretch {
			stretch[i] = byte(random.Uint32())
		}
	case 3:
		out = append(out[:at], out[min(len(out), at+1+random.IntN(8)):]...)
	case 4:
		out = out[:at]
	}
	return out
}
