package cli

import (
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
)

// wrongValues are what is wrong for a flag of a kind of value, by its type; and
// wrongByName where a type allows any text.
var (
	wrongByName = map[string][]string{
		"units": {"--units=leagues"}, "date": {"--date=never"}, "crs": {"--crs=EPSG:99999"}, "height-unit": {"--height-unit=yd"},
		"paper": {"--paper=tiny"}, "kinds": {"--kinds=riddle"}, "level": {"--level=expert"}, "part": {"--part=half"},
		"max-memory": {"--max-memory=lots"}, "sector": {"--sector=north"}, "label-reading": {"--label-reading=sideways"},
		"extent": {"--extent=1,2,3"}, "source": {"--source=none-such"}, "plot": {"--plot=x.doc"}, "out": {"--out=x.doc", "-o=x.doc"},
		"gpx": {"--gpx=x.doc"}, "places-crs": {"--places-crs=EPSG:99999"}, "bearing": {"--bearing=north"}, "from": {"--from=nowhere,else"}, "to": {"--to=nowhere,else"},
		"around": {"--around=nowhere,else"}, "north": {"--north=south"}, "cover-void": {"--cover-void=trees"}, "contour-colour": {"--contour-colour=brown"}, "index-colour": {"--index-colour=brown"}, "time": {"--time=stroll"}, "declination": {"--declination=14.5X"}, "compass": {"--compass=square"}, "start": {"--start=noon", "--start=08:30"}, "rule": {"--rule=stroll"}, "speed": {"--speed=40km/h", "--speed=4"}, "pace": {"--pace=65/50m"}, "minutes": {"--minutes=20", "--minutes=quick"},
	}
	// checkedLater are flags whose every text may be right, with the reason.
	checkedLater = map[string]string{
		"dem": "the file itself", "places": "a file", "cover": "a file", "line": "a file", "cover-field": "any name", "line-name": "any name", "route": "a file",
		"title": "any text", "folder": "any folder", "name": "any text", "names": "any text", "index": "a file", "note": "any text", "config": "a file",
	}
)

// TestFlagsAreCheckedBeforeDataIsOpened: a wrong flag beside a file that does
// not exist was told of the file first. Every flag of every command that takes
// --dem is given a wrong value with such a file: the flag is what is refused.
func TestFlagsAreCheckedBeforeDataIsOpened(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	bases := map[string][]string{
		"leg": {legFrom, legTo}, "sight": {legFrom, legTo}, "landmarks": {legFrom}, "viewshed": {legFrom}, "skyline": {legFrom},
		"sheet": {legFrom, legTo, "-o", filepath.Join(folder, "s.pdf")}, "drill": {"--around", legFrom, "-o", filepath.Join(folder, "d.pdf")},
		"fix": {"--bearing", legFrom + "=10", "--bearing", legTo + "=100"}, "contours": {"-o", filepath.Join(folder, "c.gpx")},
		"dem features": {"--around", legFrom},
		"route":        {"testdata/none.csv"},
	}
	// flags that go with others
	with := map[string][]string{
		"places-crs": {"--places", "none.csv"}, "clearing": {"--cover", "none.tif"}, "cover-void": {"--cover", "none.tif"}, "within": {"--bearing", "20"}, "magnetic": {"--bearing", "20"},
		"compass-error landmarks": {"--for-fix"}, "mark-error landmarks": {"--for-fix"},
		"altimeter-error": {"--altimeter", "500"}, "line-error": {"--line", "none.gpx"},
		"label-reading contours": {"-o", filepath.Join(folder, "c.svg")}, "paper route": {"-o", filepath.Join(folder, "r.pdf")}, "paper fix": {"-o", filepath.Join(folder, "f.pdf")},
		"date viewshed": {"-o", filepath.Join(folder, "v.svg")}, "declination viewshed": {"-o", filepath.Join(folder, "v.svg")},
		"date contours": {"-o", filepath.Join(folder, "c.svg")}, "declination contours": {"-o", filepath.Join(folder, "c.svg")},
		"rows skyline": {"-o", filepath.Join(folder, "k.svg")}, "radius contours": {"--around", legFrom},
	}
	tried := 0
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		for _, sub := range c.Commands() {
			walk(sub)
		}
		command := strings.TrimPrefix(c.CommandPath(), "crowline ")
		base, ok := bases[command]
		if !ok || c.Flags().Lookup("dem") == nil {
			return
		}
		c.Flags().VisitAll(func(f *pflag.Flag) {
			_, later := checkedLater[f.Name]
			wrong := wrongByName[f.Name]
			switch {
			case f.Value.Type() == "bool":
				wrong = []string{"--" + f.Name + "=perhaps"}
			case slices.Contains(numeric, f.Value.Type()):
				wrong = []string{"--" + f.Name + "=lots"}
			case later && wrong == nil:
				return
			}
			if !assert.NotEmpty(t, wrong, "no wrong value of --%s of %s (a %s) to try", f.Name, command, f.Value.Type()) {
				return
			}
			for _, one := range wrong {
				arguments := slices.Concat(strings.Fields(command), base, with[f.Name], with[f.Name+" "+command], []string{"--dem", filepath.Join(folder, "missing.tif")})
				if strings.HasPrefix(one, "-o=") {
					arguments = append(arguments, "-o", strings.TrimPrefix(one, "-o="))
				} else {
					arguments = append(arguments, one)
				}
				a := run(t, arguments...)
				tried++
				line := strings.Join(arguments, " ")
				assert.Equal(t, exitUsage, a.code, "%s: %s", line, a.err)
				assert.NotContains(t, a.err, "missing.tif", line)
				assert.NotContains(t, a.err, "does nothing here", line)
				assert.Equal(t, 1, strings.Count(a.err, "\n"), "%s: %s", line, a.err)
			}
		})
	}
	walk(newRoot(Streams{}))
	assert.Greater(t, tried, 150)
}
