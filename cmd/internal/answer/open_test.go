package answer

import (
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/testdata/cumberland"
)

// TestDataIsOpenedByAnyPath: a file, its folder, a glob and an address give
// the same heights; a file that does not match its checksum is refused.
func TestDataIsOpenedByAnyPath(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	file := filepath.Join(folder, "tile.tif")
	require.NoError(t, os.WriteFile(file, cumberland.Bytes(), 0o600))
	server := httptest.NewServer(http.FileServer(http.Dir(folder)))
	defer server.Close()
	at := geodesy.LatLon{Lat: 36.3, Lon: -84.3}
	height := func(d Data, reach Reach) float64 {
		d.Remote = gdalio.RemoteOptions{CacheFolder: t.TempDir()}
		g, err := Open(t.Context(), d, reach)
		require.NoError(t, err, "%v", d.Paths)
		defer g.Close()
		h, err := dem.ElevationAt(g.posts(t.Context()), at)
		require.NoError(t, err, "%v", d.Paths)
		return h
	}
	want := height(Data{Paths: []string{file}}, Reach{})
	for _, paths := range [][]string{{file}, {folder}, {filepath.Join(folder, "*.tif")}, {server.URL + "/tile.tif"}, {file, folder}} {
		for _, reach := range []Reach{{}, {Places: []geodesy.LatLon{at}, Margin: 2000}} {
			assert.InDelta(t, want, height(Data{Paths: paths, FillVoids: true}, reach), 1e-6) // m, another origin of the same lattice
		}
	}
	g, err := Open(t.Context(), Data{Paths: []string{file}, MaxBytes: 1000}, Reach{})
	require.NoError(t, err)
	defer g.Close()
	_, err = g.reach(t.Context(), nil, 0, 4)
	require.ErrorContains(t, err, "over the limit")
	require.NoError(t, os.WriteFile(file+".sha256", []byte(strings.Repeat("0", 64)+"  tile.tif\n"), 0o600))
	_, err = Open(t.Context(), Data{Paths: []string{file}}, Reach{})
	require.ErrorContains(t, err, "does not match")
	_, err = Open(t.Context(), Data{Paths: []string{filepath.Join(folder, "none")}}, Reach{})
	require.ErrorContains(t, err, "no such file")
}
