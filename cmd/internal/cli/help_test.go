package cli

import (
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/cmd/internal/answer"
)

// TestHelpJSONListsEveryKey: of each command, with its unit and meaning, within
// 80 columns.
func TestHelpJSONListsEveryKey(t *testing.T) {
	t.Parallel()
	all := run(t, "help", "json")
	require.Equal(t, exitOK, all.code, all.err)
	for _, name := range answer.Commands() {
		command, _, _ := strings.Cut(strings.Split(name, " --")[0], ",")
		a := run(t, append([]string{"help", "json"}, strings.Fields(command)...)...)
		require.Equal(t, exitOK, a.code, a.err)
		assert.Contains(t, a.out, "crowline "+name+" --json")
		assert.Contains(t, all.out, "crowline "+name+" --json")
		keys, ok := answer.KeysOf(name)
		require.True(t, ok)
		for _, k := range keys {
			assert.Contains(t, a.out, "\n  "+k.Path)
		}
		for _, line := range strings.Split(a.out, "\n") {
			assert.LessOrEqual(t, utf8.RuneCountInString(line), 80, line)
		}
	}
	leg := run(t, "help", "json", "leg").out
	assert.Contains(t, leg, "\n  distance_m\n      How far it is, straight. (metres)\n")
	assert.NotContains(t, leg, "void_share")
	assert.Contains(t, run(t, "help", "json", "drill").out, "questions[].data.read_m")
	a := run(t, "help", "json", "nonsense")
	assert.Equal(t, exitUsage, a.code)
	assert.Contains(t, a.err, `there is no JSON of "nonsense"`)
	assert.Contains(t, run(t, "__complete", "help", "json", "").out, "fix\n")
	assert.NotContains(t, run(t, "__complete", "help", "json", "fix", "").out, "fix")
}

// TestEveryJSONIsExplained: every command that has --json has its keys listed.
func TestEveryJSONIsExplained(t *testing.T) {
	t.Parallel()
	explained := 0
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		for _, sub := range c.Commands() {
			walk(sub)
		}
		if c.Flags().Lookup("json") != nil {
			name := strings.TrimPrefix(c.CommandPath(), "crowline ")
			assert.NotEmpty(t, answersOf(name), "no answer of %s is registered", name)
			explained++
		}
	}
	walk(newRoot(Streams{Now: time.Now}))
	assert.Greater(t, explained, 10)
}
