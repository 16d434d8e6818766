package visibility

import (
	"context"
	"math"
	"slices"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
)

// SummitsOn finds the summits of a grid that stand on the horizon, as Peak has it,
// no nearer than nearest metres and no farther than radius (zero for no bound): of
// those that landform.Summits lists, in the same order. What landform.SummitsIn
// leaves out of a Summit is left out here. refraction is what the horizon, which
// goes all round, was found with on this grid.
//
// Prominence is worked out for those tops alone, and whole blocks of posts that
// cannot rise to the line are passed over: the cost is some 2 ns a post.
func (h *Horizon) SummitsOn(ctx context.Context, g *dem.Grid, minProminence, refraction, nearest, radius float64) ([]landform.Summit, error) {
	b, err := newBlocks(ctx, g, g.Whole(), 0)
	if err != nil {
		return nil, err
	}
	s := skylineSearch{horizon: h, riser: riser{plane: geodesy.NewPlane(h.Observer.Place), refraction: refraction, eye: h.EyeElevation, least: h.leastSlope}, nearest: nearest, radius: radius}
	if s.placement, err = dem.NewPlacement(&g.Frame, s.plane, g.Whole()); err != nil {
		return nil, err
	}
	s.column, s.row = s.placement.Origin()
	rows := make([][]landform.Span, b.down)
	err = parallel(ctx, b.down, 0, func(_, j int) {
		for i := range b.across {
			c0, r0 := i*blockCells, j*blockCells
			c1, r1 := min(c0+blockCells, g.Columns), min(r0+blockCells, g.Rows)
			if i == b.across-1 {
				c1 = g.Columns
			}
			if j == b.down-1 {
				r1 = g.Rows
			}
			may, near, _ := s.mayRise(c0, r0, c1-1, r1-1, float64(b.tops[j*b.across+i]))
			if !may || s.radius > 0 && near > s.radius {
				continue
			}
			for r := r0; r < r1; r++ {
				for c := c0; c < c1; c++ {
					if isTop(g, c, r) && s.rises(g, c, r) {
						rows[j] = append(rows[j], landform.Span{Row: r, First: c, Last: c})
					}
				}
			}
		}
	})
	if err != nil {
		return nil, err
	}
	return landform.SummitsIn(ctx, g, g.Whole(), slices.Concat(rows...), minProminence)
}

type skylineSearch struct {
	riser
	horizon *Horizon
	nearest float64
	radius  float64
}

// riser tells which blocks of posts may rise over a line round an observer.
type riser struct {
	plane       geodesy.Plane
	placement   *dem.Placement
	column, row float64 // the observer's
	refraction  float64
	eye         float64 // elevation, metres
	// least is no more than the slope of the line anywhere within a turn of a
	// bearing, degrees.
	least func(bearing geodesy.TrueBearing, turn geodesy.Degrees) float64
}

// rises reports whether a post stands on the horizon.
func (s *skylineSearch) rises(g *dem.Grid, c, r int) bool {
	place, err := g.Place(float64(c), float64(r))
	if err != nil {
		return true // who asks for its place is told
	}
	peak, ok := s.horizon.Peak(place, float64(g.Elevations[r*g.Columns+c]), s.refraction, s.nearest)
	return ok && !(s.radius > 0 && peak.Distance > s.radius)
}

// slackSlope is over what the bounds of mayRise leave out of account: that the drop
// is another with the bearing, and that rows bow.
const slackSlope = 1e-4

// mayRise reports whether a block of posts none of which is higher than top may
// have one on the line or over it, and between which distances they all stand,
// metres.
func (s *riser) mayRise(c0, r0, c1, r1 int, top float64) (may bool, near, far float64) {
	east, north := s.placement.At(float64(c0+c1)/2, float64(r0+r1)/2)
	d := math.Hypot(east, north)
	half, turn := 0.0, 0.0
	for _, q := range [4][2]int{{c0 - 1, r0 - 1}, {c1 + 1, r0 - 1}, {c0 - 1, r1 + 1}, {c1 + 1, r1 + 1}} {
		e, n := s.placement.At(float64(q[0]), float64(q[1]))
		half = max(half, math.Hypot(e-east, n-north))
		turn = max(turn, math.Abs(math.Atan2(e*north-n*east, e*east+n*north)))
	}
	near, far = d-1.01*half, d+1.01*half
	if near <= half { // round the observer bearings are all sorts
		return true, max(near, 0), far
	}
	over, drop := top-s.eye, s.plane.CurvatureDrop(east, north, s.refraction)/d
	slope := over / near
	if over < 0 {
		slope = over / far
	}
	slope -= min(drop*near/d, drop*far/d)
	least := s.least(geodesy.NewTrueBearing(90-geodesy.Atan2(north, east)), geodesy.Degrees(turn*180/math.Pi))
	return slope >= least-slackSlope, near, far
}

// leastSlope is riser.least of what Peak takes for on the horizon.
func (h *Horizon) leastSlope(bearing geodesy.TrueBearing, turn geodesy.Degrees) float64 {
	return math.Tan(float64(h.lowestNear(bearing, turn)-skylineWithin) * math.Pi / 180)
}

// lowestNear is no higher than the horizon is anywhere within a turn of a bearing
// where it is known; +Inf where it is known nowhere there.
func (h *Horizon) lowestNear(bearing geodesy.TrueBearing, turn geodesy.Degrees) geodesy.Degrees {
	n := len(h.Points)
	step := 360 / float64(n)
	from, to := int(math.Floor(float64(bearing-geodesy.TrueBearing(turn))/step)), int(math.Ceil(float64(bearing+geodesy.TrueBearing(turn))/step))
	least := geodesy.Degrees(math.Inf(1))
	for i := from - 1; i <= to+1; i++ {
		if a := h.Points[(i%n+n)%n].Angle; a < least { // never true of a NaN
			least = a
		}
	}
	return least
}
