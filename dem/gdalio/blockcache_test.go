package gdalio

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestWhatAKilledRunLeftIsCleared: half a block, once it is older than any
// write takes; never one that another run may be writing.
func TestWhatAKilledRunLeftIsCleared(t *testing.T) {
	t.Parallel()
	root := t.TempDir()
	write := func(name string, age time.Duration) string {
		path := filepath.Join(root, "file", name)
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, []byte("half"), 0o600))
		then := time.Now().Add(-age)
		require.NoError(t, os.Chtimes(path, then, then))
		return path
	}
	left, busy, block := write(partStart+"1", 2*partLeftOver), write(partStart+"2", 0), write("0_0"+blockEnding, 2*partLeftOver)
	prune(root, 1<<20)
	assert.NoFileExists(t, left)
	assert.FileExists(t, busy)
	assert.FileExists(t, block)
}
