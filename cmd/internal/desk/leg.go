package desk

import (
	"context"
	"encoding/json"

	"crowline/cmd/internal/answer"
	"crowline/cmd/internal/report"
	"crowline/dem/units"
)

// placeQuestion is of POST /api/place.
type placeQuestion struct {
	At      *where   `json:"at"`
	Options *options `json:"options"`
}

type placeAnswer struct {
	At     answer.PlottedSpot `json:"at"`
	Norths answer.Norths      `json:"norths"`
	UTM    string             `json:"utm"`
}

func (d *Desk) place(ctx context.Context, q *placeQuestion) (*body, error) {
	at, err := d.point(q.At, "at")
	if err != nil {
		return nil, err
	}
	s, err := d.settings(q.Options)
	if err != nil {
		return nil, err
	}
	own, err := d.unjudged.Spot(ctx, at.Place)
	if err != nil {
		return nil, inField(err, "at")
	}
	a := placeAnswer{Norths: answer.NorthsAt(own, s.needle), UTM: answer.GridReference(at.LatLon)}
	if a.At, err = d.spot(own, at); err != nil {
		return nil, err
	}
	return jsonOf(a)
}

// inField names the part of a question that an error is about.
func inField(err error, field string) error {
	f := faultOf(context.Background(), err)
	f.Field = field
	return f
}

// quickQuestion is of POST /api/quick.
type quickQuestion struct {
	Turns   []where  `json:"turns"`
	Options *options `json:"options"`
}

type quickAnswer struct {
	Legs []quickLeg `json:"legs"`
}

type quickLeg struct {
	From     answer.PlottedSpot     `json:"from"`
	To       answer.PlottedSpot     `json:"to"`
	Line     []float64              `json:"line" round:"2"`
	Distance float64                `json:"distance_m" round:"2"`
	Covered  float64                `json:"covered_m" round:"2"`
	Unknown  float64                `json:"unknown_m" round:"2"`
	Bearing  answer.Bearings        `json:"bearing"`
	Climb    answer.Climb           `json:"climb"`
	Sight    answer.SightLine       `json:"sight"`
	Set      string                 `json:"set"`
	Words    string                 `json:"words"`
	Hazards  string                 `json:"hazards"`
	Profile  *answer.ProfileFigures `json:"profile"`
}

// mostMoving is how many turning points move with the hand at once.
const mostMoving = 10

func (d *Desk) quick(ctx context.Context, q *quickQuestion) (*body, error) {
	turns, err := d.points(q.Turns, 2, mostMoving)
	if err != nil {
		return nil, err
	}
	s, err := d.settings(q.Options)
	if err != nil {
		return nil, err
	}
	out := quickAnswer{}
	for i := range turns[1:] {
		from, to := turns[i], turns[i+1]
		r := answer.LegRequest{From: from.Place, To: to.Place, Sighting: s.sighting, Walk: s.walk, Needle: s.needle, Moving: true}
		if err := r.Check(); err != nil {
			return nil, err
		}
		a, err := answer.Leg(ctx, d.unjudged, r)
		if err != nil {
			return nil, err
		}
		l := quickLeg{Distance: a.DistanceM, Covered: a.CoveredM, Unknown: a.UnknownM, Bearing: a.Bearing, Climb: a.Climb, Sight: a.Sight}
		l.Set, l.Words, l.Hazards = report.LegMoving(a, s.units)
		if l.From, err = d.spot(a.From, from); err != nil {
			return nil, err
		}
		if l.To, err = d.spot(a.To, to); err != nil {
			return nil, err
		}
		if l.Line, err = a.LineOn(d.chart); err != nil {
			return nil, err
		}
		if l.Profile, err = a.Figures(); err != nil {
			return nil, err
		}
		out.Legs = append(out.Legs, l)
	}
	return jsonOf(out)
}

// legQuestion is of POST /api/leg.
type legQuestion struct {
	From    *where   `json:"from"`
	To      *where   `json:"to"`
	Options *options `json:"options"`
}

type legAnswer struct {
	Answer  json.RawMessage        `json:"answer"`
	Text    text                   `json:"text"`
	Command string                 `json:"command"`
	Profile *answer.ProfileFigures `json:"profile"`
	Draw    *answer.LegDrawn       `json:"draw"`
}

// text is a report: by its parts, and as the command line writes it.
type text struct {
	report.Words
	Plain string `json:"plain"`
}

// textOf is a report; full writes more than plain where the command line can.
func textOf(u units.System, plain, full func(*report.Page)) text {
	return text{report.WordsOf(u, full), report.TextOf(u, plain)}
}

// legRequest is a question of a leg, as the command line asks it.
func (d *Desk) legRequest(from, to point, s settings) (answer.LegRequest, error) {
	r := answer.LegRequest{From: from.Place, To: to.Place, Sighting: s.sighting, Cover: d.Cover, Walk: s.walk, Needle: s.needle, Marks: s.marks, Places: d.Places}
	return r, r.Check()
}

func (d *Desk) leg(ctx context.Context, q *legQuestion) (*body, error) {
	from, err := d.point(q.From, "from")
	if err != nil {
		return nil, err
	}
	to, err := d.point(q.To, "to")
	if err != nil {
		return nil, err
	}
	s, err := d.settings(q.Options)
	if err != nil {
		return nil, err
	}
	r, err := d.legRequest(from, to, s)
	if err != nil {
		return nil, err
	}
	a, err := ask(ctx, d, r, answer.Leg)
	if err != nil {
		return nil, err
	}
	out := legAnswer{
		Text:    textOf(s.units, func(p *report.Page) { report.Leg(p, a) }, func(p *report.Page) { report.LegInFull(p, a, s.marks) }),
		Command: d.Front.Command("leg", []string{from.text, to.text}, s.flags),
	}
	if out.Answer, err = answer.Compact(a); err != nil {
		return nil, err
	}
	if out.Profile, err = a.Figures(); err != nil {
		return nil, err
	}
	if out.Draw, err = a.Drawn(d.chart, s.units); err != nil {
		return nil, err
	}
	return jsonOf(out)
}
