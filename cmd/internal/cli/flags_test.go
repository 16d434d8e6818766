package cli

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/cmd/internal/answer"
	"crowline/contour"
	"crowline/contour/drill"
	"crowline/dem/gdalio"
	"crowline/testdata/cumberland"
)

// TestValuesOutOfRange are wrong usage, and the range is named.
func TestValuesOutOfRange(t *testing.T) {
	t.Parallel()
	for line, says := range map[string]string{
		"leg A B --eye 1e9":                              `--eye: "1e9" is not a length from 0 m to 100 km`,
		"leg A B --target-height -1":                     `--target-height: "-1" is not a length from 0 m to 100 km`,
		"leg A B --dead-band -1":                         "--dead-band",
		"leg A B --vertical-error 0":                     `--vertical-error: "0" is not a length from 0.001 m to 1 km`,
		"leg A B --vertical-error 2km":                   "from 0.001 m to 1 km",
		"leg A B --height-unit yd":                       "--height-unit yd: give m, ft or ftUS",
		"leg A B --crs EPSG:99999":                       "EPSG:99999",
		"leg A B --refraction 21":                        "from -20 to 20",
		"leg A B --interval 0.001m":                      "from 0.01 m to 10 km",
		"leg A B --interval 0.01ft":                      "from 0.01 m to 10 km",
		"sight A --bearing 90 --radius 0":                `--radius: "0" is not a length above 0 m and up to 1000 km`,
		"landmarks A --radius 0":                         "--radius",
		"landmarks A --prominence 0":                     "--prominence",
		"landmarks A --visual-range -1":                  "--visual-range",
		"landmarks A --most -1":                          `--most: "-1" is not a whole number from 0 to 100000`,
		"viewshed A --radius 1001km":                     "--radius",
		"skyline A --radius 0":                           "--radius",
		"sheet A --scale 0 -o x.pdf":                     `--scale: "0" is not a scale from 1:500 to 1:1000000`,
		"sheet A --scale 1:400 -o x.pdf":                 `--scale: "1:400" is not a scale from 1:500 to 1:1000000`,
		"sheet A --scale NaN -o x.pdf":                   "--scale",
		"sheet A --scale large -o x.pdf":                 "write 25000 for 1:25 000",
		"contours --scale 99 -o x.gpx":                   "1:100 to 1:10000000",
		"contours --interval 0.001m -o x.gpx":            "from 0.01 m to 10 km",
		"contours --radius 0 --around A -o x.gpx":        "--radius",
		"drill --around A --scale 999":                   "1:1000 to 1:250000",
		"drill --around A --count 51":                    `--count: "51" is not a whole number from 1 to 50`,
		"drill --around A --radius 499":                  `"499" is not a length from 500 m to 50 km`,
		"dem features --around A --scale 0":              "--scale",
		"dem features --around A --min-relief 0":         "--min-relief",
		"dem features --around A --most -1":              "--most",
		"sheet A -o x.png --dpi 1200 --paper 1200x900":   "--dpi: PNG: 1200 x 900 mm at 1200 dots per inch is 2411 million pixels, over 300 million; take at most 423 dots per inch, or a .pdf",
		"declination A --elevation 200km":                "from -100 km to 100 km",
		"fix --bearing A=10 --altimeter 1e9":             "from -500 m to 9 km",
		"fix --bearing A=10 --line x.gpx --line-error 0": "--line-error",
		"fix --bearing A=10 --mark-error -1":             "--mark-error",
		"dem get --around A --radius 0":                  "--radius",
	} {
		a := run(t, strings.Fields(strings.ReplaceAll(strings.ReplaceAll(line, " A", " "+legFrom), " B", " "+legTo))...)
		assert.Equal(t, exitUsage, a.code, "%s: %s", line, a.err)
		assert.Contains(t, a.err, says, line)
		assert.Empty(t, a.out, line)
	}
}

// TestScalesAreTheLibrarys: the scales that flags allow are those that are
// drawn, and no other.
func TestScalesAreTheLibrarys(t *testing.T) {
	t.Parallel()
	r, err := gdalio.OpenBytes(cumberland.Name, cumberland.Bytes(), gdalio.Options{})
	require.NoError(t, err)
	defer r.Close()
	grid, err := r.Read(t.Context(), r.Layout().Whole())
	require.NoError(t, err)
	scales := func(command string) bounds {
		cmd, _, err := newRoot(Streams{}).Find([]string{command})
		require.NoError(t, err)
		return cmd.Flags().Lookup("scale").Value.(*scaleFlag).bounds
	}
	for command, try := range map[string]func(scale float64) error{
		"contours": func(scale float64) error {
			_, err := contour.Choose(contour.Question{Scale: scale})
			return err
		},
		"sheet": func(scale float64) error {
			lines := answer.DefaultLines()
			lines.Scale = scale
			return answer.SheetRequest{Lines: lines}.Check()
		},
		"drill": func(scale float64) error {
			_, err := drill.Make(t.Context(), grid, drill.Options{Scale: scale, Radius: 1, Around: parsed(t, legFrom)})
			return err
		},
	} {
		b := scales(command)
		for _, scale := range []float64{b.least, b.most} {
			if err := try(scale); err != nil {
				assert.NotContains(t, err.Error(), "scale 1:", command)
			}
		}
		for _, scale := range []float64{math.Nextafter(b.least, 0), math.Nextafter(b.most, 1e9)} {
			assert.ErrorContains(t, try(scale), "scale 1:", command)
		}
	}
}

// TestFlagsThatWouldDoNothing are refused.
func TestFlagsThatWouldDoNothing(t *testing.T) {
	t.Parallel()
	for line, says := range map[string]string{
		"landmarks A --within 5":                    "--within does nothing here: it goes with --bearing",
		"landmarks A --magnetic":                    "--magnetic does nothing here: it goes with --bearing",
		"landmarks A --compass-error 5":             "--compass-error does nothing here: it goes with --for-fix",
		"sight A B --magnetic":                      "goes with --bearing",
		"sight A B --radius 5km":                    "goes with --bearing",
		"leg A B --clearing 50m":                    "--clearing does nothing here: it goes with --cover",
		"leg A B --cover-field height":              "--cover-field does nothing here: it goes with --cover",
		"leg A B --marks 0 --throughout":            "leave out --marks 0",
		"leg A B --places a.csv --places b.csv":     `--places: "b.csv" is a second file of places`,
		"skyline A --rows 3":                        "goes with --out",
		"contours --radius 5km -o x.gpx":            "goes with --around or --from or --to",
		"drill --around A --paper a3":               "goes with --out",
		"route x.gpx --paper a3":                    "goes with --out",
		"dem get --list --source copernicus-glo-30": "--list shows the data sets",
		"fix --bearing A=10 --line-name stream":     "--line-name does nothing here: it goes with --line",
		"fix --bearing A=10 --altimeter-error 5":    "goes with --altimeter",
		"sheet A -o x.pdf --marks 5":                "--marks does nothing here: marks are those of a leg",
		"sheet A -o x.pdf --eye 5":                  "--eye does nothing here: it bears on --hidden and on a leg",
		"sheet A B -o x.pdf --dpi 100":              "--dpi does nothing here: it is for a .png",
		"contours -o x.gpx --label-reading reader":  "--label-reading does nothing here: it is for a .svg",
		"viewshed A -o x.geojson --needed":          "--needed does nothing here",
		"viewshed A B -o x.tif --needed":            "--needed does nothing here",
		"drill --around A --target-height 5":        "there is no flag --target-height",
		"dem get --list --radius 5km":               "goes with --around",
	} {
		a := run(t, strings.Fields(strings.ReplaceAll(strings.ReplaceAll(line, " A", " "+legFrom), " B", " "+legTo))...)
		assert.Equal(t, exitUsage, a.code, "%s: %s", line, a.err)
		assert.Contains(t, a.err, says, line)
		assert.Empty(t, a.out, line)
	}
}

// TestNeedsNameFlagsThatThereAre, or a flag could never be given.
func TestNeedsNameFlagsThatThereAre(t *testing.T) {
	t.Parallel()
	count := 0
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		c.Flags().VisitAll(func(f *pflag.Flag) {
			for _, other := range f.Annotations[needsKey] {
				assert.NotNil(t, c.Flags().Lookup(other), "%s: --%s needs --%s", c.CommandPath(), f.Name, other)
				count++
			}
		})
		for _, sub := range c.Commands() {
			walk(sub)
		}
	}
	walk(newRoot(Streams{}))
	assert.Positive(t, count)
}

// TestPolygonsAsCoverNeedTheirField: given as a raster they cannot be read, and
// it is said why.
func TestPolygonsAsCoverNeedTheirField(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "wood.geojson")
	require.NoError(t, os.WriteFile(path, []byte(`{"type":"FeatureCollection","features":[]}`), 0o600))
	a := run(t, "sight", legFrom, legTo, "--cover", path)
	assert.Equal(t, exitUsage, a.code)
	assert.Contains(t, a.err, "--cover-field")
	a = run(t, "sight", legFrom, legTo, "--cover", filepath.Join(t.TempDir(), "none.tif"))
	assert.Equal(t, exitError, a.code)
	assert.Contains(t, a.err, "cover: ")
	assert.Contains(t, a.err, "no such file")
}

// TestHelpNamesValuesInWords: no flag's help says string, int or float.
func TestHelpNamesValuesInWords(t *testing.T) {
	t.Parallel()
	count := 0
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		c.Flags().VisitAll(func(f *pflag.Flag) {
			name, _ := pflag.UnquoteUsage(f)
			assert.NotContains(t, []string{"string", "strings", "stringArray", "int", "uint", "float"}, name, "%s --%s", c.CommandPath(), f.Name)
			count++
		})
		for _, sub := range c.Commands() {
			walk(sub)
		}
	}
	walk(newRoot(Streams{}))
	assert.Greater(t, count, 100)
}
