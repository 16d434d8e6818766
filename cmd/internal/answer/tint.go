package answer

import (
	"context"
	"math"
	"slices"

	"crowline/dem"
	"crowline/visibility"
)

// TintRequest asks for ground seen from a place as a picture on the chart.
type TintRequest struct {
	From     Place
	Sighting Sighting
	// Cover stands on the ground that is looked over.
	Cover Cover
	// Radius bounds it, metres; 0 is all the data.
	Radius float64
	// HowSure asks also which of it the data's error leaves open, where that is
	// known.
	HowSure bool
}

// Check refuses what makes no sense.
func (r TintRequest) Check() error {
	return ViewshedRequest{From: []Place{r.From}, Sighting: r.Sighting, Cover: r.Cover, Radius: r.Radius}.Check()
}

// Cells of a tint.
const (
	TintUnlooked    = byte(visibility.StepOutOfRange) // not looked at
	TintSeen        = byte(visibility.StepClear)
	TintHidden      = byte(visibility.StepHidden)
	TintUnknown     = byte(visibility.StepUnknown) // not known: data is missing
	TintWithinError = byte(visibility.StepWithinError)
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
	// OverCover is the cover looked over, or nil.
	OverCover *CoverUsed
}

// Tint answers a TintRequest: each cell has the verdict of the post nearest to its
// middle, as Viewshed gives it.
func (c *Chart) Tint(ctx context.Context, r TintRequest) (*Tint, error) {
	g := c.ground
	over, err := r.Cover.open(ctx, g)
	if err != nil {
		return nil, err
	}
	if over != nil {
		defer over.close()
	}
	observers, err := r.Sighting.allStanding(g.posts(ctx), []Place{r.From})
	if err != nil {
		return nil, err
	}
	perPost := int64(viewshedPostBytes + viewPostBytes)
	if r.HowSure && g.verticalError > 0 {
		perPost += likelyPostBytes
	}
	grid, err := g.reach(ctx, placesOf(observers), r.Radius, r.Cover.memory(perPost))
	if err != nil {
		return nil, err
	}
	own, err := dem.ElevationAt(grid, r.From.LatLon)
	if err != nil {
		return nil, err
	}
	t := &Tint{From: spot(r.From, own)}
	if over != nil {
		var layer *dem.CoverLayer
		if layer, t.OverCover, err = over.lay(ctx, grid); err != nil {
			return nil, err
		}
		if grid, err = layer.Grid(ctx, over.clearing(observers[0].Place)); err != nil {
			return nil, err
		}
	}
	options := visibility.ViewshedOptions{Conditions: r.Sighting.conditions(), Radius: r.Radius}
	v, err := visibility.Viewshed(ctx, grid, observers[0], options)
	if err != nil {
		return nil, err
	}
	verdicts := slices.Clone(v.Codes())
	if r.HowSure {
		likely, err := g.likelyView(ctx, grid, v, 1)
		if err != nil {
			return nil, err
		}
		if likely != nil {
			t.HowSure = true
			for i, step := range likely.Steps {
				verdicts[i] = byte(step)
			}
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
