package waymarks

import (
	"cmp"
	"math"
	"slices"

	"crowline/dem"
	"crowline/dem/landform"
)

// Handrail is a ridge or valley that runs within 150 m of the leg for 300 m of
// it or more.
type Handrail struct {
	Kind    landform.Kind
	Feature int
	// From and To are where it runs along the leg, metres.
	From, To float64
	// Side is where it runs; Ahead where the leg goes along it, or crosses it
	// to the other side on the way.
	Side Side
	// Nearest and Farthest are how far it is off the leg, metres.
	Nearest, Farthest float64
}

// handrails are in order along the leg. Of two crests, or two floors, that run
// along the same part of the leg the nearer is told.
func (f *finder) handrails() []Handrail {
	var out []Handrail
	for _, lines := range [][]line{f.crests, f.floors} {
		var found []Handrail
		for _, l := range lines {
			found = append(found, f.along(l)...)
		}
		slices.SortStableFunc(found, func(a, b Handrail) int { return cmp.Compare(a.Farthest, b.Farthest) })
		var kept []Handrail
		for _, h := range found {
			if !slices.ContainsFunc(kept, func(k Handrail) bool { return min(h.To, k.To)-max(h.From, k.From) > (h.To-h.From)/2 }) {
				kept = append(kept, h)
			}
		}
		out = append(out, kept...)
	}
	slices.SortStableFunc(out, func(a, b Handrail) int { return cmp.Compare(a.From, b.From) })
	return out
}

// along are the stretches in which a line runs along the leg.
func (f *finder) along(l line) []Handrail {
	var out []Handrail
	var run []spot
	length := 0.0
	flush := func() {
		if len(run) > 0 {
			h := Handrail{Kind: f.Features[l.feature].Kind, Feature: l.feature, From: math.Inf(1), To: math.Inf(-1), Nearest: math.Inf(1)}
			least, most := math.Inf(1), math.Inf(-1)
			for _, s := range run {
				h.From, h.To = min(h.From, max(0, s.along)), max(h.To, min(f.goal, s.along)) // clipped, but for rounding
				least, most = min(least, s.aside), max(most, s.aside)
				h.Nearest, h.Farthest = min(h.Nearest, math.Abs(s.aside)), max(h.Farthest, math.Abs(s.aside))
			}
			if least < 0 && most > 0 {
				h.Nearest = 0
			}
			// a line of posts is a post wide
			switch {
			case least > -f.spacing/2 && most > f.spacing:
				h.Side = Right
			case most < f.spacing/2 && least < -f.spacing:
				h.Side = Left
			}
			if long := h.To - h.From; long >= railLeast && length <= railWander*long && most-least <= railLean*long {
				out = append(out, h)
			}
		}
		run, length = nil, 0
	}
	for i := 1; i < len(l.points); i++ {
		a, b, ok := f.clip(l.points[i-1], l.points[i])
		if !ok {
			flush()
			continue
		}
		if len(run) > 0 && run[len(run)-1] != a {
			flush()
		}
		run = append(run, a, b)
		length += math.Hypot(b.along-a.along, b.aside-a.aside)
	}
	flush()
	return out
}

// clip is the part of a straight piece that lies beside the leg, near it.
func (f *finder) clip(a, b spot) (from, to spot, ok bool) {
	s, t := 0.0, 1.0
	keep := func(va, vb, least, most float64) {
		if va == vb {
			if va < least || va > most {
				t = -1
			}
			return
		}
		p, q := (least-va)/(vb-va), (most-va)/(vb-va)
		s, t = max(s, min(p, q)), min(t, max(p, q))
	}
	keep(a.along, b.along, 0, f.goal)
	keep(a.aside, b.aside, -nearLine, nearLine)
	if s >= t {
		return a, b, false
	}
	at := func(share float64) spot {
		switch share { // exactly, so that pieces join
		case 0:
			return a
		case 1:
			return b
		}
		return spot{dem.Lerp(a.along, b.along, share), dem.Lerp(a.aside, b.aside, share)}
	}
	return at(s), at(t), true
}
