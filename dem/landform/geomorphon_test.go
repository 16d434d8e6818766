package landform

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
)

func TestPredicatesOfTheHandbook(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name   string
		s      Surroundings
		saddle bool
		form   Form
	}{
		// directions from the row before, round by the next column
		{"falls all round", Surroundings{-1, -1, -1, -1, -1, -1, -1, -1}, false, FormPeak},
		{"rises all round", Surroundings{1, 1, 1, 1, 1, 1, 1, 1}, false, FormPit},
		{"high two ways, low two", Surroundings{1, 0, -1, 0, 1, 0, -1, 0}, true, FormSlope},
		{"saddle to the full", Surroundings{1, 1, -1, -1, 1, 1, -1, -1}, true, FormSlope},
		{"crest falling one way", Surroundings{1, -1, -1, -1, -1, -1, -1, -1}, false, FormRidge},
		{"level crest", Surroundings{0, -1, -1, -1, 0, -1, -1, -1}, false, FormRidge},
		{"floor rising one way", Surroundings{-1, 1, 1, 1, 1, 1, 1, 1}, false, FormValley},
		{"level floor", Surroundings{0, 1, 1, 1, 0, 1, 1, 1}, false, FormValley},
		{"slope", Surroundings{1, 1, 0, -1, -1, -1, 0, 1}, false, FormSlope},
		{"spur", Surroundings{1, 1, -1, -1, -1, -1, -1, 1}, false, FormSpur},
		{"hollow", Surroundings{-1, -1, 1, 1, 1, 1, 1, -1}, false, FormHollow},
		{"flat", Surroundings{}, false, FormFlat},
		{"foot of a slope", Surroundings{1, 1, 1, 0, 0, 0, 0, 0}, false, FormFootslope},
		{"shoulder", Surroundings{-1, -1, -1, 0, 0, 0, 0, 0}, false, FormShoulder},
	} {
		t.Run(test.name, func(t *testing.T) {
			for turn := range 8 {
				var s Surroundings
				for i := range s {
					s[i] = test.s[(i+turn)&7]
				}
				assert.Equal(t, test.saddle, s.Saddle())
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
	cone := onGrid(t, func(x, y float64) float64 { return -0.3 * math.Hypot(x, y) }, 1, 0, 0)
	c, err := classify(cone, ClassifyOptions{Radius: 300})
	require.NoError(t, err)
	assert.Equal(t, FormPeak, c.Form(80, 80))
	for row := 1; row < 160; row++ {
		for column := 1; column < 160; column++ {
			assert.Equal(t, c.Form(column, row), c.Form(row, 160-column))
		}
	}
	plane := onGrid(t, func(x, y float64) float64 { return 0.3*x + 0.2*y }, 1, 0, 0)
	c, err = classify(plane, ClassifyOptions{Radius: 300})
	require.NoError(t, err)
	assert.Equal(t, FormSlope, c.Form(80, 80))
	assert.Equal(t, FormUnknown, c.Form(0, 80))
	assert.Equal(t, FormUnknown, c.Form(-1, 80))
	plane.Elevations[80*161+80] = void
	c, err = classify(plane, ClassifyOptions{Radius: 300})
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
			_, err := classify(g, o)
			assert.Error(t, err)
		})
	}
	cancelled, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := Features(cancelled, g, FeatureOptions{})
	assert.ErrorIs(t, err, context.Canceled)
	_, err = Features(context.Background(), g, FeatureOptions{Kinds: []Kind{"bump"}})
	assert.ErrorContains(t, err, "bump")
	_, err = Features(context.Background(), g, FeatureOptions{MinRelief: -1})
	assert.ErrorContains(t, err, "least relief")
}

// Classes is the surroundings of every post of a grid. Safe for concurrent
// reading.
type Classes struct {
	Columns, Rows int
	patterns      []uint16 // Surroundings as digits of base 3, or unknownPattern
}

// Surroundings of a post; known is false outside the grid, in a void, and
// where the border or a void cuts a direction off before its first post.
func (c *Classes) Surroundings(column, row int) (s Surroundings, known bool) {
	if uint(column) >= uint(c.Columns) || uint(row) >= uint(c.Rows) {
		return s, false
	}
	return surroundings(c.patterns[row*c.Columns+column])
}

// Form of a post.
func (c *Classes) Form(column, row int) Form {
	s, known := c.Surroundings(column, row)
	if !known {
		return FormUnknown
	}
	return s.Form()
}

// classify looks from every post in the grid's eight directions: what a search
// does one post at a time.
func classify(g *dem.Grid, o ClassifyOptions) (*Classes, error) {
	m, err := newMetric(&g.Frame)
	if err != nil {
		return nil, err
	}
	if err := o.validate(m); err != nil {
		return nil, err
	}
	c := &Classes{Columns: g.Columns, Rows: g.Rows}
	for row := range g.Rows {
		l := newLook(g, m, o, row)
		for column := range g.Columns {
			c.patterns = append(c.patterns, l.pattern(column))
		}
	}
	return c, nil
}
