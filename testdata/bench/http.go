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
// packed block is the least that can be had, and of an unpacked one a row.
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
	side := fmt.Sprint(n)
	from := source
	for _, c := range []struct {
		name, label string
		arguments   []string
	}{
		{"plain.tif", "float, not compressed", []string{"-outsize", side, side, "-r", "bilinear", "-co", "COMPRESS=NONE",
			"-a_ullr", "500000", "4100000", fmt.Sprint(500000 + 30*n), fmt.Sprint(4100000 - 30*n)}},
		{"packed.tif", "float, DEFLATE", []string{"-co", "COMPRESS=DEFLATE", "-co", "PREDICTOR=YES"}},
		{"whole-metres.tif", "whole metres, DEFLATE", []string{"-ot", "Int16", "-co", "COMPRESS=DEFLATE", "-co", "PREDICTOR=YES"}},
	} {
		path := filepath.Join(files, c.name)
		if _, err := os.Stat(path); err != nil {
			arguments := append([]string{"-q", "-of", "COG", "-co", "OVERVIEW_RESAMPLING=NEAREST", "-co", "NUM_THREADS=ALL_CPUS", "-co", "BIGTIFF=IF_SAFER"}, c.arguments...)
			if out, err := exec.CommandContext(ctx, "gdal_translate", append(arguments, from, path)...).CombinedOutput(); err != nil {
				return fmt.Errorf("gdal_translate: %w: %s", err, out)
			}
		}
		from = filepath.Join(files, "plain.tif")
		if err := legsOver(ctx, s, c.name, c.label, path, n); err != nil {
			return err
		}
	}
	return nil
}

// legsOver prints what legs in all directions from places all over a file
// cost, without marks and with them, and what the same legs cost once more.
func legsOver(ctx context.Context, s *rangeServer, name, label, path string, n int) error {
	stat, err := os.Stat(path)
	if err != nil {
		return err
	}
	fmt.Printf("  %s, %.0f MB, 10 km legs\n", label, float64(stat.Size())/1e6)
	legs := [][2]float64{{7000, 7000}, {10000, 0}, {0, 10000}, {-7000, 7000}, {8660, -5000}, {5000, 8660}, {-10000, 0}, {-5000, -8660}}
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
				east := 500000 + 30*float64(n)*(0.15+0.09*float64(i))
				north := 4100000 - 30*float64(n)*(0.2+0.07*float64(i))
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
