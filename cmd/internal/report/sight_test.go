package report

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestStretchesAreJoined: a stretch that is one place stands "at", not "from".
func TestStretchesAreJoined(t *testing.T) {
	t.Parallel()
	assert.Equal(t, "from 0 m to 1 m, at 3 m", fromStretches([]string{"0 m to 1 m", "at 3 m"}))
	assert.Equal(t, "at 3 m", fromStretches([]string{"at 3 m"}))
}
