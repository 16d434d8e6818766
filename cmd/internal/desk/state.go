package desk

import (
	"context"
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"crowline/cmd/internal/answer"
)

// State is what a page shows: nothing else is kept of it, and a link holds just
// this.
type State struct {
	Turns []Typed
	// At and Mark are the chosen point and the chosen mark; nil for none.
	At, Mark *Typed
	// Seen is from where ground seen is tinted: "start", "goal", "at" or "off".
	Seen     string
	Relief   int
	Contours bool
	// X and Y are the middle of the map on its plane, and Level its level; nil where
	// the page chooses.
	X, Y  *float64
	Level *int
}

// Typed is a place and the text it was typed as.
type Typed struct {
	answer.Place
	Text string
}

// set: one that is not is the start, or the destination, left open.
func (t Typed) set() bool { return t.Text != "" }

// DefaultState is a map with nothing on it.
func DefaultState() State { return State{Seen: "off", Relief: 50, Contours: true} }

// linkPrefix begins every link.
const linkPrefix = "crowline:desk?"

// IsLink reports whether a text is meant for a link and not for a place.
func IsLink(text string) bool { return strings.HasPrefix(text, "crowline:") }

// ParseLink reads a link; place reads the places in it.
func ParseLink(text string, place func(string) (answer.Place, error)) (State, error) {
	s := DefaultState()
	query, ok := strings.CutPrefix(text, linkPrefix)
	if !ok {
		return s, fmt.Errorf("a link to the desk begins with %s", linkPrefix)
	}
	values, err := url.ParseQuery(query)
	if err != nil {
		return s, fmt.Errorf("the link is damaged: %w", err)
	}
	typed := func(text string) (Typed, error) {
		if f := plainText(text, "a place"); f != nil {
			return Typed{}, f
		}
		p, err := place(text)
		return Typed{p, text}, err
	}
	for name, list := range values {
		if name != "turn" && len(list) > 1 {
			return s, fmt.Errorf("the link has %q more than once", name)
		}
		switch value := list[0]; name {
		case "turn":
			if len(list) > mostTurns {
				return s, fmt.Errorf("the link has %d turning points, and at most %d are shown", len(list), mostTurns)
			}
			for _, text := range list {
				if text == "" {
					s.Turns = append(s.Turns, Typed{})
					continue
				}
				t, err := typed(text)
				if err != nil {
					return s, err
				}
				s.Turns = append(s.Turns, t)
			}
		case "at", "mark":
			t, err := typed(value)
			if err != nil {
				return s, err
			}
			if name == "at" {
				s.At = &t
			} else {
				s.Mark = &t
			}
		case "seen":
			s.Seen = value
		case "relief":
			if s.Relief, err = strconv.Atoi(value); err != nil {
				return s, fmt.Errorf("the link's relief %.20q is no number", value)
			}
		case "contours":
			s.Contours = value != "0"
		case "x", "y":
			n, err := strconv.ParseFloat(value, 64)
			if err != nil {
				return s, fmt.Errorf("the link's %s %.20q is no number", name, value)
			}
			if name == "x" {
				s.X = &n
			} else {
				s.Y = &n
			}
		case "level":
			n, err := strconv.Atoi(value)
			if err != nil {
				return s, fmt.Errorf("the link's level %.20q is no number", value)
			}
			s.Level = &n
		default:
			return s, fmt.Errorf("the link has %.20q, which this version does not know", name)
		}
	}
	return s, s.check()
}

// mostTurns is of a state: as many as a route card takes.
var mostTurns = answer.DefaultPolicy().MostLegs + 1

// seenFrom are where ground seen may be tinted from.
var seenFrom = []string{"start", "goal", "at", "off"}

// mostPlane bounds positions on the plane, metres: UTM's northings, and some.
const mostPlane = 21e6

func (s *State) check() error {
	switch {
	case !slices.Contains(seenFrom, s.Seen):
		return wrong("seen", "seen is %s", strings.Join(seenFrom, ", "))
	case s.Relief < 0 || s.Relief > 100:
		return wrong("relief", "relief %d: it is from 0 to 100", s.Relief)
	case !s.ordered():
		return wrong("turns", "only the start or the destination may be left open")
	case (s.X == nil) != (s.Y == nil):
		return wrong("x", "x and y go together")
	case s.X != nil && !(*s.X >= -mostPlane && *s.X <= mostPlane && *s.Y >= -mostPlane && *s.Y <= mostPlane):
		return wrong("x", "x and y are no place of the map")
	case s.Level != nil && (*s.Level < 0 || *s.Level > 20):
		return wrong("level", "level %d: it is from 0 to 20", *s.Level)
	}
	return nil
}

// ordered: what is left open stands first or last, of two or more.
func (s *State) ordered() bool {
	for i, t := range s.Turns {
		if !t.set() && (len(s.Turns) < 2 || i > 0 && i < len(s.Turns)-1) {
			return false
		}
	}
	return true
}

// Link writes a state, so that ParseLink reads the same.
func (s *State) Link() string {
	var b strings.Builder
	b.WriteString(linkPrefix)
	first := true
	add := func(name, value string) {
		if !first {
			b.WriteByte('&')
		}
		first = false
		b.WriteString(name + "=" + strings.ReplaceAll(url.QueryEscape(value), "%2C", ","))
	}
	for _, t := range s.Turns {
		add("turn", t.Text)
	}
	if s.At != nil {
		add("at", s.At.Text)
	}
	if s.Mark != nil {
		add("mark", s.Mark.Text)
	}
	add("seen", s.Seen)
	add("relief", strconv.Itoa(s.Relief))
	add("contours", map[bool]string{true: "1", false: "0"}[s.Contours])
	if s.X != nil {
		add("x", strconv.FormatFloat(*s.X, 'f', 0, 64))
		add("y", strconv.FormatFloat(*s.Y, 'f', 0, 64))
	}
	if s.Level != nil {
		add("level", strconv.Itoa(*s.Level))
	}
	return b.String()
}

// stateAnswer is a state as a page has it.
type stateAnswer struct {
	Turns    []*answer.PlottedSpot `json:"turns"`
	At       *answer.PlottedSpot   `json:"at"`
	Mark     *answer.PlottedSpot   `json:"mark"`
	Seen     string                `json:"seen"`
	Relief   int                   `json:"relief"`
	Contours bool                  `json:"contours"`
	X        *float64              `json:"x"`
	Y        *float64              `json:"y"`
	Level    *int                  `json:"level"`
}

// told is a state for the page. A place off the data has no elevation.
func (d *Desk) told(ctx context.Context, s State) (stateAnswer, error) {
	out := stateAnswer{Turns: []*answer.PlottedSpot{}, Seen: s.Seen, Relief: s.Relief, Contours: s.Contours, X: s.X, Y: s.Y, Level: s.Level}
	one := func(t Typed) (answer.PlottedSpot, error) {
		own, err := d.unjudged.Spot(ctx, t.Place)
		if err != nil {
			own = answer.SpotOf(t.Place)
		}
		return d.spot(own, point{t.Place, t.Text})
	}
	for _, t := range s.Turns {
		if !t.set() {
			out.Turns = append(out.Turns, nil)
			continue
		}
		p, err := one(t)
		if err != nil {
			return out, err
		}
		out.Turns = append(out.Turns, &p)
	}
	for _, part := range []struct {
		from *Typed
		into **answer.PlottedSpot
	}{{s.At, &out.At}, {s.Mark, &out.Mark}} {
		if part.from != nil {
			p, err := one(*part.from)
			if err != nil {
				return out, err
			}
			*part.into = &p
		}
	}
	return out, nil
}

// stateQuestion is of POST /api/state: one of the two.
type stateQuestion struct {
	Link  *string  `json:"link"`
	State *stateIn `json:"state"`
}

type stateIn struct {
	Turns    []*where `json:"turns"`
	At       *where   `json:"at"`
	Mark     *where   `json:"mark"`
	Seen     *string  `json:"seen"`
	Relief   *int     `json:"relief"`
	Contours *bool    `json:"contours"`
	X        *float64 `json:"x"`
	Y        *float64 `json:"y"`
	Level    *int     `json:"level"`
}

type linkAnswer struct {
	State   stateAnswer `json:"state"`
	Link    string      `json:"link"`
	Command string      `json:"command"`
}

func (d *Desk) state(ctx context.Context, q *stateQuestion) (*body, error) {
	if (q.Link == nil) == (q.State == nil) {
		return nil, wrong("", "a link or a state is asked about")
	}
	var s State
	var err error
	if q.Link != nil {
		if s, err = ParseLink(*q.Link, d.Front.Place); err != nil {
			return nil, inField(err, "link")
		}
	} else if s, err = d.stateOf(q.State); err != nil {
		return nil, err
	}
	out := linkAnswer{Link: s.Link()}
	out.Command = d.Front.Command("desk", []string{out.Link}, nil)
	if out.State, err = d.told(ctx, s); err != nil {
		return nil, err
	}
	return jsonOf(out)
}

func (d *Desk) stateOf(q *stateIn) (State, error) {
	s := DefaultState()
	if len(q.Turns) > mostTurns {
		return s, wrong("turns", "%d turning points: it is up to %d", len(q.Turns), mostTurns)
	}
	for i, w := range q.Turns {
		if w == nil {
			s.Turns = append(s.Turns, Typed{})
			continue
		}
		p, err := d.point(w, fmt.Sprintf("turns[%d]", i))
		if err != nil {
			return s, err
		}
		s.Turns = append(s.Turns, Typed{p.Place, p.text})
	}
	for _, part := range []struct {
		from  *where
		into  **Typed
		field string
	}{{q.At, &s.At, "at"}, {q.Mark, &s.Mark, "mark"}} {
		if part.from != nil {
			p, err := d.point(part.from, part.field)
			if err != nil {
				return s, err
			}
			*part.into = &Typed{p.Place, p.text}
		}
	}
	if q.Seen != nil {
		s.Seen = *q.Seen
	}
	if q.Relief != nil {
		s.Relief = *q.Relief
	}
	if q.Contours != nil {
		s.Contours = *q.Contours
	}
	s.X, s.Y, s.Level = q.X, q.Y, q.Level
	return s, s.check()
}
