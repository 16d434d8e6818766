package landform

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestPredicatesOfTheHandbook(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name                                    string
		s                                       Surroundings
		hill, depression, saddle, ridge, valley bool
		form                                    Form
	}{
		// directions from the row before, round by the next column
		{"falls all round", Surroundings{-1, -1, -1, -1, -1, -1, -1, -1}, true, false, false, true, false, FormPeak},
		{"rises all round", Surroundings{1, 1, 1, 1, 1, 1, 1, 1}, false, true, false, false, true, FormPit},
		{"high two ways, low two", Surroundings{1, 0, -1, 0, 1, 0, -1, 0}, false, false, true, false, false, FormSlope},
		{"saddle to the full", Surroundings{1, 1, -1, -1, 1, 1, -1, -1}, false, false, true, false, false, FormSlope},
		{"crest falling one way", Surroundings{1, -1, -1, -1, -1, -1, -1, -1}, false, false, false, true, false, FormRidge},
		{"level crest", Surroundings{0, -1, -1, -1, 0, -1, -1, -1}, false, false, false, true, false, FormRidge},
		{"floor rising one way", Surroundings{-1, 1, 1, 1, 1, 1, 1, 1}, false, false, false, false, true, FormValley},
		{"level floor", Surroundings{0, 1, 1, 1, 0, 1, 1, 1}, false, false, false, false, true, FormValley},
		{"slope", Surroundings{1, 1, 0, -1, -1, -1, 0, 1}, false, false, false, false, false, FormSlope},
		{"spur", Surroundings{1, 1, -1, -1, -1, -1, -1, 1}, false, false, false, false, false, FormSpur},
		{"hollow", Surroundings{-1, -1, 1, 1, 1, 1, 1, -1}, false, false, false, false, false, FormHollow},
		{"flat", Surroundings{}, false, false, false, false, false, FormFlat},
		{"foot of a slope", Surroundings{1, 1, 1, 0, 0, 0, 0, 0}, false, false, false, false, false, FormFootslope},
		{"shoulder", Surroundings{-1, -1, -1, 0, 0, 0, 0, 0}, false, false, false, false, false, FormShoulder},
	} {
		t.Run(test.name, func(t *testing.T) {
			for turn := range 8 {
				var s Surroundings
				for i := range s {
					s[i] = test.s[(i+turn)&7]
				}
				assert.Equal(t, test.hill, s.Hill())
				assert.Equal(t, test.depression, s.Depression())
				assert.Equal(t, test.saddle, s.Saddle())
				assert.Equal(t, test.ridge, s.Ridge())
				assert.Equal(t, test.valley, s.Valley())
				assert.Equal(t, test.form, s.Form())
			}
		})
	}
}

// TestFormsTurnOverWithTheGround: the paper's table is its own mirror, but
// that of 4 higher and 4 lower, and of 3 and 3, both ways a slope.
func TestFormsTurnOverWithTheGround(t *testing.T) {
	t.Parallel()
	mirror := map[Form]Form{FormFlat: FormFlat, FormPeak: FormPit, FormRidge: FormValley, FormShoulder: FormFootslope,
		FormSpur: FormHollow, FormSlope: FormSlope, FormHollow: FormSpur, FormFootslope: FormShoulder, FormValley: FormRidge, FormPit: FormPeak}
	different := 0
	for lower := range 9 {
		for higher := range 9 - lower {
			if forms[higher][lower] != mirror[forms[lower][higher]] {
				different++
				t.Logf("lower %d higher %d: %s, turned over %s", lower, higher, forms[lower][higher], forms[higher][lower])
			}
		}
	}
	assert.Zero(t, different)
}

// TestClassifyOnShapes: a cone's top is a peak and its flank's forms are the
// same in every quarter; a plane is slope throughout.
func TestClassifyOnShapes(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	cone := onGrid(t, func(x, y float64) float64 { return -0.3 * math.Hypot(x, y) }, 1, 0, 0)
	c, err := Classify(ctx, cone, ClassifyOptions{Radius: 300})
	require.NoError(t, err)
	assert.Equal(t, FormPeak, c.Form(80, 80))
	for row := 1; row < 160; row++ {
		for column := 1; column < 160; column++ {
			assert.Equal(t, c.Form(column, row), c.Form(row, 160-column))
		}
	}
	plane := onGrid(t, func(x, y float64) float64 { return 0.3*x + 0.2*y }, 1, 0, 0)
	c, err = Classify(ctx, plane, ClassifyOptions{Radius: 300})
	require.NoError(t, err)
	assert.Equal(t, FormSlope, c.Form(80, 80))
	assert.Equal(t, FormUnknown, c.Form(0, 80))
	assert.Equal(t, FormUnknown, c.Form(-1, 80))
	plane.Elevations[80*161+80] = void
	c, err = Classify(ctx, plane, ClassifyOptions{Radius: 300})
	require.NoError(t, err)
	assert.Equal(t, FormUnknown, c.Form(80, 80))
	assert.Equal(t, FormUnknown, c.Form(81, 81))
	assert.Equal(t, FormSlope, c.Form(83, 80))
}

func TestClassifyRefuses(t *testing.T) {
	t.Parallel()
	g := handMade(t)
	for name, o := range map[string]ClassifyOptions{
		"radius under two posts": {Radius: 50},
		"skip beyond radius":     {Radius: 300, Skip: 300},
		"flat angle":             {Radius: 300, FlatAngle: 90},
		"not a number":           {Radius: math.NaN()},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Classify(context.Background(), g, o)
			assert.Error(t, err)
		})
	}
	cancelled, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := Classify(cancelled, g, ClassifyOptions{})
	assert.ErrorIs(t, err, context.Canceled)
	_, err = Features(cancelled, g, FeatureOptions{})
	assert.ErrorIs(t, err, context.Canceled)
	_, err = Features(context.Background(), g, FeatureOptions{Kinds: []Kind{"bump"}})
	assert.ErrorContains(t, err, "bump")
	_, err = Features(context.Background(), g, FeatureOptions{MinRelief: -1})
	assert.ErrorContains(t, err, "least relief")
}
