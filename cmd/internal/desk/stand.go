package desk

import (
	"context"
	"strconv"

	"crowline/cmd/internal/answer"
	"crowline/cmd/internal/report"
)

// vantageQuestion is of POST /api/vantage.
type vantageQuestion struct {
	Around    *where   `json:"around"`
	Radius    float64  `json:"radius_m"`
	See       []where  `json:"see"`
	WatchFrom *where   `json:"watch_from"`
	WatchTo   *where   `json:"watch_to"`
	Options   *options `json:"options"`
}

// mostStandRadius bounds the ground stood on that a page may ask about, metres: a
// click must not keep a core busy for a quarter of an hour.
const mostStandRadius = 20e3

type vantageAnswer struct {
	Around      answer.PlottedSpot `json:"around"`
	Radius      float64            `json:"radius_m"`
	Kind        answer.VantageKind `json:"kind"`
	Standpoints []standpoint       `json:"standpoints"`
	Score       string             `json:"score"`
	Without     string             `json:"without"`
	Steps       []string           `json:"steps"`
	Text        text               `json:"text"`
	Command     string             `json:"command"`
}

// standpoint is what the page draws; its words are a section of the text.
type standpoint struct {
	Rank  int                `json:"rank"`
	Place answer.PlottedSpot `json:"place"`
	Where string             `json:"where"`
	Why   string             `json:"why"`
	Steep bool               `json:"steep"`
}

// vantage prepares where to stand.
func (d *Desk) vantage(q *vantageQuestion) (func(ctx context.Context) (*taken, error), error) {
	around, err := d.point(q.Around, "around")
	if err != nil {
		return nil, err
	}
	s, err := d.settings(q.Options)
	if err != nil {
		return nil, err
	}
	r := answer.DefaultVantage()
	r.Around, r.Radius, r.Sighting, r.Needle, r.Places = around.Place, q.Radius, s.sighting, s.needle, d.Places
	flags := []Flag{{"around", around.text}, {"radius", strconv.FormatFloat(q.Radius, 'f', -1, 64) + "m"}}
	var see []point
	if len(q.See) > 0 {
		if see, err = d.points(q.See, 1, mostTurns); err != nil {
			return nil, err
		}
	}
	for _, p := range see {
		r.See = append(r.See, p.Place)
		flags = append(flags, Flag{"see", p.text})
	}
	if q.WatchFrom != nil || q.WatchTo != nil {
		from, err := d.point(q.WatchFrom, "watch_from")
		if err != nil {
			return nil, err
		}
		to, err := d.point(q.WatchTo, "watch_to")
		if err != nil {
			return nil, err
		}
		r.WatchFrom, r.WatchTo = &from.Place, &to.Place
		flags = append(flags, Flag{"watch", from.text}, Flag{"watch-to", to.text})
	}
	// the desk's own height of what is sighted is of marks; a class's are the ground
	// itself, and a walker is as high as the command line has it
	if len(see) == 0 {
		s.flags = append([]Flag{{"target-height", Dropped}}, without(s.flags, "target-height")...)
		r.Sighting.Target = answer.DefaultSighting().Target
		if r.WatchFrom != nil {
			r.Sighting.Target = answer.DefaultPolicy().WalkerSeen
		}
	}
	if r.Radius > mostStandRadius {
		return nil, wrong("radius_m", "a radius of %g m: here it is up to %g km; the command line has more", r.Radius, mostStandRadius/1000)
	}
	if err := r.Check(); err != nil {
		return nil, err
	}
	command := d.Front.Command("vantage", nil, append(append(flags, s.flags...), Flag{"cover", Dropped}))
	return func(ctx context.Context) (*taken, error) {
		a, err := ask(ctx, d, r, answer.Vantage)
		if err != nil {
			return nil, err
		}
		t, none, steps, err := a.Scored(ctx, d.chart)
		if err != nil {
			return nil, err
		}
		words := func(p *report.Page) { report.Vantage(p, a) }
		out := vantageAnswer{Radius: r.Radius, Kind: a.Kind, Standpoints: []standpoint{}, Score: a.ScoreMeans(), Without: none, Steps: steps, Text: textOf(s.units, words, words), Command: command}
		if out.Around, err = d.spot(a.Around, around); err != nil {
			return nil, err
		}
		for i := range a.Standpoints {
			at := &a.Standpoints[i]
			told := standpoint{Rank: at.Rank, Where: report.StandsAt(a, at, s.units), Why: a.WhyIn(at, s.units), Steep: at.Steep()}
			if told.Place, err = d.chart.Spot(at.At); err != nil {
				return nil, err
			}
			out.Standpoints = append(out.Standpoints, told)
		}
		picture, err := pictured(t, uint32(len(steps)), out)
		return &taken{name: "vantage", kind: "application/octet-stream", bytes: picture, command: command}, err
	}, nil
}

// without leaves a flag out.
func without(flags []Flag, name string) (out []Flag) {
	for _, f := range flags {
		if f.Name != name {
			out = append(out, f)
		}
	}
	return out
}
