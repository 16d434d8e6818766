package landform

import (
	"math"

	"crowline/dem"
)

// legRuler measures from a leg to what it passes.
type legRuler struct {
	*Ruler
	path []PathPoint
	at   []float64 // how far along the leg its points lie, metres
	o    AlongOptions
	cell float64 // a cell's diagonal, nearly, metres
}

// newLegRuler is nil for a leg of which nothing is known.
func newLegRuler(f *dem.Frame, path []PathPoint, o AlongOptions) (*legRuler, error) {
	l := &legRuler{path: path, o: o}
	var positions []Position
	for _, p := range path {
		positions, l.at = append(positions, p.Position), append(l.at, p.Distance)
	}
	if len(path) == 1 { // a leg with no length: a piece from its place to itself
		l.path = append(l.path[:1:1], path[0])
		positions, l.at = append(positions, positions[0]), append(l.at, l.at[0])
	}
	known, any := make([]bool, max(0, len(positions)-1)), false
	for i := range known {
		known[i] = !math.IsNaN(l.path[i].Elevation) && !math.IsNaN(l.path[i+1].Elevation)
		any = any || known[i]
	}
	if !any || !(o.Scale > 0) {
		return nil, nil
	}
	var err error
	// as far as a feature may lie that is told, and is told where its own
	// place is, however far
	if l.Ruler, err = newRuler(f, math.Inf(1), positions, known); err != nil {
		return nil, err
	}
	const diagonal = 1.5 // posts
	l.cell = diagonal * l.m.spacing()
	return l, nil
}

// elevation of the leg's ground a share of the way along a piece, metres.
func (l *legRuler) elevation(piece int, share float64) float64 {
	return dem.Lerp(l.path[piece].Elevation, l.path[piece+1].Elevation, share)
}

// told is what is passed at a distance along the leg, on some of the feature.
func (l *legRuler) told(distance float64) Passed {
	i := 0
	for i < len(l.at)-2 && l.at[i+1] < distance || i < len(l.known)-1 && !l.known[i] && l.at[i+1] <= distance {
		i++
	}
	share := 0.0
	if length := l.at[i+1] - l.at[i]; length > 0 {
		share = math.Max(0, math.Min(1, (distance-l.at[i])/length))
	}
	return Passed{Distance: distance, Elevation: l.elevation(i, share), Nearest: between(l.path[i].Position, l.path[i+1].Position, share), Until: distance}
}

// aside is how far something nearest to the leg at n lies from it, to the
// right positive.
func (l *legRuler) aside(n Nearest) float64 {
	before, after := l.path[n.Piece], l.path[n.Piece+1]
	if n.Share == 0 && n.Piece > 0 { // round a bend, both its sides
		before = l.path[n.Piece-1]
	}
	if n.Share == 1 && n.Piece+2 < len(l.path) {
		after = l.path[n.Piece+2]
	}
	if leftOf(l.frame, before.Position, after.Position, n.Part) {
		return -n.Distance
	}
	return n.Distance
}

// pass is where the leg passes a feature; not at all where no part of it is
// near enough.
func (l *legRuler) pass(f *Feature) ([]Passed, error) {
	if len(f.Line) > 0 {
		return l.passLine(f), nil
	}
	l.reach = l.o.Scale / 2
	part, near, err := l.Nearest(f)
	if err != nil || !near {
		return nil, err
	}
	l.reach = math.Inf(1)
	own, _, err := l.Nearest(&Feature{Post: f.Post})
	if err != nil {
		return nil, err
	}
	over := f.Kind != Cliff && own.Distance <= l.cell && math.Abs(l.elevation(own.Piece, own.Share)-f.Elevation) <= l.o.MinRelief/2
	var on []contact
	if f.Parts != nil && part.Distance == 0 {
		join := 0.0
		if f.Kind == Cliff { // in a cell more it is out of it
			join = l.cell
		}
		on = l.contacts(f, l.at, join)
	}
	if f.Kind == Cliff && on != nil {
		var out []Passed
		for _, c := range on {
			p := l.told(c.from)
			p.Name, p.Until = passedNames[Cliff], c.to
			out = append(out, p)
		}
		return out, nil
	}
	p := l.told(dem.Lerp(l.at[part.Piece], l.at[part.Piece+1], part.Share))
	p.Name, p.Aside, p.Off, p.Nearest = besideNames[f.Kind], l.aside(own), l.aside(part), part.Part
	switch {
	case over || f.Kind == Hill && on != nil:
		p = l.told(nearestIn(on, dem.Lerp(l.at[own.Piece], l.at[own.Piece+1], own.Share)))
		p.Name = passedNames[f.Kind]
	case on != nil: // a depression, not over its bottom
		p = l.told(nearestIn(on, dem.Lerp(l.at[own.Piece], l.at[own.Piece+1], own.Share)))
		p.Name, p.Aside = acrossDepression, l.aside(own)
	}
	if f.Kind == Depression && f.Level {
		p.Name = besideWater
		if over || on != nil {
			p.Name = acrossWater
		}
	}
	return []Passed{p}, nil
}

// nearestIn is the place on a leg nearest to another, of some stretches; the
// other where there are none.
func nearestIn(stretches []contact, at float64) float64 {
	best := math.Inf(1)
	for _, c := range stretches {
		if d := math.Max(c.from, math.Min(c.to, at)); math.Abs(d-at) < math.Abs(best-at) {
			best = d
		}
	}
	if math.IsInf(best, 1) {
		return at
	}
	return best
}

// passLine is where the leg crosses a line, or first comes onto it where it
// goes along it.
func (l *legRuler) passLine(f *Feature) []Passed {
	var out []Passed
	const through = 1e-3 // m; a post of a line, and pieces on either side of it
	for _, c := range l.contacts(f, l.at, through) {
		p := l.told(c.from)
		p.Name = passedNames[f.Kind]
		out = append(out, p)
	}
	return out
}
