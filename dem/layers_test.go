package dem_test

import (
	"os/exec"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// allowed is which packages of this module each may import. cmd may import
// all of them.
var allowed = map[string][]string{
	"crowline/dem/geodesy":      {},
	"crowline/dem":              {"crowline/dem/geodesy", "crowline/dem/workers"},
	"crowline/dem/demo":         {},
	"crowline/dem/fetch":        {"crowline/dem", "crowline/dem/geodesy", "crowline/dem/outfile", "crowline/dem/web", "crowline/dem/workers"},
	"crowline/dem/outfile":      {},
	"crowline/dem/units":        {},
	"crowline/dem/web":          {},
	"crowline/dem/workers":      {},
	"crowline/dem/gdalio":       {"crowline/dem", "crowline/dem/geodesy", "crowline/dem/outfile", "crowline/dem/web", "crowline/dem/workers"},
	"crowline/dem/landform":     {"crowline/dem", "crowline/dem/geodesy", "crowline/dem/workers"},
	"crowline/profile":          {"crowline/dem", "crowline/dem/geodesy"},
	"crowline/profile/drift":    {"crowline/dem/geodesy"},
	"crowline/profile/magnetic": {"crowline/dem/geodesy"},
	"crowline/profile/sun":      {"crowline/dem/geodesy"},
	// it reads landforms along a leg, which package profile itself does not know
	"crowline/profile/waymarks":   {"crowline/dem", "crowline/dem/geodesy", "crowline/dem/landform", "crowline/profile", "crowline/profile/drift"},
	"crowline/visibility":         {"crowline/dem", "crowline/dem/geodesy", "crowline/dem/landform", "crowline/profile", "crowline/profile/magnetic", "crowline/dem/workers"},
	"crowline/visibility/chain":   {"crowline/visibility", "crowline/visibility/scene", "crowline/dem", "crowline/dem/geodesy", "crowline/dem/units", "crowline/dem/workers", "crowline/profile"},
	"crowline/visibility/fix":     {"crowline/visibility", "crowline/dem", "crowline/dem/geodesy", "crowline/dem/landform", "crowline/profile", "crowline/profile/magnetic"},
	"crowline/visibility/scene":   {"crowline/visibility", "crowline/dem", "crowline/dem/geodesy", "crowline/dem/units", "crowline/dem/workers", "crowline/profile"},
	"crowline/visibility/vantage": {"crowline/visibility", "crowline/dem", "crowline/dem/geodesy", "crowline/dem/landform", "crowline/dem/workers"},
	"crowline/contour":            {"crowline/dem", "crowline/dem/geodesy"},
	"crowline/contour/page":       {"crowline/dem/outfile"},
	"crowline/contour/sheet": {"crowline/contour", "crowline/contour/page", "crowline/visibility", "crowline/profile", "crowline/profile/magnetic",
		"crowline/dem", "crowline/dem/landform", "crowline/dem/geodesy", "crowline/dem/units"},
	"crowline/contour/drill": {"crowline/contour", "crowline/contour/page", "crowline/contour/sheet", "crowline/visibility", "crowline/visibility/fix", "crowline/profile", "crowline/profile/magnetic",
		"crowline/dem", "crowline/dem/landform", "crowline/dem/geodesy", "crowline/dem/units"},
}

// TestImportsPointOneWay holds the table above against the code.
func TestImportsPointOneWay(t *testing.T) {
	t.Parallel()
	out, err := exec.Command("go", "list", "-f", "{{.ImportPath}}: {{join .Imports \" \"}}", "crowline/...").Output()
	require.NoError(t, err)
	seen := 0
	for _, line := range strings.Split(strings.TrimSpace(string(out)), "\n") {
		name, imports, _ := strings.Cut(line, ": ")
		for _, i := range strings.Fields(imports) {
			if i == "github.com/lukeroth/gdal" {
				assert.Equal(t, "crowline/dem/gdalio", name, "only gdalio imports GDAL")
			}
			if i == "net/http" {
				assert.True(t, name == "crowline/dem/fetch" || name == "crowline/dem/web" || strings.HasPrefix(name, "crowline/cmd/"), "%s imports net/http", name)
			}
			assert.False(t, strings.HasPrefix(i, "crowline/testdata/"), "%s imports %s: only tests stand on the tests' ground", name, i)
			if i == "github.com/spf13/cobra" {
				assert.True(t, strings.HasPrefix(name, "crowline/cmd/"), "%s imports cobra", name)
			}
		}
		if strings.HasPrefix(name, "crowline/cmd/") {
			continue
		}
		may, ok := allowed[name]
		if !assert.True(t, ok, "%s is not in the table: give it a row", name) {
			continue
		}
		seen++
		for _, i := range strings.Fields(imports) {
			if strings.HasPrefix(i, "crowline/") {
				assert.True(t, slices.Contains(may, i), "%s must not import %s", name, i)
			}
		}
	}
	assert.Greater(t, seen, 8)
}
