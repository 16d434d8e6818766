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
	// a hill" where the leg goes by one, "across a depression" where it goes
	// over the ground of one and not over its bottom; "across water, a lake
	// probably" where its bottom is level.
	Name string
	// Feature is its index in the list given, -1 for none.
	Feature int
	// Aside is how far the feature's own place, a summit, a saddle's floor,
	// the bottom of a depression, the steepest place of a cliff, lies from the
	// leg where it comes nearest to that, metres, to the right positive; 0
	// where the leg goes over it (a cell from it or less, and half the least
	// relief or less above or below) and where it crosses a line or a cliff,
	// wherever its own place may be.
	Aside float64
	// Off is how far the nearest part of the feature lies from the leg,
	// metres, to the right positive, and Nearest where that is; 0 where the
	// leg goes over any of it.
	Off     float64
	Nearest Position
	// Until is where the leg leaves a cliff that it touches, metres from the
	// start: beyond Distance where it goes along the cliff or down a broad one.
	// Distance for all else.
	Until float64
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

// acrossDepression is the Name of a depression whose ground a leg goes over
// and whose bottom it does not.
const acrossDepression = "across a depression"

// Names of a depression with a Level floor.
const (
	acrossWater = "across water, a lake probably"
	besideWater = "beside water, a lake probably"
)

// AlongOptions is how coarsely a leg is read; use what Features used
// (FeatureOptions.Resolve). Both must be above zero, or nothing is left out
// and nothing is joined.
type AlongOptions struct {
	// Scale: things of a kind nearer together than this along the leg are
	// told once; a summit, saddle, hollow or cliff any part of which is within
	// half of it is told. A cliff that the leg comes onto is always told; of
	// those beside it, the nearest on either side.
	Scale float64
	// MinRelief: the leg must rise and fall by this, metres, on both sides of
	// a high or low point of its own for it to be told.
	MinRelief float64
}

// Along lists, in order, what a leg passes: the lines it crosses or touches,
// the summits, saddles, hollows and cliffs it goes over or passes beside, and
// where it tops or bottoms out itself. What has an area is passed where any of
// it is. A cliff is told at every place where the leg comes onto it, or else
// where its nearest part is. A high point within half a scale, along the leg,
// of a crest it crosses (or a low point of a floor) is one with it and is told
// at the high point. A void parts the leg: nothing is told across it.
func Along(f *dem.Frame, path []PathPoint, features []Feature, o AlongOptions) ([]Passed, error) {
	l, err := newLegRuler(f, path, o)
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
		events = append(events, event{Passed{Distance: p.Distance, Elevation: p.Elevation, Name: name, Feature: -1, Nearest: p.Position, Until: p.Distance}, t.sign})
	}
	for i := range features {
		if l == nil {
			break
		}
		passed, err := l.pass(&features[i])
		if err != nil {
			return nil, err
		}
		for _, p := range passed {
			p.Kind, p.Feature = features[i].Kind, i
			events = append(events, event{Passed: p})
		}
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
			e.Kind, e.Feature, e.Aside, e.Off, e.Nearest = events[best].Kind, events[best].Feature, events[best].Aside, events[best].Off, events[best].Nearest
			if e.Aside == 0 { // else the leg's own high point it stays
				e.Name = events[best].Name
			}
		}
	}
	var cliffs []int // events
	for i, e := range events {
		if e.Kind == Cliff && e.Off != 0 {
			cliffs = append(cliffs, i)
		}
	}
	// of cliffs beside the leg, the nearest on either side
	slices.SortStableFunc(cliffs, func(a, b int) int { return cmp.Compare(math.Abs(events[a].Off), math.Abs(events[b].Off)) })
	for i, c := range cliffs {
		used[c] = slices.ContainsFunc(cliffs[:i], func(nearer int) bool {
			return !used[nearer] && events[nearer].Off*events[c].Off > 0 && math.Abs(events[nearer].Distance-events[c].Distance) < o.Scale
		})
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
		if e.Kind != "" && e.Kind != Cliff && met && e.Distance-last < o.Scale {
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
