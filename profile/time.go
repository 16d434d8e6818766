package profile

import (
	"fmt"
	"math"
	"time"

	"crowline/dem/geodesy"
)

// Rule is a published rule for the time a leg takes on foot.
type Rule int

const (
	// ByNaismithLangmuir: Naismith 1892 in its metric form, 5 km/h and 10
	// minutes per 100 m of ascent, with Langmuir's corrections for descent:
	// less 10 minutes per 300 m on slopes of 5 to 12 degrees, plus 10 minutes
	// per 300 m on steeper ones.
	ByNaismithLangmuir Rule = iota
	// ByTobler: speed 6 exp(-3.5 |S + 0.05|) km/h, S rise over run, times 0.6
	// off path (Tobler 1993).
	ByTobler
	// ByDIN33466: 4 km/h on the level; 300 m/h up and 500 m/h down; the larger
	// of the two times and half the smaller.
	ByDIN33466
	rules // how many there are
)

// String is what ParseRule reads.
func (r Rule) String() string {
	return [...]string{"naismith", "tobler", "din", "?"}[min(max(r, 0), rules)]
}

// ParseRule reads "naismith", "tobler" or "din".
func ParseRule(text string) (Rule, error) {
	for r := range rules {
		if r.String() == text {
			return r, nil
		}
	}
	return 0, fmt.Errorf("%q is not a rule for walking time: write naismith, tobler or din", text)
}

// RuleTimes are what the rules give, by Rule.
type RuleTimes [rules]time.Duration

// Speed is how fast someone walks on a level path, without rests, metres per
// second. 0 is each rule's own: 5 km/h, 5.04 km/h and 4 km/h.
//
// It takes the place of a rule's own where the rule speaks of level ground.
// What Naismith and DIN 33466 add for a climb stays as they have it; Tobler's
// speed is in proportion on every slope, and still times 0.6 off path.
type Speed float64

// The rules' own speeds on a level path, metres per second.
const (
	naismithSpeed Speed = 5000.0 / 3600
	dinSpeed      Speed = 4000.0 / 3600
)

// or is the speed, or a rule's own where none is given.
func (s Speed) or(own Speed) float64 {
	if s > 0 {
		return float64(s)
	}
	return float64(own)
}

// Times are three published rules for the time a leg takes on foot, off
// path, without rests. They are rules of thumb: loads, ground, weather and
// the party change them by half and more.
//
// The rules are of walking. Over WalkingLimit along the line hands are needed
// (common practice), and then none of them holds for the leg: it has no time,
// see Whole. The slope along the line decides, over the pieces that give the
// leg's steepest slope, for that is what the rules go by; ground that is steep
// across the line is in Gradient.GroundSteep.
type Times struct {
	// WithoutSteep are what the rules give for the leg without the stretches of
	// NoWalking, put together end to end: their length and what the leg climbs
	// and drops in them are left out, and nothing is added for them. It is the
	// time of the leg only where there are none.
	WithoutSteep RuleTimes
	// NoWalking are the stretches over WalkingLimit along the line, metres from
	// the start; a void with known ground on either side is one where it rises
	// or falls by more than that on the whole. Nil when there are none.
	NoWalking []Stretch
	// Steep are those from SteepLimit to WalkingLimit: the rules stand there,
	// with a word of caution.
	Steep []Stretch
	// Apart says whether and why the rules differ by more than double.
	Apart Apart
	// Timed is how far along the leg the times are for, metres: to where the
	// last known ground ends. It is under the leg's Distance where the data
	// ends first, or the destination lies in a void.
	Timed float64
	// NoData is how much of that, metres, crosses voids.
	NoData float64
	// AtLeast is true when part of the leg has no data: the whole leg takes no
	// less, by each rule.
	AtLeast bool
}

// Whole are the times of the leg, as far as it is timed; false where part of it
// is no walking ground and it has none.
func (t Times) Whole() (RuleTimes, bool) {
	if len(t.NoWalking) > 0 {
		return RuleTimes{}, false
	}
	return t.WithoutSteep, true
}

// Apart says why the rules differ by more than double.
type Apart int

const (
	// NotApart: the longest time is at most double the shortest.
	NotApart Apart = iota
	// ApartOnGentleFalls: mostly on falls of 5 to 12 degrees, where Langmuir
	// takes time off.
	ApartOnGentleFalls
	// ApartOnSteepGround: mostly on slopes over 12 degrees, up or down, where
	// Tobler and DIN 33466 slow down more than Naismith and Langmuir.
	ApartOnSteepGround
)

// String is where the rules differ, "" where they do not.
func (a Apart) String() string {
	switch a {
	case ApartOnGentleFalls:
		return "gentle falls"
	case ApartOnSteepGround:
		return "steep ground"
	}
	return ""
}

// apartFactor is how far the rules differ before it is said.
const apartFactor = 2

// Extremes are the rules of the shortest and of the longest time.
func (r RuleTimes) Extremes() (shortest, longest Rule) {
	for k := range r {
		if r[k] < r[shortest] {
			shortest = Rule(k)
		}
		if r[k] > r[longest] {
			longest = Rule(k)
		}
	}
	return shortest, longest
}

// Move is a stretch of walking for the time rules: metres along and metres
// up (negative down).
type Move struct{ Length, Rise float64 }

// NaismithLangmuir is the time of one even slope, seconds.
func NaismithLangmuir(m Move) float64 { return naismithLangmuir(m, 0) }

// gentleSaving is what Langmuir takes off a metre of gentle fall, seconds: 10
// minutes in 300 m for a walker of 5 km/h, and of a faster one the same share of
// their time. Else at 8 km/h a fall of 12 degrees would take next to no time.
func gentleSaving(speed Speed) float64 {
	return 600.0 / 300 * math.Min(1, float64(naismithSpeed)/speed.or(naismithSpeed))
}

func naismithLangmuir(m Move, speed Speed) float64 {
	seconds := m.Length / speed.or(naismithSpeed)
	if m.Rise > 0 {
		return seconds + m.Rise*600/100
	}
	slope := math.Atan2(-m.Rise, m.Length) * 180 / math.Pi
	switch {
	case slope > 12:
		return seconds - m.Rise*600/300
	case slope >= 5:
		return seconds + m.Rise*gentleSaving(speed)
	}
	return seconds
}

// ToblerSpeed is the walking speed on a path, km/h, at gradient rise/run.
func ToblerSpeed(gradient float64) float64 { return 6 * math.Exp(-3.5*math.Abs(gradient+0.05)) }

// toblerOffPath is Tobler's factor for walking off a path.
const toblerOffPath = 0.6

// DIN33466 is the time of a whole leg, seconds, from its length, ascent and
// descent in metres.
func DIN33466(length, ascent, descent float64) float64 { return din33466(length, ascent, descent, 0) }

func din33466(length, ascent, descent float64, speed Speed) float64 {
	horizontal := length / speed.or(dinSpeed)
	vertical := (ascent/300 + descent/500) * 3600
	return max(horizontal, vertical) + min(horizontal, vertical)/2
}

// Times applies the three rules to the leg, each at its own speed.
func (l *Leg) Times(c Climb) Times { return l.TimesAt(c, 0) }

// TimesAt applies the three rules to the leg for a walker's speed. Ascent and descent are the
// climb's, wiggles under its dead band left out; Langmuir's corrections and
// Tobler's speed go by the slope of each Piece.
//
// A leg is timed as far as its last known ground. Across a void it takes the
// least that any ground between the two known sides would: by Tobler's rule
// that is an even slope, for time per metre is convex in the gradient; by
// Langmuir's a fall on slopes of up to 12 degrees, see leastFall; what climb
// there is at the least, c counts.
func (l *Leg) TimesAt(c Climb, speed Speed) Times {
	// Tobler's own speed on the level over the walker's
	slower := ToblerSpeed(0) / 3.6 / speed.or(Speed(ToblerSpeed(0)/3.6))
	pieces, timed := l.timed()
	unknown := l.Unknown()
	t := Times{Timed: timed, NoData: max(0, unknown-(l.Distance-timed)), AtLeast: unknown > 0}
	var naismith, tobler, length float64
	var gentle, steep float64 // seconds between Tobler's and Langmuir's, on gentle falls and on steep ground
	turn := 1
	for _, p := range pieces {
		if p.slope > WalkingLimit {
			t.NoWalking = extend(t.NoWalking, p.Piece)
			continue
		}
		if p.slope >= SteepLimit {
			t.Steep = extend(t.Steep, p.Piece)
		}
		m := Move{Length: p.To - p.From, Rise: p.Rise}
		length += m.Length
		byTobler := m.Length / (ToblerSpeed(m.Rise/m.Length) * toblerOffPath / 3.6) * slower
		tobler += byTobler
		between := byTobler - naismithLangmuir(m, speed)
		switch {
		case m.Rise < 0 && p.slope >= 5 && p.slope <= 12:
			gentle += between
		case p.slope > 12:
			steep += between
		}
		if p.bridge {
			naismith += leastFall(m, speed)
			continue
		}
		// a descent counts for Langmuir only on a stretch that truly goes down
		middle := (p.From + p.To) / 2
		for turn < len(c.Turns)-1 && c.Turns[turn].Distance < middle {
			turn++
		}
		falling := turn < len(c.Turns) && c.Turns[turn].Elevation < c.Turns[turn-1].Elevation
		if m.Rise >= 0 || !falling {
			m.Rise = 0
		}
		naismith += naismithLangmuir(m, speed)
	}
	ascent, descent := l.climbWithout(c, t.NoWalking)
	naismith += ascent * 600 / 100
	for rule, seconds := range [rules]float64{naismith, tobler, din33466(length, ascent, descent, speed)} {
		t.WithoutSteep[rule] = time.Duration(math.Round(seconds)) * time.Second
	}
	if shortest, longest := t.WithoutSteep.Extremes(); t.WithoutSteep[longest] > apartFactor*t.WithoutSteep[shortest] {
		t.Apart = ApartOnSteepGround
		if shortest == ByNaismithLangmuir && gentle > steep {
			t.Apart = ApartOnGentleFalls
		}
	}
	return t
}

// climbWithout is what a climb of the leg goes up and down outside some
// stretches of it, metres: of each rise and fall that it counts, what is left
// without what the leg rises and falls in them.
func (l *Leg) climbWithout(c Climb, left []Stretch) (ascent, descent float64) {
	for i := 1; i < len(c.Turns); i++ {
		a, b := c.Turns[i-1], c.Turns[i]
		step := b.Elevation - a.Elevation
		net := step
		for len(left) > 0 && left[0].To <= a.Distance {
			left = left[1:]
		}
		for _, s := range left {
			from, to := max(s.From, a.Distance), min(s.To, b.Distance)
			if from >= to {
				break
			}
			net -= l.ElevationAt(to) - l.ElevationAt(from)
		}
		if step > 0 {
			ascent += max(0, net)
		} else {
			descent += max(0, -net)
		}
	}
	return ascent, descent
}

// timedPiece is a Piece, or a bridge over pieces of unknown rise, from known
// ground to known ground; slope is how steep it is, up or down.
type timedPiece struct {
	Piece
	bridge bool
	slope  geodesy.Degrees
}

// timed are the leg's pieces as far as its last known ground, voids bridged,
// and how far that is, metres.
func (l *Leg) timed() (pieces []timedPiece, until float64) {
	from := -1.0 // where a void began
	cut := l.Pieces()
	for _, p := range cut {
		bridge := false
		if math.IsNaN(p.Rise) {
			if from < 0 {
				from = p.From
			}
			h := l.ElevationAt(p.To)
			if math.IsNaN(h) {
				continue
			}
			p = Piece{From: from, To: p.To, Rise: h - l.ElevationAt(from)}
			from, bridge = -1, true
		}
		pieces = append(pieces, timedPiece{p, bridge, p.steepness()})
		until = p.To
	}
	if known := l.known(); len(known) > 0 {
		last := known[len(known)-1]
		if last.Distance > until+samePlace { // less than a piece more
			p := Piece{From: until, To: last.Distance, Rise: last.Elevation - l.ElevationAt(until)}
			// its slope is over as far as any other's, where that is known
			slope := p.steepness()
			over := Piece{From: max(0, last.Distance-cut[0].To), To: last.Distance}
			if over.Rise = last.Elevation - l.ElevationAt(over.From); !math.IsNaN(over.Rise) {
				slope = over.steepness()
			}
			pieces = append(pieces, timedPiece{Piece: p, slope: slope})
			until = last.Distance
		}
	}
	return pieces, until
}

// leastFall is the least time over ground known at its two ends alone,
// seconds, by Naismith's rule with Langmuir's corrections, ascent left to the
// climb: all that it falls on slopes of 5 to 12 degrees and the rest level,
// or, where it falls more than that, all at 12 degrees and the rest down a
// step.
func leastFall(m Move, speed Speed) float64 {
	fall := max(0, -m.Rise)
	gentle := min(fall, m.Length*math.Tan(12*math.Pi/180))
	return m.Length/speed.or(naismithSpeed) - gentle*gentleSaving(speed) + (fall-gentle)*600/300
}

// DoublePaces is how many double paces a distance takes: every second
// footfall, counted by common practice. per100 is the walker's own count
// over 100 m, measured on ground like the leg's.
func DoublePaces(distance, per100 float64) float64 { return distance / 100 * per100 }
