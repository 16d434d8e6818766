package landform

import (
	"cmp"
	"math"
	"slices"

	"crowline/dem"
)

// PathPoint is a place on a leg where the ground's elevation is known: its
// two ends and every crossing with an edge of the ground.
type PathPoint struct {
	Position
	Distance  float64 // from the start, metres
	Elevation float64 // metres, NaN where void
}

// Passed is something a walker meets on a leg and can tick off.
type Passed struct {
	Distance  float64 // from the start, metres
	Elevation float64 // of the ground there, metres
	// Kind of the feature, or "" where the leg only tops or bottoms out.
	Kind Kind
	// Name in words: "valley floor", "crest of a spur", "high point"; "beside
	// a hill" where the leg goes by one.
	Name string
	// Feature is its index in the list given, -1 for none.
	Feature int
	// Aside is how far the feature's own place, a summit, a saddle's floor,
	// lies from the leg, metres, to the right positive; 0 where the leg goes
	// over it: a cell from it or less, and half the least relief or less
	// above or below.
	Aside float64
}

var passedNames = map[Kind]string{
	Hill: "top of a hill", Saddle: "saddle", Ridge: "crest of a ridge", Spur: "crest of a spur",
	Valley: "valley floor", Draw: "bottom of a draw", Depression: "bottom of a depression", Cliff: "cliff",
}

var besideNames = map[Kind]string{
	Hill: "beside a hill", Saddle: "beside a saddle", Depression: "beside a depression", Cliff: "beside a cliff",
}

// Beside is the Name of a feature of a kind that a leg passes beside.
func Beside(k Kind) string { return besideNames[k] }

// AlongOptions is how coarsely a leg is read; use what Features used
// (FeatureOptions.Resolve). Both must be above zero, or nothing is left out
// and nothing is joined.
type AlongOptions struct {
	// Scale: things of a kind nearer together than this along the leg are
	// told once; a summit, saddle, hollow or cliff within half of it is told.
	Scale float64
	// MinRelief: the leg must rise and fall by this, metres, on both sides of
	// a high or low point of its own for it to be told.
	MinRelief float64
}

// Along lists, in order, what a leg passes: the lines it crosses, the
// summits, saddles, hollows and cliffs it goes over or passes beside, and where
// it tops or bottoms out itself. A high point within half a scale, along the leg, of a
// crest it crosses (or a low point of a floor) is one with it and is told at
// the high point. A void parts the leg: nothing is told across it.
func Along(f *dem.Frame, path []PathPoint, features []Feature, o AlongOptions) ([]Passed, error) {
	m, err := newMetric(f)
	if err != nil {
		return nil, err
	}
	type event struct {
		Passed
		turn int // +1 the leg tops out, -1 it bottoms out, 0 neither
	}
	var events []event
	for _, t := range turns(path, o.MinRelief) {
		p := path[t.index]
		name := "high point"
		if t.sign < 0 {
			name = "low point"
		}
		events = append(events, event{Passed{p.Distance, p.Elevation, "", name, -1, 0}, t.sign})
	}
	add := func(distance, elevation float64, feature int, aside float64) {
		k := features[feature].Kind
		name := passedNames[k]
		if aside != 0 {
			name = besideNames[k]
		}
		events = append(events, event{Passed: Passed{distance, elevation, k, name, feature, aside}})
	}
	for _, c := range lineCrossings(path, features) {
		add(c.distance, c.elevation, c.feature, 0)
	}
	for i, x := range features {
		if x.Line != nil || len(path) == 0 {
			continue
		}
		at := Position{float64(x.Column), float64(x.Row)}
		nearest := 0
		for j, p := range path {
			if m.distance(p.Position, at) < m.distance(path[nearest].Position, at) {
				nearest = j
			}
		}
		p := path[nearest]
		aside := m.distance(p.Position, at)
		if !(aside <= o.Scale/2) || math.IsNaN(p.Elevation) {
			continue
		}
		const cell = 1.5 // posts, a cell's diagonal
		if aside <= cell*m.spacing() && math.Abs(p.Elevation-float64(x.Elevation)) <= o.MinRelief/2 {
			aside = 0
		}
		before, after := path[max(nearest-1, 0)], path[min(nearest+1, len(path)-1)]
		if leftOf(f, before.Position, after.Position, at) {
			aside = -aside
		}
		add(p.Distance, p.Elevation, i, aside)
	}
	slices.SortStableFunc(events, func(a, b event) int { return cmp.Compare(a.Distance, b.Distance) })

	// give each turn of the leg the nearest feature that explains it, points
	// before lines
	explains := func(k Kind, turn int) int {
		switch {
		case turn > 0 && k == Hill, turn < 0 && k == Depression:
			return 3
		case k == Saddle:
			return 2
		case turn > 0 && (k == Ridge || k == Spur), turn < 0 && (k == Valley || k == Draw):
			return 1
		}
		return 0
	}
	used := make([]bool, len(events))
	for i := range events {
		e := &events[i]
		if e.turn == 0 {
			continue
		}
		best := -1
		for j, other := range events {
			gap := math.Abs(other.Distance - e.Distance)
			if other.turn != 0 || used[j] || gap > o.Scale/2 || explains(other.Kind, e.turn) == 0 {
				continue
			}
			if best < 0 || cmp.Or(cmp.Compare(explains(other.Kind, e.turn), explains(events[best].Kind, e.turn)),
				cmp.Compare(math.Abs(events[best].Distance-e.Distance), gap)) > 0 {
				best = j
			}
		}
		if best >= 0 {
			used[best] = true
			e.Kind, e.Feature, e.Aside = events[best].Kind, events[best].Feature, events[best].Aside
			if e.Aside == 0 { // else the leg's own high point it stays
				e.Name = events[best].Name
			}
		}
	}
	var out []Passed
	lastOf := map[Kind]float64{} // where a kind was last met, told or not
	for i, e := range events {
		if used[i] {
			continue
		}
		last, met := lastOf[e.Kind]
		if e.Kind != "" {
			lastOf[e.Kind] = e.Distance
		}
		if e.Kind != "" && met && e.Distance-last < o.Scale {
			if e.turn == 0 {
				continue
			}
			// the turn of the leg is the better place to tell it
			if n := len(out); n > 0 && out[n-1].Kind == e.Kind {
				out[n-1] = e.Passed
				continue
			}
		}
		out = append(out, e.Passed)
	}
	return out, nil
}

// leftOf reports whether a position lies to the left of one walking from a
// to b. Frames run east or west, north or south.
func leftOf(f *dem.Frame, a, b, at Position) bool {
	east, north := math.Copysign(1, f.DX), math.Copysign(1, f.DY)
	dx, dy := east*(b.Column-a.Column), north*(b.Row-a.Row)
	ox, oy := east*(at.Column-a.Column), north*(at.Row-a.Row)
	return dx*oy-dy*ox > 0
}

type turn struct{ index, sign int }

// turns are the high and low points of a leg that stand least or more above
// or below it on both sides. The ends of the leg are not turns.
func turns(path []PathPoint, least float64) []turn {
	var out []turn
	for start := 0; start < len(path); {
		if math.IsNaN(path[start].Elevation) {
			start++
			continue
		}
		end := start
		for end < len(path) && !math.IsNaN(path[end].Elevation) {
			end++
		}
		high, low, sign := start, start, 0
		for i := start; i < end; i++ {
			h := path[i].Elevation
			if h > path[high].Elevation {
				high = i
			}
			if h < path[low].Elevation {
				low = i
			}
			switch {
			case sign >= 0 && path[high].Elevation-h >= least && path[high].Elevation > h:
				if sign > 0 { // it had risen to the high point first
					out = append(out, turn{high, 1})
				}
				sign, low, high = -1, i, i
			case sign <= 0 && h-path[low].Elevation >= least && h > path[low].Elevation:
				if sign < 0 {
					out = append(out, turn{low, -1})
				}
				sign, low, high = 1, i, i
			}
		}
		start = end
	}
	return out
}

type lineCrossing struct {
	distance, elevation float64
	feature             int
}

// lineCrossings are where a path meets the features' lines. Both are made of
// pieces no longer than a cell, so they are matched cell by cell.
func lineCrossings(path []PathPoint, features []Feature) []lineCrossing {
	type piece struct {
		a, b    Position
		feature int
	}
	cells := map[[2]int][]piece{}
	floor := func(v float64) int { return int(math.Floor(v)) }
	for i, f := range features {
		for j := 1; j < len(f.Line); j++ {
			p := piece{f.Line[j-1], f.Line[j], i}
			// the cells on either side of a piece along an edge
			c, r := (p.a.Column+p.b.Column)/2, (p.a.Row+p.b.Row)/2
			const hair = 1e-6
			for _, k := range [][2]int{{floor(c - hair), floor(r - hair)}, {floor(c + hair), floor(r + hair)}} {
				if list := cells[k]; len(list) == 0 || list[len(list)-1] != p {
					cells[k] = append(list, p)
				}
			}
		}
	}
	var out []lineCrossing
	for i := 1; i < len(path); i++ {
		a, b := path[i-1], path[i]
		if math.IsNaN(a.Elevation) || math.IsNaN(b.Elevation) {
			continue
		}
		dc, dr := b.Column-a.Column, b.Row-a.Row
		k := [2]int{floor((a.Column + b.Column) / 2), floor((a.Row + b.Row) / 2)}
		for _, p := range cells[k] {
			ec, er := p.b.Column-p.a.Column, p.b.Row-p.a.Row
			det := dc*er - dr*ec
			if det == 0 {
				continue
			}
			oc, or := p.a.Column-a.Column, p.a.Row-a.Row
			s, t := (oc*er-or*ec)/det, (oc*dr-or*dc)/det
			if s < 0 || s > 1 || t < 0 || t > 1 {
				continue
			}
			c := lineCrossing{a.Distance + s*(b.Distance-a.Distance), dem.Lerp(a.Elevation, b.Elevation, s), p.feature}
			if n := len(out); n > 0 && out[n-1].feature == c.feature && c.distance-out[n-1].distance < 1e-6 {
				continue // through a post of the line
			}
			out = append(out, c)
		}
	}
	return out
}
