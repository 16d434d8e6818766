package outfile

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestStreamWritesAllOrNothing(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	path := filepath.Join(folder, "rows.csv")
	require.NoError(t, Stream(path, func(w io.Writer) error {
		for range 3 {
			if _, err := io.WriteString(w, "row\n"); err != nil {
				return err
			}
		}
		_, err := os.Stat(path)
		assert.ErrorIs(t, err, os.ErrNotExist, "not before it is whole")
		return nil
	}))
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, "row\nrow\nrow\n", string(text))

	broken := errors.New("no more rows")
	require.ErrorIs(t, Stream(path, func(w io.Writer) error {
		_, _ = io.WriteString(w, "half")
		return broken
	}), broken)
	again, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, text, again, "what was there stays")
	list, err := os.ReadDir(folder)
	require.NoError(t, err)
	assert.Len(t, list, 1, "nothing is left beside it")

	assert.ErrorContains(t, Stream(folder, func(io.Writer) error { return nil }), "it is a folder")
	assert.ErrorContains(t, Stream(filepath.Join(folder, "none", "x"), func(io.Writer) error { return nil }), "there is no folder")
}
