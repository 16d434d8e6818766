package cli

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	paper "crowline/contour/page"
	"crowline/dem/demo"
	"crowline/dem/geodesy"
)

// eachFlag calls f with every flag of every command.
func eachFlag(f func(c *cobra.Command, flag *pflag.Flag)) {
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		c.Flags().VisitAll(func(flag *pflag.Flag) { f(c, flag) })
		for _, sub := range c.Commands() {
			walk(sub)
		}
	}
	walk(newRoot(Streams{}))
}

// TestEveryFlagOfFilesHasARole, and so do arguments: what has none passes the
// guard unseen.
func TestEveryFlagOfFilesHasARole(t *testing.T) {
	t.Parallel()
	fileWord := regexp.MustCompile(`(?i)\b(files?|folders?|paths?|directory)\b`)
	roles := map[string]int{}
	eachFlag(func(c *cobra.Command, flag *pflag.Flag) {
		value, _ := pflag.UnquoteUsage(flag)
		role := roleOf(flag)
		roles[role]++
		if fileWord.MatchString(value) {
			assert.NotEmpty(t, role, "%s --%s names a file: say with namesFiles what the file is to it", c.CommandPath(), flag.Name)
		} else {
			assert.Empty(t, role, "%s --%s: its usage does not say that it names a file", c.CommandPath(), flag.Name)
		}
		if role == filesGround {
			assert.Implements(t, (*pflag.SliceValue)(nil), flag.Value)
		}
	})
	assert.GreaterOrEqual(t, roles[filesWritten], 9)
	assert.Positive(t, roles[filesRead])
	assert.Positive(t, roles[filesGround])
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		if words := strings.ReplaceAll(c.Use, "-o FILE", ""); fileWord.MatchString(words) {
			assert.NotEmpty(t, c.Annotations[roleKey], "%s takes files: say with argumentsNameFiles what they are to it", c.CommandPath())
		}
		for _, sub := range c.Commands() {
			walk(sub)
		}
	}
	walk(newRoot(Streams{}))
}

// outputTries are, for each flag that names a file to write, the arguments it
// goes with and the endings it takes.
var outputTries = map[string]struct{ arguments, endings string }{
	"contours --out":     {"contours", ".geojson .json .gpkg .fgb .shp .dxf .gpx .kml .svg"},
	"viewshed --out":     {"viewshed FROM", ".tif .tiff .geojson .json .png .pdf .svg"},
	"vantage --out":      {"vantage --around FROM --radius 500m --see TO", ".pdf .svg .png .geojson .json .gpx .tif .tiff"},
	"walk --out":         {"walk --around FROM", ".pdf .svg .png"},
	"skyline --out":      {"skyline FROM", ".svg .png .pdf .csv .json"},
	"fix --out":          {"fix --bearing 34.3277,-118.0574=225 --bearing 34.3115,-118.0533=176", ".pdf .svg .png"},
	"sheet --out":        {"sheet FROM", ".pdf .svg .png"},
	"drill --out":        {"drill --around FROM", ".pdf .svg .png .txt"},
	"dem features --out": {"dem features --around FROM --kinds hill,saddle", ".geojson .gpkg .gpx .kml .fgb .shp"},
	"route --out":        {"route trip.csv", ".pdf .svg .png .txt"},
	"route --gpx":        {"route trip.csv", ".gpx"},
	"sights --out":       {"sights pairs.csv", ".csv .txt"},
	"leg --plot":         {"leg FROM TO", ".svg .png .pdf"},
	"sight --plot":       {"sight FROM TO", ".svg .png .pdf"},
}

func fields(line string) []string {
	words := strings.Fields(line)
	for i, w := range words {
		switch w {
		case "FROM":
			words[i] = demoFrom.LatLon.String()
		case "TO":
			words[i] = demoTo.LatLon.String()
		}
	}
	return words
}

// untouched runs a command in the working folder and holds it to have been
// refused in one line that says so, with every file there as it was.
func untouched(t *testing.T, says string, arguments ...string) {
	t.Helper()
	before := filesIn(t, ".")
	a := run(t, arguments...)
	assert.Contains(t, []int{exitError, exitUsage}, a.code, "%v: %s", arguments, a.err)
	assert.Contains(t, a.err, says, "%v", arguments)
	assert.Equal(t, 1, strings.Count(a.err, "\n"), a.err)
	assert.Empty(t, a.out)
	assert.Equal(t, before, filesIn(t, "."), "%v", arguments)
}

// filesIn is what all files under a folder hold, links as where they lead.
func filesIn(t *testing.T, folder string) map[string]string {
	t.Helper()
	out := map[string]string{}
	require.NoError(t, filepath.Walk(folder, func(path string, info os.FileInfo, err error) error {
		switch {
		case err != nil || info.IsDir():
			return err
		case info.Mode()&os.ModeSymlink != 0:
			to, err := os.Readlink(path)
			out[path] = "-> " + to
			return err
		}
		data, err := os.ReadFile(path)
		out[path] = string(data)
		return err
	}))
	return out
}

func put(t *testing.T, path string, data []byte) {
	t.Helper()
	require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
	require.NoError(t, os.WriteFile(path, data, 0o644))
}

// alone gives a test an empty working folder and no settings of anybody's.
func alone(t *testing.T) {
	t.Helper()
	t.Chdir(t.TempDir())
	t.Setenv(configVariable, "")
	t.Setenv(demVariable, "")
	t.Setenv("XDG_CACHE_HOME", t.TempDir())
	t.Setenv("XDG_CONFIG_HOME", t.TempDir())
	put(t, "trip.csv", []byte("name,lat,lon\nCamp,"+demoFrom.LatLon.String()+"\nFord,34.32000,-118.05000\n"))
}

// TestNoOutputFlagDestroysAnInput: every flag that names a file to write, with
// every ending it takes, refuses the run's own elevation data, places, and for
// names not taken yet what they would be read with.
func TestNoOutputFlagDestroysAnInput(t *testing.T) {
	alone(t)
	tried := 0
	eachFlag(func(c *cobra.Command, flag *pflag.Flag) {
		if roleOf(flag) != filesWritten {
			return
		}
		name := strings.TrimPrefix(c.CommandPath(), "crowline ") + " --" + flag.Name
		try, known := outputTries[name]
		if !assert.True(t, known, "%s writes a file: add how to outputTries", name) {
			return
		}
		for _, ending := range strings.Fields(try.endings) {
			path := "in" + ending
			put(t, path, demo.Bytes())
			untouched(t, "would write over "+path+" (--dem), which this run reads: name another file",
				append(fields(try.arguments), "--dem", path, "--"+flag.Name, path)...)
			require.NoError(t, os.Remove(path))
			put(t, path, []byte("name,lat,lon\nCamp,"+demoFrom.LatLon.String()+"\n"))
			untouched(t, "would write over "+path+" (--places), which this run reads: name another file",
				append(fields(try.arguments), "--places", path, "--"+flag.Name, filepath.Join("..", filepath.Base(mustWD(t)), path))...)
			require.NoError(t, os.Remove(path))
			tried++
		}
	})
	assert.GreaterOrEqual(t, tried, 40)
}

func mustWD(t *testing.T) string {
	t.Helper()
	folder, err := os.Getwd()
	require.NoError(t, err)
	return folder
}

// ascii is a small grid that takes its reference system from a .prj.
const asciiGrid = "ncols 3\nnrows 3\nxllcorner -118.1\nyllcorner 34.3\ncellsize 0.01\n1 2 3\n4 5 6\n7 8 9\n"

// TestOutputsThatNamedAnInput are the tries that destroyed it: each is refused
// now, and nothing has changed.
func TestOutputsThatNamedAnInput(t *testing.T) {
	const vrt = `<VRTDataset rasterXSize="1" rasterYSize="1"><VRTRasterBand dataType="Int16" band="1"><SimpleSource>` +
		`<SourceFilename relativeToVRT="1">%s</SourceFilename></SimpleSource></VRTRasterBand></VRTDataset>`
	link := func(t *testing.T, to, path string) { t.Helper(); require.NoError(t, os.Symlink(to, path)) }
	for name, c := range map[string]struct {
		put  func(t *testing.T)
		line string
		says string
	}{
		"the data itself":                          {nil, "viewshed FROM --dem tile.tif -o tile.tif", "tile.tif (--dem)"},
		"the data under a longer name":             {nil, "viewshed FROM --dem ./more/../tile.tif -o tile.tif", "(--dem)"},
		"the target of a link":                     {func(t *testing.T) { link(t, "tile.tif", "link.tif") }, "viewshed FROM --dem link.tif -o tile.tif", "link.tif (--dem)"},
		"a link to the data":                       {func(t *testing.T) { link(t, "tile.tif", "link.tif") }, "viewshed FROM --dem tile.tif -o link.tif", "tile.tif (--dem)"},
		"the data through a folder that is a link": {func(t *testing.T) { link(t, "more", "short") }, "viewshed FROM --dem more/a.tif -o short/a.tif", "more/a.tif (--dem)"},
		"another name of the data":                 {func(t *testing.T) { require.NoError(t, os.Link("tile.tif", "other.tif")) }, "viewshed FROM --dem tile.tif -o other.tif", "tile.tif (--dem)"},
		"a virtual raster":                         {func(t *testing.T) { put(t, "all.tif", []byte(fmt.Sprintf(vrt, "tile.tif"))) }, "viewshed FROM --dem all.tif -o all.tif", "all.tif (--dem)"},
		"a source of a virtual raster":             {func(t *testing.T) { put(t, "all.vrt", []byte(fmt.Sprintf(vrt, "tile.tif"))) }, "viewshed FROM --dem all.vrt -o tile.tif", "tile.tif (of all.vrt, --dem)"},
		"a source of a source": {func(t *testing.T) {
			put(t, "all.vrt", []byte(fmt.Sprintf(vrt, "more/north.vrt")))
			put(t, "more/north.vrt", []byte(fmt.Sprintf(vrt, "../tile.tif")))
		}, "viewshed FROM --dem all.vrt -o tile.tif", "tile.tif (of more/north.vrt, --dem)"},
		"a source that a driver is told of": {func(t *testing.T) { put(t, "all.vrt", []byte(fmt.Sprintf(vrt, `GTIFF_DIR:1:tile.tif`))) },
			"viewshed FROM --dem all.vrt -o tile.tif", "tile.tif (of all.vrt, --dem)"},
		"a tile of a folder":               {nil, "viewshed FROM --dem more -o more/a.tif", "a.tif (of more, --dem)"},
		"a tile of a folder within":        {func(t *testing.T) { put(t, "more/north/b.tif", demo.Bytes()) }, "viewshed FROM --dem more -o more/north/b.tif", "b.tif (of more, --dem)"},
		"a tile of a pattern":              {nil, "viewshed FROM --dem more/*.tif -o more/a.tif", "a.tif (of more/*.tif, --dem)"},
		"what a tile of a folder leads to": {func(t *testing.T) { link(t, "../tile.tif", "more/b.tif") }, "viewshed FROM --dem more -o tile.tif", "b.tif (of more, --dem)"},
		"the licence of a folder":          {func(t *testing.T) { put(t, "more/LICENCE-here.txt", []byte("open")) }, "drill --around FROM --dem more -o more/LICENCE-here.txt", "LICENCE-here.txt (of "},
		"the data of the environment":      {func(t *testing.T) { t.Setenv(demVariable, "more:tile.tif") }, "viewshed FROM -o tile.tif", "tile.tif (" + demVariable + ")"},
		"the config file's data": {func(t *testing.T) {
			put(t, "config.json", []byte(`{"dem":"tile.tif"}`))
			t.Setenv(configVariable, "config.json")
		}, "viewshed FROM -o tile.tif", "tile.tif (config.json)"},
		"the config file": {func(t *testing.T) {
			put(t, "config.json", []byte(`{}`))
			t.Setenv(configVariable, "config.json")
		}, "contours -o config.json", "config.json (the config file)"},
		"the cover": {nil, "viewshed FROM --cover tile.tif -o tile.tif", "tile.tif (--cover)"},
		"polygons of cover": {func(t *testing.T) { put(t, "wood.geojson", []byte(`{"type":"FeatureCollection","features":[]}`)) },
			"viewshed FROM --cover wood.geojson --cover-field h -o wood.geojson", "wood.geojson (--cover)"},
		"a table beside polygons of cover": {func(t *testing.T) {
			put(t, "wood.shp", []byte("polygons"))
			put(t, "h.dbf", []byte("heights"))
			require.NoError(t, os.Link("h.dbf", "wood.dbf"))
			put(t, "h.shp", []byte("other polygons"))
		}, "contours --around FROM --dem tile.tif --dem wood.shp -o h.shp", "with its h.dbf, would write over wood.dbf (of wood.shp, --dem)"},
		"the places": {nil, "skyline FROM --places trip.csv -o trip.csv", "trip.csv (--places)"},
		"the route":  {func(t *testing.T) { put(t, "trip.gpx", []byte("<gpx/>")) }, "route trip.gpx --gpx trip.gpx", "trip.gpx (the file given)"},
		"the reference system of the data": {func(t *testing.T) {
			put(t, "h.asc", []byte(asciiGrid))
			put(t, "h.prj", []byte(geodesy.WGS84.Definition()))
		},
			"contours --dem h.asc -o h.shp", "-o h.shp, with its h.prj, would write over h.prj (of h.asc, --dem)"},
		"a reference system where the data has none": {func(t *testing.T) { put(t, "h.asc", []byte(asciiGrid)) },
			"contours --dem h.asc --crs EPSG:4326 -o h.shp", "-o h.shp, with its h.prj, would write over h.prj (of h.asc, --dem)"},
		"the reference system of a tile": {func(t *testing.T) { put(t, "more/h.asc", []byte(asciiGrid)); put(t, "more/h.prj", []byte("x")) },
			"contours --dem more -o more/h.shp", "would write over "},
		"the reference system of another's data": {func(t *testing.T) { put(t, "h.asc", []byte(asciiGrid)) },
			"contours --around FROM --radius 1km -o h.shp", "h.prj goes with it and would be read as the reference system of h.asc"},
		"another's reference system": {func(t *testing.T) { put(t, "h.prj", []byte("x")) }, "contours --around FROM --radius 1km -o h.shp", "h.prj goes with it and is there already"},
		"another's table":            {func(t *testing.T) { put(t, "h.dbf", []byte("x")) }, "dem features --around FROM -o h.shp", "h.dbf goes with it and is there already"},
		"a drawing that is there":    {func(t *testing.T) { put(t, "class-2.png", []byte("mine")) }, "drill --around FROM -o class.png", "class-2.png goes with it and is there already"},
		"a third page that is there": {func(t *testing.T) { put(t, "class-3.png", []byte("mine")) }, "drill --around FROM -o class.png", "class-3.png goes with it and is there already"},
		"a page of a card": {func(t *testing.T) {
			text := "lat,lon\n"
			for i := range 30 {
				text += fmt.Sprintf("%.4f,%.4f\n", 34.3297-0.001*float64(i), -118.0548+0.001*float64(i%2))
			}
			put(t, "long.csv", []byte(text))
			put(t, "card-2.svg", []byte("mine"))
		}, "route long.csv --straight -o card.svg", "card-2.svg goes with it and is there already"},
		"a page that is an input": {func(t *testing.T) { put(t, "class-2.png", demo.Bytes()) }, "drill --around FROM --dem class-2.png -o class.png",
			"-o class.png, with its class-2.png, would write over class-2.png (--dem)"},
		"two outputs that are one": {func(t *testing.T) { put(t, "a.gpx", []byte("x")); require.NoError(t, os.Link("a.gpx", "b.txt")) },
			"route trip.csv -o b.txt --gpx a.gpx", "--gpx a.gpx and -o b.txt are one file"},
		"a database that another program has open": {func(t *testing.T) { put(t, "l.gpkg", []byte("x")); put(t, "l.gpkg-wal", []byte("x")) },
			"contours --around FROM --radius 1km -o l.gpkg", "l.gpkg-wal says that another program has it open"},
	} {
		t.Run(name, func(t *testing.T) {
			alone(t)
			put(t, "tile.tif", demo.Bytes())
			put(t, "more/a.tif", demo.Bytes())
			if c.put != nil {
				c.put(t)
			}
			untouched(t, c.says, fields(c.line)...)
		})
	}
}

// TestTheIndexOfTilesIsAnInput, before it is there and after.
func TestTheIndexOfTilesIsAnInput(t *testing.T) {
	alone(t)
	put(t, "more/a.tif", demo.Bytes())
	cache := filepath.Join(os.Getenv("XDG_CACHE_HOME"), "crowline")
	a := run(t, "leg", demoFrom.LatLon.String(), demoTo.LatLon.String(), "--dem", "more", "--marks", "0")
	require.Equal(t, exitOK, a.code, a.err)
	index, err := filepath.Glob(filepath.Join(cache, "tiles-*.gpkg"))
	require.NoError(t, err)
	require.Len(t, index, 1)
	for range 2 {
		untouched(t, filepath.Base(index[0])+" (of more, --dem)", "contours", "--dem", "more", "-o", index[0])
		require.NoError(t, os.RemoveAll(index[0]))
	}
}

// TestNothingIsOpenedOfARunThatIsRefused: data that cannot be read is not what
// is complained of.
func TestNothingIsOpenedOfARunThatIsRefused(t *testing.T) {
	alone(t)
	put(t, "tile.tif", []byte("no raster at all"))
	untouched(t, "would write over tile.tif", "viewshed", demoFrom.LatLon.String(), "--dem", "tile.tif", "-o", "tile.tif")
	ctx, stop := context.WithCancel(t.Context())
	stop()
	a := runContext(ctx, t, "viewshed", demoFrom.LatLon.String(), "--dem", "tile.tif", "-o", "tile.tif")
	assert.Equal(t, exitCancel, a.code)
}

// TestOutputsMayBeReplaced: the guard is no hindrance where a run is made again,
// in the folder of its data too.
func TestOutputsMayBeReplaced(t *testing.T) {
	alone(t)
	put(t, "tile.tif", demo.Bytes())
	for line, twice := range map[string]bool{ // where a first run leaves what the second meets: files beside it, a raster among the tiles
		"viewshed FROM --radius 1km --dem . -o seen.tif":                         true,
		"viewshed FROM --radius 1km --dem tile.tif -o tile.png":                  true,
		"contours --around FROM --radius 500m --dem tile.tif -o tile.shp":        true,
		"contours --around FROM --radius 500m --dem tile.tif -o lines.gpkg":      false,
		"skyline FROM --radius 1km --places trip.csv -o trip.json":               false,
		"drill --around FROM --radius 2km --count 1 --part questions -o one.svg": false,
		"route trip.csv --straight -o trip.pdf --gpx trip.gpx":                   false,
		"drill --around FROM --radius 2km --count 1 --dem . -o class.txt":        false,
	} {
		words := fields(line)
		output := words[slices.Index(words, "-o")+1]
		if twice {
			a := run(t, words...)
			require.Equal(t, exitOK, a.code, "%s: %s", line, a.err)
		} else {
			put(t, output, []byte("old"))
		}
		a := run(t, words...)
		require.Equal(t, exitOK, a.code, "%s: %s", line, a.err)
		is, err := os.ReadFile(output)
		require.NoError(t, err)
		assert.NotEqual(t, "old", string(is), line)
	}
	assert.FileExists(t, "tile.prj")
}

// TestFurtherPagesHaveTheNamesThatAreGuarded.
func TestFurtherPagesHaveTheNamesThatAreGuarded(t *testing.T) {
	alone(t)
	a := run(t, "drill", "--around", demoFrom.LatLon.String(), "--count", "4", "-o", "class.svg")
	require.Equal(t, exitOK, a.code, a.err)
	pages := pagesThere("class.svg")
	require.NotEmpty(t, pages)
	for i, page := range pages {
		assert.Equal(t, paper.PageFile("class.svg", i+2), page)
	}
	assert.Empty(t, pagesThere("class.pdf"))
	list, err := filepath.Glob("class*")
	require.NoError(t, err)
	assert.Len(t, list, len(pages)+1)
}
