package cli

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
	"crowline/dem/geodesy"
	"crowline/testdata/cumberland"
)

// TestDataIsOpenedByAnyPath: a file, its folder, a glob and an address give
// the same heights; a file that does not match its checksum is refused.
func TestDataIsOpenedByAnyPath(t *testing.T) {
	t.Setenv("XDG_CACHE_HOME", t.TempDir())
	folder := t.TempDir()
	file := filepath.Join(folder, "tile.tif")
	require.NoError(t, os.WriteFile(file, cumberland.Bytes(), 0o600))
	server := httptest.NewServer(http.FileServer(http.Dir(folder)))
	defer server.Close()
	at := geodesy.LatLon{Lat: 36.3, Lon: -84.3}
	for _, paths := range [][]string{{file}, {folder}, {filepath.Join(folder, "*.tif")}, {server.URL + "/tile.tif"}, {file, folder}} {
		for _, places := range [][]geodesy.LatLon{nil, {at}} {
			source, err := openData(t.Context(), paths, dataOptions{fillVoids: true}, places, 2000)
			require.NoError(t, err, "%v", paths)
			h, err := dem.ElevationAt(dem.NewBlocks(t.Context(), source, 0), at)
			require.NoError(t, err, "%v", paths)
			first, err := openData(t.Context(), []string{file}, dataOptions{}, nil, 0)
			require.NoError(t, err)
			want, err := dem.ElevationAt(dem.NewBlocks(t.Context(), first, 0), at)
			require.NoError(t, err)
			assert.InDelta(t, want, h, 1e-6) // m, another origin of the same lattice
			require.NoError(t, first.Close())
			require.NoError(t, source.Close())
		}
	}
	source, err := openData(t.Context(), []string{file}, dataOptions{maxBytes: 1000}, nil, 0)
	require.NoError(t, err)
	defer source.Close()
	_, err = source.Read(t.Context(), source.Layout().Whole())
	require.ErrorContains(t, err, "over the limit")
	require.NoError(t, os.WriteFile(file+".sha256", []byte(strings.Repeat("0", 64)+"  tile.tif\n"), 0o600))
	_, err = openData(t.Context(), []string{file}, dataOptions{}, nil, 0)
	require.ErrorContains(t, err, "does not match")
	_, err = openData(t.Context(), []string{filepath.Join(folder, "none")}, dataOptions{}, nil, 0)
	require.ErrorContains(t, err, "no such file")
}
