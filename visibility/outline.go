package visibility

import (
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
)

const (
	// OutlineWithin is how far to each side a mark's outline is followed.
	OutlineWithin geodesy.Degrees = 10
	// outlineStep is the finest step along it.
	outlineStep geodesy.Degrees = 0.05
	// tablePosts is the largest window whose posts are all placed at once.
	tablePosts = 1 << 20
)

// view looks from one eye along any bearing of a window of posts.
type view struct {
	posts     dem.Posts
	bare      dem.Posts // under what stands on posts; nil when nothing does
	placement *dem.Placement
	eye       float64 // elevation, metres
	lowering  float64 // 1 - k
	reach     float64 // how far ground is looked at, metres
	highest   float64 // no post of the window has an elevation over it, metres
	rim       dem.Rim
	grid      *dem.Grid // posts, where they are in memory
}

func newView(posts dem.Posts, place geodesy.LatLon, eye float64, opts LandmarkOptions) (*view, error) {
	f := posts.Layout()
	window := f.Whole()
	reach := math.Inf(1)
	if opts.LookTo > 0 {
		reach = max(opts.LookTo, opts.Radius)
		w, err := dem.WindowAround(f, []geodesy.LatLon{place}, reach)
		if err != nil {
			return nil, err
		}
		window = w
	}
	p, err := dem.NewPlacement(f, geodesy.NewPlane(place), window)
	if err != nil {
		return nil, err
	}
	v := &view{posts: posts, bare: posts.Under(), placement: p, eye: eye, lowering: 1 - opts.Refraction, reach: reach, highest: math.Inf(1)}
	if g, ok := posts.(*dem.Grid); ok { // in memory: to look at every post is cheap
		if window.Columns*window.Rows <= tablePosts {
			p.Tabulate()
		} else {
			p.TabulateRows()
		}
		var voids bool
		v.highest, voids = Highest(g, window, opts.Concurrency)
		v.rim, v.grid = dem.NewRim(g, voids), g
	}
	return v, nil
}

// ray visits the ground along a bearing, nearest first: where it is crossed,
// its elevation (NaN where void) and its slope from the eye, refraction and
// curvature in it. The drop is taken at the crossing, a fifth of a
// millimetre from what the ground model has at 90 m posts. It gives the
// distance reached: how far ground is looked at, or the edge of the data.
func (v *view) ray(bearing geodesy.Degrees, limit float64, visit func(c dem.Crossing, elevation, slope float64) bool) float64 {
	sin, cos := bearing.SinCos()
	curve := v.lowering * v.placement.Plane.CurvatureDrop(sin, cos, 0)
	length := min(limit, v.reach, 1e6)
	covered, _ := v.placement.Walk(length*sin, length*cos, func(c dem.Crossing) bool {
		h := c.Elevation(v.posts)
		return visit(c, h, (h-v.eye)/c.Distance-curve*c.Distance)
	})
	return covered
}

// measure fills in what stands behind a visible mark and how it stands out.
func (v *view) measure(m *Landmark) {
	slope := (m.Sight.TargetElevation-v.eye)/m.Distance - v.curve(m.Bearing)*m.Distance
	m.Backdrop, m.LookedTo = BackdropSky, m.Distance
	valley, lowest := m.Distance, m.Sight.TargetElevation
	lastAt, lastSlope, lastCover := m.Distance, slope, 0.0
	void, known := false, m.Distance
	v.ray(geodesy.Degrees(m.Bearing), math.Inf(1), func(c dem.Crossing, h, u float64) bool {
		d := c.Distance
		if d <= m.Distance+dem.NearLimit {
			return true
		}
		if math.IsNaN(h) {
			void, lastAt = void || !v.rim.Ends(v.grid, c), math.NaN()
			return true
		}
		known = d
		if void { // with data behind it; else it is the end of the data
			m.Backdrop = BackdropUnknown
		}
		cover := v.standing(c, h)
		switch {
		case u > slope+GrazingSlope:
			m.Backdrop, m.BehindAt, m.BehindCover = BackdropGround, d, cover
			if !math.IsNaN(lastAt) { // where the ground between cuts the line over the mark
				over := (u - slope) * d
				under := (slope - lastSlope) * lastAt
				share := under / (under + over)
				m.BehindAt = max(m.Distance, lastAt+(d-lastAt)*share)
				m.BehindCover = dem.Lerp(lastCover, cover, share)
			}
			return false
		}
		lastAt, lastSlope, lastCover = d, u, cover
		if h < lowest {
			valley, lowest = d, h
		}
		return true
	})
	m.LookedTo = known
	limit := math.Inf(1)
	if m.Backdrop == BackdropGround {
		if m.BehindAt-m.Distance < v.spacing(m)/2 {
			// no edge of the ground parts it from what is behind
			m.GoesOn, m.TooSmall = true, true
			return
		}
		limit = valley
	}
	v.outline(m, slope, limit)
}

// standing is how much of the elevation at a crossing is what stands on the
// ground.
func (v *view) standing(c dem.Crossing, elevation float64) float64 {
	if v.bare == nil {
		return 0
	}
	return dem.Standing(elevation, c.Elevation(v.bare))
}

func (v *view) curve(bearing geodesy.TrueBearing) float64 {
	sin, cos := geodesy.Degrees(bearing).SinCos()
	return v.lowering * v.placement.Plane.CurvatureDrop(sin, cos, 0)
}

// edge is the elevation angle of the outline at a bearing: of the highest
// ground no farther than limit; NaN where the ground is not known all the way
// to need.
func (v *view) edge(bearing geodesy.Degrees, need, limit float64) geodesy.Degrees {
	highest, settled, void := math.Inf(-1), false, false
	reached := v.ray(bearing, limit, func(c dem.Crossing, _, u float64) bool {
		if math.IsNaN(u) {
			void = c.Distance < need
			return !void
		}
		highest = max(highest, u)
		// ground still to come stands no higher than the highest post does
		// here, if it stands over the eye
		settled = v.lowering >= 0 && v.highest >= v.eye && (v.highest-v.eye)/c.Distance <= highest
		return !settled
	})
	if void || !settled && reached < need-dem.NearLimit {
		return geodesy.Degrees(math.NaN())
	}
	return geodesy.Atan2(highest, 1)
}

// outline measures a mark on its outline: a peak of a curve, its height that
// above the higher of the two cols beside it.
func (v *view) outline(m *Landmark, slope, limit float64) {
	top := geodesy.Atan2(slope, 1)
	step := min(OutlineWithin, max(outlineStep, geodesy.Atan2(v.spacing(m)/2, m.Distance)))
	var sides [2][]geodesy.Degrees // angles at step, 2 step, ... to each side
	col := geodesy.Degrees(math.Inf(-1))
	for side, sign := range [2]geodesy.Degrees{-1, 1} {
		lowest := top
		for turn := step; turn <= OutlineWithin; turn += step {
			a := v.edge(geodesy.Degrees(m.Bearing)+sign*turn, m.Distance, limit)
			if math.IsNaN(float64(a)) {
				break
			}
			sides[side] = append(sides[side], a)
			if a > top+EyeAcuity {
				break // higher ground, as far as the eye can tell
			}
			lowest = min(lowest, a)
		}
		col = max(col, lowest)
	}
	m.AngularHeight = top - col
	level := top - m.AngularHeight/2
	for _, side := range sides {
		before, turn := top, geodesy.Degrees(0)
		for _, a := range side {
			if a < level {
				turn += step * (before - level) / (before - a)
				break
			}
			before, turn = a, turn+step
			if a > top+EyeAcuity {
				break
			}
		}
		m.AngularWidth += turn
	}
	known := len(sides[0])+len(sides[1]) > 0
	m.TooSmall = known && (m.AngularHeight < EyeAcuity || m.AngularWidth < EyeAcuity)
}

// spacing is the post spacing at a mark, metres: the smaller of along a row
// and along a column.
func (v *view) spacing(m *Landmark) float64 {
	column, row, err := v.posts.Layout().Locate(m.Place)
	if err != nil {
		return 0
	}
	alongRow, alongColumn, err := v.posts.Layout().Spacing(column, row)
	if err != nil {
		return 0
	}
	return min(alongRow, alongColumn)
}
