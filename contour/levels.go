package contour

import (
	"fmt"
	"math"
	"strconv"
)

// Unit is the unit contour levels are counted and labelled in. The zero
// value is the metre.
type Unit int

const (
	// Metre counts levels in metres.
	Metre Unit = iota
	// Foot counts levels in international feet of 0.3048 m exactly.
	Foot
)

// Metres is the length of one unit in metres.
func (u Unit) Metres() float64 {
	if u == Foot {
		return 0.3048
	}
	return 1
}

// String is the unit's symbol, "m" or "ft".
func (u Unit) String() string {
	if u == Foot {
		return "ft"
	}
	return "m"
}

// Kind says what part a contour line plays on the map.
type Kind int

const (
	// Intermediate lines stand between index lines.
	Intermediate Kind = iota
	// Index lines are the heavier, numbered ones, every fifth unless set.
	Index
	// Supplementary lines stand at half the interval, where the ground is flat.
	Supplementary
)

// String is the kind's name in lower case.
func (k Kind) String() string {
	switch k {
	case Index:
		return "index"
	case Supplementary:
		return "supplementary"
	}
	return "intermediate"
}

// defaultIndexEvery: "Every fifth contour is an index contour" (US Army TC
// 3-25.26, Map Reading and Land Navigation, 2013).
const defaultIndexEvery = 5

// Levels is a ladder of contour levels: Base, and every whole number of
// intervals above and below it. Levels are exact in their unit and turned
// into metres once, by one multiplication.
type Levels struct {
	// Interval is the step between main lines, in Unit; it must be positive.
	Interval float64
	// Unit of Interval and Base; metres when zero.
	Unit Unit
	// Base is the level steps are counted from, in Unit; 0 on maps.
	Base float64
	// IndexEvery makes every nth line an index line, counted from Base: 5 when
	// zero, none when negative.
	IndexEvery int
	// Half adds lines half an interval from the main ones, of kind
	// Supplementary.
	Half bool
}

// step is the distance between neighbouring levels, in Unit.
func (l Levels) step() float64 {
	if l.Half {
		return l.Interval / 2
	}
	return l.Interval
}

// Value is level j in Unit. Level 0 is Base; with Half, odd numbers are the
// supplementary levels.
func (l Levels) Value(j int) float64 {
	// The conversion keeps every processor from fusing the multiplication
	// with the addition, so a level is the same number everywhere.
	return l.Base + float64(float64(j)*l.step())
}

// Elevation is level j in metres.
func (l Levels) Elevation(j int) float64 { return l.Value(j) * l.Unit.Metres() }

// Kind of level j.
func (l Levels) Kind(j int) Kind {
	if l.Half {
		if j%2 != 0 {
			return Supplementary
		}
		j /= 2
	}
	every := l.IndexEvery
	if every == 0 {
		every = defaultIndexEvery
	}
	if every > 0 && j%every == 0 {
		return Index
	}
	return Intermediate
}

// Label is the text of level j: its value in Unit, without the unit.
func (l Levels) Label(j int) string { return label(l.Value(j)) }

func label(value float64) string {
	// eight digits take off the binary tail of a step such as 0.1
	return strconv.FormatFloat(math.Round(value*1e8)/1e8, 'f', -1, 64)
}

// Below is the number of the highest level at or below an elevation in
// metres: an elevation equal to a level counts as having reached it.
func (l Levels) Below(elevation float64) int {
	j := int(math.Floor((elevation/l.Unit.Metres() - l.Base) / l.step()))
	// The quotient may be a rounding off; the levels themselves decide.
	for l.Elevation(j) > elevation {
		j--
	}
	for l.Elevation(j+1) <= elevation {
		j++
	}
	return j
}

// What an interval may be, metres. The least step between levels is some way
// above the half millimetre that stored elevations are rounded by; no ground on
// land rises by the most.
const (
	LeastInterval = 0.01
	MostInterval  = 10e3
)

func (l Levels) validate() error {
	if !(l.Interval > 0) {
		return fmt.Errorf("contour: interval %g %s: it must be more than zero", l.Interval, l.Unit)
	}
	if l.Interval*l.Unit.Metres() > MostInterval {
		return fmt.Errorf("contour: interval %g %s: it must be at most %g m", l.Interval, l.Unit, MostInterval)
	}
	if math.IsNaN(l.Base) || math.Abs(l.Base) > 1e6 {
		return fmt.Errorf("contour: base level %g %s is not an elevation", l.Base, l.Unit)
	}
	if l.step()*l.Unit.Metres() < LeastInterval {
		return fmt.Errorf("contour: interval %g %s: levels less than a centimetre apart are finer than stored elevations can carry", l.Interval, l.Unit)
	}
	return nil
}

// Elevations beyond these, metres, are not ground: the deepest sounding is
// -10 935 m (Challenger Deep) and the highest summit 8849 m (Mount Everest),
// and a vertical datum shifts them by little over 100 m. Such values are
// nearly always a void value the file did not declare.
const (
	lowestGround  = -12_000.0
	highestGround = 10_000.0
)

// steepestEdge is the most, metres, that the ground is believed to rise
// from one post to the next. Even posts a degree apart stay under it; a void
// value of -9999, which some seabed does reach, beside land does not.
const steepestEdge = 9000.0

// ImplausibleError is an elevation that cannot be ground.
type ImplausibleError struct {
	// Column and Row of the first such post.
	Column, Row int
	// Elevation it holds, metres.
	Elevation float64
}

func (e *ImplausibleError) Error() string {
	return fmt.Sprintf("contour: the post at column %d, row %d holds %g m, which is no ground on Earth; it looks like a void value the data does not declare: declare it as no data", e.Column, e.Row, e.Elevation)
}
