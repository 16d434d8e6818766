package chain

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"crowline/profile"
	"crowline/visibility"
)

// TestAScaledPlanStaysWhole: places stay at whole tens of metres, the end at the
// leg's own length, and the sums are those of the steps.
func TestAScaledPlanStaysWhole(t *testing.T) {
	t.Parallel()
	const length, share = 3000.0, 1.0005
	p := Plan{Steps: []Step{
		{Kind: CompassOnly, To: 800, Plain: true},
		{Kind: Sighted, From: 800, To: 1900, Mark: &Mark{Distance: 4000, Lost: []profile.Stretch{{From: 1000, To: 1200}}}},
		{Kind: CompassOnly, From: 1900, To: length, Short: true},
	}}
	p.sum()
	q := p.Scaled(share)
	assert.Equal(t, []float64{800, 1900, length * share}, []float64{q.Steps[0].To, q.Steps[1].To, q.Steps[2].To})
	assert.Equal(t, q.Steps[0].To, q.Unguided)
	assert.Equal(t, q.Steps[0].To, q.Plain)
	assert.InDelta(t, 1900+1.5, q.CompassOnly, 1e-9)
	assert.Equal(t, 1, q.Sightings)
	assert.InDelta(t, 4002, q.Steps[1].Mark.Distance, 1e-9)
	assert.InDelta(t, 1200.6, q.Steps[1].Mark.Lost[0].To, 1e-9)
	assert.Equal(t, 4000.0, p.Steps[1].Mark.Distance, "the plan itself is not changed")
}

// TestLossesPartedByAGlimpseAreOne: a mark was taken that was lost for 870 m, but
// for a glimpse of 40 m.
func TestLossesPartedByAGlimpseAreOne(t *testing.T) {
	t.Parallel()
	see := func(from, to float64, v visibility.Verdict) visibility.Stretch {
		return visibility.Stretch{From: from, To: to, Verdict: v}
	}
	kept := []visibility.Stretch{see(0, 300, visibility.Visible), see(300, 700, visibility.Hidden), see(700, 740, visibility.Visible), see(740, 1170, visibility.Hidden), see(1170, 2000, visibility.Visible)}
	assert.Equal(t, []profile.Stretch{{From: 300, To: 1170}}, told(lost(kept, 0, 2000)))
	c := &course{opts: Options{MostLost: DefaultMostLost}, leg: &profile.Leg{}}
	for x := 0.0; x <= 2000; x += every {
		c.at = append(c.at, x)
	}
	o := &option{last: 20}
	c.serve(o, kept)
	assert.Equal(t, 3, o.last, "left where it is lost")
}
