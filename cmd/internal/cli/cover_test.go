package cli

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/gdalio"
	"crowline/testdata/cumberland"
)

// TestASightOverCover: a wood 100 m high across the line hides what the bare
// ground shows, a low one does not, and the answer says the sight depends on
// it.
func TestASightOverCover(t *testing.T) {
	t.Parallel()
	wood := func(tall string) string {
		path := filepath.Join(t.TempDir(), "wood.geojson")
		require.NoError(t, os.WriteFile(path, []byte(`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"tall":`+tall+`},
			"geometry":{"type":"Polygon","coordinates":[[[-84.397,36.330],[-84.390,36.330],[-84.390,36.334],[-84.397,36.334],[-84.397,36.330]]]}}]}`), 0o644))
		return path
	}
	sight := func(tall string) sightAnswer {
		a := run(t, "sight", ridgeFrom, "36.3566666667,-84.3875", "--cover", wood(tall), "--cover-field", "tall", "--json")
		require.Equal(t, exitOK, a.code, a.err)
		var v sightAnswer
		require.NoError(t, json.Unmarshal([]byte(a.out), &v))
		require.Equal(t, "visible", v.Sight.Verdict)
		require.NotNil(t, v.OverCover)
		return v
	}
	high := sight("250")
	assert.Equal(t, "hidden", high.OverCover.Sight.Verdict)
	assert.True(t, high.OverCover.Depends)
	assert.Contains(t, high.OverCover.Warning, "twice")
	low := sight("1")
	assert.Equal(t, "visible", low.OverCover.Sight.Verdict)
	assert.False(t, low.OverCover.Depends)

	bad := run(t, "sight", legFrom, legTo, "--cover", filepath.Join(t.TempDir(), "none.tif"))
	assert.Equal(t, exitError, bad.code)
	assert.Equal(t, exitUsage, run(t, "sight", legFrom, legTo, "--cover-field", "tall").code)
	leg := run(t, "leg", "--full", ridgeFrom, ridgeTo, "--cover", wood("250"), "--cover-field", "tall")
	require.Equal(t, exitOK, leg.code, leg.err)
	assert.Contains(t, strings.Join(strings.Fields(leg.out), " "), "With what stands on the ground: hidden")
}

// TestCoverWhoseVoidsAreOpenGround: a raster of canopy that has no value where
// nothing stands leaves open ground unknown, which is said; --cover-void bare
// takes it as bare.
func TestCoverWhoseVoidsAreOpenGround(t *testing.T) {
	t.Parallel()
	raster, err := gdalio.OpenBytes(cumberland.Name, cumberland.Bytes(), gdalio.Options{})
	require.NoError(t, err)
	defer raster.Close()
	frame := *raster.Layout()
	zero := 0.0
	canopy := filepath.Join(t.TempDir(), "canopy.tif")
	require.NoError(t, gdalio.WriteGeoTIFF(t.Context(), canopy, &frame, []gdalio.Band{{Float32: make([]float32, frame.Columns*frame.Rows), NoData: &zero}}))
	arguments := []string{"sight", legFrom, "36.2550,-84.2890", "--dem", cumberland.Path(), "--json", "--cover", canopy}
	type over struct {
		Over struct {
			Sight struct {
				Verdict string `json:"verdict"`
			} `json:"sight"`
			Warning string `json:"warning"`
		} `json:"over_cover"`
	}
	var unknown, bare over
	require.NoError(t, json.Unmarshal([]byte(run(t, arguments...).out), &unknown))
	assert.Contains(t, unknown.Over.Warning, "canopy.tif says nothing of 100 % of the ground looked at")
	require.NoError(t, json.Unmarshal([]byte(run(t, append(arguments, "--cover-void", "bare")...).out), &bare))
	assert.NotEqual(t, "unknown", bare.Over.Sight.Verdict)
	assert.NotContains(t, bare.Over.Warning, "says nothing")
	assert.Equal(t, exitUsage, run(t, append(arguments, "--cover-void", "open")...).code)

	var view struct {
		Over struct {
			Unknown  int64    `json:"unknown_posts"`
			Warnings []string `json:"warnings"`
		} `json:"over_cover"`
	}
	arguments = []string{"viewshed", legFrom, "--radius", "1km", "--dem", cumberland.Path(), "--json", "--cover", canopy}
	require.NoError(t, json.Unmarshal([]byte(run(t, arguments...).out), &view))
	assert.Positive(t, view.Over.Unknown)
	assert.Contains(t, strings.Join(view.Over.Warnings, " "), "says nothing of 100 %")
	require.NoError(t, json.Unmarshal([]byte(run(t, append(arguments, "--cover-void", "bare")...).out), &view))
	assert.Zero(t, view.Over.Unknown)
}
