package fix

import (
	"context"
	"errors"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/visibility"
)

// levelWithAWall is ground at 100 m with a wall of 60 m along column 30.
func levelWithAWall(filled func(column, row int) bool) *dem.Grid {
	const n = 81
	g := &dem.Grid{
		Frame:      dem.Frame{Columns: n, Rows: n, X0: -84.3, Y0: 36.4, DX: 1.0 / 3600, DY: -1.0 / 3600, CRS: geodesy.WGS84},
		Elevations: make([]float32, n*n), Filled: make([]bool, n*n),
	}
	for i := range g.Elevations {
		g.Elevations[i] = 100
		if i%n == 30 {
			g.Elevations[i] = 160
		}
		g.Filled[i] = filled(i%n, i/n)
	}
	return g
}

// TestFixOnFilledGround: a mark behind a wall, and one in plain sight, from a
// place that may be filled itself. Only what is filled is said to be.
func TestFixOnFilledGround(t *testing.T) {
	t.Parallel()
	feet := visibility.Lengths{Height: func(m float64) string { return fmt.Sprintf("%.0f feet", m/0.3048) }}
	for _, c := range []struct {
		name         string
		filled       func(column, row int) bool
		wall, ground bool
	}{
		{"nothing", func(int, int) bool { return false }, false, false},
		{"the wall", func(column, _ int) bool { return column == 30 }, true, false},
		{"the place", func(column, row int) bool { return column == 50 && row == 40 }, true, true},
		{"elsewhere", func(column, row int) bool { return column == 70 && row == 70 }, false, false},
	} {
		g := levelWithAWall(c.filled)
		at := func(column, row float64) geodesy.LatLon {
			p, err := g.Place(column, row)
			require.NoError(t, err)
			return p
		}
		stood := at(50.3, 40.2)
		var bearings []Bearing
		for name, mark := range map[string]geodesy.LatLon{"Behind": at(10, 41), "Plain": at(52, 10), "Third": at(60, 65)} {
			bearings = append(bearings, Bearing{Name: name, Place: mark, True: geodesy.Inverse(stood, mark).Start})
		}
		f, err := Resect(context.Background(), bearings, Options{Posts: g,
			Sight: &Sight{EyeAboveGround: 1.6, Conditions: visibility.Conditions{TargetAboveGround: 2}}})
		require.NoError(t, err)
		assert.Equal(t, c.ground, f.GroundFilled, c.name)
		for _, r := range f.Bearings {
			// from filled ground every sight rests on it
			assert.Equal(t, c.ground || c.wall && r.Name == "Behind", r.SightFilled, "%s: %s", c.name, r.Name)
		}
		said := 0
		hidden := false
		for _, w := range f.Warnings {
			if w.Kind == FilledGround {
				said++
				assert.Contains(t, w.Sentence.Text(visibility.Metric), "filled in from the rim of a void")
			}
			if w.Kind == HiddenMark && w.Names[0] == "Behind" {
				hidden = true
				// by similar triangles: eye 101.6 m at 50.3, crest 160 m at 30, mark
				// at 10; 58.4 m x 40.3/20.3 less what already stands, 0.4 m
				assert.Contains(t, w.Sentence.Text(feet), "would have to stand 379 feet higher", c.name)
			}
		}
		assert.True(t, hidden, c.name)
		want := 0
		if c.wall {
			want++
		}
		if c.ground {
			want++
		}
		assert.Equal(t, want, said, c.name)
	}
}

// TestFilledGroundAndTheAltimeter: an altimeter held against filled ground is
// said to be.
func TestFilledGroundAndTheAltimeter(t *testing.T) {
	t.Parallel()
	g := levelWithAWall(func(column, row int) bool { return column >= 48 && column < 54 && row >= 38 && row < 44 })
	for i := range g.Elevations { // a slope, so that the reading tells
		g.Elevations[i] = float32(100 + i%g.Columns)
	}
	stood, err := g.Place(50.3, 40.2)
	require.NoError(t, err)
	mark, err := g.Place(10, 42) // up the slope: along it the altimeter would say nothing
	require.NoError(t, err)
	f, err := Resect(context.Background(), []Bearing{{Name: "Plain", Place: mark, True: geodesy.Inverse(stood, mark).Start}},
		Options{Posts: g, Altimeter: &Altimeter{Elevation: 150.3, Error: 5}})
	require.NoError(t, err)
	require.True(t, f.GroundFilled)
	require.Contains(t, kinds(f), FilledGround)
	for _, w := range f.Warnings {
		if w.Kind == FilledGround {
			assert.Contains(t, w.Sentence.Text(visibility.Metric), "altimeter")
		}
	}
}

// torn is ground of which a read has failed.
type torn struct{ *dem.Grid }

var errTorn = errors.New("the file is torn off")

func (torn) Err() error { return errTorn }

// TestGroundThatCouldNotBeReadIsNoFix: it would be told as a fix on a void,
// its sights unknown.
func TestGroundThatCouldNotBeReadIsNoFix(t *testing.T) {
	t.Parallel()
	g := levelWithAWall(func(int, int) bool { return false })
	stood, err := g.Place(50.3, 40.2)
	require.NoError(t, err)
	var bearings []Bearing
	for _, at := range [][2]float64{{52, 10}, {60, 65}} {
		mark, err := g.Place(at[0], at[1])
		require.NoError(t, err)
		bearings = append(bearings, Bearing{Place: mark, True: geodesy.Inverse(stood, mark).Start})
	}
	_, err = Resect(t.Context(), bearings, Options{Posts: torn{g}})
	require.ErrorIs(t, err, errTorn)
	_, err = Resect(t.Context(), bearings, Options{Posts: g})
	require.NoError(t, err)
}
