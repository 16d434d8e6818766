package cli

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/profile"
	"crowline/testdata/cumberland"
	"crowline/visibility"
)

// writeTile writes part of a ground sampled on a lattice.
func writeTile(t *testing.T, path string, f dem.Frame, ground dem.Posts) {
	t.Helper()
	values := make([]float32, f.Columns*f.Rows)
	for i := range values {
		at, err := f.Place(float64(i%f.Columns), float64(i/f.Columns))
		require.NoError(t, err)
		c, r, err := ground.Layout().Locate(at)
		require.NoError(t, err)
		values[i] = float32(dem.Bilinear(ground, c, r))
	}
	void := math.NaN()
	require.NoError(t, gdalio.WriteGeoTIFF(t.Context(), path, &f, []gdalio.Band{{Float32: values, NoData: &void}}))
}

// TestMosaicGivesTheVerdictsOfTheFile: the Cumberland ground cut in two along its
// rows' own lattice, and once more with one half in UTM. Along random legs
// the first gives the very same sights, the second the same verdict wherever
// the clearance is more than sampling can move a height.
func TestMosaicGivesTheVerdictsOfTheFile(t *testing.T) {
	t.Parallel()
	r, err := gdalio.OpenBytes(cumberland.Name, cumberland.Bytes(), gdalio.Options{})
	require.NoError(t, err)
	defer r.Close()
	whole, err := r.Read(t.Context(), r.Layout().Whole())
	require.NoError(t, err)
	half := whole.Columns / 2
	same, mixed := t.TempDir(), t.TempDir()
	west := whole.Sub(dem.Window{Columns: half, Rows: whole.Rows})
	east := whole.Sub(dem.Window{Column: half, Columns: whole.Columns - half, Rows: whole.Rows})
	writeTile(t, filepath.Join(same, "west.tif"), west, whole)
	writeTile(t, filepath.Join(same, "east.tif"), east, whole)
	writeTile(t, filepath.Join(mixed, "west.tif"), west, whole)
	utm, err := geodesy.NewCRS("EPSG:32616")
	require.NoError(t, err)
	corner, err := whole.Place(float64(half)-8, -8)
	require.NoError(t, err)
	x, y, err := utm.Coordinates(corner)
	require.NoError(t, err)
	writeTile(t, filepath.Join(mixed, "east.tif"), dem.Frame{Columns: 440, Rows: 850, X0: x, Y0: y, DX: 40, DY: -40, CRS: utm}, whole)

	look := func(posts dem.Posts, from, to geodesy.LatLon) visibility.Sight {
		leg, err := profile.Trace(t.Context(), posts, from, to)
		require.NoError(t, err)
		s, err := visibility.Along(leg, visibility.NewObserver(from), visibility.DefaultConditions())
		require.NoError(t, err)
		return s
	}
	open := func(folder string) *dem.Mosaic {
		m, err := gdalio.OpenMany(t.Context(), []string{folder}, gdalio.ManyOptions{IndexFolder: t.TempDir()})
		require.NoError(t, err)
		t.Cleanup(func() { m.Close() })
		return m
	}
	exact, sampled := open(same), open(mixed)
	random := rand.New(rand.NewPCG(31, 31))
	agreed, near := 0, 0
	for range 60 {
		// legs of up to 12 km that cross the cut
		from, err := whole.Place(float64(half)-10-60*random.Float64(), 60+220*random.Float64())
		require.NoError(t, err)
		to, err := whole.Place(float64(half)+10+60*random.Float64(), 60+220*random.Float64())
		require.NoError(t, err)
		want := look(whole, from, to)
		on := func(m *dem.Mosaic) visibility.Sight {
			j, err := m.For(t.Context(), []geodesy.LatLon{from, to}, 1000)
			require.NoError(t, err)
			blocks := dem.NewBlocks(t.Context(), j, 0)
			s := look(blocks, from, to)
			require.NoError(t, blocks.Err())
			return s
		}
		got := on(exact)
		assert.Equal(t, want.Verdict, got.Verdict)
		const rounding = 1e-5 // m: the lattice's origin is another post
		assert.InDelta(t, want.Clearance, got.Clearance, rounding)
		got = on(sampled)
		require.NotEqual(t, visibility.Unknown, got.Verdict, "no gap at the seam")
		// m: sampling 74 x 92 m posts on 40 m ones and those on the first
		// lattice moves the edge of a crest by at most about this
		const resampling = 8
		if math.Abs(want.Clearance) < resampling {
			near++
			continue
		}
		agreed++
		assert.Equal(t, want.Verdict, got.Verdict, "%v to %v, clearance %.1f and %.1f m", from, to, want.Clearance, got.Clearance)
	}
	t.Logf("%d legs agree, %d too close to tell", agreed, near)
	assert.Greater(t, agreed, 30)
}

// TestTreesHideWhatGroundDoesNot: a wood laid across a line of sight, and the
// observer in a clearing of it.
func TestTreesHideWhatGroundDoesNot(t *testing.T) {
	t.Parallel()
	const n = 101
	f := dem.Frame{Columns: n, Rows: n, X0: -84.4, Y0: 36.5, DX: 1.0 / 3600, DY: -1.0 / 3600, CRS: geodesy.WGS84}
	ground := &dem.Grid{Frame: f, Elevations: make([]float32, n*n), Source: dem.Info{Surface: dem.BareEarth}}
	wood := &dem.Grid{Frame: f, Elevations: make([]float32, n*n)}
	for i := range wood.Elevations {
		ground.Elevations[i] = 300
		if c := i % n; c >= 40 && c < 60 {
			wood.Elevations[i] = 15
		}
	}
	place := func(c, r float64) geodesy.LatLon {
		p, err := f.Place(c, r)
		require.NoError(t, err)
		return p
	}
	look := func(posts dem.Posts, from, to geodesy.LatLon) visibility.Verdict {
		leg, err := profile.Trace(context.Background(), posts, from, to)
		require.NoError(t, err)
		s, err := visibility.Along(leg, visibility.NewObserver(from), visibility.Conditions{TargetAboveGround: 2, Refraction: 0.13})
		require.NoError(t, err)
		return s.Verdict
	}
	from, to := place(20.5, 50.5), place(80.5, 50.5)
	assert.Equal(t, visibility.Visible, look(ground, from, to))
	covered, err := dem.NewCovered(ground, dem.RasterCover(wood, dem.CoverOptions{}), dem.Clearing{Centre: from}, dem.Clearing{Centre: to})
	require.NoError(t, err)
	assert.Equal(t, visibility.Hidden, look(covered, from, to))
	// from within the wood: hidden beyond it; in a clearing that reaches its
	// edge: seen
	inside := place(57.5, 50.5)
	for radius, want := range map[float64]visibility.Verdict{0: visibility.Hidden, 100: visibility.Visible} {
		covered, err := dem.NewCovered(ground, dem.RasterCover(wood, dem.CoverOptions{}), dem.Clearing{Centre: inside, Radius: radius}, dem.Clearing{Centre: to})
		require.NoError(t, err)
		assert.Equal(t, want, look(covered, inside, to), "%v", radius)
		require.NoError(t, covered.Err())
	}
}

// TestRealGroundIsNotSuspected: the rule by which posts are doubted, on every
// real file there is.
func TestRealGroundIsNotSuspected(t *testing.T) {
	t.Parallel()
	folder := os.Getenv("CROWLINE_TERRAIN")
	if folder == "" {
		folder = filepath.Join("..", "..", "..", "..", "shared", "dem")
	}
	files := []string{"../../../testdata/cumberland/cumberland.tif", "../../../testdata/olinda_dem_utm25s.tif"}
	if larger := filepath.Join(folder, "bigtujunga_srtm30.tif"); fileExists(larger) {
		files = append(files, larger)
	}
	for _, path := range files {
		r, err := gdalio.Open(path, gdalio.Options{})
		require.NoError(t, err)
		c, err := dem.Count(t.Context(), r, dem.CensusOptions{})
		require.NoError(t, err)
		assert.Zero(t, c.Suspicion.Posts, "%s: %v", path, fmt.Sprint(c.Suspicion.First))
		require.NoError(t, r.Close())
	}
}

func fileExists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}
