//go:build unix

package outfile

import (
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestSpotsAreFiles, not spellings of paths: through links, hard links and
// folders, and before a file is there.
func TestSpotsAreFiles(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	in := func(names ...string) string { return filepath.Join(append([]string{folder}, names...)...) }
	require.NoError(t, os.Mkdir(in("a"), 0o755))
	require.NoError(t, os.Symlink("a", in("short")))
	for _, name := range []string{"a/one", "a/two"} {
		require.NoError(t, os.WriteFile(in(name), nil, 0o600))
	}
	require.NoError(t, os.Link(in("a/one"), in("hard")))
	require.NoError(t, os.Symlink("a/one", in("soft")))
	require.NoError(t, os.Symlink("soft", in("softer")))
	require.NoError(t, os.Symlink("a/new", in("nothing")))
	require.NoError(t, os.Symlink("round", in("round")))
	same := func(a, b string) bool { return Look(in(a)).Same(Look(in(b))) }
	for _, b := range []string{"a/one", "a/../a/one", "short/one", "hard", "soft", "softer"} {
		assert.True(t, same("a/one", b), b)
	}
	for _, b := range []string{"a/new", "short/new", "nothing", "a/NEW"} {
		assert.True(t, same("a/new", b), b)
	}
	for _, b := range []string{"a/two", "a/new", "none/one", "round", "one"} {
		assert.False(t, same("a/one", b), b)
	}
	for _, b := range []string{"a/newer", "new", "none/new", "a/two"} {
		assert.False(t, same("a/new", b), b)
	}
	assert.True(t, Look(in("hard")).Exists())
	assert.False(t, Look(in("nothing")).Exists())
}

// TestWhatGoesWithAFileReplacesNothing, and nothing is written where one of
// several is in the way.
func TestWhatGoesWithAFileReplacesNothing(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	a, b := filepath.Join(folder, "a.png"), filepath.Join(folder, "a-2.png")
	pages := []File{{Path: a, Body: []byte("new")}, {Path: b, Body: []byte("new"), Beside: a}}
	require.NoError(t, os.WriteFile(b, []byte("old"), 0o600))
	err := Write(pages...)
	require.EqualError(t, err, "cannot write "+a+": "+b+" goes with it and is there already; move that away, or name another file")
	assert.Equal(t, []string{"a-2.png"}, names(t, folder))
	require.NoError(t, os.Remove(b))
	require.NoError(t, os.Symlink("nothing", b))
	require.Error(t, Write(pages...))
	assert.Equal(t, []string{"a-2.png"}, names(t, folder))
	require.NoError(t, os.Remove(b))
	require.NoError(t, Write(pages...))
	assert.Equal(t, []string{"a-2.png", "a.png"}, names(t, folder))
}

func TestPlaceNew(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	from, to := filepath.Join(folder, "from"), filepath.Join(folder, "to")
	require.NoError(t, os.WriteFile(from, []byte("new"), 0o600))
	require.NoError(t, os.WriteFile(to, []byte("old"), 0o600))
	require.ErrorIs(t, PlaceNew(from, to), fs.ErrExist)
	body, err := os.ReadFile(to)
	require.NoError(t, err)
	assert.Equal(t, "old", string(body))
	assert.Equal(t, []string{"from", "to"}, names(t, folder))
	require.NoError(t, os.Remove(to))
	require.NoError(t, PlaceNew(from, to))
	assert.Equal(t, []string{"to"}, names(t, folder))
}

// TestAPipeIsNotReplaced by a file: a program waits at it.
func TestAPipeIsNotReplaced(t *testing.T) {
	t.Parallel()
	pipe := filepath.Join(t.TempDir(), "pipe.png")
	require.NoError(t, syscall.Mkfifo(pipe, 0o600))
	require.EqualError(t, Write(File{Path: pipe, Body: []byte("x")}), "cannot write "+pipe+": it is not a plain file; name another")
	info, err := os.Lstat(pipe)
	require.NoError(t, err)
	assert.Equal(t, fs.ModeNamedPipe, info.Mode().Type())
}
