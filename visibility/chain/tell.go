package chain

import (
	"fmt"
	"math"
	"strings"

	"crowline/dem/units"
	"crowline/visibility"
)

// Describe says which thing in sight is meant, in words that fit no other, with
// its distance: "the round top on the skyline, a finger left of your line, 3.4 km".
func (m *Mark) Describe(u units.System) string {
	away := u.Distance(m.Away)
	switch {
	case m.Kind == Start:
		return "the start, " + away + " behind you"
	case m.Kind != Destination && m.Behind:
		return m.view.Describe(*m.thing, u) + " behind you"
	case m.Kind != Destination:
		return m.view.Describe(*m.thing, u) + " off"
	case m.thing != nil:
		return "the goal: " + m.view.Describe(*m.thing, u) + " off"
	case m.over != nil:
		return "the goal, " + away + " off on your line, below " + strings.TrimSuffix(m.view.Reference(*m.over), ", on your line")
	}
	return "the goal, " + away + " off on your line"
}

// leastLevel is under what angle, degrees, something is level with the eye.
const leastLevel = 0.5

// UpDown says where to look for it, up or down.
func (m *Mark) UpDown() string {
	if math.Abs(float64(m.Angle)) < leastLevel {
		return "level with your eye"
	}
	return units.UpDown(float64(m.Angle))
}

// LostText says where the mark is lost and what then; "" where it is not.
func (s *Step) LostText(u units.System) string {
	if s.Mark == nil || len(s.Mark.Lost) == 0 {
		return ""
	}
	lost := s.Mark.Lost
	if len(lost) > mostLosses {
		longest := 0.0
		for _, l := range lost {
			longest = max(longest, l.To-l.From)
		}
		return fmt.Sprintf("lost %d times, for %s at most, first from %s: hold %s, it comes back", len(lost), u.Distance(longest), u.Stretch(lost[0].From, lost[0].To), s.Dial)
	}
	var parts []string
	for _, l := range lost {
		parts = append(parts, "from "+u.Stretch(l.From, l.To))
	}
	return fmt.Sprintf("lost %s: hold %s, it comes back", strings.Join(parts, " and "), s.Dial)
}

// mostLosses is how many losses are told one by one.
const mostLosses = 2

// NotFound says what to do where the mark of a sighting is not found.
func (s *Step) NotFound(u units.System, length float64) string {
	until := ""
	if s.To < length-atEnd {
		until = " to " + u.Distance(s.To)
	}
	text := fmt.Sprintf("walk %s%s", s.Dial, until)
	if s.Back == nil {
		return text
	}
	return text + "; look back at " + s.Back.Describe(u) + s.Back.share()
}

// tens rounds up to whole tens, metres: nobody can tell better.
func tens(v float64) float64 { return 10 * math.Ceil(v/10) }

// Describe says what to look back at.
func (b *BackSight) Describe(u units.System) string { return b.Mark.Describe(u) }

// atEnd is how near to the end of a leg, metres, is its end: a leg is told by its
// own length, the sights by that of the line of sight.
const atEnd = 1.0

// allSeen is the share from which on a thing is seen all the way.
const allSeen = 0.98

func (b *BackSight) share() string {
	if b.Share >= allSeen {
		return ""
	}
	return fmt.Sprintf(" (in view for %s of the way)", visibility.Percent(b.Share))
}

// Sentence says what a step is walked on; length is the leg's, metres.
func (s *Step) Sentence(u units.System, length float64) string {
	if s.Kind == CompassOnly {
		text := "walk " + s.Dial
		switch {
		case s.Short && s.To >= length-atEnd:
			return text + " to the goal"
		case s.Short:
			return text + " on to the next mark"
		case s.Plain:
			text += ": the ground ahead is in view, but nothing stands out to be sighted"
		default:
			text += ": nothing to sight ahead"
		}
		if s.Back == nil {
			text += ", and nothing behind"
		} else {
			text += "; look back at " + s.Back.Describe(u) + s.Back.share()
		}
		return text + fmt.Sprintf("; at the end you may be %s to either side", u.Distance(tens(Drift(s.To-s.From))))
	}
	text := s.Mark.Look(u) + ", " + s.Mark.UpDown()
	if lost := s.LostText(u); lost != "" {
		text += "; " + lost
	}
	return text
}

// Look says what to do with a mark: to sight it, which goes without saying, or to
// look back at it.
func (m *Mark) Look(u units.System) string {
	if m.Behind {
		return "look back at " + m.Describe(u)
	}
	return m.Describe(u)
}
