package visibility

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/testdata/cumberland"
)

// fromEachPost is ViewOf the plain way: one sight from each post.
func fromEachPost(t *testing.T, g *dem.Grid, mark geodesy.LatLon, o ViewOfOptions) []Verdict {
	t.Helper()
	out := make([]Verdict, g.Columns*g.Rows)
	for i := range out {
		column, row := i%g.Columns, i/g.Columns
		if math.IsNaN(g.Elevation(column, row)) {
			out[i] = Unknown
			continue
		}
		place, err := g.Place(float64(column), float64(row))
		require.NoError(t, err)
		leg, err := LookingLine(context.Background(), g, place, mark)
		if err != nil {
			out[i] = Visible // the post is the mark
			continue
		}
		s, err := Along(leg, Observer{Place: leg.From, EyeAboveGround: o.EyeAboveGround}, o.Conditions)
		require.NoError(t, err)
		out[i] = s.Verdict
	}
	return out
}

// holed is a grid with voids: some posts, and blocks of them.
func holed(g *dem.Grid, random *rand.Rand) {
	nan := float32(math.NaN())
	for range g.Columns * g.Rows / 150 {
		g.Elevations[random.IntN(len(g.Elevations))] = nan
	}
	for range 3 {
		c, r, n := random.IntN(g.Columns), random.IntN(g.Rows), 1+random.IntN(5)
		for row := r; row < min(r+n, g.Rows); row++ {
			for column := c; column < min(c+n, g.Columns); column++ {
				g.Elevations[row*g.Columns+column] = nan
			}
		}
	}
}

func viewOfIsAlong(t *testing.T, g *dem.Grid, marks, seed int, random *rand.Rand) (pairs, settled int) {
	t.Helper()
	for range marks {
		column, row := random.Float64()*float64(g.Columns-1), random.Float64()*float64(g.Rows-1)
		switch random.IntN(4) {
		case 0: // a post
			column, row = math.Round(column), math.Round(row)
		case 1: // the highest post round it, as a summit is
			c0, r0 := int(column), int(row)
			best := math.Inf(-1)
			for r := max(0, r0-8); r < min(g.Rows, r0+9); r++ {
				for c := max(0, c0-8); c < min(g.Columns, c0+9); c++ {
					if h := g.Elevation(c, r); h > best {
						best, column, row = h, float64(c), float64(r)
					}
				}
			}
		case 2: // on an edge
			row = math.Round(row)
		}
		mark, err := g.Place(column, row)
		require.NoError(t, err)
		o := ViewOfOptions{EyeAboveGround: 1.6, Conditions: Conditions{Refraction: 0.13}}
		if random.IntN(2) == 0 {
			o.EyeAboveGround, o.TargetAboveGround, o.Refraction = 3*random.Float64(), 10*random.Float64(), random.Float64()-0.5
		}
		got, err := ViewOf(context.Background(), g, mark, g.Whole(), o)
		require.NoError(t, err)
		want := fromEachPost(t, g, mark, o)
		for i := range want {
			require.Equal(t, want[i].String(), got.Verdicts[i].String(), "seed %d: mark at column %v row %v, post %d %d, %+v", seed, column, row, i%g.Columns, i/g.Columns, o)
		}
		pairs += len(want)
		settled += got.Settled
	}
	return pairs, settled
}

// TestViewOfIsTheSightFromEachPost: a mark's view back has, at every post, the
// verdict of the sight from that post: on made ground with voids and without, in
// UTM and on longitude and latitude.
func TestViewOfIsTheSightFromEachPost(t *testing.T) {
	t.Parallel()
	pairs, settled := 0, 0
	for seed := range 12 {
		random := rand.New(rand.NewPCG(uint64(seed), 16))
		g := fractal(t, 24, uint64(seed))
		if seed%3 == 1 {
			g.Frame = dem.Frame{Columns: 24, Rows: 24, X0: -84.4, Y0: 36.6, DX: 1.0 / 3600, DY: -1.0 / 3600, CRS: geodesy.WGS84}
		}
		if seed%3 == 2 { // whole metres, far north, where cells are narrow
			g.Frame = dem.Frame{Columns: 24, Rows: 24, X0: 20, Y0: 69, DX: 1.0 / 3600, DY: -1.0 / 3600, CRS: geodesy.WGS84}
			for i, h := range g.Elevations {
				g.Elevations[i] = float32(math.Round(float64(h)))
			}
		}
		if seed%2 == 1 {
			holed(g, random)
		}
		p, s := viewOfIsAlong(t, g, 4, seed, random)
		pairs, settled = pairs+p, settled+s
	}
	t.Logf("%d pairs, %d of them asked one by one", pairs, settled)
	const mostSettled = 0.1 // share of pairs asked one by one: more would make the rest no test
	assert.Less(t, float64(settled), mostSettled*float64(pairs))
}

// TestViewOfOnRealGround: the same on a crop of real ground.
func TestViewOfOnRealGround(t *testing.T) {
	t.Parallel()
	r, err := gdalio.OpenBytes(cumberland.Name, cumberland.Bytes(), gdalio.Options{})
	whole := readWhole(t, r, err)
	random := rand.New(rand.NewPCG(1, 16))
	w := dem.Window{Column: 100, Row: 100, Columns: 60, Rows: 40}
	g := &dem.Grid{Frame: whole.Sub(w)}
	for row := range w.Rows {
		from := (w.Row+row)*whole.Columns + w.Column
		g.Elevations = append(g.Elevations, whole.Elevations[from:from+w.Columns]...)
	}
	pairs, settled := viewOfIsAlong(t, g, 3, 1, random)
	t.Logf("%d pairs, %d of them asked one by one", pairs, settled)
}

// TestViewOfWindow: of a window the verdicts are those of the whole, though only
// the ground between is looked over.
func TestViewOfWindow(t *testing.T) {
	t.Parallel()
	g := fractal(t, 129, 3)
	holed(g, rand.New(rand.NewPCG(3, 16)))
	mark, err := g.Place(20, 100)
	require.NoError(t, err)
	o := ViewOfOptions{EyeAboveGround: 1.6, Conditions: DefaultConditions(), Radius: 900}
	whole, err := ViewOf(context.Background(), g, mark, g.Whole(), o)
	require.NoError(t, err)
	w := dem.Window{Column: 60, Row: 30, Columns: 50, Rows: 40}
	o.Asked = func(column, row int) bool { return (column+row)%5 != 0 && column != 70 }
	part, err := ViewOf(context.Background(), g, mark, w, o)
	require.NoError(t, err)
	asked := 0
	for r := range w.Rows {
		for c := range w.Columns {
			got, want := part.Verdicts[r*w.Columns+c], whole.Verdicts[(w.Row+r)*g.Columns+w.Column+c]
			if !o.Asked(w.Column+c, w.Row+r) {
				want = OutOfRange
			}
			if want != OutOfRange {
				asked++
			}
			require.Equal(t, want, got, "column %d row %d", c, r)
		}
	}
	assert.Greater(t, asked, 200)
}

// TestViewOfAMarkThatIsNotAsked: the post the mark stands on sees it where it is
// asked, and is out of range where it is not.
func TestViewOfAMarkThatIsNotAsked(t *testing.T) {
	t.Parallel()
	g := fractal(t, 20, 6)
	mark, err := g.Place(10, 10)
	require.NoError(t, err)
	for _, asked := range []bool{true, false} {
		got, err := ViewOf(context.Background(), g, mark, g.Whole(), ViewOfOptions{
			EyeAboveGround: 1.6, Asked: func(column, row int) bool { return asked || column != 10 || row != 10 },
		})
		require.NoError(t, err)
		want := Visible
		if !asked {
			want = OutOfRange
		}
		assert.Equal(t, want, got.Verdicts[10*20+10])
	}
}

// TestViewOfAnUnknownMark: of a mark on a void nobody can say.
func TestViewOfAnUnknownMark(t *testing.T) {
	t.Parallel()
	g := fractal(t, 20, 5)
	g.Elevations[10*20+10] = float32(math.NaN())
	mark, err := g.Place(10, 10)
	require.NoError(t, err)
	got, err := ViewOf(context.Background(), g, mark, g.Whole(), ViewOfOptions{EyeAboveGround: 1.6})
	require.NoError(t, err)
	for _, v := range got.Verdicts {
		require.Equal(t, Unknown, v)
	}
}

// How far the two ends of a sight differ, at most, in what they make of the
// ground's curve: the bound that ViewOf reckons with.
func TestCurvatureFromEitherEnd(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(16, 16))
	const r = geodesy.EquatorialRadius
	worst := 0.0
	for range 20000 {
		a := geodesy.LatLon{Lat: geodesy.Degrees(180*random.Float64() - 90), Lon: geodesy.Degrees(360*random.Float64() - 180)}
		distance := 1000 + 400e3*random.Float64()
		b, back := geodesy.Direct(a, geodesy.NewTrueBearing(geodesy.Degrees(360*random.Float64())), distance)
		g := geodesy.Inverse(a, b)
		one := geodesy.NewPlane(a).Radius(g.Start)
		other := geodesy.NewPlane(b).Radius(back)
		worst = math.Max(worst, math.Abs(1/one-1/other)*r/(distance/r))
	}
	t.Logf("the change of the radius, as a share, a radius of the Earth gone: %.5f", worst)
	assert.Less(t, worst, radiusChange)
	assert.Greater(t, worst, radiusChange/3) // the bound is no wild guess
}
