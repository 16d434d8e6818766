package visibility

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/testdata/cumberland"
)

// observersOnRealGround is how many observers the comparison on real ground
// takes, and radiusOnRealGround how far round each, so that the tests stay
// quick; CROWLINE_OBSERVERS=20 takes twenty, with no radius.
const (
	observersOnRealGround = 2
	radiusOnRealGround    = 5000
)

// terrainFolder is where the larger elevation files are, or skips the test.
func terrainFolder(t *testing.T) string {
	t.Helper()
	folder := os.Getenv("CROWLINE_TERRAIN")
	if folder == "" {
		folder = filepath.Join("..", "..", "shared", "dem")
	}
	if _, err := os.Stat(folder); err != nil {
		t.Skip("no elevation files; set CROWLINE_TERRAIN to the folder that has bigtujunga_srtm30.tif")
	}
	return folder
}

func readWhole(t *testing.T, r *gdalio.Raster, err error) *dem.Grid {
	t.Helper()
	require.NoError(t, err)
	defer r.Close()
	g, err := r.Read(context.Background(), r.Layout().Whole())
	require.NoError(t, err)
	return g
}

// inOtherCRS is the same file moved to another coordinate system by GDAL,
// nearest post, so that it is another grid of real ground with its own voids
// along the edge.
func inOtherCRS(t *testing.T, path, crs string) *dem.Grid {
	t.Helper()
	warp, err := exec.LookPath("gdalwarp")
	if err != nil {
		t.Skip("gdalwarp is not installed (gdal-bin)")
	}
	out := filepath.Join(t.TempDir(), "moved.tif")
	text, err := exec.Command(warp, "-q", "-r", "near", "-t_srs", crs, "-dstnodata", "-32768", path, out).CombinedOutput()
	require.NoError(t, err, "%s", text)
	r, err := gdalio.Open(out, gdalio.Options{})
	return readWhole(t, r, err)
}

// TestViewshedIsTheReferenceOnRealGround: on the Cumberland ground and on the larger
// file, both in lon/lat and in UTM, from posts and from between them, no
// verdict differs but for ties.
func TestViewshedIsTheReferenceOnRealGround(t *testing.T) {
	t.Run("demo", func(t *testing.T) {
		t.Parallel()
		r, err := gdalio.OpenBytes(cumberland.Name, cumberland.Bytes(), gdalio.Options{})
		agreeOnRealGround(t, readWhole(t, r, err))
	})
	t.Run("demo in UTM", func(t *testing.T) {
		t.Parallel()
		path := filepath.Join(t.TempDir(), cumberland.Name)
		require.NoError(t, os.WriteFile(path, cumberland.Bytes(), 0o600))
		agreeOnRealGround(t, inOtherCRS(t, path, "EPSG:32616"))
	})
	t.Run("Big Tujunga", func(t *testing.T) {
		t.Parallel()
		r, err := gdalio.Open(filepath.Join(terrainFolder(t), "bigtujunga_srtm30.tif"), gdalio.Options{})
		agreeOnRealGround(t, readWhole(t, r, err))
	})
	t.Run("Big Tujunga in lon/lat", func(t *testing.T) {
		t.Parallel()
		agreeOnRealGround(t, inOtherCRS(t, filepath.Join(terrainFolder(t), "bigtujunga_srtm30.tif"), "EPSG:4326"))
	})
}

func agreeOnRealGround(t *testing.T, g *dem.Grid) {
	t.Helper()
	observers, radius := observersOnRealGround, float64(radiusOnRealGround)
	if n, err := strconv.Atoi(os.Getenv("CROWLINE_OBSERVERS")); err == nil && n > 0 {
		observers, radius = n, 0
	} else if testing.Short() {
		observers, radius = 1, 4000
	}
	const seed = 1234
	random := rand.New(rand.NewPCG(seed, 5678))
	posts, ties, visible := 0, 0, int64(0)
	for done := 0; done < observers; {
		column, row := random.Float64()*float64(g.Columns-1), random.Float64()*float64(g.Rows-1)
		if done%2 == 0 {
			column, row = math.Round(column), math.Round(row)
		}
		opts := DefaultViewshedOptions()
		opts.Radius, opts.HeightNeeded = radius, done%3 == 2
		o := observerAt(t, g, column, row)
		fast, err := Viewshed(context.Background(), g, o, opts)
		if err != nil { // moved to another CRS, the grid has empty corners
			require.ErrorIs(t, err, dem.ErrVoid)
			continue
		}
		slow, err := Reference(context.Background(), g, o, opts)
		require.NoError(t, err)
		n, k := compare(t, g, fast, slow, fmt.Sprintf("seed %d, observer %d at %.3f,%.3f", seed, done, column, row))
		posts, ties, visible = posts+n, ties+k, visible+fast.Summary.Visible
		done++
	}
	t.Logf("%d observers, %d posts, %d visible: %d ties", observers, posts, visible, ties)
}
