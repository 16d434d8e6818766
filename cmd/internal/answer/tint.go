package answer

import (
	"context"
	"math"
	"math/rand/v2"

	"crowline/dem"
	"crowline/visibility"
)

// TintRequest asks for ground seen from a place as a picture on the chart.
type TintRequest struct {
	From     Place
	Sighting Sighting
	// Radius bounds it, metres; 0 is all the data.
	Radius float64
	// HowSure asks also which of it the data's error leaves open, where that is
	// known.
	HowSure bool
}

// Check refuses what makes no sense.
func (r TintRequest) Check() error {
	return ViewshedRequest{From: []Place{r.From}, Sighting: r.Sighting, Radius: r.Radius}.Check()
}

// Cells of a tint.
const (
	TintUnlooked byte = iota // not looked at
	TintSeen
	TintHidden
	TintUnknown     // not known: data is missing
	TintWithinError // seen in some draws of the data's error and not in others
)

// Tint is ground seen as a picture on the chart.
type Tint struct {
	Columns, Rows int
	// West and North are the picture's edges on the plane, Cell the side of a cell,
	// metres.
	West, North, Cell float64
	// Cells from the north west, row by row.
	Cells []byte
	// HowSure: cells within the error are told.
	HowSure bool
	// Seen and Within are shares of the ground looked at that is known, from 0 to 1.
	Seen, Within float64
	From         Spot
}

// Tint answers a TintRequest: each cell has the verdict of the post nearest to its
// middle, as Viewshed gives it.
func (c *Chart) Tint(ctx context.Context, r TintRequest) (*Tint, error) {
	g := c.ground
	observers, err := r.Sighting.allStanding(g.posts(ctx), []Place{r.From})
	if err != nil {
		return nil, err
	}
	grid, err := g.reach(ctx, placesOf(observers), r.Radius, viewshedPostBytes+viewPostBytes)
	if err != nil {
		return nil, err
	}
	own, err := dem.ElevationAt(grid, r.From.LatLon)
	if err != nil {
		return nil, err
	}
	options := visibility.ViewshedOptions{Conditions: r.Sighting.conditions(), Radius: r.Radius}
	v, err := visibility.Viewshed(ctx, grid, observers[0], options)
	if err != nil {
		return nil, err
	}
	verdicts := make([]byte, len(v.Verdicts))
	for i, verdict := range v.Codes() {
		verdicts[i] = verdict
	}
	t := &Tint{From: spot(r.From, own)}
	if r.HowSure && g.verticalError > 0 {
		t.HowSure = true
		if err := withinError(ctx, grid, v, g.verticalError, verdicts); err != nil {
			return nil, err
		}
	}
	counts := [TintWithinError + 1]float64{}
	for _, code := range verdicts {
		counts[code]++
	}
	if known := counts[TintSeen] + counts[TintHidden] + counts[TintWithinError]; known > 0 {
		t.Seen, t.Within = counts[TintSeen]/known, counts[TintWithinError]/known
	}
	return t, c.lay(ctx, t, &v.Frame, verdicts)
}

// tintDraws is how many draws of the data's error tell how sure a tint is: what is
// seen in all of them, or in none, is so 19 times in 20 or more, by and large.
const tintDraws = 16

// withinError marks posts of a view that are seen in some draws of the data's error
// and not in others. An error fades along the ground as in visibility.HowSure: by
// exp(-d/L) along columns and along rows, L DefaultCorrelationPosts.
func withinError(ctx context.Context, grid *dem.Grid, v *visibility.Viewed, sigma float64, verdicts []byte) error {
	seen := make([]uint8, len(verdicts))
	asked := make([]uint8, len(verdicts))
	drawn := *grid
	drawn.Elevations = make([]float32, len(grid.Elevations))
	noise := make([]float32, len(grid.Elevations))
	keep := math.Exp(-1 / visibility.DefaultCorrelationPosts)
	fresh := math.Sqrt(1 - keep*keep)
	for draw := range tintDraws {
		source := rand.New(rand.NewPCG(1, uint64(draw))) // the same picture every time
		for row := range grid.Rows {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			line := noise[row*grid.Columns : (row+1)*grid.Columns]
			last := source.NormFloat64()
			for i := range line {
				line[i] = float32(last)
				last = keep*last + fresh*source.NormFloat64()
			}
			if row == 0 {
				continue
			}
			above := noise[(row-1)*grid.Columns : row*grid.Columns]
			for i := range line {
				line[i] = float32(keep)*above[i] + float32(fresh)*line[i]
			}
		}
		for i, h := range grid.Elevations {
			drawn.Elevations[i] = h + float32(sigma)*noise[i]
		}
		again, err := visibility.Viewshed(ctx, &drawn, v.Observer, v.Options)
		if err != nil {
			return err
		}
		for i, verdict := range again.Verdicts {
			switch verdict {
			case visibility.Visible:
				seen[i]++
				asked[i]++
			case visibility.Hidden:
				asked[i]++
			}
		}
	}
	for i, code := range verdicts {
		if (code == TintSeen || code == TintHidden) && seen[i] > 0 && seen[i] < asked[i] {
			verdicts[i] = TintWithinError
		}
	}
	return nil
}

const (
	// mostTinted is how many cells a tint has at most: more than a screen shows.
	mostTinted = 4e6
	// tintNodes is how many cells apart places are brought to the plane exactly;
	// between them a straight line is less than a metre off for posts of 30 m.
	tintNodes = 16
)

// lay brings verdicts of posts to the plane.
func (c *Chart) lay(ctx context.Context, t *Tint, f *dem.Frame, verdicts []byte) error {
	// the box round the posts on the plane
	west, south, east, north := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	const pieces = 16
	for i := range pieces + 1 {
		a := float64(i) / pieces
		w, h := float64(f.Columns-1), float64(f.Rows-1)
		for _, q := range [][2]float64{{a * w, 0}, {a * w, h}, {0, a * h}, {w, a * h}} {
			at, err := f.Place(q[0], q[1])
			if err != nil {
				return err
			}
			x, y, err := c.XY(at)
			if err != nil {
				return err
			}
			west, east, south, north = min(west, x), max(east, x), min(south, y), max(north, y)
		}
	}
	alongRow, alongColumn, err := f.Spacing(float64(f.Columns-1)/2, float64(f.Rows-1)/2)
	if err != nil {
		return err
	}
	cell := max(min(alongRow, alongColumn), math.Sqrt((east-west)*(north-south)/mostTinted))
	t.Cell, t.West, t.North = cell, west-cell/2, north+cell/2
	t.Columns, t.Rows = int(math.Ceil((east-west)/cell))+1, int(math.Ceil((north-south)/cell))+1
	nx, ny := (t.Columns-1)/tintNodes+2, (t.Rows-1)/tintNodes+2
	x, y := make([]float64, 0, nx*ny), make([]float64, 0, nx*ny)
	for j := range ny {
		for i := range nx {
			x, y = append(x, t.West+(float64(i*tintNodes)+0.5)*cell), append(y, t.North-(float64(j*tintNodes)+0.5)*cell)
		}
	}
	if err := c.Unproject(x, y); err != nil {
		return err
	}
	if err := f.LocateAll(x, y); err != nil {
		return err
	}
	t.Cells = make([]byte, t.Columns*t.Rows)
	for row := range t.Rows {
		if err := ctx.Err(); err != nil {
			return err
		}
		j, v := row/tintNodes, float64(row%tintNodes)/tintNodes
		for column := range t.Columns {
			i, u := column/tintNodes, float64(column%tintNodes)/tintNodes
			k := j*nx + i
			mix := func(a []float64) float64 {
				return (a[k]*(1-u)+a[k+1]*u)*(1-v) + (a[k+nx]*(1-u)+a[k+nx+1]*u)*v
			}
			post, line := int(math.Round(mix(x))), int(math.Round(mix(y)))
			if uint(post) < uint(f.Columns) && uint(line) < uint(f.Rows) {
				t.Cells[row*t.Columns+column] = verdicts[line*f.Columns+post]
			}
		}
	}
	return nil
}
