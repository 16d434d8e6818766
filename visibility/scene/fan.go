package scene

import (
	"context"
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/workers"
	"crowline/visibility"
)

// crest is a place on one bearing where ground in sight ends: beyond it is
// hidden ground or the sky.
type crest struct {
	slope     float64 // tangent of its elevation angle
	distance  float64 // metres
	elevation float64 // metres
	at        dem.Crossing
	// behind is where ground comes into sight again over it, metres from the
	// observer; +Inf for the sky, NaN where what lies behind is not known.
	behind float64
	link   int // the crest of the next bearing that goes on from it, -1 for none
	linked bool
}

// sky reports whether nothing stands behind.
func (c *crest) sky() bool { return math.IsInf(c.behind, 1) }

// parted reports whether it stands clear of what is behind: ground at least so
// much farther off, or the sky.
func (c *crest) parted(ratio float64) bool { return c.behind >= ratio*c.distance }

// face is a stretch of steep ground in sight on one bearing.
type face struct {
	low, high float64 // slopes (tangents) of its lower and upper edge
	near, far float64 // metres
	foot, top float64 // elevations, metres
}

// level is a stretch of ground in sight on one bearing that is as level as
// water.
type level struct {
	elevation float64
	near, far float64
	column    int // of a post on it
	row       int
}

// ray is what is seen on one bearing.
type ray struct {
	sin, cos float64
	crests   []crest // near to far; the last is the skyline where known
	faces    []face
	levels   []level
	// known is how far ground is known, metres: +Inf where no void has data
	// behind it. What lies beyond is not told: a void may hide it.
	known float64
}

// skyline is the last crest, nil where no ground is known or what is not known
// may stand higher.
func (r *ray) skyline() *crest {
	if len(r.crests) == 0 || !math.IsInf(r.known, 1) {
		return nil
	}
	return &r.crests[len(r.crests)-1]
}

// leastGap is how much farther off, as a share of its distance, the ground
// behind a crest must be for the crest to be kept: less is a ripple of the
// slope.
const leastGap = 0.15

// leastRun is how far apart two crossings must be, as a share of a post's
// spacing, for the slope between them to be told: over a hair it is rounding.
const leastRun = 0.05

// fan looks along every bearing asked for. The others stay as bearings on which
// nothing is known.
func (v *View) fan(ctx context.Context, o Options) error {
	v.rays = make([]ray, v.count)
	done := workers.Counter(int64(v.count), o.Progress)
	return workers.Each(ctx, v.count, o.Concurrency, func(_, i int) error {
		if v.looksAlong(v.bearing(i)) {
			v.rays[i] = v.walk(geodesy.Degrees(float64(i) * v.Step))
		}
		done(1)
		return nil
	})
}

// walk looks along one bearing.
func (v *View) walk(bearing geodesy.Degrees) ray {
	var r ray
	r.sin, r.cos = bearing.SinCos()
	r.known = math.Inf(1)
	perSquare := v.perSquare(r.sin, r.cos)
	steep, hair := v.options.CliffGradient, leastRun*v.Spacing
	last := crest{slope: math.Inf(-1)}
	hidden, void := false, math.NaN()
	above, rises := v.summit-v.EyeElevation, 0.0
	switch { // from rises on, ground as high as summit looks lower the farther off it is
	case !(perSquare >= 0):
		rises = math.Inf(1)
	case above < 0:
		rises = math.Sqrt(-above / perSquare)
	}
	lastD, lastH, lastSeen := math.NaN(), math.NaN(), false
	var f *face
	var flat *level
	v.placement.Walk(v.reach*r.sin, v.reach*r.cos, func(x dem.Crossing) bool {
		h := x.Elevation(v.grid)
		d := x.Distance
		if math.IsNaN(h) {
			if math.IsNaN(void) && !v.ground.rim.Ends(v.grid, x) {
				void = d
			}
			lastD, f, flat = math.NaN(), nil, nil
			return true
		}
		if !math.IsNaN(void) { // data behind it: it is not the end of the file
			r.known = void
			return false
		}
		u := (h - v.EyeElevation - perSquare*d*d) / d
		seen := u > last.slope
		if seen {
			if hidden && d-last.distance >= leastGap*last.distance {
				last.behind = d
				r.crests = append(r.crests, last)
			}
			last = crest{slope: u, distance: d, elevation: h, at: x, link: -1}
		}
		hidden = !seen
		// where the highest post of the data would be hidden, all beyond is
		if hidden && d >= rises && above-perSquare*d*d < last.slope*d {
			return false
		}
		// steep ground and water are told of stretches both of whose ends are
		// in sight
		if run := d - lastD; run > hair {
			if rise := h - lastH; !seen || rise < steep*run {
				f = nil
			} else if lastSeen && d >= v.nearest {
				if f == nil {
					r.faces = append(r.faces, face{low: (lastH - v.EyeElevation - perSquare*lastD*lastD) / lastD, near: lastD, foot: lastH})
					f = &r.faces[len(r.faces)-1]
				}
				f.high, f.far, f.top = u, d, h
			}
			switch {
			case h != lastH || !seen:
				flat = nil
			case flat == nil:
				r.levels = append(r.levels, level{elevation: h, near: lastD, far: d, column: x.Column, row: x.Row})
				flat = &r.levels[len(r.levels)-1]
			default:
				flat.far = d
			}
		}
		if !(d-lastD <= hair) {
			lastD, lastH, lastSeen = d, h, seen
		}
		return true
	})
	if !math.IsInf(last.slope, -1) {
		last.behind = math.Inf(1)
		if !math.IsInf(r.known, 1) {
			last.behind = math.NaN()
		}
		r.crests = append(r.crests, last)
	}
	return r
}

// perSquare is how far the ground on a bearing drops away, metres over a square
// metre of distance.
func (v *View) perSquare(sin, cos float64) float64 {
	return v.placement.Plane.CurvatureDrop(sin*1000, cos*1000, v.options.Refraction) / 1e6
}

// slopeOf is the tangent of the elevation angle of ground at a place of the
// plane, and whether it is in sight.
func (v *View) slopeOf(east, north, elevation float64) (slope float64, seen bool) {
	d := math.Hypot(east, north)
	perSquare := v.perSquare(east/d, north/d)
	slope = (elevation - v.EyeElevation - perSquare*d*d) / d
	seen = true
	v.placement.Walk(east, north, func(x dem.Crossing) bool {
		h := x.Elevation(v.grid)
		seen = (h-v.EyeElevation-perSquare*x.Distance*x.Distance)/x.Distance <= slope+visibility.GrazingSlope // false for a void
		return seen
	})
	return slope, seen
}
