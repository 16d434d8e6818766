package gdalio

import (
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// TestSideFilesAreWhatWritersMake: no driver makes a file beside its own that
// is not known before.
func TestSideFilesAreWhatWritersMake(t *testing.T) {
	t.Parallel()
	write := map[string]func(path string) error{}
	for ending, driver := range vectorDrivers {
		write[ending] = func(path string) error {
			return WriteFeatures(t.Context(), path, driver, Layer{Name: "waypoints", Shape: Points, Fields: []Field{{"name", Text}},
				Features: []Feature{{Geometry: orb.Point{7, 46}, Values: []any{"Zinal é"}}}})
		}
	}
	frame := dem.Frame{Columns: 3, Rows: 3, X0: 7, Y0: 46, DX: 0.1, DY: -0.1, CRS: geodesy.WGS84}
	write[".tif"] = func(path string) error {
		return WriteGeoTIFF(t.Context(), path, &frame, []Band{{Name: VerdictBand, Description: "said", Bytes: make([]byte, 9)}})
	}
	for ending, write := range write {
		folder := t.TempDir()
		path := filepath.Join(folder, "a"+ending)
		require.NoError(t, write(path), ending)
		allowed := append(SideFiles(path), path)
		list, err := os.ReadDir(folder)
		require.NoError(t, err)
		assert.Len(t, list, len(allowed), ending)
		for _, f := range list {
			assert.Contains(t, allowed, filepath.Join(folder, f.Name()))
		}
		require.NoError(t, write(path), "%s again", ending)
		assert.Equal(t, ending == ".tif", IsVerdicts(path), ending)
		if len(allowed) > 1 { // all of it but the file itself is somebody's
			require.NoError(t, os.Remove(path))
			before, err := os.ReadDir(folder)
			require.NoError(t, err)
			require.ErrorContains(t, write(path), "is there already")
			after, err := os.ReadDir(folder)
			require.NoError(t, err)
			assert.Equal(t, len(before), len(after))
		}
	}
}

// TestReads: what a path leads to, however it is written.
func TestReads(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	in := func(name string) string { return filepath.Join(folder, name) }
	for name, text := range map[string]string{
		"tiles/a.tif": "x", "tiles/a.tif.aux.xml": "x", "tiles/a.tfw": "x", "tiles/a.tif.sha256": "x", "tiles/SHA256SUMS": "x", "tiles/LICENCE-here.txt": "x",
		"tiles/north/b.asc": "x", "tiles/north/b.prj": "x", "tiles/notes.pdf": "x", "tiles/a.pdf": "x", "one.flt": "x", "deep.tif": "x", "warped.tif": "x", "z.zip": "x",
		"far/deep.vrt": `<VRTDataset><SourceFilename relativeToVRT="1">../deep.tif</SourceFilename><SourceFilename relativeToVRT="1">deep.vrt</SourceFilename></VRTDataset>`,
		"all.vrt": "\ufeff\n<?xml version=\"1.0\" encoding=\"ISO-8859-1\"?><VRTDataset><SourceFilename>far/deep.vrt</SourceFilename>" +
			`<GDALWarpOptions><SourceDataset relativeToVRT="1">warped.tif</SourceDataset></GDALWarpOptions><MaskFile>/vsizip/` + in("z.zip") + `/m.tif</MaskFile>`,
	} {
		require.NoError(t, os.MkdirAll(filepath.Dir(in(name)), 0o755))
		require.NoError(t, os.WriteFile(in(name), []byte(text), 0o600))
	}
	require.NoError(t, os.Mkdir(in("links"), 0o755))
	require.NoError(t, os.Symlink("../all.vrt", in("links/all.vrt")))
	for name, c := range map[string]struct{ reads, not []string }{
		"tiles": {[]string{"tiles/a.tif", "tiles/a.tif.aux.xml", "tiles/a.tfw", "tiles/a.tif.sha256", "tiles/SHA256SUMS", "tiles/LICENCE-here.txt",
			"tiles/north/b.asc", "tiles/north/b.prj"}, []string{"tiles/notes.pdf", "tiles/a.pdf"}},
		"tiles/*.tif":   {[]string{"tiles/a.tif", "tiles/a.tfw"}, []string{"tiles/north/b.asc", "tiles/a.pdf"}},
		"one.flt":       {[]string{"one.flt", "one.hdr", "one.prj", "one.flt.aux.xml"}, []string{"deep.tif", "one.dbf"}},
		"warped.tif":    {[]string{"warped.tif", "warped.tfw"}, []string{"warped.prj"}},
		"all.vrt":       {[]string{"all.vrt", "far/deep.vrt", "deep.tif", "warped.tif", "warped.tif.ovr", "z.zip"}, []string{"one.flt"}},
		"links/all.vrt": {[]string{"deep.tif", "warped.tif"}, nil},
		"none.tif":      {[]string{"none.tif"}, nil},
	} {
		var paths []string
		for _, r := range Reads([]string{in(name)}, ManyOptions{IndexFolder: t.TempDir()}) {
			real, err := filepath.EvalSymlinks(filepath.Dir(r.Path))
			require.NoError(t, err)
			paths = append(paths, filepath.Join(real, filepath.Base(r.Path)))
		}
		root, err := filepath.EvalSymlinks(folder)
		require.NoError(t, err)
		for _, want := range c.reads {
			assert.True(t, slices.Contains(paths, filepath.Join(root, want)), "%s: %s of %v", name, want, paths)
		}
		for _, not := range c.not {
			assert.False(t, slices.Contains(paths, filepath.Join(root, not)), "%s: %s", name, not)
		}
	}
	assert.Empty(t, Reads([]string{"https://example.org/a.tif"}, ManyOptions{}))
	archived := Reads([]string{"/vsizip/" + in("z.zip") + "/m.tif"}, ManyOptions{})
	assert.Equal(t, in("z.zip"), archived[0].Path)
}
