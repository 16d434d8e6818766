package scene

import (
	"math"
	"slices"

	"crowline/dem/geodesy"
)

// sameOutline is how far two crests of neighbouring bearings may differ in
// distance, as a share of it, and still be of one outline; beyond it the nearer
// ends. Four post spacings are allowed in any case.
const sameOutline = 0.12

// join links each crest to the one of the next bearing that goes on from it:
// that nearest to it in distance, where each is the other's nearest.
func (v *View) join() {
	for i := range v.rays {
		a, b := v.ray(i), v.ray(i+1)
		nearest := func(c *crest, of []crest) int {
			best, off := -1, math.Max(sameOutline*c.distance, 4*v.Spacing)
			for k := range of {
				if d := math.Abs(of[k].distance - c.distance); d <= off {
					best, off = k, d
				}
			}
			return best
		}
		for j := range a.crests {
			c := &a.crests[j]
			if k := nearest(c, b.crests); k >= 0 && nearest(&b.crests[k], a.crests) == j {
				c.link, b.crests[k].linked = k, true
			}
		}
	}
}

// sample is one bearing of an outline.
type sample struct {
	ray   int
	crest *crest
}

// outlines follow the links from each crest that none leads to. One that goes
// all round begins anywhere.
func (v *View) outlines() [][]sample {
	var out [][]sample
	follow := func(i, j int) []sample {
		var line []sample
		for n := 0; n < v.count && j >= 0; n++ {
			c := &v.ray(i).crests[j]
			line = append(line, sample{i, c})
			i, j = i+1, c.link
		}
		return line
	}
	for i := range v.rays {
		for j := range v.rays[i].crests {
			if !v.rays[i].crests[j].linked {
				out = append(out, follow(i, j))
			}
		}
	}
	for j := range v.rays[0].crests { // those that go all round
		if line := follow(0, j); len(line) == v.count && v.rays[0].crests[j].linked {
			out = append(out, line)
		}
	}
	return out
}

// extreme is a highest place of a row of angles, and how it stands out.
type extreme struct {
	at    int
	out   float64 // above the higher of the two lowest places beside it
	width float64 // in places, half of out down
}

// extremes finds every place of a row of angles that is higher than those
// beside it, or the middle of level ones, and what it stands out by: its height
// above the higher of the lowest places to its left and right that come before
// one that is higher still, or before the row ends. A place without an angle
// (NaN) ends the row as higher ground would. round is a row whose ends meet.
func extremes(angles []float64, round bool) []extreme {
	n := len(angles)
	at := func(i int) float64 {
		if round {
			return angles[(i%n+n)%n]
		}
		if i < 0 || i >= n {
			return math.NaN()
		}
		return angles[i]
	}
	inside := func(i int) bool { return round || i >= 0 && i < n }
	var out []extreme
	for i := 0; i < n; i++ {
		h := angles[i]
		if math.IsNaN(h) || at(i-1) > h || inside(i-1) && at(i-1) == h {
			continue // level places are told by their first, below
		}
		last := i
		for inside(last+1) && at(last+1) == h && last-i < n {
			last++
		}
		if at(last+1) > h {
			continue
		}
		lowest := func(from, step int) float64 {
			low := h
			for k, steps := from, 0; inside(k) && steps < n; k, steps = k+step, steps+1 {
				v := at(k)
				if math.IsNaN(v) || v > h {
					break
				}
				low = math.Min(low, v)
			}
			return low
		}
		stands := h - math.Max(lowest(i-1, -1), lowest(last+1, 1))
		if stands <= 0 {
			continue
		}
		half := h - stands/2
		reach := func(from, step int) float64 {
			for k, steps := from, 0; inside(k) && steps < n; k, steps = k+step, steps+1 {
				if v := at(k); !(v > half) {
					if math.IsNaN(v) {
						return math.Abs(float64(k - from))
					}
					before := at(k - step)
					return math.Abs(float64(k-step-from)) + (before-half)/(before-v)
				}
			}
			return float64(n)
		}
		out = append(out, extreme{at: (i + last) / 2 % n, out: stands, width: reach(last, 1) + reach(i, -1) + float64(last-i)})
	}
	return out
}

// skylineThings are the tops, notches and ridge ends of the skyline.
func (v *View) skylineThings() {
	angles, low := make([]float64, v.count), make([]float64, v.count)
	for i := range v.rays {
		angles[i] = math.NaN()
		if c := v.rays[i].skyline(); c != nil {
			angles[i] = float64(angle(c.slope))
		}
		low[i] = -angles[i]
	}
	for _, e := range extremes(angles, true) {
		c := v.rays[e.at].skyline()
		if c.distance >= v.nearest && geodesy.Degrees(e.out) >= v.out(c.distance) {
			v.add(Top, e.at, c, true, geodesy.Degrees(e.out), geodesy.Degrees(e.width*v.Step), 0)
		}
	}
	for _, e := range extremes(low, true) {
		c := v.rays[e.at].skyline()
		width := geodesy.Degrees(e.width * v.Step)
		if c.distance >= v.nearest && geodesy.Degrees(e.out) >= v.out(c.distance) && width < v.options.MostNotch {
			v.add(Notch, e.at, c, true, geodesy.Degrees(e.out), width, 0)
		}
	}
	v.ridgeEnds(angles)
}

// endWithin is how far apart, degrees, the two bearings of a jump in distance
// may be, and endKept how long, degrees, near and far ground must each be the
// skyline beside it.
const (
	endWithin = 0.2
	endKept   = 1.0
)

// ridgeEnds finds where the skyline jumps from nearer ground to much farther.
func (v *View) ridgeEnds(angles []float64) {
	reach := max(1, int(math.Round(endWithin/v.Step)))
	kept := int(math.Ceil(endKept / v.Step))
	for i := range v.count {
		a, b := v.rays[i].skyline(), v.ray(i+reach).skyline()
		if a == nil || b == nil {
			continue
		}
		near, far, at, side := a, b, i, -1 // the near ground is left of the jump
		step := -1
		if b.distance < a.distance {
			near, far, at, side, step = b, a, i+reach, 1, 1
		}
		if near.distance < v.nearest || far.distance < v.options.Jump*near.distance {
			continue
		}
		// the sharpest step of those within reach is the end
		if next := v.ray(i - 1).skyline(); next != nil && i > 0 {
			if other := v.ray(i - 1 + reach).skyline(); other != nil && ratio(next, other) > ratio(a, b) {
				continue
			}
		}
		if next, other := v.ray(i+1).skyline(), v.ray(i+1+reach).skyline(); next != nil && other != nil && ratio(next, other) >= ratio(a, b) && i+1 < v.count {
			continue
		}
		if !v.goesOn(at, step, near, kept) || !v.goesOn(at-step*reach, -step, far, kept) {
			continue
		}
		// what the error makes of where the two outlines cross
		slope := v.slope(angles, at, step) + v.slope(angles, at-step*reach, -step) // both taken away from the end
		if shift := float64(v.relative(near.distance)) / math.Max(math.Abs(slope), 1e-9); shift > float64(v.options.MostShift) {
			continue
		}
		fall := 0.0
		for k := range 5 * kept { // within five degrees
			c := v.ray(at + step*k).skyline()
			if c == nil || ratio(c, near) > v.options.Jump {
				break
			}
			fall = math.Max(fall, float64(angle(c.slope)-angle(near.slope)))
		}
		v.add(RidgeEnd, at, near, true, geodesy.Degrees(fall), 0, side)
		v.Things[len(v.Things)-1].Behind = far.distance
	}
}

func ratio(a, b *crest) float64 {
	return math.Max(a.distance, b.distance) / math.Min(a.distance, b.distance)
}

// goesOn reports whether the skyline stays as far off as c for so many bearings.
func (v *View) goesOn(at, step int, c *crest, bearings int) bool {
	for k := range bearings {
		s := v.ray(at + step*k).skyline()
		if s == nil || ratio(s, c) > v.options.Jump {
			return false
		}
		c = s
	}
	return true
}

// slope is how many degrees an outline rises for each degree away from a
// bearing, over half a degree.
func (v *View) slope(angles []float64, at, step int) float64 {
	n := max(1, int(math.Round(0.5/v.Step)))
	from, to := angles[(at%v.count+v.count)%v.count], angles[((at+step*n)%v.count+v.count)%v.count]
	return (to - from) / (float64(n) * v.Step)
}

// outlineThings are the tops, and the ends, of outlines before farther ground.
func (v *View) outlineThings() {
	for _, line := range v.outlines() {
		angles := make([]float64, len(line))
		for i, s := range line {
			angles[i] = float64(angle(s.crest.slope))
		}
		for _, e := range extremes(angles, false) {
			c := line[e.at].crest
			if c.sky() || c.distance < v.nearest || !c.parted(v.options.Jump) || geodesy.Degrees(e.out) < v.out(c.distance) {
				continue
			}
			v.add(Top, line[e.at].ray, c, false, geodesy.Degrees(e.out), geodesy.Degrees(e.width*v.Step), 0)
		}
		v.spurEnd(line, -1)
		slices.Reverse(line)
		v.spurEnd(line, 1)
	}
}

// spurLength is the least length of an outline, degrees, whose end is told, and
// spurFall how far it must fall to it.
const (
	spurLength = 1.5
	spurFall   = 0.5
)

// spurEnd tells the end of an outline that runs down, before much farther
// ground, to nothing. side is where the nearer ground lies, seen from the end.
func (v *View) spurEnd(line []sample, side int) {
	last := len(line) - 1
	for last >= 0 && !(line[last].crest.parted(v.options.Jump) && !line[last].crest.sky()) {
		last--
	}
	// it ends near the end of the outline, not where the sky comes behind it
	if last < 0 || float64(len(line)-1-last)*v.Step > spurLength {
		return
	}
	first := last
	for first > 0 && line[first-1].crest.parted(v.options.Jump) && !line[first-1].crest.sky() &&
		line[first-1].crest.slope >= line[first].crest.slope-float64(v.options.LeastOut)*math.Pi/180/4 {
		first--
	}
	end := line[last].crest
	fall := angle(line[first].crest.slope) - angle(end.slope)
	if float64(last-first)*v.Step < spurLength || float64(fall) < math.Max(spurFall, 2*float64(v.relative(end.distance))) || end.distance < v.nearest {
		return
	}
	v.add(SpurEnd, line[last].ray, end, false, fall, 0, side)
}

// add adds a thing at a crest.
func (v *View) add(kind Kind, i int, c *crest, skyline bool, out, width geodesy.Degrees, side int) {
	v.Things = append(v.Things, Thing{
		Kind: kind, Skyline: skyline, Bearing: v.bearing(i), Distance: c.distance, Angle: angle(c.slope), Elevation: c.elevation,
		StandsOut: out, Width: width, Behind: c.behind, Side: side,
	})
}
