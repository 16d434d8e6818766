package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/cmd/internal/cli"
	"crowline/dem/outfile"
	"crowline/testdata/cumberland"
)

// TestAnInterruptLeavesNothingHalf: a run stopped at any time, also in the
// middle of drawing a page, which cannot be stopped, either says so and leaves
// nothing, then or later, or has answered in full. The last one is not
// stopped.
func TestAnInterruptLeavesNothingHalf(t *testing.T) {
	t.Setenv("CROWLINE_DEM", cumberland.Path())
	const (
		interrupted = 130
		late        = time.Minute // well past the end of the run
	)
	stopped := 0
	for _, after := range []time.Duration{time.Millisecond, 150 * time.Millisecond, 400 * time.Millisecond, 800 * time.Millisecond, late} {
		folder := t.TempDir()
		path := filepath.Join(folder, "sheet.png")
		ctx, cancel := context.WithTimeout(context.Background(), after)
		var out, errs bytes.Buffer
		code := cli.Run(ctx, []string{"sheet", "36.2600,-84.2950", "--interval", "10m", "--relief", "0.5", "--dpi", "300", "-o", path},
			cli.Streams{Out: &out, Err: &errs, Now: time.Now})
		cancel()
		resume := outfile.End() // as the process would, and no later file gets through
		left, err := os.ReadDir(folder)
		require.NoError(t, err)
		switch code {
		case interrupted:
			stopped++
			assert.Empty(t, left, "%v", after)
			assert.Equal(t, "crowline: stopped\n", errs.String())
			assert.Empty(t, out.String())
		default:
			require.Zero(t, code, errs.String())
			require.Len(t, left, 1)
			assert.Contains(t, out.String(), path)
		}
		if after == late {
			assert.Zero(t, code)
		}
		resume()
	}
	assert.Positive(t, stopped)
}
