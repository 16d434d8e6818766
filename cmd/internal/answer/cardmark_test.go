package answer

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"crowline/visibility/chain"
)

// TestACardCountsSightingsAlone: a stretch on the compass is none.
func TestACardCountsSightingsAlone(t *testing.T) {
	t.Parallel()
	sighted, compass, short := chain.Step{Kind: chain.Sighted}, chain.Step{Kind: chain.CompassOnly}, chain.Step{Kind: chain.CompassOnly, Short: true}
	steps, more := toldOnCard([]chain.Step{sighted, compass, sighted, compass, sighted, short, compass, sighted})
	assert.Equal(t, []chain.Step{sighted, compass, sighted, compass, sighted, compass}, steps)
	assert.Equal(t, 1, more)
	steps, more = toldOnCard([]chain.Step{compass, sighted})
	assert.Equal(t, []chain.Step{compass, sighted}, steps)
	assert.Zero(t, more)
}
