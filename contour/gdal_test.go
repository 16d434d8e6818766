package contour

import (
	"encoding/binary"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
)

// The oracle is gdal_contour (GDAL 3.6.2 when this was written). What is
// known of it: it moves a post that stands on a level by 1e-6, carries lines
// half a cell beyond the outermost posts, and parts every saddle cell the
// same way. So levels are taken at half metres, which no whole-metre post
// stands on; what lies beyond the posts is left out; and in saddle cells
// only the count of lines is compared, give or take the saddles.

// tool skips the test when a program is not installed.
func tool(t *testing.T, names ...string) {
	t.Helper()
	for _, name := range names {
		if _, err := exec.LookPath(name); err != nil {
			t.Skipf("%s is not installed (Debian package gdal-bin)", name)
		}
	}
}

func run(t *testing.T, name string, arguments ...string) {
	t.Helper()
	out, err := exec.Command(name, arguments...).CombinedOutput()
	require.NoError(t, err, "%s %v: %s", name, arguments, out)
}

// writeRaw stores a grid where gdal_contour can read it, placed so that its
// coordinates are columns plus a half and rows counted up from the foot.
func writeRaw(t testing.TB, g *dem.Grid, path string) {
	t.Helper()
	data := make([]byte, 0, 4*len(g.Elevations))
	for _, h := range g.Elevations {
		if h != h {
			h = -9999
		}
		data = binary.LittleEndian.AppendUint32(data, math.Float32bits(h))
	}
	require.NoError(t, os.WriteFile(path, data, 0o600))
	header := fmt.Sprintf("ENVI\nsamples = %d\nlines = %d\nbands = 1\ndata type = 4\nbyte order = 0\ninterleave = bsq\ndata ignore value = -9999\nmap info = {Arbitrary, 1, 1, 0, %d, 1, 1}\n", g.Columns, g.Rows, g.Rows)
	require.NoError(t, os.WriteFile(strings.TrimSuffix(path, ".bin")+".hdr", []byte(header), 0o600))
}

// readRaster reads any raster through gdal_translate.
func readRaster(t *testing.T, path string) *dem.Grid {
	t.Helper()
	raw := filepath.Join(t.TempDir(), "posts.bin")
	run(t, "gdal_translate", "-q", "-of", "ENVI", "-ot", "Float32", path, raw)
	header, err := os.ReadFile(strings.TrimSuffix(raw, ".bin") + ".hdr")
	require.NoError(t, err)
	field := func(name string) float64 {
		for line := range strings.Lines(string(header)) {
			if k, v, ok := strings.Cut(line, "="); ok && strings.TrimSpace(k) == name {
				f, err := strconv.ParseFloat(strings.TrimSpace(v), 64)
				require.NoError(t, err)
				return f
			}
		}
		return math.NaN()
	}
	columns, rows, ignore := int(field("samples")), int(field("lines")), field("data ignore value")
	data, err := os.ReadFile(raw)
	require.NoError(t, err)
	require.Len(t, data, 4*columns*rows)
	g := &dem.Grid{Frame: frame(columns, rows), Elevations: make([]float32, columns*rows)}
	for i := range g.Elevations {
		h := math.Float32frombits(binary.LittleEndian.Uint32(data[4*i:]))
		if float64(h) == ignore {
			h = float32(math.NaN())
		}
		g.Elevations[i] = h
	}
	return g
}

// gdalContours runs the oracle.
func gdalContours(t *testing.T, g *dem.Grid, l Levels) []Line {
	t.Helper()
	folder := t.TempDir()
	raw, out := filepath.Join(folder, "posts.bin"), filepath.Join(folder, "lines.csv")
	writeRaw(t, g, raw)
	run(t, "gdal_contour", "-q", "-i", fmt.Sprint(l.Interval), "-off", fmt.Sprint(l.Base), "-a", "elevation",
		"-f", "CSV", "-lco", "GEOMETRY=AS_WKT", raw, out)
	f, err := os.Open(out)
	require.NoError(t, err)
	defer f.Close()
	records, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var lines []Line
	for _, record := range records[1:] {
		level, err := strconv.ParseFloat(record[2], 64)
		require.NoError(t, err)
		line := Line{Level: level, Number: int(math.Round((level - l.Base) / l.Interval))}
		text := strings.TrimSuffix(strings.TrimPrefix(record[0], "LINESTRING ("), ")")
		for pair := range strings.SplitSeq(text, ",") {
			x, y, ok := strings.Cut(strings.TrimSpace(pair), " ")
			require.True(t, ok)
			px, err := strconv.ParseFloat(x, 64)
			require.NoError(t, err)
			py, err := strconv.ParseFloat(y, 64)
			require.NoError(t, err)
			line.Points = append(line.Points, Position{px - 0.5, float64(g.Rows) - py - 0.5})
		}
		line.Closed = line.Points[0] == line.Points[len(line.Points)-1]
		lines = append(lines, line)
	}
	return lines
}

func TestAgainstGDAL(t *testing.T) {
	t.Parallel()
	tool(t, "gdal_contour", "gdal_translate")
	terrain := os.Getenv("CROWLINE_TERRAIN")
	if terrain == "" {
		terrain = "../../shared/dem"
	}
	grounds := map[string]func(t *testing.T) *dem.Grid{
		"fractal": func(t *testing.T) *dem.Grid { return fractal(300, 250, 400, 11) },
		"fractal with voids": func(t *testing.T) *dem.Grid {
			g := fractal(200, 150, 400, 12)
			for i := 777; i < len(g.Elevations); i += 3331 {
				g.Elevations[i] = float32(math.NaN())
			}
			return g
		},
	}
	for name, path := range map[string]string{
		"Cumberland Mountains": "../testdata/cumberland/cumberland.tif",
		"Olinda":               "../testdata/olinda_dem_utm25s.tif",
		"Big Tujunga":          filepath.Join(terrain, "bigtujunga_srtm30.tif"),
	} {
		grounds[name] = func(t *testing.T) *dem.Grid {
			if _, err := os.Stat(path); err != nil {
				t.Skipf("no elevation data at %s", path)
			}
			return readRaster(t, path)
		}
	}
	for name, read := range grounds {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			g := read(t)
			l := Levels{Interval: 20, Base: 10.5}
			if len(g.Elevations) > 500_000 { // to keep the test to a few seconds
				l.Interval = 60
			}
			ours, theirs := trace(t, g, l), gdalContours(t, g, l)
			compare(t, g, l, ours, theirs)
		})
	}
}

func compare(t *testing.T, g *dem.Grid, l Levels, ours, theirs []Line) {
	t.Helper()
	levels := func(lines []Line) map[int]bool {
		out := map[int]bool{}
		for _, line := range lines {
			out[line.Number] = true
		}
		return out
	}
	assert.Equal(t, levels(theirs), levels(ours), "levels")

	// How many saddles could have been parted otherwise, and where voids are.
	saddles := 0
	nearVoid := map[[2]int]bool{}
	for r := range g.Rows - 1 {
		for c := range g.Columns - 1 {
			a, b := g.Elevation(c, r), g.Elevation(c+1, r)
			d, e := g.Elevation(c, r+1), g.Elevation(c+1, r+1)
			if math.IsNaN(a + b + d + e) {
				nearVoid[[2]int{c, r}] = true
				continue
			}
			for j := l.Below(min(a, b, d, e)) + 1; l.Elevation(j) <= max(a, b, d, e); j++ {
				if isSaddle(g, l.Elevation(j), c, r) {
					saddles++
				}
			}
		}
	}
	count := func(lines []Line) (n, closed int) {
		for _, line := range lines {
			n++
			if line.Closed {
				closed++
			}
		}
		return n, closed
	}
	n, closed := count(ours)
	m, theirClosed := count(theirs)
	t.Logf("lines %d and %d, closed %d and %d, saddles on a level %d", n, m, closed, theirClosed, saddles)
	if len(nearVoid) == 0 {
		// Our lines with every saddle parted as theirs are: the same number.
		k, joinedClosed := joinedAsTheirs(g, ours, theirs)
		assert.Equal(t, m, k, "lines")
		assert.Equal(t, theirClosed, joinedClosed, "closed lines")
		// Parting a saddle the other way adds or takes away one at most.
		assert.InDelta(t, m, n, float64(saddles), "lines")
		assert.InDelta(t, theirClosed, closed, float64(saddles), "closed lines")
	}

	// Every piece of line in a cell that is no saddle has its twin.
	const twin = 0.01 // cell
	type place struct{ number, column, row int }
	pieces := func(lines []Line) map[place][][2]Position {
		out := map[place][][2]Position{}
		for _, line := range lines {
			for i := 1; i < len(line.Points); i++ {
				a, b := line.Points[i-1], line.Points[i]
				c, r := (a.Column+b.Column)/2, (a.Row+b.Row)/2
				k := place{line.Number, int(math.Floor(c)), int(math.Floor(r))}
				if c < 0 || r < 0 || c > float64(g.Columns-1) || r > float64(g.Rows-1) ||
					nearVoid[[2]int{k.column, k.row}] || isSaddle(g, line.Level, k.column, k.row) {
					continue
				}
				out[k] = append(out[k], [2]Position{a, b})
			}
		}
		return out
	}
	a, b := pieces(ours), pieces(theirs)
	worst := 0.0
	compared := 0
	for k, p := range a {
		q := b[k]
		require.Len(t, p, 1)
		require.Len(t, q, 1, "their line at %v", k)
		// They may run the other way.
		d := min(max(apart(p[0][0], q[0][0]), apart(p[0][1], q[0][1])), max(apart(p[0][0], q[0][1]), apart(p[0][1], q[0][0])))
		worst = max(worst, d)
		compared++
	}
	assert.Len(t, b, len(a))
	assert.Less(t, worst, twin)
	t.Logf("%d pieces compared, farthest apart %.2g cell", compared, worst)
}

// apart is the distance between positions, in cells.
func apart(p, q Position) float64 { return math.Hypot(p.Column-q.Column, p.Row-q.Row) }

// joinedAsTheirs counts the lines that our pieces make, with the pieces in
// saddle cells taken from theirs.
func joinedAsTheirs(g *dem.Grid, ours, theirs []Line) (n, closed int) {
	type crossing struct {
		number, column, row int
		alongRow            bool
	}
	const near = 1e-4 // cell; their points on an edge may be off it by rounding
	at := func(number int, p Position) crossing {
		if r := math.Round(p.Row); math.Abs(p.Row-r) < near {
			return crossing{number, int(math.Floor(p.Column)), int(r), true}
		}
		return crossing{number, int(math.Round(p.Column)), int(math.Floor(p.Row)), false}
	}
	parent, degree := map[crossing]crossing{}, map[crossing]int{}
	var find func(c crossing) crossing
	find = func(c crossing) crossing {
		p, ok := parent[c]
		if !ok {
			parent[c] = c
			return c
		}
		if p != c {
			p = find(p)
			parent[c] = p
		}
		return p
	}
	add := func(lines []Line, saddles bool) {
		for _, line := range lines {
			for i := 1; i < len(line.Points); i++ {
				a, b := line.Points[i-1], line.Points[i]
				c, r := (a.Column+b.Column)/2, (a.Row+b.Row)/2
				if c < 0 || r < 0 || c > float64(g.Columns-1) || r > float64(g.Rows-1) ||
					isSaddle(g, line.Level, int(c), int(r)) != saddles {
					continue
				}
				p, q := at(line.Number, a), at(line.Number, b)
				degree[p]++
				degree[q]++
				parent[find(p)] = find(q)
			}
		}
	}
	add(ours, false)
	add(theirs, true)
	loose := map[crossing]bool{}
	roots := map[crossing]bool{}
	for c, d := range degree {
		roots[find(c)] = true
		if d == 1 {
			loose[find(c)] = true
		}
	}
	return len(roots), len(roots) - len(loose)
}
