package landform

import (
	"context"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
)

// hair is how near distances by this package and by brute force are, metres:
// a piece of a row or column is taken straight, and 30 m posts on a UTM grid
// bow by far less.
const hair = 0.01

func ofKind(features []Feature, k Kind) []Feature {
	return slices.DeleteFunc(slices.Clone(features), func(f Feature) bool { return f.Kind != k })
}

func find(t testing.TB, g *dem.Grid, o FeatureOptions) []Feature {
	t.Helper()
	found, err := Features(context.Background(), g, o)
	require.NoError(t, err)
	return found
}

func from(t testing.TB, g *dem.Grid, reach float64, path ...Position) *Ruler {
	t.Helper()
	r, err := NewRuler(&g.Frame, reach, path...)
	require.NoError(t, err)
	return r
}

// A wall along x = 0 from north to south, 40 m high but for its northern end,
// where it is 120 m: its steepest post.
func longWall(x, y float64) float64 {
	switch {
	case math.Abs(y) > 1700 || x < 0:
		return 500
	case y > 1650:
		return 380
	}
	return 460
}

// flattened is a grid, flat on every side of the made ground.
func wallGrid(t testing.TB, of ground) *dem.Grid {
	g := onGrid(t, of, 1, 0, 0)
	g.Source.VerticalError = 1
	return g
}

// TestALongCliffIsNearWhereAnyOfItIs: 2026-11-30. A cliff of 3.4 km counted
// at its steepest post alone.
func TestALongCliffIsNearWhereAnyOfItIs(t *testing.T) {
	t.Parallel()
	g := wallGrid(t, longWall)
	cliffs := ofKind(find(t, g, FeatureOptions{MinRelief: 20}), Cliff)
	wall := slices.MaxFunc(cliffs, func(a, b Feature) int { return int(a.Size - b.Size) })
	require.Greater(t, wall.Size, 3300.0)
	require.Less(t, wall.Row, 30, "its steepest post is at its northern end")
	// on the high ground, 7 posts west of the brink (column 79) at its southern end
	r := from(t, g, 300, Position{72, 130})
	n, near, err := r.Nearest(&wall)
	require.NoError(t, err)
	require.True(t, near)
	const spacing = 0.1 // m; 30 m on a UTM grid are 30.01 m on the ground
	assert.InDelta(t, 210, n.Distance, spacing)
	assert.InDelta(t, 90, float64(n.Bearing), 1)
	assert.Equal(t, 79.0, math.Round(n.Part.Column))
	_, near, err = from(t, g, 200, Position{72, 130}).Nearest(&wall)
	require.NoError(t, err)
	assert.False(t, near)
	// between brink and foot one is on it
	n, near, err = from(t, g, 200, Position{79.4, 121.3}).Nearest(&wall)
	require.NoError(t, err)
	assert.True(t, near)
	assert.Zero(t, n.Distance)
}

// TestALegAcrossALongCliffTellsIt: 2026-11-30. So was it on a leg: one that
// went over the wall far from its steepest post was told nothing.
func TestALegAcrossALongCliffTellsIt(t *testing.T) {
	t.Parallel()
	g := wallGrid(t, longWall)
	o := AlongOptions{Scale: 500, MinRelief: 20}
	cliffs := ofKind(find(t, g, FeatureOptions{MinRelief: 20}), Cliff)
	for _, row := range []float64{60, 95.4, 120, 133} {
		passed, err := Along(&g.Frame, legAlongRow(g, row, 40, 120), cliffs, o)
		require.NoError(t, err)
		require.Equal(t, []string{"cliff"}, names(passed), "row %g", row)
		assert.InDelta(t, 30*39, passed[0].Distance, 0.1, "the brink, at column 79")
		assert.InDelta(t, 30*40, passed[0].Until, 0.1, "the foot")
		assert.Zero(t, passed[0].Off)
		assert.InDelta(t, 500, passed[0].Elevation, 0.1)
	}
	// along it, 90 m off on the high side, and far from the steepest post
	var path []PathPoint
	for r := 90; r <= 130; r++ {
		path = append(path, PathPoint{Position{76, float64(r)}, 30 * float64(r-90), 500})
	}
	passed, err := Along(&g.Frame, path, cliffs, o)
	require.NoError(t, err)
	require.Equal(t, []string{Beside(Cliff)}, names(passed))
	assert.InDelta(t, -90, passed[0].Off, 0.1, "to the left of one who walks south")
	assert.Equal(t, 79.0, passed[0].Nearest.Column)
	assert.Less(t, passed[0].Aside, -1500.0, "its steepest place lies up north")
	// along the brink itself
	for i := range path {
		path[i].Column = 79
	}
	passed, err = Along(&g.Frame, path, cliffs, o)
	require.NoError(t, err)
	require.Equal(t, []string{"cliff"}, names(passed))
	assert.InDelta(t, 0, passed[0].Distance, 0.1)
	assert.InDelta(t, 1200, passed[0].Until, 0.1)
}

// Two walls 300 m apart along a leg are both told: one is not the other.
func TestEveryCliffALegComesOntoIsTold(t *testing.T) {
	t.Parallel()
	g := wallGrid(t, func(x, y float64) float64 {
		return 500 - 40*math.Floor(math.Max(-3, math.Min(3, (x+15)/300)))
	})
	cliffs := ofKind(find(t, g, FeatureOptions{MinRelief: 20}), Cliff)
	require.Len(t, cliffs, 6)
	passed, err := Along(&g.Frame, legAlongRow(g, 80.5, 20, 140), cliffs, AlongOptions{Scale: 500, MinRelief: 20})
	require.NoError(t, err)
	assert.Equal(t, []string{"cliff", "cliff", "cliff", "cliff", "cliff", "cliff"}, names(passed))
}

// An L of two arms of 1.2 km: near is near either arm, and not where the
// box round it is.
func TestAnLShapedCliff(t *testing.T) {
	t.Parallel()
	g := wallGrid(t, func(x, y float64) float64 {
		if x > 0 && y > 0 && x < 1200 && y < 1200 {
			return 400
		}
		if x > 0 && y > 0 { // round the far sides it slopes up gently
			return math.Min(500, 400+0.2*math.Max(x-1200, y-1200))
		}
		return 500
	})
	cliffs := ofKind(find(t, g, FeatureOptions{MinRelief: 50}), Cliff)
	require.Len(t, cliffs, 1)
	for _, c := range []struct {
		at   Position
		want float64 // metres
	}{
		{Position{100, 90}, 300}, // south of the southern arm, whose brink is row 80
		{Position{70, 60}, 300},  // west of the western arm, whose brink is column 80
		{Position{77, 84}, 150},  // off the corner
		{Position{101, 59}, 600}, // inside it, 20 posts from either foot
	} {
		n, near, err := from(t, g, 1000, c.at).Nearest(&cliffs[0])
		require.NoError(t, err)
		require.True(t, near)
		assert.InDelta(t, c.want, n.Distance, 0.3, "%v", c.at)
	}
}

// A basin 2.4 km wide: inside it one is in it; beside it the rim is near
// though the bottom is not. A leg through it is told where it comes nearest
// to the bottom.
func TestALargeDepression(t *testing.T) {
	t.Parallel()
	g := onGrid(t, func(x, y float64) float64 { return 300 + 0.2*math.Min(math.Hypot(x, y), 1200) }, 1, 0, 0)
	found := ofKind(find(t, g, FeatureOptions{}), Depression)
	require.Len(t, found, 1)
	inside, rim := 0, 1200.0
	for row := range g.Rows {
		for column := range g.Columns {
			at := Position{float64(column), float64(row)}
			out := 30*math.Hypot(at.Column-80, at.Row-80) - rim
			if column%17 != 0 || row%13 != 0 || math.Abs(out) < 60 {
				continue
			}
			n, near, err := from(t, g, 5000, at).Nearest(&found[0])
			require.NoError(t, err)
			require.True(t, near)
			if out < 0 {
				inside++
				assert.Zero(t, n.Distance, "%v", at)
			} else {
				// the rim on the posts is up to a cell inside the circle
				assert.InDelta(t, out, n.Distance, 45, "%v", at)
			}
		}
	}
	assert.Greater(t, inside, 10)
	o := AlongOptions{Scale: 500, MinRelief: 20}
	for _, c := range []struct {
		row  float64
		want string
	}{{80, "bottom of a depression"}, {60.5, acrossDepression}, {45, Beside(Depression) + " or " + acrossDepression}, {35, Beside(Depression)}, {20, ""}} {
		passed, err := Along(&g.Frame, legAlongRow(g, c.row, 5, 155), found, AlongOptions{Scale: o.Scale, MinRelief: 1000})
		require.NoError(t, err)
		if c.want == "" {
			assert.Empty(t, passed, "row %g", c.row)
			continue
		}
		require.Len(t, passed, 1, "row %g", c.row)
		assert.Contains(t, c.want, passed[0].Name, "row %g", c.row)
		// the rim on the posts has a straight stretch of some posts
		assert.InDelta(t, 30*75, passed[0].Distance, 300)
		if c.row != 80 {
			assert.InDelta(t, 30*(80-c.row), passed[0].Aside, 45)
		}
	}
}

// A flat top 600 m across is gone over wherever a leg goes over it.
func TestAFlatTopIsGoneOverAnywhere(t *testing.T) {
	t.Parallel()
	g := onGrid(t, func(x, y float64) float64 { return 500 - 0.2*math.Max(0, math.Hypot(x, y)-300) }, 1, 0, 0)
	hills := ofKind(find(t, g, FeatureOptions{}), Hill)
	require.Len(t, hills, 1)
	passed, err := Along(&g.Frame, legAlongRow(g, 73, 20, 140), hills, AlongOptions{Scale: 500, MinRelief: 1000})
	require.NoError(t, err)
	require.Equal(t, []string{"top of a hill"}, names(passed))
	assert.Zero(t, passed[0].Aside)
	assert.InDelta(t, 30*60, passed[0].Distance, 1, "where it is nearest to the middle")
}

// A leg that lies on a line from end to end comes onto it at its start.
func TestALegAlongACrestIsOnIt(t *testing.T) {
	t.Parallel()
	g := onGrid(t, func(x, y float64) float64 { return 500 - 0.5*math.Abs(y) + 0.02*x }, 1, 0, 0)
	ridges := ofKind(find(t, g, FeatureOptions{}), Ridge)
	require.NotEmpty(t, ridges)
	require.Equal(t, 80.0, ridges[0].Line[10].Row)
	passed, err := Along(&g.Frame, legAlongRow(g, 80, 60, 100), ridges, AlongOptions{Scale: 500, MinRelief: 20})
	require.NoError(t, err)
	require.NotEmpty(t, passed)
	assert.Equal(t, "crest of a ridge", passed[0].Name)
	assert.Zero(t, passed[0].Distance)
}

// TestACliffIsOneOnFinePostsToo: 2026-11-30. A wall of 60 degrees was a cliff
// on 30 m posts and none on 2 m posts, whose neighbours differ by 3.5 m.
func TestACliffIsOneOnFinePostsToo(t *testing.T) {
	t.Parallel()
	const side = 161
	h := make([]float32, side*side)
	for i := range h {
		h[i] = float32(500 - math.Max(0, math.Min(60, 2*math.Tan(math.Pi/3)*float64(i%side-60))))
	}
	g := square(t, side, side, h)
	g.DX, g.DY, g.Source.VerticalError = 2, -2, 0.3
	cliffs := ofKind(find(t, g, FeatureOptions{Scale: 100}), Cliff)
	require.Len(t, cliffs, 1)
	assert.InDelta(t, 2*(side-1), cliffs[0].Size, 40)
	assert.Contains(t, cliffs[0].Reason.Text(Lengths{}), "posts ")
	n, near, err := from(t, g, 50, Position{50, 100}).Nearest(&cliffs[0])
	require.NoError(t, err)
	require.True(t, near)
	assert.InDelta(t, 20, n.Distance, 0.1)
	// half as steep it is none
	for i := range h {
		h[i] = float32(500 - math.Max(0, math.Min(60, 2*math.Tan(math.Pi/6)*float64(i%side-60))))
	}
	assert.Empty(t, ofKind(find(t, g, FeatureOptions{Scale: 100}), Cliff))
}

// Any posts: the ground they cover is, cell by cell, that between those of
// its corners which are among them.
func TestCoveredIsTheGroundBetweenPosts(t *testing.T) {
	t.Parallel()
	const columns, rows, seed = 40, 9, 11
	random := rand.New(rand.NewPCG(seed, 0))
	g := square(t, columns, rows, make([]float32, columns*rows))
	for try := range 25 {
		share := random.Float64()
		var posts []int32
		has := map[[2]int]bool{}
		for p := range columns * rows {
			if random.Float64() < share {
				posts = append(posts, int32(p))
				has[[2]int{p % columns, p / columns}] = true
			}
		}
		if len(posts) == 0 {
			continue
		}
		f := Feature{Parts: covered(posts, columns)}
		for range 20 {
			at := Position{random.Float64() * (columns - 1), random.Float64() * (rows - 1)}
			if random.IntN(3) == 0 {
				at = Position{math.Round(at.Column), math.Round(at.Row)}
			}
			want := math.Inf(1)
			for c := range columns {
				for r := range rows {
					var corners [][2]float64
					for _, d := range [][2]int{{0, 0}, {1, 0}, {1, 1}, {0, 1}} { // in turn round the cell
						if has[[2]int{c + d[0], r + d[1]}] {
							corners = append(corners, [2]float64{float64(c + d[0]), float64(r + d[1])})
						}
					}
					want = min(want, toHull(corners, at))
				}
			}
			n, near, err := from(t, g, 1e5, at).Nearest(&f)
			require.NoError(t, err)
			require.True(t, near)
			const scale = 0.002 // 30 m of the grid are 30.01 m on the ground
			assert.InDelta(t, 30*want, n.Distance, 30*want*scale+1e-4, "seed %d, try %d, %v", seed, try, at)
			assert.Equal(t, want == 0, n.Distance == 0)
		}
	}
}

// toHull is the distance, in cells, to the ground between corners given in
// turn: slowly, by samples of area signs and of every pair's length.
func toHull(corners [][2]float64, at Position) float64 {
	best, inside := math.Inf(1), len(corners) > 2
	for i, p := range corners {
		for _, q := range corners {
			dx, dy := q[0]-p[0], q[1]-p[1]
			s := 0.0
			if n := dx*dx + dy*dy; n > 0 {
				s = math.Max(0, math.Min(1, ((at.Column-p[0])*dx+(at.Row-p[1])*dy)/n))
			}
			best = min(best, math.Hypot(at.Column-p[0]-s*dx, at.Row-p[1]-s*dy))
		}
		q := corners[(i+1)%len(corners)]
		inside = inside && (q[0]-p[0])*(at.Row-p[1])-(q[1]-p[1])*(at.Column-p[0]) >= 0
	}
	if inside || best < touch {
		return 0
	}
	return best
}

func realGround(t testing.TB) *dem.Grid {
	t.Helper()
	folder := os.Getenv("CROWLINE_TERRAIN")
	if folder == "" {
		folder = filepath.Join("..", "..", "..", "shared", "dem")
	}
	path := filepath.Join(folder, "bigtujunga_srtm30.tif")
	if _, err := os.Stat(path); err != nil {
		t.Skip("no elevation files; set CROWLINE_TERRAIN to the folder that has bigtujunga_srtm30.tif")
	}
	r, err := gdalio.Open(path, gdalio.Options{})
	require.NoError(t, err)
	defer r.Close()
	g, err := r.Read(context.Background(), r.Layout().Whole())
	require.NoError(t, err)
	return g
}

// On real ground, steep with cliffs and gentle: from places all over, every
// feature's distance is the least by geodesics to its posts and to places
// along its pieces, and none nearer than the radius is left out. Cliffs are
// looked for in the elevations afresh.
func TestNearestOnRealGroundIsThatOfBruteForce(t *testing.T) {
	t.Parallel()
	for name, g := range map[string]*dem.Grid{"Big Tujunga": realGround(t), "demo": demoGrid(t)} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			o, err := FeatureOptions{MinRelief: 29}.Resolve(g)
			require.NoError(t, err)
			found := find(t, g, o)
			// the posts and places along pieces of each
			type known struct {
				f      *Feature
				places []geodesy.LatLon
			}
			const apart = 4 // places to a piece's length
			var all []known
			for i := range found {
				k := known{f: &found[i]}
				found[i].eachPart(func(corners []Position) {
					for i, p := range corners {
						q := corners[(i+1)%len(corners)]
						for s := range apart {
							at := between(p, q, float64(s)/apart)
							place, err := g.Place(at.Column, at.Row)
							require.NoError(t, err)
							k.places = append(k.places, place)
						}
					}
				})
				all = append(all, k)
			}
			steep := steepPosts(t, g, o)
			random := rand.New(rand.NewPCG(7, 7))
			listed := 0
			for range 5 {
				at := Position{random.Float64() * float64(g.Columns-1), random.Float64() * float64(g.Rows-1)}
				if random.IntN(2) == 0 {
					at = Position{math.Round(at.Column), math.Round(at.Row)}
				}
				place, err := g.Place(at.Column, at.Row)
				require.NoError(t, err)
				radius := 300 + 3000*random.Float64()
				ruler := from(t, g, radius, at)
				cliff := math.Inf(1)
				for _, k := range all {
					least := math.Inf(1)
					for _, q := range k.places {
						least = min(least, geodesy.Inverse(place, q).Distance)
					}
					n, near, err := ruler.Nearest(k.f)
					require.NoError(t, err)
					if !near {
						assert.Greater(t, least, radius-hair, "%s at %v from %v", k.f.Kind, k.f.Place, place)
						continue
					}
					listed++
					assert.LessOrEqual(t, n.Distance, least+hair, "%s", k.f.Kind)
					if n.Distance > 0 {
						// between two places sampled, half a step of the longest part
						step := float64(longestPart) * 100 / apart / 2
						assert.GreaterOrEqual(t, n.Distance, math.Sqrt(max(0, least*least-step*step))-step*0.05, "%s", k.f.Kind)
						assert.InDelta(t, geodesy.Inverse(place, n.Place).Distance, n.Distance, 1e-6)
					}
					if k.f.Kind == Cliff {
						cliff = min(cliff, n.Distance)
					}
				}
				for _, q := range steep {
					if d := geodesy.Inverse(place, q).Distance; d <= radius {
						assert.LessOrEqual(t, cliff, d+hair, "a steep post %v from %v", q, place)
					}
				}
			}
			assert.Greater(t, listed, 20)
		})
	}
}

// steepPosts are the posts of cliff steps, top and foot, looked for afresh.
func steepPosts(t *testing.T, g *dem.Grid, o FeatureOptions) []geodesy.LatLon {
	var out []geodesy.LatLon
	for row := range g.Rows {
		for column := range g.Columns {
			place, err := g.Place(float64(column), float64(row))
			require.NoError(t, err)
			for dc := -1; dc <= 1; dc++ {
				for dr := -1; dr <= 1; dr++ {
					drop := math.Abs(g.Elevation(column, row) - g.Elevation(column+dc, row+dr))
					if !(drop >= o.MinRelief) {
						continue
					}
					there, err := g.Place(float64(column+dc), float64(row+dr))
					require.NoError(t, err)
					// by the spacing of the middle column, a hair otherwise
					if drop >= 1.001*o.CliffGradient*geodesy.Inverse(place, there).Distance {
						out = append(out, place)
					}
				}
			}
		}
	}
	return out
}

// Legs on real ground: each part of a cliff the leg lies on is inside a
// stretch told, and what is told beside is as far as the least by brute force
// from places along the leg.
func TestPassedCliffsOnRealGroundAreThoseOfBruteForce(t *testing.T) {
	t.Parallel()
	g := realGround(t)
	o, err := FeatureOptions{MinRelief: 20, VerticalError: 5}.Resolve(g)
	require.NoError(t, err)
	cliffs := ofKind(find(t, g, o), Cliff)
	require.Greater(t, len(cliffs), 100)
	random := rand.New(rand.NewPCG(5, 6))
	on, beside := 0, 0
	for range 10 {
		// straight on the grid, from post to post of a line of 0.05 cells a step
		near := cliffs[random.IntN(len(cliffs))].Post // so that some are met
		a := Position{math.Max(0, float64(near.Column-15)), float64(near.Row)}
		b := Position{math.Max(0, math.Min(float64(g.Columns-1), a.Column+30+30*random.NormFloat64())), math.Max(0, math.Min(float64(g.Rows-1), a.Row+20*random.NormFloat64()))}
		const steps = 600
		var path []PathPoint
		for i := range steps + 1 {
			p := between(a, b, float64(i)/steps)
			path = append(path, PathPoint{p, float64(i) * 30 * math.Hypot(b.Column-a.Column, b.Row-a.Row) / steps, dem.Bilinear(g, p.Column, p.Row)})
		}
		passed, err := Along(&g.Frame, path, cliffs, AlongOptions{Scale: o.Scale, MinRelief: math.Inf(1)})
		require.NoError(t, err)
		m, err := newMetric(&g.Frame)
		require.NoError(t, err)
		least := make([]float64, len(cliffs))
		for i, f := range cliffs {
			least[i] = math.Inf(1)
			for _, p := range path {
				d := math.Inf(1)
				for _, part := range f.Parts {
					if math.Hypot(part[0].Column-p.Column, part[0].Row-p.Row)-longestPart-1 > min(d, 20) {
						continue // farther than is told
					}
					var corners [][2]float64
					for _, c := range part {
						corners = append(corners, [2]float64{c.Column, c.Row})
					}
					d = min(d, toHull(corners, p.Position))
				}
				if d == 0 {
					told := slices.ContainsFunc(passed, func(x Passed) bool {
						return x.Feature == i && x.Off == 0 && x.Distance <= p.Distance+1e-3 && p.Distance <= x.Until+1e-3
					})
					assert.True(t, told, "a cliff at %.0f m", p.Distance)
					on++
				}
				least[i] = min(least[i], d)
			}
		}
		for _, x := range passed {
			if x.Off != 0 {
				beside++
				assert.InDelta(t, least[x.Feature]*m.spacing(), math.Abs(x.Off), 1, "beside")
			}
		}
		for i := range cliffs { // near enough, and none nearer told on its side
			if least[i]*m.spacing() < o.Scale/2-1 && least[i] > 0 {
				assert.True(t, slices.ContainsFunc(passed, func(x Passed) bool { return math.Abs(x.Off) <= least[i]*m.spacing()+1 }))
			}
		}
	}
	assert.Positive(t, on)
	assert.Positive(t, beside)
}

// A hollow's ground is the posts the flood counted, where no two are as high
// as each other.
func TestGroundOfHollowsIsWhatTheFloodCounted(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(3, 3))
	compared := 0
	for range 40 {
		const side = 24
		h := make([]float32, side*side)
		for i := range h {
			h[i] = float32(random.IntN(9)) + random.Float32()/2
		}
		f, err := runFlood(context.Background(), square(t, side, side, h), false, nil)
		require.NoError(t, err)
		for _, top := range f.tops(1) {
			posts := f.below(top)
			if top.edge < 0 || top.least == top.most { // not cut short by the edge
				assert.Len(t, posts, int(top.island))
				compared++
			}
		}
	}
	assert.Greater(t, compared, 100)
}
