package visibility

import (
	"context"
	"fmt"
	"math"
	"slices"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// DefaultHorizonStep is a tenth of a degree: a fifth of what a hand compass
// reads to.
const DefaultHorizonStep geodesy.Degrees = 0.1

// minHorizonStep is about 2 m at 100 km; a finer one is a slip.
const minHorizonStep geodesy.Degrees = 0.001

// SkylineOptions are the options of Skyline.
type SkylineOptions struct {
	// Refraction is k = R/r; zero means none.
	Refraction float64
	// Radius bounds the ground looked at, metres. Zero means to the edge of
	// the data.
	Radius float64
	// Sector bounds the bearings. Nil means all round.
	Sector *Sector
	// Step is the angle between bearings, degrees, in [0.001, 90]. The first
	// bearing is true north.
	Step geodesy.Degrees
	// Concurrency and Progress are as in ViewshedOptions.
	Concurrency int
	Progress    func(done, total int64)
}

// DefaultSkylineOptions are k = 0.13 and a bearing every tenth of a degree.
func DefaultSkylineOptions() SkylineOptions {
	return SkylineOptions{Refraction: DefaultRefraction, Step: DefaultHorizonStep}
}

// Horizon is the skyline round an observer.
type Horizon struct {
	Observer Observer
	// GroundElevation and EyeElevation at the observer, metres above the
	// data's vertical datum.
	GroundElevation, EyeElevation float64
	// Points in order of bearing.
	Points []HorizonPoint
}

// HorizonPoint is the highest ground, as the eye sees it, on one bearing.
type HorizonPoint struct {
	Bearing geodesy.TrueBearing
	// Verdict is Visible where all the ground on the bearing is known, to the
	// radius or to where the data ends, if that is nearer: a void with no data
	// behind it, as at the rim of a tile that is cut aslant, is that end too.
	// Higher ground may stand beyond either. Else Unknown, and the rest
	// is of the ground that is known: what is not may stand higher.
	Verdict Verdict
	// Angle is the elevation angle with refraction, degrees above the level
	// of the eye. It and what follows are NaN where no ground is known.
	Angle geodesy.Degrees
	// Slope is the tangent of Angle.
	Slope float64
	// Distance to the ground that makes the skyline, metres; where several
	// places touch the same line to within rounding, that of any of them.
	Distance float64
	// Elevation of that ground, metres.
	Elevation float64
	// Cover is how much of Elevation is what stands on the ground, metres,
	// where the grid has a Bare; 0 for bare ground.
	Cover float64
	// Place of it.
	Place geodesy.LatLon
	// Filled: a post that was void and has been filled in has a part in it.
	Filled bool
}

// Skyline finds the horizon round an observer: on each bearing exactly the
// highest slope, from the eye, of all the edges of the ground that the line
// crosses, which is what walking every line finds. The model is Viewshed's.
//
// Cost: less than a viewshed of the same ground. ViewshedOptions.HorizonStep
// gets it from the same pass. The errors are Viewshed's.
func Skyline(ctx context.Context, g *dem.Grid, o Observer, opts SkylineOptions) (*Horizon, error) {
	v := ViewshedOptions{
		Conditions:  Conditions{Refraction: opts.Refraction},
		Radius:      opts.Radius,
		Sector:      opts.Sector,
		Concurrency: opts.Concurrency,
		Progress:    opts.Progress,
		HorizonStep: opts.Step,
	}
	if opts.Step == 0 {
		return nil, fmt.Errorf("a step of 0 degrees between bearings")
	}
	viewed, p, err := newProblem(ctx, g, o, v)
	if err != nil {
		return nil, err
	}
	h := newHorizon(viewed, p)
	if err := p.run(ctx, v, h.sample); err != nil {
		return nil, err
	}
	return h.horizon, nil
}

func validateStep(step geodesy.Degrees) error {
	if !(step >= minHorizonStep && step <= 90) {
		return fmt.Errorf("a step of %v degrees between bearings is not between %v and 90", float64(step), float64(minHorizonStep))
	}
	return nil
}

// sampler fills in a horizon, each job the bearings in its range.
type sampler struct {
	*problem
	horizon *Horizon
	rim     dem.Rim
}

func newHorizon(v *Viewed, p *problem) *sampler {
	p.clip = true
	h := &Horizon{Observer: v.Observer, GroundElevation: v.GroundElevation, EyeElevation: v.EyeElevation}
	step := float64(v.Options.HorizonStep)
	nan := math.NaN()
	for i := 0; float64(i)*step < 360-1e-9; i++ {
		bearing := geodesy.NewTrueBearing(geodesy.Degrees(float64(i) * step))
		sin, cos := geodesy.Degrees(bearing).SinCos()
		if p.sector != nil && !p.sector.contains(sin, cos) {
			continue
		}
		h.Points = append(h.Points, HorizonPoint{
			Bearing: bearing, Verdict: Unknown, Angle: geodesy.Degrees(nan), Slope: nan, Distance: nan, Elevation: nan,
			Place: geodesy.LatLon{Lat: geodesy.Degrees(nan), Lon: geodesy.Degrees(nan)},
		})
	}
	return &sampler{problem: p, horizon: h, rim: dem.NewRim(p.grid, slices.Contains(p.blocks.voids, true))}
}

// sample reads a finished job's envelope.
func (h *sampler) sample(s *sweeper) {
	for i := range h.horizon.Points {
		point := &h.horizon.Points[i]
		sin, cos := geodesy.Degrees(point.Bearing).SinCos()
		x, y := h.cells.fromMetres(sin, cos)
		major, minor := s.split(x, y)
		if major <= 0 || (math.Abs(y) <= math.Abs(x)) != s.columns {
			continue
		}
		t := minor / major
		if t < s.lo || t > s.hi || t == s.hi && s.hi < 1 {
			continue
		}
		if !s.envelope.inVoid(t) || !h.gap(sin, cos) {
			point.Verdict = Visible
		}
		top := s.envelope.top(t)
		if top == nil {
			point.Verdict = Unknown
			continue
		}
		h.measure(point, top.edge, sin, cos)
	}
}

// measure finds where the line on a bearing crosses an edge.
func (h *sampler) measure(point *HorizonPoint, edge int64, sin, cos float64) {
	c, r := int(edge/2)%h.grid.Columns, int(edge/2)/h.grid.Columns
	x := dem.Crossing{Column: c, Row: r, AlongRow: edge&1 == 0}
	qc, qr := x.Q()
	placement := h.cells.placement
	e0, n0 := placement.At(float64(c), float64(r))
	e1, n1 := placement.At(float64(qc), float64(qr))
	side0, side1 := e0*cos-n0*sin, e1*cos-n1*sin
	along0, along1 := e0*sin+n0*cos, e1*sin+n1*cos
	f := side0 / (side0 - side1)
	switch {
	case !(f > postShare):
		f = 0
	case f > 1-postShare:
		f = 1
	}
	x.Fraction = f
	point.Distance = along0 + f*(along1-along0)
	point.Elevation = x.Elevation(h.grid)
	if bare := h.grid.Bare; bare != nil {
		point.Cover = dem.Standing(point.Elevation, x.Elevation(bare))
	}
	point.Filled = x.IsFilled(h.grid)
	lowered := dem.Lerp(h.lowered(c, r), h.lowered(qc, qr), f)
	point.Slope = (lowered - h.eye) / point.Distance
	point.Angle = geodesy.Atan2(point.Slope, 1)
	point.Place = placement.Plane.Inverse(point.Distance*sin, point.Distance*cos)
}

// gap reports whether there is a void on a bearing with data behind it, within
// the radius.
func (h *sampler) gap(sin, cos float64) bool {
	reach := h.radius
	if math.IsInf(reach, 1) {
		reach = h.farthest()
	}
	void, gap := false, false
	h.cells.placement.Walk(reach*sin, reach*cos, func(x dem.Crossing) bool {
		known := !math.IsNaN(x.Elevation(h.grid))
		gap = void && known
		void = void || !known && !h.rim.Ends(h.grid, x)
		return !gap
	})
	return gap
}

// farthest is past the window's farthest corner, metres.
func (h *sampler) farthest() float64 {
	w := h.window
	far := 0.0
	for _, c := range [4][2]int{{0, 0}, {1, 0}, {0, 1}, {1, 1}} {
		e, n := h.cells.placement.Post(w.Column+c[0]*(w.Columns-1), w.Row+c[1]*(w.Rows-1))
		far = math.Max(far, math.Hypot(e, n))
	}
	return 1.05*far + 1000
}
