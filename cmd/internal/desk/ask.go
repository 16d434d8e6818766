package desk

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"net/http"
	"strconv"
	"strings"
	"time"
	"unicode"

	"crowline/cmd/internal/answer"
	"crowline/contour"
	"crowline/dem/geodesy"
	"crowline/dem/units"
)

// How long a question may take once it has a slot. All of them look at their
// context often.
const (
	movingWithin = 5 * time.Second
	drawnWithin  = 20 * time.Second
	askedWithin  = 2 * time.Minute
	takenWithin  = 10 * time.Minute
)

// addAnswers serves the contract.
func (d *Desk) addAnswers(mux *http.ServeMux) {
	mux.HandleFunc("GET /api/ground", d.get(long, askedWithin, d.ground))
	mux.HandleFunc("GET /api/tile/{level}/{column}/{row}", d.get(drawn, drawnWithin, d.tile))
	mux.HandleFunc("GET /api/elevations/{level}/{column}/{row}", d.get(drawn, drawnWithin, d.elevations))
	mux.HandleFunc("POST /api/place", post(d, moving, movingWithin, d.place))
	mux.HandleFunc("POST /api/quick", post(d, moving, movingWithin, d.quick))
	mux.HandleFunc("POST /api/state", post(d, moving, movingWithin, d.state))
	mux.HandleFunc("POST /api/leg", post(d, long, askedWithin, d.leg))
	mux.HandleFunc("POST /api/route", post(d, long, askedWithin, d.route))
	mux.HandleFunc("POST /api/view", post(d, moving, askedWithin, d.view))
	mux.HandleFunc("POST /api/skyline", post(d, long, askedWithin, d.skyline))
	mux.HandleFunc("POST /api/mark", post(d, drawn, askedWithin, d.mark))
	mux.HandleFunc(streamed(d, "vantage", askedWithin, (*Desk).vantage))
	d.addTakes(mux)
}

// body is an answer that is no JSON.
type body struct {
	kind  string
	bytes []byte
}

// get answers a GET: with a body, or with nothing where there is none.
func (d *Desk) get(c class, within time.Duration, ask func(ctx context.Context, r *http.Request) (*body, error)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		d.answer(r.Context(), w, c, within, func(ctx context.Context) (*body, error) { return ask(ctx, r) })
	}
}

// post answers a POST of one JSON object.
func post[Question any](d *Desk, c class, within time.Duration, ask func(ctx context.Context, q *Question) (*body, error)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		q := new(Question)
		if f := d.read(r, q); f != nil {
			f.write(w)
			return
		}
		ctx, end, f := d.turns.begin(r.Context(), r)
		if f != nil {
			f.write(w)
			return
		}
		defer end()
		c := c
		if q, ok := any(q).(interface{ class() class }); ok {
			c = q.class()
		}
		d.answer(ctx, w, c, within, func(ctx context.Context) (*body, error) { return ask(ctx, q) })
	}
}

// answer waits for a slot, and works within a deadline.
func (d *Desk) answer(ctx context.Context, w http.ResponseWriter, c class, within time.Duration, ask func(ctx context.Context) (*body, error)) {
	release, err := d.slots.acquire(ctx, c)
	if err != nil {
		faultOf(ctx, err).write(w)
		return
	}
	ctx, cancel := context.WithTimeoutCause(ctx, within, errLate)
	defer cancel()
	_ = http.NewResponseController(w).SetWriteDeadline(time.Now().Add(within + writeWithin))
	b, err := safely(func() (*body, error) { return ask(ctx) })
	release()
	switch {
	case err == nil && ctx.Err() == nil && b == nil:
		w.WriteHeader(http.StatusNoContent)
	case err == nil && ctx.Err() == nil:
		w.Header().Set("Content-Type", b.kind)
		w.Header().Set("Content-Length", strconv.Itoa(len(b.bytes)))
		_, _ = w.Write(b.bytes)
	case err == nil:
		faultOf(ctx, ctx.Err()).write(w)
	default:
		faultOf(ctx, err).write(w)
	}
}

// safely makes of a panic a fault: the desk goes on, and other questions are
// answered.
func safely(ask func() (*body, error)) (b *body, err error) {
	defer func() {
		if p := recover(); p != nil {
			b, err = nil, faultf(http.StatusInternalServerError, "failed", "this question is more than the program can answer: please report it")
		}
	}()
	return ask()
}

// jsonOf is an answer's JSON, rounded as all answers are.
func jsonOf(a any) (*body, error) {
	text, err := answer.Compact(a)
	return &body{"application/json", text}, err
}

// read takes a question: one JSON object, all of whose fields are known.
func (d *Desk) read(r *http.Request, into any) *fault {
	text, err := io.ReadAll(r.Body)
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &large):
		return tooLarge()
	case err != nil:
		return wrong("", "the question did not come whole")
	}
	return decode(text, into, d.on(guardFields))
}

func decode(text []byte, into any, strict bool) *fault {
	decoder := json.NewDecoder(bytes.NewReader(text))
	if strict {
		decoder.DisallowUnknownFields()
	}
	if trimmed := bytes.TrimSpace(text); len(trimmed) == 0 || trimmed[0] != '{' {
		return wrong("", "a question is one JSON object")
	}
	if err := decoder.Decode(into); err != nil {
		var kind *json.UnmarshalTypeError
		if errors.As(err, &kind) {
			return wrong(kind.Field, "%s cannot be %s", kind.Field, kind.Value)
		}
		return wrong("", "the question is not as it should be: %s", strings.TrimPrefix(err.Error(), "json: "))
	}
	if _, err := decoder.Token(); !errors.Is(err, io.EOF) {
		return wrong("", "a question is one JSON object, and something follows it")
	}
	return nil
}

// where is a place in a question: one of text, a point of the plane, or latitude
// and longitude.
type where struct {
	Text *string  `json:"text"`
	X    *float64 `json:"x"`
	Y    *float64 `json:"y"`
	Lat  *float64 `json:"lat"`
	Lon  *float64 `json:"lon"`
	Name string   `json:"name"`
}

// point is a place that was asked about, and how it is written in a command.
type point struct {
	answer.Place
	text string
}

// mostTyped is the longest place or title that is typed, in characters.
const mostTyped = 200

// point reads a place; field is what it is in the question.
func (d *Desk) point(w *where, field string) (point, error) {
	placed := func(p answer.Place, text string, err error) (point, error) {
		if err != nil {
			f := faultf(http.StatusUnprocessableEntity, "place", "%v", err)
			f.Field = field
			return point{}, f
		}
		return point{p, text}, nil
	}
	if w == nil {
		return point{}, wrong(field, "%s is missing", field)
	}
	if f := plainText(w.Name, field); f != nil {
		return point{}, f
	}
	xy, degrees := w.X != nil && w.Y != nil, w.Lat != nil && w.Lon != nil
	some := (w.X != nil || w.Y != nil) && !xy || (w.Lat != nil || w.Lon != nil) && !degrees
	switch {
	case !some && w.Text != nil && !xy && !degrees && w.Name == "":
		if f := plainText(*w.Text, field); f != nil {
			return point{}, f
		}
		text := strings.TrimSpace(*w.Text)
		p, err := d.Front.Place(text)
		return placed(p, text, err)
	case !some && xy && w.Text == nil && !degrees && w.Name == "":
		if !(math.Abs(*w.X) <= mostPlane && math.Abs(*w.Y) <= mostPlane) {
			return point{}, wrong(field, "%s is no point of the map", field)
		}
		p, err := d.chart.Pointed(*w.X, *w.Y)
		return placed(p, p.LatLon.String(), err)
	case !some && degrees && w.Text == nil && !xy:
		at, err := geodesy.NewLatLon(geodesy.Degrees(*w.Lat), geodesy.Degrees(*w.Lon))
		p := answer.PlaceAt(at)
		p.Name = w.Name
		return placed(p, exactly(at), err)
	}
	return point{}, wrong(field, "%s is a text, or x and y, or lat and lon", field)
}

// exactly writes a place with all its digits, in the usual way where that holds them.
func exactly(p geodesy.LatLon) string {
	if again, err := geodesy.ParsePlace(p.String()); err == nil && again == p {
		return p.String()
	}
	return strconv.FormatFloat(float64(p.Lat), 'f', -1, 64) + "," + strconv.FormatFloat(float64(p.Lon), 'f', -1, 64)
}

// plainText refuses what nobody types.
func plainText(text, field string) *fault {
	if len([]rune(text)) > mostTyped {
		return wrong(field, "%s is longer than %d characters", field, mostTyped)
	}
	for _, r := range text {
		if unicode.IsControl(r) || r == unicode.ReplacementChar {
			return wrong(field, "%s holds a character that cannot be typed", field)
		}
	}
	return nil
}

// points reads from least to most places.
func (d *Desk) points(list []where, least, most int) ([]point, error) {
	if len(list) < least || len(list) > most {
		return nil, wrong("turns", "%d turning points: it is from %d to %d", len(list), least, most)
	}
	out := make([]point, len(list))
	for i := range list {
		var err error
		if out[i], err = d.point(&list[i], fmt.Sprintf("turns[%d]", i)); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func placesOf(list []point) []answer.Place {
	out := make([]answer.Place, len(list))
	for i, p := range list {
		out[i] = p.Place
	}
	return out
}

func textsOf(list []point) []string {
	out := make([]string, len(list))
	for i, p := range list {
		out[i] = p.text
	}
	return out
}

// spot is a place as an answer has it.
func (d *Desk) spot(s answer.Spot, p point) (answer.PlottedSpot, error) {
	out, err := d.chart.Spot(s)
	if p.text != "" {
		out.Text = p.text
	}
	return out, err
}

// ask asks the ground, which several questions may at once.
func ask[R, A any](ctx context.Context, d *Desk, r R, answered func(context.Context, *answer.Ground, R) (A, error)) (A, error) {
	g, err := d.Ground.Asked()
	if err != nil {
		var none A
		return none, err
	}
	return answered(ctx, g, r)
}

// options are what a question may say for itself.
type options struct {
	Eye        *float64 `json:"eye_m"`
	Target     *float64 `json:"target_m"`
	Refraction *float64 `json:"refraction_k"`
	Date       *string  `json:"date"`
	Units      *string  `json:"units"`
	Interval   *string  `json:"interval"`
	Marks      *int     `json:"marks"`
}

// settings are what a question is asked with.
type settings struct {
	sighting answer.Sighting
	walk     answer.Walk
	needle   answer.Needle
	units    units.System
	marks    int
	// interval is how the contour interval was written, "" where it is chosen.
	interval string
	// flags are those that differ from how the desk was started.
	flags []Flag
}

// mostMarks is as the command line has it.
const mostMarks = 100

// settings are the desk's own with what the question says.
func (d *Desk) settings(o *options) (settings, error) {
	s := settings{sighting: d.Sighting, walk: d.Walk, needle: d.Needle(), units: d.Units, marks: d.Marks}
	if o == nil {
		return s, nil
	}
	metres := func(name string, given *float64, into *float64) {
		if given != nil && *given != *into {
			*into = *given
			s.flags = append(s.flags, Flag{name, strconv.FormatFloat(*given, 'f', -1, 64)})
		}
	}
	metres("eye", o.Eye, &s.sighting.Eye)
	metres("target-height", o.Target, &s.sighting.Target)
	metres("refraction", o.Refraction, &s.sighting.Refraction)
	if err := s.sighting.Check(); err != nil {
		f := wrong("options", "%v", err)
		return s, f
	}
	if o.Units != nil {
		u, err := units.Parse(*o.Units)
		if err != nil {
			return s, wrong("options.units", "units are metric or us")
		}
		if u != s.units {
			s.units = u
			s.flags = append(s.flags, Flag{"units", u.String()})
			if s.walk.Interval.Value == 0 {
				s.walk.Interval.Unit = contour.Metre
				if u == units.US {
					s.walk.Interval.Unit = contour.Foot
				}
			}
		}
	}
	if o.Date != nil && *o.Date != "" {
		day, err := d.Front.Day(*o.Date)
		if err != nil {
			return s, wrong("options.date", "%v", err)
		}
		s.needle.Day = day
		s.flags = append(s.flags, Flag{"date", *o.Date})
	}
	if o.Interval != nil && *o.Interval != "" {
		i, err := d.Front.Interval(*o.Interval)
		if err != nil {
			return s, wrong("options.interval", "%v", err)
		}
		s.walk.Interval, s.interval = i, *o.Interval
		s.flags = append(s.flags, Flag{"interval", *o.Interval})
	}
	if o.Marks != nil && *o.Marks != s.marks {
		if *o.Marks < 0 || *o.Marks > mostMarks {
			return s, wrong("options.marks", "%d marks: it is from 0 to %d", *o.Marks, mostMarks)
		}
		s.marks = *o.Marks
		s.flags = append(s.flags, Flag{"marks", strconv.Itoa(s.marks)})
	}
	return s, nil
}

// whole reads a whole number of a path.
func whole(r *http.Request, name string) (int, error) {
	text := r.PathValue(name)
	n, err := strconv.Atoi(text)
	if err != nil || math.Abs(float64(n)) > 1e6 {
		return 0, wrong(name, "%s %.20q is not a number of a tile", name, text)
	}
	return n, nil
}
