package outfile

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func names(t *testing.T, folder string) (out []string) {
	t.Helper()
	list, err := os.ReadDir(folder)
	require.NoError(t, err)
	for _, e := range list {
		out = append(out, e.Name())
	}
	return out
}

func TestWriteReplacesAndLeavesNothingElse(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	a, b := filepath.Join(folder, "a.txt"), filepath.Join(folder, "b.txt")
	require.NoError(t, os.WriteFile(a, []byte("old"), 0o600))
	require.NoError(t, Write(File{Path: a, Body: []byte("one")}, File{Path: b, Body: []byte("two")}))
	for path, want := range map[string]string{a: "one", b: "two"} {
		body, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Equal(t, want, string(body))
		info, err := os.Stat(path)
		require.NoError(t, err)
		assert.Equal(t, fs.FileMode(0o644), info.Mode().Perm())
	}
	assert.Equal(t, []string{"a.txt", "b.txt"}, names(t, folder))
	require.NoError(t, Write())
}

// TestAllOrNone: where the second of two cannot be written the first is not
// either, and what was there stays.
func TestAllOrNone(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	a := filepath.Join(folder, "a.txt")
	require.NoError(t, os.WriteFile(a, []byte("old"), 0o600))
	inTheWay := filepath.Join(folder, "folder")
	require.NoError(t, os.Mkdir(inTheWay, 0o755))
	for second, want := range map[string]string{
		filepath.Join(folder, "none", "b.txt"): "there is no folder " + filepath.Join(folder, "none"),
		filepath.Join(a, "b.txt"):              a + " is not a folder",
		inTheWay:                               "it is a folder; name a file in it",
	} {
		err := Write(File{Path: a, Body: []byte("new")}, File{Path: second})
		require.Error(t, err)
		assert.Equal(t, "cannot write "+second+": "+want, err.Error())
		body, err := os.ReadFile(a)
		require.NoError(t, err)
		assert.Equal(t, "old", string(body))
		assert.Equal(t, []string{"a.txt", "folder"}, names(t, folder))
	}
}

func TestReasons(t *testing.T) {
	t.Parallel()
	path := filepath.Join("maps", "a.pdf")
	for cause, want := range map[error]string{
		syscall.ENOSPC: "the disk is full", syscall.EDQUOT: "your share of the disk is full", syscall.EROFS: "the disk of the folder maps is read-only",
		syscall.EACCES: "no permission to write in the folder maps", syscall.EPERM: "no permission to write in the folder maps",
		syscall.ENOENT: "there is no folder maps", syscall.ENOTDIR: "maps is not a folder", syscall.EFBIG: "it would be larger than a file may be there",
		syscall.EIO: "input/output error",
	} {
		for _, err := range []error{cause, &fs.PathError{Op: "write", Path: "maps/.a.pdf.123", Err: cause}, fmt.Errorf("a driver: %w", cause)} {
			said := Error(path, err)
			require.ErrorIs(t, said, cause)
			if cause != syscall.EIO {
				assert.Equal(t, "cannot write "+path+": "+want, said.Error())
			} else {
				assert.Contains(t, said.Error(), want)
				assert.NotContains(t, said.Error(), ".123")
			}
		}
	}
	assert.Equal(t, "cannot write a.pdf: no luck", Error("a.pdf", errors.New("no luck")).Error())
}
