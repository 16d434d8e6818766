//go:build unix

package fetch

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
)

// snapshot is what a folder's files hold, links as where they lead.
func snapshot(t *testing.T, folder string) map[string]string {
	t.Helper()
	out := map[string]string{}
	for _, name := range list(t, folder) {
		path := filepath.Join(folder, name)
		if to, err := os.Readlink(path); err == nil {
			out[name] = "-> " + to
			continue
		}
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		out[name] = string(data)
	}
	return out
}

// TestNothingOfTheUsersIsReplaced: whatever stands where Get would write and is
// not its own stays as it was, byte for byte, and so does what links lead to;
// and no tile is asked for.
func TestNothingOfTheUsersIsReplaced(t *testing.T) {
	t.Parallel()
	const mine = "the user's own\n"
	tile := filepath.Base(n46)
	licence := "LICENCE-copernicus-glo-30.txt"
	sum := strings.Repeat("0", 64) + "  " + tile + "\n"
	link := func(name string) func(t *testing.T, folder, elsewhere string) {
		return func(t *testing.T, folder, elsewhere string) {
			require.NoError(t, os.Symlink(elsewhere, filepath.Join(folder, name)))
		}
	}
	write := func(name, text string) func(t *testing.T, folder, elsewhere string) {
		return func(t *testing.T, folder, elsewhere string) {
			require.NoError(t, os.WriteFile(filepath.Join(folder, name), []byte(text), 0o600))
		}
	}
	for name, c := range map[string]struct {
		put  func(t *testing.T, folder, elsewhere string)
		says string
	}{
		"a file of the tile's name":       {write(tile, mine), tile + " is there already and crowline did not fetch it"},
		"a tile that was changed":         {func(t *testing.T, f, e string) { write(tile, mine)(t, f, e); write(tile+".sha256", sum)(t, f, e) }, tile + " is not what was fetched"},
		"a link of the tile's name":       {link(tile), tile + " is a link"},
		"another file at the sum's":       {write(tile+".sha256", mine), tile + ".sha256 is there already"},
		"the sums of several files":       {write(tile+".sha256", sum+sum), tile + ".sha256 is there already"},
		"a link at the sum's":             {link(tile + ".sha256"), ".sha256 is a link"},
		"an unfinished file of another's": {write(tile+".part", mine), tile + ".part is there already"},
		"a link at the part's":            {link(tile + ".part"), ".part is a link"},
		"a hard link at the part's": {func(t *testing.T, folder, elsewhere string) {
			require.NoError(t, os.Link(elsewhere, filepath.Join(folder, tile+".part")))
			write(tile+".part.tag", `"a"`)(t, folder, elsewhere)
		}, ".part is another name of a file"},
		"a link at the tag's":             {link(tile + ".part.tag"), ".part.tag is a link"},
		"another licence":                 {write(licence, mine), licence + " is there already"},
		"a link at the licence's":         {link(licence), licence + " is a link"},
		"a link to nothing at the part's": {func(t *testing.T, folder, elsewhere string) { link(tile+".part")(t, folder, elsewhere+".none") }, ".part is a link"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			p := newPublisher(t, map[string][]byte{n46: tiff(5000, 1)})
			opts := p.options(t)
			elsewhere := filepath.Join(t.TempDir(), "elsewhere")
			require.NoError(t, os.WriteFile(elsewhere, []byte(mine), 0o600))
			c.put(t, opts.Folder, elsewhere)
			before := snapshot(t, opts.Folder)
			_, err := Get(t.Context(), copernicus(t), geodesy.LatLon{Lat: 46.5, Lon: 7.5}, 100, opts)
			require.ErrorContains(t, err, c.says)
			assert.NotContains(t, err.Error(), "\n")
			after := snapshot(t, opts.Folder)
			for name, text := range before {
				assert.Equal(t, text, after[name], name)
			}
			left, err := os.ReadFile(elsewhere)
			require.NoError(t, err)
			assert.Equal(t, mine, string(left))
			assert.NoFileExists(t, elsewhere+".none")
			assert.Zero(t, p.count("GET"))
		})
	}
}

// TestALicenceOfOursIsWrittenAgain, and so is the sum that a run left which
// stopped before it named its tile.
func TestALicenceOfOursIsWrittenAgain(t *testing.T) {
	t.Parallel()
	p := newPublisher(t, map[string][]byte{n46: tiff(5000, 1)})
	opts := p.options(t)
	tile := filepath.Join(opts.Folder, filepath.Base(n46))
	require.NoError(t, writeSum(tile, strings.Repeat("0", 64)))
	old := copernicus(t)
	old.Licence = "an older text"
	path, err := writeLicence(opts.Folder, old)
	require.NoError(t, err)
	r, err := Get(t.Context(), copernicus(t), geodesy.LatLon{Lat: 46.5, Lon: 7.5}, 100, opts)
	require.NoError(t, err)
	require.Equal(t, path, r.Licence)
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.NotContains(t, string(text), "an older text")
	assert.Equal(t, r.Files[0].SHA256, readSum(tile))
}

// TestGoesOnWithAServerThatTellsNoTag: a part without a tag is begun anew, and
// is known as ours.
func TestGoesOnWithAServerThatTellsNoTag(t *testing.T) {
	t.Parallel()
	data := tiff(5000, 1)
	p := newPublisher(t, map[string][]byte{n46: data})
	opts := p.options(t)
	part := filepath.Join(opts.Folder, filepath.Base(n46)) + partEnding
	require.NoError(t, os.WriteFile(part, []byte("II*"), 0o600))
	require.NoError(t, keepTag(part, partTag{total: -1}))
	r, err := Get(t.Context(), copernicus(t), geodesy.LatLon{Lat: 46.5, Lon: 7.5}, 100, opts)
	require.NoError(t, err)
	got, err := os.ReadFile(r.Files[0].Path)
	require.NoError(t, err)
	assert.Equal(t, data, got)
	assert.Len(t, list(t, opts.Folder), 3)
}
