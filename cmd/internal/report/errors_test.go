package report

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestErrorsNameNoPackage: 2026-11-30. "crowline: drill: contour: nothing ..."
// named the program's parts to somebody who asked about ground.
func TestErrorsNameNoPackage(t *testing.T) {
	t.Parallel()
	nothing := errors.New("contour: nothing to draw")
	for want, err := range map[string]error{
		"nothing to draw":                     nothing,
		"leg 2, A to B: nothing to draw":      fmt.Errorf("leg 2, A to B: drill: %w", nothing),
		"--paper: each side is 100 mm":        errors.New("--paper:  sheet: each side\nis 100 mm"),
		"a sheet: of contour: lines":          errors.New("a sheet: of contour: lines"),
		"fix":                                 errors.New("fix"),
		"dem.tif: cannot be read: no heights": errors.New("dem.tif: cannot be read: dem: no heights"),
	} {
		assert.Equal(t, want, Error(err))
	}
}

// TestPackagesOfErrorsAreKnown: every package whose errors begin with its name
// is in the list.
func TestPackagesOfErrorsAreKnown(t *testing.T) {
	t.Parallel()
	prefix := regexp.MustCompile(`(?:errors\.New|Errorf)\("([a-z]+): `)
	found := map[string]bool{}
	for _, top := range []string{"dem", "profile", "visibility", "contour"} {
		require.NoError(t, filepath.WalkDir(filepath.Join("..", "..", "..", top), func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
				return err
			}
			text, err := os.ReadFile(path)
			for _, m := range prefix.FindAllSubmatch(text, -1) {
				if name := string(m[1]); name == filepath.Base(filepath.Dir(path)) {
					found[name] = true
				}
			}
			return err
		}))
	}
	require.Greater(t, len(found), 5)
	for name := range found {
		assert.Contains(t, packages, name)
	}
}
