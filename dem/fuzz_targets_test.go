package dem_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestEveryFuzzTargetIsRun by make fuzz: what its script lists is what the
// compiler would find.
func TestEveryFuzzTargetIsRun(t *testing.T) {
	t.Parallel()
	script := exec.Command("testdata/fuzz.sh", "list")
	script.Dir = ".."
	out, err := script.Output()
	require.NoError(t, err)
	listed := strings.Split(strings.TrimSpace(string(out)), "\n")

	var written []string
	err = filepath.WalkDir("..", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, "_test.go") {
			return err
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		for _, declared := range file.Decls {
			f, ok := declared.(*ast.FuncDecl)
			if ok && f.Recv == nil && strings.HasPrefix(f.Name.Name, "Fuzz") {
				folder, err := filepath.Rel("..", filepath.Dir(path))
				if err != nil {
					return err
				}
				written = append(written, "== ./"+folder+" "+f.Name.Name)
			}
		}
		return nil
	})
	require.NoError(t, err)
	assert.ElementsMatch(t, written, listed)
	assert.Greater(t, len(listed), 10)
}
