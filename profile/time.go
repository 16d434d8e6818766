package profile

import (
	"math"
	"time"
)

// Times are three published rules for the time a leg takes on foot, off
// path, without rests. They are rules of thumb: loads, ground, weather and
// the party change them by half and more.
type Times struct {
	// NaismithLangmuir: Naismith 1892 in its metric form, 5 km/h and 10
	// minutes per 100 m of ascent, with Langmuir's corrections for descent:
	// less 10 minutes per 300 m on slopes of 5 to 12 degrees, plus 10 minutes
	// per 300 m on steeper ones.
	NaismithLangmuir time.Duration
	// Tobler: speed 6 exp(-3.5 |S + 0.05|) km/h, S rise over run, times 0.6
	// off path (Tobler 1993).
	Tobler time.Duration
	// DIN33466: 4 km/h on the level; 300 m/h up and 500 m/h down; the larger
	// of the two times and half the smaller.
	DIN33466 time.Duration
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

// Move is a stretch of walking for the time rules: metres along and metres
// up (negative down).
type Move struct{ Length, Rise float64 }

// NaismithLangmuir is the time of one even slope, seconds.
func NaismithLangmuir(m Move) float64 {
	const pace = 3600 / 5000.0 // s/m
	seconds := m.Length * pace
	if m.Rise > 0 {
		return seconds + m.Rise*600/100
	}
	slope := math.Atan2(-m.Rise, m.Length) * 180 / math.Pi
	switch {
	case slope > 12:
		return seconds - m.Rise*600/300
	case slope >= 5:
		return seconds + m.Rise*600/300
	}
	return seconds
}

// ToblerSpeed is the walking speed on a path, km/h, at gradient rise/run.
func ToblerSpeed(gradient float64) float64 { return 6 * math.Exp(-3.5*math.Abs(gradient+0.05)) }

// toblerOffPath is Tobler's factor for walking off a path.
const toblerOffPath = 0.6

// DIN33466 is the time of a whole leg, seconds, from its length, ascent and
// descent in metres.
func DIN33466(length, ascent, descent float64) float64 {
	horizontal := length / 4000 * 3600
	vertical := (ascent/300 + descent/500) * 3600
	return max(horizontal, vertical) + min(horizontal, vertical)/2
}

// Times applies the three rules to the leg. Ascent and descent are the
// climb's, wiggles under its dead band left out; Langmuir's corrections and
// Tobler's speed go by the slope of each Piece.
//
// A leg is timed as far as its last known ground. Across a void it takes the
// least that any ground between the two known sides would: by Tobler's rule
// that is an even slope, for time per metre is convex in the gradient; by
// Langmuir's a fall on slopes of up to 12 degrees, see leastFall; what climb
// there is at the least, c counts.
func (l *Leg) Times(c Climb) Times {
	var naismith, tobler float64
	known, timed := l.timed()
	turn := 1
	for _, p := range known {
		m := Move{Length: p.To - p.From, Rise: p.Rise}
		tobler += m.Length / (ToblerSpeed(m.Rise/m.Length) * toblerOffPath / 3.6)
		if p.bridge {
			naismith += leastFall(m)
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
		naismith += NaismithLangmuir(m)
	}
	naismith += c.Ascent * 600 / 100
	seconds := func(s float64) time.Duration { return time.Duration(math.Round(s)) * time.Second }
	unknown := l.Unknown()
	return Times{
		NaismithLangmuir: seconds(naismith),
		Tobler:           seconds(tobler),
		DIN33466:         seconds(DIN33466(timed, c.Ascent, c.Descent)),
		Timed:            timed,
		NoData:           max(0, unknown-(l.Distance-timed)),
		AtLeast:          unknown > 0,
	}
}

// timedPiece is a Piece, or a bridge over pieces of unknown rise, from known
// ground to known ground.
type timedPiece struct {
	Piece
	bridge bool
}

// timed are the leg's pieces as far as its last known ground, voids bridged,
// and how far that is, metres.
func (l *Leg) timed() (pieces []timedPiece, until float64) {
	from := -1.0 // where a void began
	for _, p := range l.Pieces() {
		if math.IsNaN(p.Rise) {
			if from < 0 {
				from = p.From
			}
			h := l.ElevationAt(p.To)
			if math.IsNaN(h) {
				continue
			}
			p.Rise = h - l.ElevationAt(from)
			pieces = append(pieces, timedPiece{Piece{From: from, To: p.To, Rise: p.Rise}, true})
			from = -1
		} else {
			pieces = append(pieces, timedPiece{Piece: p})
		}
		until = p.To
	}
	if known := l.known(); len(known) > 0 {
		last := known[len(known)-1]
		if last.Distance > until+samePlace { // less than a piece more
			pieces = append(pieces, timedPiece{Piece{From: until, To: last.Distance, Rise: last.Elevation - l.ElevationAt(until)}, true})
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
func leastFall(m Move) float64 {
	const pace = 3600 / 5000.0 // s/m
	fall := max(0, -m.Rise)
	gentle := min(fall, m.Length*math.Tan(12*math.Pi/180))
	return m.Length*pace - gentle*600/300 + (fall-gentle)*600/300
}

// DoublePaces is how many double paces a distance takes: every second
// footfall, counted by common practice. per100 is the walker's own count
// over 100 m, measured on ground like the leg's.
func DoublePaces(distance, per100 float64) float64 { return distance / 100 * per100 }
