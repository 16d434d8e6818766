package dem

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
)

// lonLatFrame is 3 arc-seconds round 36.4 N, 84.2 W.
func lonLatFrame(columns, rows int) Frame {
	const step = 3.0 / 3600
	return Frame{Columns: columns, Rows: rows, X0: -84.4, Y0: 36.6, DX: step, DY: -step, CRS: geodesy.WGS84}
}

func utmFrame(t *testing.T, columns, rows int) Frame {
	t.Helper()
	crs, err := geodesy.NewCRS("EPSG:32617")
	require.NoError(t, err)
	return Frame{Columns: columns, Rows: rows, X0: 200000, Y0: 4050000, DX: 90, DY: -90, CRS: crs}
}

func TestPlacementIsExactBetweenItsNodes(t *testing.T) {
	t.Parallel()
	frames := map[string]Frame{"lon lat": lonLatFrame(2000, 2000), "utm": utmFrame(t, 2000, 2000)}
	for name, f := range frames {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			centre, err := f.Place(700.3, 1100.8)
			require.NoError(t, err)
			plane := geodesy.NewPlane(centre)
			p, err := NewPlacement(&f, plane, f.Whole())
			require.NoError(t, err)
			random := rand.New(rand.NewPCG(1, 2))
			// 1e-5 m: a ten-millionth of a cell
			const tolerance = 1e-5
			for range 500 {
				c, r := random.Float64()*1999, random.Float64()*1999
				q, err := f.Place(c, r)
				require.NoError(t, err)
				e, n := plane.Forward(q)
				pe, pn := p.At(c, r)
				assert.InDelta(t, e, pe, tolerance)
				assert.InDelta(t, n, pn, tolerance)
				le, ln := p.Row(int(r)).At(c)
				ae, an := p.At(c, math.Floor(r))
				assert.InDelta(t, ae, le, 1e-8)
				assert.InDelta(t, an, ln, 1e-8)
				le, ln = p.Column(int(c)).At(r)
				ae, an = p.At(math.Floor(c), r)
				assert.InDelta(t, ae, le, 1e-8)
				assert.InDelta(t, an, ln, 1e-8)
			}
		})
	}
}

// TestAPlacementIsAsGoodAsItsCheckSays: nowhere in windows of many sizes is a
// place farther from its exact one than the check between the nodes found, by
// more than what higher terms and rounding add.
func TestAPlacementIsAsGoodAsItsCheckSays(t *testing.T) {
	t.Parallel()
	const (
		more     = 1.25 // times the bound: the check looks where the first term left out is worst
		rounding = 2e-8 // metres, of a polynomial's powers over hundreds of kilometres
	)
	random := rand.New(rand.NewPCG(7, 11))
	for name, f := range map[string]Frame{
		"lon lat": lonLatFrame(6000, 6000), "utm": utmFrame(t, 4000, 4000),
		"far north": {Columns: 3000, Rows: 2000, X0: 20, Y0: 78, DX: 1.0 / 1200, DY: -1.0 / 1200, CRS: geodesy.WGS84},
	} {
		for range 60 {
			side := int(math.Pow(float64(min(f.Columns, f.Rows)-2), 0.3+0.7*random.Float64()))
			w := Window{Column: random.IntN(f.Columns - side), Row: random.IntN(f.Rows - side), Columns: side + 1, Rows: side + 1}
			inside := func() (column, row float64, place geodesy.LatLon) {
				column, row = float64(w.Column)+random.Float64()*float64(side), float64(w.Row)+random.Float64()*float64(side)
				place, err := f.Place(column, row)
				require.NoError(t, err)
				return column, row, place
			}
			_, _, at := inside()
			p, err := NewPlacement(&f, geodesy.NewPlane(at), w)
			require.NoError(t, err)
			for range 200 {
				c, r, place := inside()
				east, north := p.Plane.Forward(place)
				atEast, atNorth := p.At(c, r)
				require.LessOrEqual(t, math.Hypot(atEast-east, atNorth-north), more*p.ErrorBound+rounding, "%s: %+v at %v, %v", name, w, c, r)
			}
		}
	}
}

// TestWalkCrossesEveryEdgeOnTheWay: the crossings lie on the line, in
// order, one for each row and column passed.
func TestWalkCrossesEveryEdgeOnTheWay(t *testing.T) {
	t.Parallel()
	f := lonLatFrame(200, 200)
	random := rand.New(rand.NewPCG(3, 4))
	for i := range 200 {
		c0, r0 := random.Float64()*199, random.Float64()*199
		c1, r1 := random.Float64()*199, random.Float64()*199
		if i%2 == 0 { // posts to posts: corners and edges hit exactly
			c0, r0, c1, r1 = math.Round(c0), math.Round(r0), math.Round(c1), math.Round(r1)
		}
		centre, err := f.Place(c0, r0)
		require.NoError(t, err)
		p, err := NewPlacement(&f, geodesy.NewPlane(centre), f.Whole())
		require.NoError(t, err)
		e, n := p.At(c1, r1)
		length := math.Hypot(e, n)
		last, rows, columns := 0.0, map[int]bool{}, map[int]bool{}
		covered, left := p.Walk(e, n, func(x Crossing) bool {
			assert.GreaterOrEqual(t, x.Distance, last-1e-6)
			last = x.Distance
			c, r := x.Position()
			pe, pn := p.At(c, r)
			assert.InDelta(t, e/length*x.Distance, pe, 1e-4) // cells are 75 to 92 m; edges bow by micrometres
			assert.InDelta(t, n/length*x.Distance, pn, 1e-4)
			if x.AlongRow {
				rows[x.Row] = true
			} else {
				columns[x.Column] = true
			}
			return true
		})
		require.False(t, left, "%v,%v to %v,%v", c0, r0, c1, r1)
		assert.InDelta(t, length, covered, 1e-9)
		// every whole row and column strictly between the ends, less what
		// the parallels' curve can add at the very ends
		lo, hi := min(r0, r1), max(r0, r1)
		for r := int(math.Floor(lo)) + 1; float64(r) < hi-0.01; r++ {
			if float64(r) > lo+0.01 {
				assert.True(t, rows[r], "row %d", r)
			}
		}
		lo, hi = min(c0, c1), max(c0, c1)
		for c := int(math.Floor(lo)) + 1; float64(c) < hi-0.01; c++ {
			if float64(c) > lo+0.01 {
				assert.True(t, columns[c], "column %d", c)
			}
		}
	}
}

func TestWalkSaysWhereTheDataEnds(t *testing.T) {
	t.Parallel()
	f := utmFrame(t, 100, 100)
	centre, err := f.Place(50, 50)
	require.NoError(t, err)
	p, err := NewPlacement(&f, geodesy.NewPlane(centre), f.Whole())
	require.NoError(t, err)
	for _, bearing := range []geodesy.Degrees{0, 31, 90, 135, 180, 222, 270, 315, 359.9} {
		s, c := bearing.SinCos()
		covered, left := p.Walk(1e5*s, 1e5*c, func(Crossing) bool { return true })
		assert.True(t, left)
		// 49 or 50 cells of 90 m to a side, up to the diagonal
		assert.Greater(t, covered, 48*90.0)
		assert.Less(t, covered, 51*90*math.Sqrt2)
	}
}

// TestWalkAlongTheBorder: a line along the outermost row is on the data.
func TestWalkAlongTheBorder(t *testing.T) {
	t.Parallel()
	f := lonLatFrame(100, 100)
	for _, line := range [][4]float64{{10, 0, 10, 99}, {0, 5, 0, 80}, {99, 5, 99, 80}, {99, 80, 99, 5}, {0, 80, 0, 5}} {
		centre, err := f.Place(line[0], line[1])
		require.NoError(t, err)
		p, err := NewPlacement(&f, geodesy.NewPlane(centre), f.Whole())
		require.NoError(t, err)
		e, n := p.At(line[2], line[3])
		count := 0
		_, left := p.Walk(e, n, func(x Crossing) bool { count++; return true })
		assert.False(t, left, "%v", line)
		assert.GreaterOrEqual(t, count, int(math.Abs(line[3]-line[1]))-1)
	}
}

// TestWalkAlongARowMeetsEachPost: an observer on a row, within rounding of
// it, that looks along it passes the nearest post first, though rounding may
// put the line's first cell across the row.
func TestWalkAlongARowMeetsEachPost(t *testing.T) {
	t.Parallel()
	f := utmFrame(t, 60, 41)
	f.X0, f.DX, f.DY = 720000, -30, -20
	random := rand.New(rand.NewPCG(5, 6))
	for range 300 {
		c0, row := 20+20*random.Float64(), random.IntN(40)
		centre, err := f.Place(c0, float64(row))
		require.NoError(t, err)
		p, err := NewPlacement(&f, geodesy.NewPlane(centre), f.Whole())
		require.NoError(t, err)
		for _, c1 := range []int{0, 10, 50, 59} {
			e, n := p.At(float64(c1), float64(row))
			met := map[int]bool{}
			_, left := p.Walk(e, n, func(x Crossing) bool {
				// a grid line of UTM from east to west bows by less than
				// 1e-6 cells here, so each crossing is at a post or along the row
				c, r := x.Position()
				assert.InDelta(t, float64(row), r, 1e-6)
				if math.Abs(c-math.Round(c)) < 1e-6 {
					met[int(math.Round(c))] = true
				}
				return true
			})
			if left { // a hair outside the border row
				assert.Zero(t, row)
				continue
			}
			for c := min(int(math.Ceil(c0)), c1+1); c <= max(int(math.Floor(c0)), c1-1); c++ {
				assert.True(t, met[c], "row %d from %v to %d: post %d", row, c0, c1, c)
			}
		}
	}
}

// TestWalkFromAPostNeverTurnsBack: from a post of a coarse grid far north,
// where rounding may let the line clip a corner of a cell behind the
// observer, every other post is reached.
func TestWalkFromAPostNeverTurnsBack(t *testing.T) {
	t.Parallel()
	f := lonLatFrame(48, 48)
	f.X0, f.Y0 = 20, 68
	random := rand.New(rand.NewPCG(7, 8))
	// the case that turned back first, then others
	windows := []Window{{Column: 25, Row: 2, Columns: 23, Rows: 19}}
	for range 60 {
		w := Window{Column: random.IntN(20), Row: random.IntN(20)}
		w.Columns, w.Rows = 4+random.IntN(24), 4+random.IntN(24)
		windows = append(windows, w)
	}
	for i, w := range windows {
		c0, r0 := w.Column+1+random.IntN(w.Columns-2), w.Row+1+random.IntN(w.Rows-2)
		if i == 0 {
			c0, r0 = 46, 11
		}
		centre, err := f.Place(float64(c0), float64(r0))
		require.NoError(t, err)
		p, err := NewPlacement(&f, geodesy.NewPlane(centre), w)
		require.NoError(t, err)
		for r := w.Row + 1; r < w.Row+w.Rows-1; r++ { // along the border rows a line may leave
			for c := w.Column; c < w.Column+w.Columns; c++ {
				if c == c0 && r == r0 {
					continue
				}
				e, n := p.At(float64(c), float64(r))
				_, left := p.Walk(e, n, func(Crossing) bool { return true })
				require.False(t, left, "%+v: %d,%d to %d,%d", w, c0, r0, c, r)
			}
		}
	}
}

// TestPlacementByRowsIsThePlacement: posts from rows worked out once are those
// of the polynomial, in a window that begins anywhere.
func TestPlacementByRowsIsThePlacement(t *testing.T) {
	t.Parallel()
	f := lonLatFrame(2000, 2000)
	centre, err := f.Place(700.3, 1100.8)
	require.NoError(t, err)
	p, err := NewPlacement(&f, geodesy.NewPlane(centre), Window{Column: 400, Row: 900, Columns: 500, Rows: 300})
	require.NoError(t, err)
	p.TabulateRows()
	for _, c := range []int{399, 400, 643, 899, 900} {
		for _, r := range []int{899, 900, 1011, 1199, 1200} { // and one beyond each side
			e, n := p.Post(c, r)
			ae, an := p.At(float64(c), float64(r))
			assert.InDelta(t, ae, e, 1e-8)
			assert.InDelta(t, an, n, 1e-8)
		}
	}
}
