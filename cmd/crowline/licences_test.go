package main

import (
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestLicencesAreOfGoMod: the file of others' licences names every module of
// go.mod at its version, and no other. make licences makes it anew.
func TestLicencesAreOfGoMod(t *testing.T) {
	t.Parallel()
	module, err := os.ReadFile(filepath.Join("..", "..", "go.mod"))
	require.NoError(t, err)
	licences, err := os.ReadFile(filepath.Join("..", "..", "LICENCES-THIRD-PARTY.txt"))
	require.NoError(t, err)
	named := func(pattern string, text []byte) (lines []string) {
		for _, m := range regexp.MustCompile(pattern).FindAllSubmatch(text, -1) {
			lines = append(lines, string(m[1])+" "+string(m[2]))
		}
		return lines
	}
	const path, version = `([a-z0-9.~-]+\.[a-z]+/[^ \n]+)`, ` (v[0-9][^ \n]*)`
	wanted := named(`(?m)^\t`+path+version, module)
	require.Greater(t, len(wanted), 10)
	have := append(named(`(?m)^-{80}\n`+path+version+`$`, licences), named(`(?m)^  `+path+version+`$`, licences)...)
	assert.ElementsMatch(t, wanted, have, "go.mod changed: run make licences")
}
