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
	tip   float64 // in places, tipDown down
}

// tipDown is how far down from a top, degrees, or up from the bottom of a
// notch, its tip is measured: the least that stands out.
const tipDown = 0.25

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
		reach := func(from, step int, level float64) float64 {
			k := from
			for steps := 0; inside(k) && steps < n; k, steps = k+step, steps+1 {
				if v := at(k); !(v > level) {
					if math.IsNaN(v) {
						break
					}
					before := at(k - step)
					return math.Abs(float64(k-step-from)) + (before-level)/(before-v)
				}
			}
			return math.Abs(float64(k - from))
		}
		width := func(down float64) float64 {
			return reach(last, 1, h-down) + reach(i, -1, h-down) + float64(last-i)
		}
		out = append(out, extreme{at: (i + last) / 2 % n, out: stands, width: width(stands / 2), tip: width(tipDown)})
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
		v.stands(Top, e.at, v.rays[e.at].skyline(), e)
		v.humps = append(v.humps, rival{v.bearing(e.at), e.out})
	}
	for _, e := range extremes(low, true) {
		v.stands(Notch, e.at, v.rays[e.at].skyline(), e)
		v.dips = append(v.dips, rival{v.bearing(e.at), e.out})
	}
	v.ridgeEnds(angles)
}

// rival is a high or low place of the skyline, listed or too broad to be.
type rival struct {
	bearing geodesy.TrueBearing
	out     float64
}

// stands adds a top or a notch if it stands out enough and is sharp enough to
// be pointed at.
func (v *View) stands(kind Kind, i int, c *crest, e extreme) {
	out, width, tip := geodesy.Degrees(e.out), geodesy.Degrees(e.width*v.Step), geodesy.Degrees(e.tip*v.Step)
	least := v.out(c.distance)
	if !c.sky() {
		least = max(least, v.options.LeastBelow)
	}
	if c.distance < v.nearest || out < least || tip > v.options.MostTip || kind == Notch && width > v.options.MostNotch {
		return
	}
	v.add(kind, i, c, out, width, 0)
	v.Things[len(v.Things)-1].Tip = tip
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
		if geodesy.Degrees(fall) < v.out(near.distance) {
			continue
		}
		v.add(RidgeEnd, at, near, geodesy.Degrees(fall), 0, side)
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
		tops := extremes(angles, false)
		for _, e := range tops {
			if c := line[e.at].crest; !c.sky() && c.parted(v.options.Jump) {
				v.stands(Top, line[e.at].ray, c, e)
			}
		}
		v.lone(line, tops)
		v.spurEnd(line, -1)
		slices.Reverse(line)
		v.spurEnd(line, 1)
	}
}

// Bounds of a lone hill, as it is seen: from side to side, degrees; how far its
// outline falls on both sides, degrees, and as a share of its height; and how
// much of its outline stands before much farther ground or the sky.
const (
	loneLeast, loneMost = 1.0, 40.0
	loneOut             = 1.0
	loneShare           = 0.6
	loneParted          = 0.9
	loneApart           = 5.0 // from any other top, degrees
)

// lone marks the hill whose outline is seen from side to side before much
// farther ground or the sky, with one top.
func (v *View) lone(line []sample, tops []extreme) {
	if width := float64(len(line)) * v.Step; width < loneLeast || width > loneMost {
		return
	}
	var top extreme
	for _, e := range tops {
		if geodesy.Degrees(e.out) >= v.out(line[e.at].crest.distance) {
			if top.out > 0 {
				return
			}
			top = e
		}
	}
	lowest, parted := math.Inf(1), 0
	for _, s := range line {
		lowest = math.Min(lowest, s.crest.slope)
		if s.crest.parted(v.options.Jump) {
			parted++
		}
	}
	c := line[top.at].crest
	if top.out < loneOut || top.out < loneShare*float64(angle(c.slope)-angle(lowest)) || float64(parted) < loneParted*float64(len(line)) {
		return
	}
	first, last := line[0], line[len(line)-1]
	if v.cut(first, -1) || v.cut(last, 1) || v.goesOnBeside(first, -1, v.options.Jump, 90) || v.goesOnBeside(last, 1, v.options.Jump, 90) {
		return
	}
	v.alone[c] = true
}

// cut reports whether an outline stops on a side because nearer ground stands
// before it there, or because what is known ends: it goes on unseen.
func (v *View) cut(end sample, side int) bool {
	next := v.ray(end.ray + side)
	if !(next.known >= end.crest.behind) && !(end.crest.sky() && math.IsInf(next.known, 1)) {
		return true
	}
	for i := range next.crests {
		if c := &next.crests[i]; c.distance < end.crest.distance*(1-sameOutline) && c.slope > end.crest.slope-cutBy*math.Pi/180 {
			return true
		}
	}
	return false
}

// goesOnBeside reports whether ground about as far off, by a ratio, stands as
// high beside the end of an outline, or higher by so many degrees at most: it
// goes on in it.
func (v *View) goesOnBeside(end sample, side int, far float64, higher geodesy.Degrees) bool {
	next := v.ray(end.ray + side)
	for i := range next.crests {
		c := &next.crests[i]
		if up := angle(c.slope) - angle(end.crest.slope); ratio(c, end.crest) < far && up > -tipDown && up <= higher {
			return true
		}
	}
	return false
}

// cutBy is how far below the end of an outline, degrees, nearer ground beside it
// must stay for the end to be seen.
const cutBy = 0.05

// spurLength is the least length of an outline, degrees, whose end is told, and
// spurFall how far it must fall to it.
const (
	spurLength = 1.5
	spurFall   = 0.5
	spurFade   = 1 // and how long it may go on, degrees, before nearer ground
)

// spurEnd tells the end of an outline that runs down, before much farther
// ground, to nothing. side is where the nearer ground lies, seen from the end.
func (v *View) spurEnd(line []sample, side int) {
	last := len(line) - 1
	for last >= 0 && !(line[last].crest.parted(v.options.Jump) && !line[last].crest.sky()) {
		last--
	}
	// it ends near the end of the outline, not where the sky comes behind it,
	// nor where it is cut off, nor where it goes on a little nearer or farther
	if last < 0 || v.cut(line[len(line)-1], -side) || v.goesOnBeside(line[len(line)-1], -side, 1+2*sameOutline, tipDown) || float64(len(line)-1-last)*v.Step > spurFade {
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
	v.add(SpurEnd, line[last].ray, end, fall, 0, side)
}

// add adds a thing at a crest.
func (v *View) add(kind Kind, i int, c *crest, out, width geodesy.Degrees, side int) {
	v.Things = append(v.Things, Thing{
		Kind: kind, Skyline: c.sky(), Bearing: v.bearing(i), Distance: c.distance, Angle: angle(c.slope), Elevation: c.elevation,
		StandsOut: out, Width: width, Behind: c.behind, Side: side, ray: i, crest: c,
	})
}
