package answer

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestEveryKeyHasItsMeaning: no key of any answer goes unexplained.
func TestEveryKeyHasItsMeaning(t *testing.T) {
	t.Parallel()
	require.NotEmpty(t, answers)
	for command := range answers {
		keys, ok := KeysOf(command)
		require.True(t, ok)
		assert.NotEmpty(t, keys, command)
		for _, k := range keys {
			assert.NotEmpty(t, k.Meaning, "%s: %s has no comment on its field", command, k.Path)
		}
	}
}
