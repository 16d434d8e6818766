package gdalio

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// FuzzParseVirtual: what is written anew parses again, to the same, and every
// source in it is in the folder.
func FuzzParseVirtual(f *testing.F) {
	const folder = "/nowhere/at/all"
	for _, s := range []string{"near.tif", "../far.tif", "/etc/passwd", "sub/./x.tif", "http://a/b.tif", "a&amp;b.tif"} {
		for _, relative := range []string{"0", "1", "2"} {
			f.Add([]byte(`<VRTDataset rasterXSize="2" rasterYSize="2"><SRS>EPSG:4326</SRS><VRTRasterBand dataType="Int16" band="1"><SimpleSource>` +
				`<SourceFilename relativeToVRT="` + relative + `">` + s + `</SourceFilename><SourceBand>1</SourceBand></SimpleSource></VRTRasterBand></VRTDataset>`))
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		root, err := parseVirtual(data)
		if err != nil {
			assert.NotContains(t, err.Error(), "\n")
			return
		}
		v := &virtual{made: map[string]string{}, kinds: map[string]bool{}, dirs: map[string]string{}}
		var out bytes.Buffer
		if err := v.write(&out, root, "", folder); err != nil {
			assert.NotContains(t, err.Error(), "\n")
			return
		}
		again, err := parseVirtual(out.Bytes())
		require.NoError(t, err)
		var check func(e *element)
		check = func(e *element) {
			if e.name == "SourceFilename" {
				assert.True(t, below(e.text, folder), e.text)
			}
			for _, c := range e.children {
				check(c)
			}
		}
		check(again)
	})
}
