package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
)

// rangeServer serves a folder on this machine and counts what goes out.
type rangeServer struct {
	address string
	server  *http.Server

	mutex    sync.Mutex
	requests int
	bytes    int64 // of bodies
}

func serveFolder(folder string) (*rangeServer, error) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	s := &rangeServer{address: "http://" + listener.Addr().String()}
	files := http.FileServer(http.Dir(folder))
	s.server = &http.Server{ReadHeaderTimeout: time.Minute, Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.mutex.Lock()
		s.requests++
		s.mutex.Unlock()
		files.ServeHTTP(countingWriter{w, s}, r)
	})}
	go s.server.Serve(listener) //nolint:errcheck // ends with Close
	return s, nil
}

func (s *rangeServer) close() { s.server.Close() }

// take is what went out since it was last asked.
func (s *rangeServer) take() (requests int, bytes int64) {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	requests, bytes = s.requests, s.bytes
	s.requests, s.bytes = 0, 0
	return requests, bytes
}

type countingWriter struct {
	http.ResponseWriter
	server *rangeServer
}

func (w countingWriter) Write(b []byte) (int, error) {
	w.server.mutex.Lock()
	w.server.bytes += int64(len(b))
	w.server.mutex.Unlock()
	return w.ResponseWriter.Write(b)
}

// benchHTTP counts the bytes and requests of 10 km legs read from large
// cloud-optimised GeoTIFFs on a web server, posts 30 m apart, in blocks of
// 512 x 512 posts: a server gives bytes from one place to another, so a
// packed block is the least that can be had (the start of one could be
// unpacked, but not checked), and of an unpacked one a row.
func benchHTTP(ctx context.Context, folder string) error {
	if missing := without("gdal_translate"); missing != "" {
		fmt.Println("  left out:", missing)
		return nil
	}
	n, need := 16000, int64(4<<30)
	if !*large {
		n, need = 4000, 1<<30
	}
	if short := lacks(folder, need); short != "" {
		fmt.Println("  left out:", short)
		return nil
	}
	source, err := terrain(ctx, folder, 4000)
	if err != nil {
		return err
	}
	files := filepath.Join(folder, "http")
	if err := os.MkdirAll(files, 0o755); err != nil {
		return err
	}
	if *keep == "" {
		defer os.RemoveAll(files)
	}
	s, err := serveFolder(files)
	if err != nil {
		return err
	}
	defer s.close()
	plain := filepath.Join(files, "plain.tif")
	repeated := filepath.Join(files, "repeated.vrt")
	ground, err := repeatGround(ctx, repeated, repeatedSide(n))
	if err != nil {
		return err
	}
	for _, c := range []struct {
		name, label, from string
		posts             int // a side
		arguments         []string
	}{
		{"plain.tif", "float, not compressed", source, n, []string{"-outsize", fmt.Sprint(n), fmt.Sprint(n), "-r", "bilinear", "-co", "COMPRESS=NONE"}},
		{"packed.tif", "float, DEFLATE", plain, n, []string{"-co", "COMPRESS=DEFLATE", "-co", "PREDICTOR=YES"}},
		{"whole-metres.tif", "whole metres, DEFLATE, " + ground + " over and over", repeated, repeatedSide(n), []string{"-ot", "Int16", "-co", "COMPRESS=DEFLATE", "-co", "PREDICTOR=YES"}},
	} {
		path := filepath.Join(files, c.name)
		left, top := corner(c.posts)
		arguments := append([]string{"-co", "OVERVIEW_RESAMPLING=NEAREST", "-co", "NUM_THREADS=ALL_CPUS", "-co", "BIGTIFF=IF_SAFER",
			"-a_srs", "EPSG:32617", "-a_ullr", fmt.Sprint(left), fmt.Sprint(top), fmt.Sprint(left + 30*c.posts), fmt.Sprint(top - 30*c.posts)}, c.arguments...)
		if err := translate(ctx, path, "COG", append(arguments, c.from)...); err != nil {
			return err
		}
		if err := legsOver(ctx, s, c.name, c.label, path); err != nil {
			return err
		}
	}
	return nil
}

// corner is the upper left corner of a file of n x n posts 30 m apart whose
// middle lies on zone 17's central meridian, 4000 km north of the equator.
func corner(n int) (left, top int) { return 500000 - 15*n, 4000000 + 15*n }

// repeatedSide makes the file of whole metres 1 GB where the others are: it
// takes a byte a post where they take four.
func repeatedSide(n int) int { return n / 4 * 9 }

// repeatGround writes a virtual raster of n x n posts that repeats real ground,
// mirrored at each edge so that the edges meet: real ground packs worse than
// made ground does. It is the mountain ground the tests look for, or the
// demo data, a crop of it, where that is missing.
func repeatGround(ctx context.Context, path string, n int) (name string, err error) {
	folder := os.Getenv("CROWLINE_TERRAIN")
	if folder == "" {
		folder = filepath.Join("..", "shared", "dem")
	}
	file, name := filepath.Join(folder, "bigtujunga_srtm30.tif"), "steep ground"
	if _, err := os.Stat(file); err != nil {
		file, name = filepath.Join("dem", "demo", "bigtujunga.tif"), "the demo's ground"
	}
	raster, err := gdalio.Open(file, gdalio.Options{})
	if err != nil {
		return "", err
	}
	defer raster.Close()
	g, err := raster.Read(ctx, raster.Layout().Whole())
	if err != nil {
		return "", err
	}
	columns, rows := 2*g.Columns, 2*g.Rows
	mirrored := make([]float32, 0, columns*rows)
	for r := range rows {
		for c := range columns {
			mirrored = append(mirrored, g.Elevations[min(r, rows-1-r)*g.Columns+min(c, columns-1-c)])
		}
	}
	crs, err := geodesy.NewCRS("EPSG:32617")
	if err != nil {
		return "", err
	}
	f := dem.Frame{Columns: columns, Rows: rows, X0: 500015, Y0: 3999985, DX: 30, DY: -30, CRS: crs}
	if err := gdalio.WriteGeoTIFF(ctx, path+".tif", &f, []gdalio.Band{{Name: "elevation", Float32: mirrored}}); err != nil {
		return "", err
	}
	// GDAL's virtual raster, https://gdal.org/drivers/raster/vrt.html
	var text strings.Builder
	fmt.Fprintf(&text, "<VRTDataset rasterXSize=\"%d\" rasterYSize=\"%d\"><VRTRasterBand dataType=\"Float32\" band=\"1\">", n, n)
	for row := 0; row < n; row += rows {
		for column := 0; column < n; column += columns {
			size := fmt.Sprintf("xSize=\"%d\" ySize=\"%d\"/>", min(columns, n-column), min(rows, n-row))
			fmt.Fprintf(&text, "<SimpleSource><SourceFilename relativeToVRT=\"1\">%s.tif</SourceFilename><SourceBand>1</SourceBand>"+
				"<SrcRect xOff=\"0\" yOff=\"0\" %s<DstRect xOff=\"%d\" yOff=\"%d\" %s</SimpleSource>", filepath.Base(path), size, column, row, size)
		}
	}
	text.WriteString("</VRTRasterBand></VRTDataset>")
	return name, os.WriteFile(path, []byte(text.String()), 0o644)
}

// legsOver prints what legs in all directions from places all over a file
// cost, without marks and with them, and what the same legs cost once more.
func legsOver(ctx context.Context, s *rangeServer, name, label, path string) error {
	stat, err := os.Stat(path)
	if err != nil {
		return err
	}
	fmt.Printf("  %s, %.0f MB, 10 km legs\n", label, float64(stat.Size())/1e6)
	legs := [][2]float64{{7000, 7000}, {10000, 0}, {0, 10000}, {-7000, 7000}, {8660, -5000}, {5000, 8660}, {-10000, 0}, {-5000, -8660},
		{9397, 3420}, {-3420, 9397}, {6428, -7660}, {1736, 9848}}
	for _, extra := range [][]string{{"--marks", "0"}, nil} {
		what := "with marks, chain and landforms"
		if extra != nil {
			what = "no marks"
		}
		// each leg has a cache of its own, empty at first
		cache, err := os.MkdirTemp("", "crowline-bench-cache")
		if err != nil {
			return err
		}
		defer os.RemoveAll(cache)
		for _, again := range []string{"", ", once more"} {
			var bytes, requests []int64
			for i, leg := range legs {
				// no whole number of blocks apart, so that each crosses
				// them elsewhere
				east, north := 500000+7000*float64(i-6), 4000000+5300*float64(i-6)
				arguments := append([]string{"leg", fmt.Sprintf("17S %.0f %.0f", east, north), fmt.Sprintf("17S %.0f %.0f", east+leg[0], north+leg[1]),
					"--dem", s.address + "/" + name, "--json"}, extra...)
				command := exec.CommandContext(ctx, "./crowline", arguments...)
				command.Env = append(os.Environ(), "XDG_CACHE_HOME="+filepath.Join(cache, fmt.Sprint(i)))
				var said strings.Builder
				command.Stderr = &said
				s.take()
				if err := command.Run(); err != nil {
					return errors.Join(err, errors.New(strings.TrimSpace(said.String())))
				}
				r, b := s.take()
				requests, bytes = append(requests, int64(r)), append(bytes, b)
			}
			slices.Sort(bytes)
			slices.Sort(requests)
			last := len(legs) - 1
			fmt.Printf("    %-56s %6d kB, at most %5d kB; %3d requests, at most %d\n", what+again, bytes[last/2]/1000, bytes[last]/1000, requests[last/2], requests[last])
		}
	}
	return nil
}
