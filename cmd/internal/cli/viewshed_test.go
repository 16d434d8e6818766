package cli

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/visibility"
)

// TestASectorAllRoundLooksAllRound: 0,360 is no sector, and one from a bearing
// to itself is refused: it would look at nothing.
func TestASectorAllRoundLooksAllRound(t *testing.T) {
	t.Parallel()
	for _, all := range []string{"", "0,360", "360,0"} {
		sector, err := parseSector(all)
		require.NoError(t, err, all)
		assert.Nil(t, sector, all)
	}
	for _, nothing := range []string{"45,45", "0,0", "360,360"} {
		_, err := parseSector(nothing)
		assert.ErrorContains(t, err, "these two are one bearing", nothing)
	}
	sector, err := parseSector("350,10")
	require.NoError(t, err)
	assert.Equal(t, &visibility.Sector{From: 350, To: 10}, sector)
}
