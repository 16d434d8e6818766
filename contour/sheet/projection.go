package sheet

import (
	"fmt"
	"math"

	"crowline/contour/page"
	"crowline/dem"
	"crowline/dem/geodesy"
)

// projection puts places on paper, millimetres right of and below the sheet's
// centre.
//
// On the grid, paper is the UTM grid divided by the zone's point scale factor
// at the centre, so that ground distances there are at the stated scale
// exactly and grid lines are a few hundredths of a percent further apart or
// closer. With true north up it is the azimuthal equidistant plane of the
// centre. Ten kilometres from the centre the scale of either departs from the
// stated one by less than 0.01 %.
type projection struct {
	centre geodesy.LatLon
	north  North
	mm     float64 // millimetres of paper to the metre of ground

	utm         *geodesy.CRS // nil near the poles, where there is no UTM grid
	zone        int
	south       bool
	e0, n0      float64 // the centre on the grid
	pointScale  float64 // of the grid at the centre
	convergence geodesy.Convergence

	plane geodesy.Plane
	// shift is where the middle of what is drawn stands on the plane, millimetres
	// right of and below the plane's centre: nought but for a tile.
	shift page.Point
}

func newProjection(centre geodesy.LatLon, north North, scale float64) (*projection, error) {
	p := &projection{centre: centre, north: north, mm: 1000 / scale, plane: geodesy.NewPlane(centre)}
	if centre.Lat < -80 || centre.Lat > 84 {
		if north == GridNorth {
			return nil, fmt.Errorf("sheet: %v lies outside the UTM grid (80°S to 84°N): draw it with true north up", centre)
		}
		return p, nil
	}
	p.zone, p.south = geodesy.UTMZone(centre), centre.Lat < 0
	var err error
	if p.utm, err = utmGrid(p.zone, p.south); err != nil {
		return nil, err
	}
	g, err := geodesy.GridInZone(centre, p.zone)
	if err != nil {
		return nil, fmt.Errorf("sheet: %w", err)
	}
	p.e0, p.n0, p.pointScale, p.convergence = g.UTM.Easting, g.UTM.Northing, g.Scale, g.Convergence
	return p, nil
}

// utmGrid is the grid of a UTM zone on WGS 84.
func utmGrid(zone int, south bool) (*geodesy.CRS, error) {
	code := 32600 + zone // EPSG's numbers of them
	if south {
		code += 100
	}
	grid, err := geodesy.NewCRS(fmt.Sprintf("EPSG:%d", code))
	if err != nil {
		return nil, fmt.Errorf("sheet: UTM zone %d: %w", zone, err)
	}
	return grid, nil
}

// gridName is how the margin calls the grid.
func (p *projection) gridName() string {
	half := "N"
	if p.south {
		half = "S"
	}
	return fmt.Sprintf("UTM zone %d%s", p.zone, half)
}

// trueNorth, gridNorth and magneticNorth are directions on paper at the
// centre, degrees clockwise from the top of the page.
func (p *projection) trueNorth() float64 {
	if p.north == TrueNorth {
		return 0
	}
	return -float64(p.convergence)
}

func (p *projection) gridNorth() float64 { return p.trueNorth() + float64(p.convergence) }

func (p *projection) magneticNorth(d *Declination) float64 { return p.trueNorth() + float64(d.East) }

// forward replaces longitude x[i] and latitude y[i] by positions on paper
// about the centre.
func (p *projection) forward(x, y []float64) error {
	if p.north == TrueNorth {
		p.plane.ForwardAll(x, y)
		for i := range x {
			x[i], y[i] = x[i]*p.mm-p.shift.X, -y[i]*p.mm-p.shift.Y
		}
		return nil
	}
	if err := p.utm.FromWGS84(x, y); err != nil {
		return fmt.Errorf("sheet: %s: %w", p.gridName(), err)
	}
	for i := range x {
		q := p.fromGrid(x[i], y[i])
		x[i], y[i] = q.X, q.Y
	}
	return nil
}

func (p *projection) fromGrid(e, n float64) page.Point {
	k := p.mm / p.pointScale
	return page.At((e-p.e0)*k, -(n-p.n0)*k)
}

func (p *projection) place(q geodesy.LatLon) (page.Point, error) {
	x, y := []float64{float64(q.Lon)}, []float64{float64(q.Lat)}
	err := p.forward(x, y)
	return page.At(x[0], y[0]), err
}

// inverse is the place at a position on paper about the centre.
func (p *projection) inverse(q page.Point) (geodesy.LatLon, error) {
	if p.north == TrueNorth {
		return p.plane.Inverse((q.X+p.shift.X)/p.mm, -(q.Y+p.shift.Y)/p.mm), nil
	}
	k := p.mm / p.pointScale
	return p.utm.Place(p.e0+q.X/k, p.n0-q.Y/k)
}

// toGrid is the UTM coordinates at a position on paper about the centre.
func (p *projection) toGrid(q page.Point) (e, n float64, err error) {
	if p.north == GridNorth {
		k := p.mm / p.pointScale
		return p.e0 + q.X/k, p.n0 - q.Y/k, nil
	}
	at, err := p.inverse(q)
	if err != nil {
		return 0, 0, err
	}
	return p.utm.Coordinates(at)
}

// lattice is a map from paper to columns and rows of a frame, exact at knots a
// centimetre apart and bilinear between. At 1:25 000 a centimetre is 250 m,
// over which UTM and longitude-latitude bend apart by under 5 mm; at 1:250 000
// under half a metre.
type lattice struct {
	area        page.Rect // about the centre
	step        float64
	nx, ny      int
	column, row []float64
	known       []bool
}

const latticeStep = 10 // mm

func newLattice(p *projection, f *dem.Frame, area page.Rect) *lattice {
	l := &lattice{area: area, step: latticeStep,
		nx: int(math.Ceil(area.Width/latticeStep)) + 1, ny: int(math.Ceil(area.Height/latticeStep)) + 1}
	n := l.nx * l.ny
	l.column, l.row, l.known = make([]float64, n), make([]float64, n), make([]bool, n)
	for j := range l.ny {
		for i := range l.nx {
			at, err := p.inverse(page.At(area.X+float64(i)*l.step, area.Y+float64(j)*l.step))
			if err != nil {
				continue // stays unknown: no ground is drawn there
			}
			k := j*l.nx + i
			if l.column[k], l.row[k], err = f.Locate(at); err == nil {
				l.known[k] = true
			}
		}
	}
	return l
}

// at is the column and row at a position about the centre; false where the
// frame's coordinate system does not reach.
func (l *lattice) at(q page.Point) (column, row float64, ok bool) {
	u, v := (q.X-l.area.X)/l.step, (q.Y-l.area.Y)/l.step
	i, j := min(max(int(u), 0), l.nx-2), min(max(int(v), 0), l.ny-2)
	u, v = u-float64(i), v-float64(j)
	k := j*l.nx + i
	if !l.known[k] || !l.known[k+1] || !l.known[k+l.nx] || !l.known[k+l.nx+1] {
		return 0, 0, false
	}
	mix := func(a []float64) float64 {
		return (a[k]*(1-u)+a[k+1]*u)*(1-v) + (a[k+l.nx]*(1-u)+a[k+l.nx+1]*u)*v
	}
	return mix(l.column), mix(l.row), true
}

// window is the block of the frame's posts under the area, with a rim of two;
// empty when none is.
func (l *lattice) window(f *dem.Frame) dem.Window {
	lo, hi := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
	for k, ok := range l.known {
		if ok {
			lo[0], hi[0] = math.Min(lo[0], l.column[k]), math.Max(hi[0], l.column[k])
			lo[1], hi[1] = math.Min(lo[1], l.row[k]), math.Max(hi[1], l.row[k])
		}
	}
	if lo[0] > hi[0] {
		return dem.Window{}
	}
	// Clamped first, so that a far-off area cannot overflow an int.
	clamp := func(v float64, n int) int { return int(math.Min(math.Max(v, -3), float64(n)+3)) }
	c0, r0 := clamp(math.Floor(lo[0])-2, f.Columns), clamp(math.Floor(lo[1])-2, f.Rows)
	c1, r1 := clamp(math.Ceil(hi[0])+2, f.Columns), clamp(math.Ceil(hi[1])+2, f.Rows)
	return dem.Window{Column: c0, Row: r0, Columns: c1 - c0 + 1, Rows: r1 - r0 + 1}.Intersect(f.Whole())
}
