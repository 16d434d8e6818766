package outfile

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestEnd: what is half written goes, what is whole stays, and nothing comes
// after. Not parallel: it ends the writing of the whole process for a moment.
func TestEnd(t *testing.T) {
	folder := t.TempDir()
	whole := filepath.Join(folder, "whole.txt")
	require.NoError(t, Write(File{Path: whole, Body: []byte("whole")}))
	half, err := Begin(func() (string, error) { return os.MkdirTemp(folder, ".half-*") })
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(half, "lines.gpkg"), []byte("half"), 0o600))
	file, err := Begin(func() (string, error) {
		name := filepath.Join(folder, ".half.txt")
		return name, os.WriteFile(name, []byte("half"), 0o600)
	})
	require.NoError(t, err)
	gone, err := Begin(func() (string, error) { return os.MkdirTemp(folder, ".gone-*") })
	require.NoError(t, err)
	Done(gone)

	resume := End()
	assert.Equal(t, []string{"whole.txt"}, names(t, folder))
	require.Error(t, Place(whole, filepath.Join(folder, "elsewhere.txt")))
	require.Error(t, Write(File{Path: filepath.Join(folder, "late.txt"), Body: []byte("late")}))
	_, err = Begin(func() (string, error) { return os.MkdirTemp(folder, ".late-*") })
	require.Error(t, err)
	Done(half)
	Done(file)
	assert.Equal(t, []string{"whole.txt"}, names(t, folder))

	resume()
	require.NoError(t, Write(File{Path: filepath.Join(folder, "next.txt"), Body: []byte("next")}))
	assert.Equal(t, []string{"next.txt", "whole.txt"}, names(t, folder))
	assert.Empty(t, pending.names)
}
