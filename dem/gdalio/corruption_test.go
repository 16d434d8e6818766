package gdalio

import (
	"context"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
)

// corruptions is how many damaged copies of each file TestDamagedFiles reads.
const corruptions = 1000

// damage flips one to eight bits, cuts the end off, or zeroes a stretch, as
// a bad disk or a broken download does.
func damage(data []byte, random *rand.Rand) []byte {
	data = append([]byte(nil), data...)
	switch random.IntN(10) {
	case 0:
		return data[:random.IntN(len(data))]
	case 1:
		from := random.IntN(len(data))
		clear(data[from:min(len(data), from+1+random.IntN(512))])
		return data
	}
	for range 1 + random.IntN(8) {
		data[random.IntN(len(data))] ^= 1 << random.IntN(8)
	}
	return data
}

// outcome of reading a damaged file.
type outcome int

const (
	refused  outcome = iota // an error
	noticed                 // heights were given, with a warning the whole file has not
	harmless                // the very same heights, in the same place
	missed                  // wrong heights, in silence
)

func readDamaged(t *testing.T, data []byte, whole *dem.Grid) outcome {
	r, err := OpenBytes("damaged.tif", data, Options{})
	if err != nil {
		assert.NotContains(t, err.Error(), "\n")
		return refused
	}
	defer r.Close()
	const most = 1 << 22 // posts; a header may claim any size
	if f := r.Layout(); f.Columns > most/f.Rows {
		return noticed // not the size asked for
	}
	watched := dem.Watch(r)
	g, err := watched.Read(context.Background(), r.Layout().Whole())
	if err != nil {
		return refused
	}
	same := g.Columns == whole.Columns && g.Rows == whole.Rows && g.CRS.Name == whole.CRS.Name &&
		g.X0 == whole.X0 && g.Y0 == whole.Y0 && g.DX == whole.DX && g.DY == whole.DY
	if same {
		for i, h := range g.Elevations {
			if h != whole.Elevations[i] && (h == h || whole.Elevations[i] == whole.Elevations[i]) {
				same = false
				break
			}
		}
	}
	switch {
	case same:
		return harmless
	case len(watched.Info().Warnings) > len(whole.Source.Warnings):
		return noticed
	}
	return missed
}

// TestDamagedFiles: thousands of damaged GeoTIFFs, compressed and not, with
// no crash and no hang. GeoTIFF has no checksum that is enforced, so some
// damage passes; the counts are logged, and make test shows them. With the
// checksum of the tile index or of SHA256SUMS none does.
func TestDamagedFiles(t *testing.T) {
	t.Parallel()
	whole := openCumberland(t)
	dir := t.TempDir()
	ground := filepath.Join(dir, "ground.tif")
	cut(t, whole, ground, dem.Window{Column: 100, Row: 100, Columns: 64, Rows: 64})
	for _, c := range []struct {
		name string
		how  []string // for gdal_translate; strips, so that damage seldom falls on padding
	}{
		{"plain Float32", []string{"-ot", "Float32"}},
		{"plain Int16", []string{"-ot", "Int16"}},
		{"DEFLATE Float32", []string{"-ot", "Float32", "-co", "COMPRESS=DEFLATE", "-co", "PREDICTOR=3"}},
		{"DEFLATE Int16", []string{"-ot", "Int16", "-co", "COMPRESS=DEFLATE", "-co", "PREDICTOR=2"}},
		{"LZW Int16", []string{"-ot", "Int16", "-co", "COMPRESS=LZW", "-co", "PREDICTOR=2"}},
	} {
		path := translate(t, ground, c.how...)
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		_, g := openAll(t, path, Options{})
		random := rand.New(rand.NewPCG(20, 26))
		var counts [4]int
		byChecksum := 0
		list := filepath.Join(t.TempDir(), "tile.tif")
		require.NoError(t, os.WriteFile(list, data, 0o600))
		sum, err := checksum(t.Context(), list)
		require.NoError(t, err)
		for range corruptions {
			damaged := damage(data, random)
			o := readDamaged(t, damaged, g)
			counts[o]++
			if o == missed {
				require.NoError(t, os.WriteFile(list, damaged, 0o600))
				now, err := checksum(t.Context(), list)
				require.NoError(t, err)
				if now != sum {
					byChecksum++
				}
			}
		}
		t.Logf("%-15s %d bytes, %d corruptions: %4d refused, %4d noticed, %4d harmless, %4d missed; with the checksum %d missed",
			c.name, len(data), corruptions, counts[refused], counts[noticed], counts[harmless], counts[missed], counts[missed]-byChecksum)
		assert.Equal(t, counts[missed], byChecksum, "a checksum notices every one")
		assert.Positive(t, counts[refused])
		assert.Positive(t, counts[noticed])
	}
}
