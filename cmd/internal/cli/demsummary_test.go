package cli

import (
	"context"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/cmd/internal/answer"
	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/testdata/cumberland"
)

// demoTiles cuts the Cumberland ground into twelve tiles, the last with a spike, and
// lays a file that is no elevation data beside them.
func demoTiles(t *testing.T) string {
	t.Helper()
	folder := t.TempDir()
	r, err := gdalio.OpenBytes(cumberland.Name, cumberland.Bytes(), gdalio.Options{})
	require.NoError(t, err)
	defer r.Close()
	void := -32768.0
	for i := range 12 {
		w := dem.Window{Column: i % 4 * 100, Row: i / 4 * 110, Columns: 100, Rows: 110}
		g, err := r.Read(t.Context(), w)
		require.NoError(t, err)
		if i == 11 {
			g.Elevations[50*100+50] = 3000
		}
		name := filepath.Join(folder, "tile-"+string(rune('a'+i))+".tif")
		require.NoError(t, gdalio.WriteGeoTIFF(t.Context(), name, &g.Frame, []gdalio.Band{{Float32: g.Elevations, NoData: &void}}))
	}
	require.NoError(t, os.WriteFile(filepath.Join(folder, "notes.tif"), []byte("not elevations"), 0o600))
	return folder
}

// TestInfoOfManyFiles: a folder, a pattern and a list of files are summed up
// alike; figures agree with those of the whole; what cannot be used is named.
func TestInfoOfManyFiles(t *testing.T) {
	t.Parallel()
	folder := demoTiles(t)
	pattern := filepath.Join(folder, "*.tif")
	files, err := filepath.Glob(pattern)
	require.NoError(t, err)
	var first answer.SummaryAnswer
	for i, paths := range [][]string{{folder}, {pattern}, files, {folder, files[0], files[1]}} {
		var a answer.SummaryAnswer
		demoFillJSON(t, &a, append([]string{"dem", "info", "--json"}, paths...)...)
		assert.Equal(t, 12, a.Files)
		assert.Equal(t, int64(12*100*110), a.Posts)
		assert.True(t, a.HeightsRead)
		require.Len(t, a.Systems, 1)
		assert.Equal(t, "WGS 84 (EPSG:4326)", a.Systems[0].Value)
		require.Len(t, a.Spacings, 1)
		assert.Equal(t, "3″ by 3″", a.Spacings[0].Value)
		require.NotNil(t, a.Highest)
		assert.InDelta(t, 3000, a.Highest.ElevationM, 0)
		assert.Equal(t, "tile-l.tif", filepath.Base(a.Highest.File))
		assert.Equal(t, int64(1), *a.SuspectPosts, "%v %v", i, a.Suspects)
		assert.Equal(t, 1, *a.SuspectFiles)
		require.Equal(t, 1, a.NotUsedFiles)
		assert.Equal(t, "notes.tif", filepath.Base(a.NotUsed[0].File))
		// posts of the Cumberland ground: row 0 at 36.44583 N, column 0 at 84.41333 W
		assert.InDelta(t, 36.445833, a.North, 1e-5)
		assert.InDelta(t, 36.445833-329.0/1200, a.South, 1e-5)
		assert.InDelta(t, -84.413333, a.West, 1e-5)
		assert.InDelta(t, -84.413333+399.0/1200, a.East, 1e-5)
		a.Paths, a.NotUsed = nil, nil
		if i == 0 {
			first = a
		}
		a.Systems[0].First, a.Spacings[0].First = first.Systems[0].First, first.Spacings[0].First
		assert.Equal(t, first.Lowest.ElevationM, a.Lowest.ElevationM)
	}
	text := run(t, "dem", "info", folder)
	require.Equal(t, exitOK, text.code, text.err)
	for _, want := range []string{"12, of 132000 posts in all", "1 post stands out like a spike or a pit, in 1 file", "Not used: 1", "notes.tif: cannot be read as elevation data", "Suspect: 1", "tile-l.tif: the post at"} {
		assert.Contains(t, strings.Join(strings.Fields(text.out), " "), want)
	}
	for _, line := range strings.Split(text.out, "\n") {
		assert.LessOrEqual(t, utf8.RuneCountInString(line), 80, line)
	}
	var quick answer.SummaryAnswer
	demoFillJSON(t, &quick, "dem", "info", folder, "--quick", "--json")
	assert.False(t, quick.HeightsRead)
	assert.Nil(t, quick.Highest)
	// a file that changed since it was indexed is told, and the rest is read
	changed, err := os.ReadFile(files[3])
	require.NoError(t, err)
	changed[len(changed)-100] ^= 0xFF
	require.NoError(t, os.WriteFile(files[3], changed, 0o600))
	var after answer.SummaryAnswer
	demoFillJSON(t, &after, "dem", "info", folder, "--json")
	assert.Equal(t, 2, after.NotUsedFiles)
	assert.Equal(t, int64(11*100*110), after.Posts)
	assert.Contains(t, after.NotUsed[0].Text, "has changed since it was indexed")
}

func TestInfoRefusals(t *testing.T) {
	t.Parallel()
	empty := t.TempDir()
	for _, c := range []struct {
		paths []string
		want  string
	}{
		{[]string{empty}, "holds no elevation file"},
		{[]string{filepath.Join(empty, "*.tif")}, "no such file"},
		{[]string{filepath.Join(empty, "a.tif"), filepath.Join(empty, "b.tif")}, "no such file"},
	} {
		a := run(t, append([]string{"dem", "info"}, c.paths...)...)
		assert.Equal(t, exitError, a.code)
		assert.Contains(t, a.err, c.want)
		assert.Empty(t, a.out)
		assert.Equal(t, 1, strings.Count(a.err, "\n"))
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	a := runContext(ctx, t, "dem", "info", demoTiles(t))
	assert.Equal(t, exitCancel, a.code)
	assert.Empty(t, a.out)
}

// TestInfoOfAnAddress reads its header and no more.
func TestInfoOfAnAddress(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(folder, "tile.tif"), cumberland.Bytes(), 0o600))
	server := httptest.NewServer(http.FileServer(http.Dir(folder)))
	defer server.Close()
	a := run(t, "dem", "info", server.URL+"/tile.tif", "--json")
	require.Equal(t, exitOK, a.code, a.err)
	var one answer.InfoAnswer
	require.NoError(t, json.Unmarshal([]byte(a.out), &one))
	assert.Equal(t, 403, one.Columns)
	assert.Nil(t, one.VoidShare)
	var both answer.SummaryAnswer
	demoFillJSON(t, &both, "dem", "info", server.URL+"/tile.tif", filepath.Join(folder, "tile.tif"), "--json")
	assert.Equal(t, 2, both.Files)
	assert.False(t, both.HeightsRead)
	assert.Contains(t, strings.Join(both.Warnings, " "), "heights are not read where an address")
}
