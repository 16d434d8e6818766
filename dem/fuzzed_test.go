package dem_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// parserName is what functions are called that read what others wrote.
var parserName = regexp.MustCompile(`^([Pp]arse([A-Z].*)?|[Rr]ead(CSV|Lines|Places|Cover|Sums|About|Entries))$`)

// fuzzedThrough are parsers that a fuzz target reaches by another, or that
// take one of a few words.
var fuzzedThrough = map[string]string{
	"parseLatLon":  "ParsePlace",
	"parseUTM":     "ParsePlace",
	"parseMGRS":    "ParseMGRS",
	"parseUnits":   "one of two words",
	"parseReading": "one of two words",
	"Parse":        "one of two words",
}

// TestEveryParserIsFuzzed: each is called in a fuzz target of its package.
func TestEveryParserIsFuzzed(t *testing.T) {
	t.Parallel()
	type folder struct {
		parsers []string
		fuzzed  map[string]bool // called in a fuzz target
	}
	folders := map[string]*folder{}
	files := token.NewFileSet()
	require.NoError(t, filepath.WalkDir("..", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") {
			return err
		}
		file, err := parser.ParseFile(files, path, nil, 0)
		if err != nil {
			return err
		}
		at := filepath.Dir(path)
		if folders[at] == nil {
			folders[at] = &folder{fuzzed: map[string]bool{}}
		}
		for _, declared := range file.Decls {
			f, ok := declared.(*ast.FuncDecl)
			if !ok || f.Body == nil {
				continue
			}
			name := f.Name.Name
			switch {
			case strings.HasSuffix(path, "_test.go") && strings.HasPrefix(name, "Fuzz"):
				ast.Inspect(f.Body, func(n ast.Node) bool {
					if i, ok := n.(*ast.Ident); ok {
						folders[at].fuzzed[i.Name] = true
					}
					return true
				})
			case !strings.HasSuffix(path, "_test.go") && parserName.MatchString(name):
				folders[at].parsers = append(folders[at].parsers, name)
			}
		}
		return nil
	}))
	seen := 0
	for at, f := range folders {
		for _, p := range f.parsers {
			seen++
			assert.True(t, f.fuzzed[p] || fuzzedThrough[p] != "", "%s: no fuzz target calls %s", at, p)
		}
	}
	assert.Greater(t, seen, 10)
}
