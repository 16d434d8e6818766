package report

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"crowline/cmd/internal/answer"
)

// TestManySteepStretchesAreSummedUp: none is left out in silence.
func TestManySteepStretchesAreSummedUp(t *testing.T) {
	t.Parallel()
	p := &Page{}
	list := []answer.Stretch{{FromM: 0, ToM: 30}, {FromM: 100, ToM: 400}, {FromM: 500, ToM: 530}}
	list = append(list, answer.Stretch{FromM: 900, ToM: 960})
	assert.Equal(t, "0 m to 30 m, 100 m to 400 m, 500 m to 530 m, 900 m to 960 m", p.steepStretches(list))
	assert.Equal(t, "520 m of the way, in parts of 0 m to 530 m, 900 m to 960 m, 1.20 km to 1.30 km", p.steepStretches(append(list[:4:4], answer.Stretch{FromM: 1200, ToM: 1300})))
}

// TestFilledGroundBesideALeg: a summit the leg goes beside may be filled and
// the leg's own ground not, or the other way about.
func TestFilledGroundBesideALeg(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		p    answer.Passed
		want string
	}{
		{answer.Passed{Aside: &answer.Aside{OffsetM: 100}}, ""},
		{answer.Passed{Aside: &answer.Aside{OffsetM: 100, Filled: true}}, "itself on ground filled in"},
		{answer.Passed{Aside: &answer.Aside{OffsetM: 100}, Filled: true}, "on ground filled in"},
		{answer.Passed{Aside: &answer.Aside{OffsetM: 100, Filled: true}, Filled: true}, "all of it on ground filled in"},
		{answer.Passed{Filled: true}, "on ground filled in"},
	} {
		if got := passedFilled(&row.p); row.want == "" {
			assert.Empty(t, got)
		} else {
			assert.True(t, strings.HasPrefix(got, row.want), "%q", got)
		}
	}
}
