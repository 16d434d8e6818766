package drill

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"crowline/profile"
)

// TestAProfileIsSampledToItsVeryEnd: the last sample stood at length*120/120,
// which rounds above the length for some, where no ground is known.
func TestAProfileIsSampledToItsVeryEnd(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(120, 1))
	for range 5000 {
		length := 100 + 5000*random.Float64()
		leg := &profile.Leg{Covered: length, Points: []profile.Point{{Elevation: 100}, {Distance: length, Elevation: 200}}}
		leg.Distance = length
		h := sampled(leg)
		require.Equal(t, 100.0, h[0])
		require.Equal(t, 200.0, h[len(h)-1], "length %v", length)
		require.True(t, slices.IsSorted(h), "length %v", length)
	}
}
