package visibility

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/gdalio"
	"crowline/profile"
	"crowline/testdata/cumberland"
)

// TestStepsOfAMapAreThoseOfSights: of posts of the Cumberland ground drawn at
// random, as HowSure says of each by itself.
func TestStepsOfAMapAreThoseOfSights(t *testing.T) {
	t.Parallel()
	r, err := gdalio.OpenBytes(cumberland.Name, cumberland.Bytes(), gdalio.Options{})
	g := readWhole(t, r, err)
	random := rand.New(rand.NewPCG(7, 7))
	const (
		posts = 60
		sigma = 9.7 // m, about what the data says of itself
		// differ: posts near to the bound of two steps; of 300 posts here 5
		// differed, of 300 of the demo data 4.
		differ = 4
	)
	opts := DefaultViewshedOptions()
	opts.Radius = 8000
	others := 0
	for range 3 {
		at, err := g.Place(float64(100+random.IntN(200)), float64(100+random.IntN(140)))
		require.NoError(t, err)
		o := NewObserver(at)
		v, err := Viewshed(t.Context(), g, o, opts)
		require.NoError(t, err)
		likely, err := HowSureViewed(t.Context(), g, v, Draws{VerticalError: sigma}, nil)
		require.NoError(t, err)
		for done := 0; done < posts/3; {
			i := random.IntN(len(v.Verdicts))
			if v.Verdicts[i] != Visible && v.Verdicts[i] != Hidden {
				continue
			}
			to, err := g.Place(float64(v.Window.Column+i%v.Window.Columns), float64(v.Window.Row+i/v.Window.Columns))
			require.NoError(t, err)
			leg, err := profile.Trace(t.Context(), g, at, to)
			require.NoError(t, err)
			one, err := HowSure(t.Context(), leg, o, opts.Conditions, Draws{VerticalError: sigma, Samples: 2000})
			require.NoError(t, err)
			step, want := likely.Steps[i], StepOf(one.Probability)
			if step != want {
				others++
			}
			assert.False(t, step == StepClear && want == StepHidden || step == StepHidden && want == StepClear,
				"post %d: %v on the map, and %s by itself", i, step, one.Text())
			done++
		}
	}
	assert.LessOrEqual(t, others, differ)
}
