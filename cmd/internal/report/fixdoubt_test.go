package report

import (
	"io"
	"testing"

	"github.com/stretchr/testify/assert"

	"crowline/cmd/internal/answer"
	"crowline/dem/units"
)

// TestAFixWithNeitherRegionNorEllipse: a region too wide to be traced leaves
// neither, and the answer says so.
func TestAFixWithNeitherRegionNorEllipse(t *testing.T) {
	t.Parallel()
	p := NewPage(io.Discard, units.Metric)
	text := p.fixDoubt(&answer.FixAnswer{CrossingDeg: 4, Bearings: make([]answer.FixResidual, 2)})
	assert.Equal(t, "The two lines cross at 4°, and too much ground fits to say how far it reaches. Take another bearing, well across these.", text)
}
