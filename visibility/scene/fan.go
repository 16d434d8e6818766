package scene

import (
	"context"
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/workers"
)

// crest is a place on one bearing where ground in sight ends: beyond it is
// hidden ground or the sky.
type crest struct {
	slope     float64 // tangent of its elevation angle
	distance  float64 // metres
	elevation float64 // metres
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
	low, high         float64 // slopes (tangents) of its lower and upper edge
	near, far         float64 // metres
	foot, top         float64 // elevations, metres
	steepest          float64 // rise over run along the bearing
	onFilled, touched bool
}

// level is a stretch of ground in sight on one bearing that is as level as
// water.
type level struct {
	elevation float64
	near, far float64
	slope     float64 // at its far edge
	column    int     // of a post on it
	row       int
}

// ray is what is seen on one bearing.
type ray struct {
	sin, cos float64
	crests   []crest // near to far; the last is the skyline where known
	faces    []face
	levels   []level
	known    bool // ground is known as far as the data goes
}

// skyline is the last crest, nil where no ground is known or what is not known
// may stand higher.
func (r *ray) skyline() *crest {
	if len(r.crests) == 0 || !r.known {
		return nil
	}
	return &r.crests[len(r.crests)-1]
}

// leastGap is how much farther off, as a share of its distance, the ground
// behind a crest must be for the crest to be kept: less is a ripple of the
// slope.
const leastGap = 0.15

// fan looks along every bearing.
func (v *View) fan(ctx context.Context, g *dem.Grid, placement *dem.Placement, o Options) error {
	plane := placement.Plane
	lowering := 1 - o.Refraction
	v.rays = make([]ray, v.count)
	done := workers.Counter(int64(v.count), o.Progress)
	reach := o.reach(g, plane)
	spacing := v.Spacing
	steep := o.CliffGradient
	return workers.Each(ctx, v.count, o.Concurrency, func(_, i int) error {
		r := &v.rays[i]
		r.sin, r.cos = geodesy.Degrees(float64(i) * v.Step).SinCos()
		radius := plane.CurvatureDrop(r.sin*1000, r.cos*1000, 0)
		perSquare := radius * lowering / 1e6 // drop in metres over a square metre of distance
		highest, at, elevation := math.Inf(-1), 0.0, math.NaN()
		hidden, void, voidBehind := false, false, false
		lastD, lastH, lastSeen := math.NaN(), math.NaN(), false
		var f *face
		var flat *level
		r.known = true
		placement.Walk(reach*r.sin, reach*r.cos, func(x dem.Crossing) bool {
			h := x.Elevation(g)
			d := x.Distance
			if math.IsNaN(h) {
				void = true
				lastSeen, f, flat = false, nil, nil
				lastD, lastH = math.NaN(), math.NaN()
				return true
			}
			if void { // there is data behind it: it is not the end of the file
				voidBehind = true
			}
			u := (h - v.EyeElevation - perSquare*d*d) / d
			seen := u > highest
			if seen {
				if hidden && !math.IsInf(highest, -1) && d-at >= leastGap*at && at >= v.nearest {
					behind := d
					if voidBehind {
						behind = math.NaN()
					}
					r.crests = append(r.crests, crest{slope: highest, distance: at, elevation: elevation, behind: behind, link: -1})
				}
				highest, at, elevation, hidden = u, d, h, false
			} else {
				hidden = true
			}
			// steep ground and water are told of stretches both of whose ends
			// are in sight; a hair between two crossings tells nothing
			if run := d - lastD; run > 0.05*spacing {
				gradient := (h - lastH) / run
				if seen && lastSeen && gradient >= steep && d >= v.nearest {
					if f == nil {
						r.faces = append(r.faces, face{low: (lastH - v.EyeElevation - perSquare*lastD*lastD) / lastD, near: lastD, foot: lastH, steepest: gradient})
						f = &r.faces[len(r.faces)-1]
					}
					f.high, f.far, f.top, f.steepest = u, d, h, max(f.steepest, gradient)
				} else if !seen || gradient < steep {
					f = nil
				}
				switch {
				case h != lastH || !seen:
					flat = nil
				case flat == nil:
					r.levels = append(r.levels, level{elevation: h, near: lastD, far: d, slope: u, column: x.Column, row: x.Row})
					flat = &r.levels[len(r.levels)-1]
				default:
					flat.far, flat.slope = d, u
				}
				lastD, lastH, lastSeen = d, h, seen
			}
			return true
		})
		if !math.IsInf(highest, -1) {
			r.crests = append(r.crests, crest{slope: highest, distance: at, elevation: elevation, behind: math.Inf(1), link: -1})
		}
		r.known = !voidBehind && !math.IsInf(highest, -1)
		done(1)
		return nil
	})
}
