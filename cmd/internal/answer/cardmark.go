package answer

import (
	"fmt"
	"math"
	"strings"

	"crowline/dem/units"
	"crowline/visibility"
	"crowline/visibility/chain"
	"crowline/visibility/scene"
)

// CardMark is a mark that a route card names.
type CardMark struct {
	// What tells it on the card and as a waypoint: the leg's number and a letter.
	Label string `json:"label"`
	// What it is called, or what it is.
	Name string `json:"name"`
	// Where it is.
	At Spot `json:"place"`
	// What is done with it, in metres.
	Text string `json:"text"`
}

// CardMarksIn are the marks the card names, in these units: those of the first
// sightings.
func (l *RouteLeg) CardMarksIn(u units.System) []CardMark {
	out := []CardMark{}
	steps, _ := l.cardSightings()
	for i := range steps {
		s := &steps[i]
		if !labelled(s) {
			continue
		}
		m := s.Mark
		name := m.Name
		if name == "" {
			name = string(m.Kind) + " " + u.Height(m.Elevation)
		}
		out = append(out, CardMark{l.label(len(out)), name, spot(PlaceAt(m.Place), m.Elevation),
			fmt.Sprintf("Leg %d, from %s to %s: %s", l.Number, u.Distance(s.From), u.Distance(s.To), s.Sentence(u, l.DistanceM))})
	}
	return out
}

// WalkOn is what to walk on, in these units: the first steps of the chain of
// sightings.
func (l *RouteLeg) WalkOn(u units.System) string {
	var parts []string
	steps, more := l.cardSightings()
	marks := 0
	for i := range steps {
		s := &steps[i]
		text := s.Sentence(u, l.DistanceM)
		if labelled(s) {
			text = withLabel(s.Mark.Describe(u), l.label(marks))
			if s.Mark.Behind {
				text = "look back at " + text
			}
			if lost := s.LostText(u); lost != "" {
				text += "; " + lost
			}
			marks++
		}
		if s.To < l.DistanceM-samePlace {
			text = "to " + u.Distance(s.To) + ": " + text
		}
		parts = append(parts, text)
	}
	if len(parts) == 0 {
		return "Walk on the compass: it is short enough"
	}
	text := "Sight " + strings.Join(parts, "; then ")
	if steps[0].Mark == nil || steps[0].Mark.Behind || steps[0].To < l.DistanceM-samePlace {
		text = strings.TrimPrefix(text, "Sight ")
		text = strings.ToUpper(text[:1]) + text[1:]
	}
	if more == 1 {
		text += "; then 1 more sighting"
	} else if more > 1 {
		text += fmt.Sprintf("; then %d more sightings", more)
	}
	return text
}

// SightLines are what to walk on in short lines for a card: the first sightings,
// each with how far it leads, and how many more there are. Stretches on the compass
// are the gaps between.
func (l *RouteLeg) SightLines(u units.System) []string {
	var out []string
	steps, more := l.cardSightings()
	marks, end := 0, 0.0
	for i := range steps {
		s := &steps[i]
		if s.Kind != chain.Sighted {
			continue
		}
		m := s.Mark
		text := ""
		switch {
		case labelled(s):
			text = l.label(marks) + " " + markName(m)
			marks++
		case m.Kind == chain.Start:
			text = "the start"
		default:
			text = "the goal"
		}
		if m.Kind != chain.Destination {
			text += ", " + offLine(m)
		}
		text += ", " + u.Distance(m.Away)
		if m.Behind {
			text = "look back at " + text
		}
		if n := len(m.Lost); n > 0 {
			text += ", lost from " + u.Distance(m.Lost[0].From)
			if n > 1 {
				text += " and again"
			}
		}
		switch whole := s.To >= l.DistanceM-samePlace; {
		case s.From > end && whole:
			text = "from " + u.Distance(s.From) + ": " + text
		case s.From > end:
			text = u.Stretch(s.From, s.To) + ": " + text
		case !whole:
			text = "to " + u.Distance(s.To) + ": " + text
		}
		end = s.To
		out = append(out, strings.ToUpper(text[:1])+text[1:])
	}
	switch {
	case len(out) == 0 && len(steps) == 0:
		return []string{"Walk on the compass: it is short enough"}
	case len(out) == 0 && steps[0].Back != nil:
		return []string{"No mark ahead: compass, and look back at", steps[0].Back.Describe(u)}
	case len(out) == 0:
		return []string{"No mark ahead: compass all the way"}
	case more > 0:
		out = append(out, fmt.Sprintf("then %d more, on the map", more))
	}
	return out
}

// offLine is how far off the line a mark stands, by the hand at arm's length.
func offLine(m *chain.Mark) string {
	hand := scene.Hand(m.Off)
	const onLine = 0.5 // degrees; a quarter of a finger
	switch {
	case math.Abs(float64(m.Off)) < onLine:
		return "on your line"
	case m.Off < 0:
		return hand + " left"
	}
	return hand + " right"
}

// HiddenFrom says from where along a leg so long a mark is hidden, and of which
// parts that is not known; "" where it is in view all the way.
func HiddenFrom(kept []visibility.Stretch, length float64, u units.System) string {
	parts := func(v visibility.Verdict) string {
		var out []string
		for i, s := range kept {
			if s.Verdict != v {
				continue
			}
			text := fmt.Sprintf("from %s to %s", u.Distance(s.From), u.Distance(s.To))
			if i == len(kept)-1 && s.To >= length-samePlace {
				text = fmt.Sprintf("from %s to the end", u.Distance(s.From))
			}
			out = append(out, text)
		}
		return strings.Join(out, ", ")
	}
	var out []string
	if text := parts(visibility.Hidden); text != "" {
		out = append(out, "hidden "+text)
	}
	if text := parts(visibility.Unknown); text != "" {
		out = append(out, "not known "+text)
	}
	return strings.Join(out, "; ")
}

// label of the leg's marks, counted from 0.
func (l *RouteLeg) label(mark int) string {
	return fmt.Sprintf("%d%c", l.Number, 'a'+mark)
}

// withLabel puts a label behind a mark's words, in the brackets they may end in.
func withLabel(text, label string) string {
	if before, ok := strings.CutSuffix(text, ")"); ok {
		return before + "; " + label + ")"
	}
	return text + " (" + label + ")"
}

// cardSightings are the steps of the chain that a card tells, with the stretches
// on the compass among them, and how many more sightings there are.
func (l *RouteLeg) cardSightings() (steps []chain.Step, more int) {
	return toldOnCard(l.leg.wayside.plan.Steps)
}

func toldOnCard(plan []chain.Step) (steps []chain.Step, more int) {
	sightings := 0
	for _, s := range plan {
		switch {
		case s.Kind == chain.Sighted && sightings == policy.CardSightings:
			more++
		case s.Kind == chain.Sighted:
			sightings++
			steps = append(steps, s)
		case !s.Short && more == 0:
			steps = append(steps, s)
		}
	}
	return steps, more
}

// labelled reports whether a step of the chain is walked on a mark with a name
// of its own: the leg's end is a turning point.
func labelled(s *chain.Step) bool {
	return s.Mark != nil && s.Mark.Kind != chain.Destination && s.Mark.Kind != chain.Start
}
