package report

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"crowline/cmd/internal/answer"
)

// TestManySteepStretchesAreSummedUp: none is left out in silence.
func TestManySteepStretchesAreSummedUp(t *testing.T) {
	t.Parallel()
	p := &Page{}
	list := []answer.Stretch{{FromM: 0, ToM: 30}, {FromM: 100, ToM: 400}, {FromM: 500, ToM: 530}, {FromM: 900, ToM: 960}}
	assert.Equal(t, "0 m to 30 m, 100 m to 400 m, 500 m to 530 m, 900 m to 960 m", p.steepStretches(list))
	assert.Equal(t, "520 m of the way, in parts of 0 m to 530 m, 900 m to 960 m, 1.20 km to 1.30 km", p.steepStretches(append(list[:4:4], answer.Stretch{FromM: 1200, ToM: 1300})))
}
