package cli

import (
	"encoding/json"
	"testing"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestDemo is of the demo data whatever the user's own is, and answers as the
// leg does.
func TestDemo(t *testing.T) {
	onDemoGround(t)
	plain := run(t, "demo")
	require.Equal(t, exitOK, plain.code, plain.err)
	leg := run(t, "leg", demoFrom.LatLon.String(), demoTo.LatLon.String(), "--json")
	t.Setenv(demVariable, "none.tif")
	assert.Equal(t, plain.out, run(t, "demo").out)
	us := run(t, "demo", "--units", "us")
	require.Equal(t, exitOK, us.code, us.err)
	assert.Contains(t, us.out, "2.00 mi")
	a := run(t, "demo", "--json")
	require.Equal(t, exitOK, a.code, a.err)
	var want, got map[string]any
	require.NoError(t, json.Unmarshal([]byte(leg.out), &want))
	require.NoError(t, json.Unmarshal([]byte(a.out), &got))
	assert.InDelta(t, want["distance_m"], got["distance_m"], 0)
	assert.Equal(t, want["climb"], got["climb"])
}

// TestEveryCommandHasJSON and the units of its text.
func TestEveryCommandHasJSON(t *testing.T) {
	t.Parallel()
	count := 0
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		if c.Name() == "completion" || c.Name() == "help" || c.Name() == "desk" { // a desk serves till it is stopped
			return
		}
		if len(c.Commands()) == 0 {
			assert.NotNil(t, c.Flags().Lookup("json"), c.CommandPath())
			if c.Name() != "config" { // it tells no figures
				assert.NotNil(t, c.Flags().Lookup("units"), c.CommandPath())
			}
			count++
		}
		for _, sub := range c.Commands() {
			walk(sub)
		}
	}
	walk(newRoot(Streams{}))
	assert.Greater(t, count, 10)
}
