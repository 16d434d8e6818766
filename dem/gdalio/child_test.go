package gdalio

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestMain lets the test binary run again as a child that only opens files,
// so that its standard error, C's included, can be looked at.
func TestMain(m *testing.M) {
	if os.Getenv(damageChild) != "" {
		readDamagedFiles(os.Stdin, os.Stdout)
		os.Exit(0)
	}
	if paths := os.Getenv("GDALIO_CHILD"); paths != "" {
		for _, path := range strings.Split(paths, "\n") {
			if r, err := Open(path, Options{}); err == nil {
				_, _ = r.Read(context.Background(), r.Layout().Whole())
				r.Close()
			}
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

func childStandardError(t *testing.T, paths ...string) string {
	t.Helper()
	c := exec.CommandContext(t.Context(), os.Args[0])
	c.Env = append(os.Environ(), "GDALIO_CHILD="+strings.Join(paths, "\n"), "CPL_DEBUG=ON")
	var said bytes.Buffer
	c.Stderr = &said
	require.NoError(t, c.Run())
	return said.String()
}
