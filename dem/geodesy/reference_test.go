package geodesy

import (
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// referenceFile finds a reference table that is not kept in the repository:
// in the folder CROWLINE_REFERENCE names, or in ../shared/reference beside
// the repository's root. The test skips itself when there is none.
func referenceFile(t *testing.T, name string) string {
	t.Helper()
	folder := os.Getenv("CROWLINE_REFERENCE")
	if folder == "" {
		folder = filepath.Join("..", "..", "..", "shared", "reference")
	}
	path := filepath.Join(folder, name)
	if _, err := os.Stat(path); err != nil {
		t.Skipf("no %s in %s: set CROWLINE_REFERENCE to the folder that holds it", name, folder)
	}
	return path
}

// placesOnUTM are so many places anywhere on the UTM grid, and the lines that
// ask GeographicLib's tools for them.
func placesOnUTM(n int, seed uint64) (places []LatLon, input []string) {
	random := rand.New(rand.NewPCG(seed, seed))
	for range n {
		p := LatLon{Degrees(random.Float64()*163.9 - 80), Degrees(random.Float64()*360 - 180)}
		places = append(places, p)
		input = append(input, fmt.Sprintf("%.17g %.17g", p.Lat, p.Lon))
	}
	return places, input
}

// ask runs one of GeographicLib's tools on lines of input and returns its
// lines of output. The test skips itself when the tool is not installed.
func ask(t *testing.T, input []string, tool string, args ...string) []string {
	t.Helper()
	path, err := exec.LookPath(tool)
	if err != nil {
		t.Skipf("%s is not installed: it comes with GeographicLib's tools", tool)
	}
	command := exec.Command(path, args...)
	command.Stdin = strings.NewReader(strings.Join(input, "\n") + "\n")
	out, err := command.Output()
	require.NoError(t, err, "%s %v", tool, args)
	lines := strings.Split(strings.TrimRight(string(out), "\n"), "\n")
	require.Len(t, lines, len(input), "%s answers one line for each", tool)
	return lines
}
