package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/testdata/cumberland"
)

// TestTheLibraryServesAnotherModule builds the small program of
// testdata/program, a module of its own, and asks it a leg, a viewshed and a
// sheet.
func TestTheLibraryServesAnotherModule(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	program, drawn := filepath.Join(folder, "program"), filepath.Join(folder, "leg.pdf")
	build := exec.Command("go", "build", "-o", program, ".")
	build.Dir = filepath.Join("..", "..", "testdata", "program")
	out, err := build.CombinedOutput()
	require.NoError(t, err, string(out))
	out, err = exec.Command(program, cumberland.Path(), drawn).CombinedOutput()
	require.NoError(t, err, string(out))
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	require.Len(t, lines, 3, string(out))
	// the same leg as the command's: crowline leg 36.2600,-84.2950 36.2200,-84.2400
	assert.Equal(t, "leg: 6644 m on true 131.9, up 706 m, down 587 m", lines[0])
	assert.Contains(t, lines[1], "posts")
	body, err := os.ReadFile(drawn)
	require.NoError(t, err)
	assert.True(t, strings.HasPrefix(string(body), "%PDF"))
	module, err := os.ReadFile(filepath.Join("..", "..", "testdata", "program", "main.go"))
	require.NoError(t, err)
	assert.NotContains(t, string(module), "internal/")
}
