package desk

import (
	"context"
	"encoding/binary"
	"encoding/json"
	"math"
	"strconv"

	"crowline/cmd/internal/answer"
	"crowline/cmd/internal/report"
)

// viewQuestion is of POST /api/view.
type viewQuestion struct {
	At      *where   `json:"at"`
	Radius  *float64 `json:"radius_m"`
	Steps   int      `json:"steps"`
	Options *options `json:"options"`
}

// class of a view: that of a stretch moves with the hand, all of the ground does not,
// nor what is asked many times over.
func (q *viewQuestion) class() class {
	if q.Radius != nil && *q.Radius == 0 || q.Steps == 3 {
		return long
	}
	return moving
}

// viewAnswer goes with the picture.
type viewAnswer struct {
	At      answer.PlottedSpot `json:"at"`
	Radius  float64            `json:"radius_m"`
	Words   string             `json:"words"`
	Command string             `json:"command"`
	Seen    float64            `json:"seen_share" round:"4"`
}

func (d *Desk) view(ctx context.Context, q *viewQuestion) (*body, error) {
	at, err := d.point(q.At, "at")
	if err != nil {
		return nil, err
	}
	s, err := d.settings(q.Options)
	if err != nil {
		return nil, err
	}
	r := answer.TintRequest{From: at.Place, Sighting: s.sighting, Cover: d.Cover, Radius: viewRadius, HowSure: q.Steps == 3}
	if q.Radius != nil {
		r.Radius = *q.Radius
	}
	if q.Steps != 0 && q.Steps != 2 && q.Steps != 3 {
		return nil, wrong("steps", "steps is 2 or 3")
	}
	if err := r.Check(); err != nil {
		return nil, err
	}
	t, err := d.chart.Tint(ctx, r)
	if err != nil {
		return nil, err
	}
	flags := append([]Flag{{"o", "seen.png"}}, s.flags...)
	if r.Radius > 0 {
		flags = append([]Flag{{"radius", strconv.FormatFloat(r.Radius, 'f', -1, 64)}}, flags...)
	}
	a := viewAnswer{Radius: r.Radius, Words: report.Tint(t, r.Radius, s.units), Seen: t.Seen, Command: d.Front.Command("viewshed", []string{at.text}, flags)}
	if a.At, err = d.spot(t.From, at); err != nil {
		return nil, err
	}
	steps := uint32(0)
	if t.HowSure {
		steps = 1
	}
	out, err := pictured(t, steps, a)
	return &body{"application/octet-stream", out}, err
}

// pictured is a picture on the plane as the page reads it, with what is said of it.
func pictured(t *answer.Tint, steps uint32, a any) ([]byte, error) {
	said, err := answer.Compact(a)
	if err != nil {
		return nil, err
	}
	out := make([]byte, 0, 44+len(said)+len(t.Cells))
	out = append(out, "CLV1"...)
	for _, n := range []uint32{uint32(t.Columns), uint32(t.Rows), steps} {
		out = binary.LittleEndian.AppendUint32(out, n)
	}
	for _, x := range []float64{t.West, t.North, t.Cell} {
		out = binary.LittleEndian.AppendUint64(out, math.Float64bits(x))
	}
	out = binary.LittleEndian.AppendUint32(out, uint32(len(said)))
	return append(append(out, said...), t.Cells...), nil
}

// skylineQuestion is of POST /api/skyline.
type skylineQuestion struct {
	At      *where   `json:"at"`
	Options *options `json:"options"`
}

type skylineAnswer struct {
	At answer.PlottedSpot `json:"at"`
	*answer.PanoramaDrawn
	Text    text   `json:"text"`
	Command string `json:"command"`
}

func (d *Desk) skyline(ctx context.Context, q *skylineQuestion) (*body, error) {
	at, err := d.point(q.At, "at")
	if err != nil {
		return nil, err
	}
	s, err := d.settings(q.Options)
	if err != nil {
		return nil, err
	}
	r := answer.SkylineRequest{From: at.Place, Sighting: s.sighting, Cover: d.Cover, Needle: s.needle, Step: 1, Places: d.Places}
	r.Sighting.Target = 0
	if err := r.Check(); err != nil {
		return nil, err
	}
	a, err := ask(ctx, d, r, answer.Skyline)
	if err != nil {
		return nil, err
	}
	words := func(p *report.Page) { report.Skyline(p, a) }
	out := skylineAnswer{Text: textOf(s.units, words, words), Command: d.Front.Command("skyline", []string{at.text}, s.flags)}
	if out.At, err = d.spot(a.From, at); err != nil {
		return nil, err
	}
	if out.PanoramaDrawn, err = a.Drawn(ctx, d.chart, r, s.units); err != nil {
		return nil, err
	}
	return jsonOf(out)
}

// markQuestion is of POST /api/mark.
type markQuestion struct {
	From    *where   `json:"from"`
	Mark    *where   `json:"mark"`
	Options *options `json:"options"`
}

type markAnswer struct {
	Answer  json.RawMessage        `json:"answer"`
	Text    text                   `json:"text"`
	Command string                 `json:"command"`
	Ray     []float64              `json:"ray" round:"2"`
	Profile *answer.ProfileFigures `json:"profile"`
}

func (d *Desk) mark(ctx context.Context, q *markQuestion) (*body, error) {
	from, err := d.point(q.From, "from")
	if err != nil {
		return nil, err
	}
	mark, err := d.point(q.Mark, "mark")
	if err != nil {
		return nil, err
	}
	s, err := d.settings(q.Options)
	if err != nil {
		return nil, err
	}
	r := answer.SightRequest{From: from.Place, To: mark.Place, Sighting: s.sighting, Cover: d.Cover, Needle: s.needle, Lines: &s.walk.Interval}
	if err := r.Check(); err != nil {
		return nil, err
	}
	a, err := ask(ctx, d, r, answer.Sight)
	if err != nil {
		return nil, err
	}
	words := func(p *report.Page) { report.Sight(p, a) }
	out := markAnswer{Text: textOf(s.units, words, words), Command: d.Front.Command("sight", []string{from.text, mark.text}, s.flags)}
	if out.Answer, err = answer.Compact(a); err != nil {
		return nil, err
	}
	if out.Ray, err = a.LineOn(d.chart); err != nil {
		return nil, err
	}
	if out.Profile, err = a.Figures(); err != nil {
		return nil, err
	}
	return jsonOf(out)
}

// routeQuestion is of POST /api/route.
type routeQuestion struct {
	Turns   []where  `json:"turns"`
	Title   string   `json:"title"`
	Options *options `json:"options"`
}

type routeAnswer struct {
	Answer  json.RawMessage `json:"answer"`
	Text    text            `json:"text"`
	Command string          `json:"command"`
	Legs    []routeLeg      `json:"legs"`
}

type routeLeg struct {
	Profile *answer.ProfileFigures `json:"profile"`
	Draw    *answer.LegDrawn       `json:"draw"`
}

// routeRequest is a question of a route, as the command line asks it of a file.
func (d *Desk) routeRequest(turns []point, title string, s settings) (answer.RouteRequest, error) {
	if f := plainText(title, "title"); f != nil {
		return answer.RouteRequest{}, f
	}
	r := answer.RouteRequest{
		Course: answer.CourseThrough(placesOf(turns), d.Places), Title: title, Sighting: s.sighting, Cover: d.Cover, Needle: s.needle, Walk: s.walk, Places: d.Places,
	}
	return r, r.Check()
}

func (d *Desk) route(ctx context.Context, q *routeQuestion) (*body, error) {
	turns, err := d.points(q.Turns, 2, mostTurns)
	if err != nil {
		return nil, err
	}
	s, err := d.settings(q.Options)
	if err != nil {
		return nil, err
	}
	r, err := d.routeRequest(turns, q.Title, s)
	if err != nil {
		return nil, err
	}
	a, err := ask(ctx, d, r, answer.Route)
	if err != nil {
		return nil, err
	}
	words := func(p *report.Page) { report.Route(p, a) }
	out := routeAnswer{Text: textOf(s.units, words, words), Command: d.Front.Command("route", []string{routeFile}, s.flags), Legs: []routeLeg{}}
	if out.Answer, err = answer.Compact(a); err != nil {
		return nil, err
	}
	for i := range a.Legs {
		var l routeLeg
		leg := a.Legs[i].Leg()
		if l.Profile, err = leg.Figures(); err != nil {
			return nil, err
		}
		if l.Draw, err = leg.Drawn(d.chart, s.units); err != nil {
			return nil, err
		}
		out.Legs = append(out.Legs, l)
	}
	return jsonOf(out)
}

// routeFile is the file of turning points that a route's command reads: the one
// that is taken away as GPX.
const routeFile = "route.gpx"
