package answer

import (
	"fmt"
	"math"
	"strings"

	"crowline/dem/units"
	"crowline/visibility"
	"crowline/visibility/chain"
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

// CardMarksIn are the marks the card names, in these units: the one seen from
// the start, or else those of the first sightings.
func (l *RouteLeg) CardMarksIn(u units.System) []CardMark {
	out := []CardMark{}
	if l.Mark != nil {
		return append(out, CardMark{l.label(0), markName(l.Mark.landmark.Candidate, u), l.Mark.At, l.WalkOn(u)})
	}
	steps, _ := l.cardSightings()
	for _, s := range steps {
		if !labelled(s) {
			continue
		}
		m := *s.Mark
		name := m.Name
		if name == "" {
			kind := m.Kind.String()
			switch m.Kind {
			case chain.Ground:
				kind = "slope"
			case chain.Landmark:
				kind = "summit"
			}
			name = kind + " " + u.Height(m.Elevation)
		}
		out = append(out, CardMark{l.label(len(out)), name, spot(PlaceAt(l.leg.placeOf(m)), m.Elevation),
			fmt.Sprintf("Leg %d, from %s to %s: walk on %s", l.Number, u.Distance(s.From), u.Distance(s.To), m.Describe(lengths(u), l.DistanceM))})
	}
	return out
}

// WalkOn is what to walk on, in these units: the best mark seen from the start,
// or else the first sightings on the line itself.
func (l *RouteLeg) WalkOn(u units.System) string {
	if l.Mark == nil {
		return l.walkOnSightings(u)
	}
	m := l.Mark
	where := fmt.Sprintf("%s off", u.Distance(m.DistanceM))
	if m.DistanceM > l.DistanceM+samePlace {
		where = fmt.Sprintf("%s beyond", u.Distance(m.DistanceM-l.DistanceM))
	}
	along := "true " + units.Bearing(m.TrueDeg)
	if !math.IsNaN(m.MagneticDeg) {
		along = "magnetic " + units.Bearing(m.MagneticDeg)
	}
	text := fmt.Sprintf("Walk on %s (%s), %s°, %s", markName(m.landmark.Candidate, u), l.label(0), along, where)
	if l := m.landmark.Likelihood; !l.Sure() {
		text += " (" + l.Text() + ")"
	}
	if hidden := HiddenFrom(m.landmark.Kept, l.DistanceM, u); hidden != "" {
		text += "; " + hidden
	}
	return text
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

// walkOnSightings are the first steps of the chain of sightings.
func (l *RouteLeg) walkOnSightings(u units.System) string {
	var parts []string
	steps, more := l.cardSightings()
	marks := 0
	for _, s := range steps {
		switch {
		case labelled(s):
			parts = append(parts, withLabel(s.Mark.Describe(lengths(u), l.DistanceM), l.label(marks)))
			marks++
		case s.Mark != nil:
			parts = append(parts, s.Mark.Describe(lengths(u), l.DistanceM))
		default:
			parts = append(parts, fmt.Sprintf("the compass alone to %s", u.Distance(s.To)))
		}
	}
	if len(parts) == 0 {
		return "No mark is in sight: walk on the compass alone"
	}
	switch {
	case more == 1:
		parts = append(parts, "1 more sighting")
	case more > 1:
		parts = append(parts, fmt.Sprintf("%d more sightings", more))
	}
	return "Walk on " + strings.Join(parts, ", then ")
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
func labelled(s chain.Step) bool {
	return s.Mark != nil && s.Mark.Kind != chain.Destination && s.Mark.Kind != chain.Start
}

// markName is what a mark is called, or what it is and how high.
func markName(c visibility.Candidate, u units.System) string {
	switch {
	case c.Name != "":
		return c.Name
	case math.IsNaN(c.Elevation):
		return c.Kind
	}
	return c.Kind + " " + u.Height(c.Elevation)
}

// lengths are the library's sentences in these units.
func lengths(u units.System) visibility.Lengths {
	return visibility.Lengths{Distance: u.Distance, Height: u.Height}
}
