package desk

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"net/http"
	"strconv"
	"sync"
	"time"

	"crowline/cmd/internal/answer"
	"crowline/cmd/internal/report"
	"crowline/contour/drill"
	"crowline/contour/page"
)

// taken is a file to take away.
type taken struct {
	name, kind string
	bytes      []byte
	warnings   []string
	command    string
}

// take answers POST /api/take/WHAT.
func take[Question any](d *Desk, what string, prepare func(d *Desk, q *Question) (func(ctx context.Context) (*taken, error), error)) (pattern string, handler http.HandlerFunc) {
	return streamed(d, "take/"+what, takenWithin, prepare)
}

// streamed answers POST /api/PATH by a stream: what is wrong with the question is said at
// once; then the work is told as it goes on, and the file comes whole or not at
// all.
func streamed[Question any](d *Desk, path string, within time.Duration, prepare func(d *Desk, q *Question) (func(ctx context.Context) (*taken, error), error)) (pattern string, handler http.HandlerFunc) {
	return "POST /api/" + path, func(w http.ResponseWriter, r *http.Request) {
		q := new(Question)
		if f := d.read(r, q); f != nil {
			f.write(w)
			return
		}
		work, err := prepare(d, q)
		if err != nil {
			faultOf(r.Context(), err).write(w)
			return
		}
		ctx, end, f := d.turns.begin(r.Context(), r)
		if f != nil {
			f.write(w)
			return
		}
		defer end()
		release, err := d.slots.acquire(ctx, long)
		if err != nil {
			faultOf(ctx, err).write(w)
			return
		}
		defer release()
		ctx, cancel := context.WithTimeoutCause(ctx, within, errLate)
		defer cancel()
		s := &stream{w: w, control: http.NewResponseController(w), end: time.Now().Add(within + writeWithin)}
		_ = s.control.SetWriteDeadline(s.end)
		w.Header().Set("Content-Type", "application/octet-stream")
		s.send(ctx, work)
	}
}

// stream writes frames: a byte of kind, four of length, so many bytes.
type stream struct {
	mutex   sync.Mutex
	w       http.ResponseWriter
	control *http.ResponseController
	end     time.Time
	last    time.Time
}

func (s *stream) frame(kind byte, content []byte) {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	head := binary.LittleEndian.AppendUint32([]byte{kind}, uint32(len(content)))
	_, _ = s.w.Write(append(head, content...))
	_ = s.control.Flush()
}

func (s *stream) say(kind byte, v any) {
	text, err := json.Marshal(v)
	if err != nil {
		panic(err) // strings and whole numbers
	}
	s.frame(kind, text)
}

// told tells how far the work is, a few times a second.
func (s *stream) told(label string, done, total int64) {
	if now := time.Now(); now.Sub(s.last) > 200*time.Millisecond {
		s.last = now
		s.say('P', map[string]any{"label": label, "done": done, "total": total})
	}
}

// filePart is how many bytes of a file a frame holds.
const filePart = 64 << 10

func (s *stream) send(ctx context.Context, work func(ctx context.Context) (*taken, error)) {
	var file *taken
	_, err := safely(func() (_ *body, err error) {
		file, err = work(answer.WithProgress(ctx, s.told))
		return nil, err
	})
	if err == nil {
		err = ctx.Err()
	}
	if err != nil {
		s.frame('E', faultOf(ctx, err).json())
		return
	}
	warnings := file.warnings
	if warnings == nil {
		warnings = []string{}
	}
	s.say('N', map[string]any{"name": file.name, "type": file.kind, "bytes": len(file.bytes), "warnings": warnings, "command": file.command})
	for from := 0; from < len(file.bytes) && ctx.Err() == nil; from += filePart {
		s.frame('F', file.bytes[from:min(from+filePart, len(file.bytes))])
	}
	if ctx.Err() == nil {
		s.say('D', map[string]any{"bytes": len(file.bytes)})
	}
}

// addTakes serves what is taken away.
func (d *Desk) addTakes(mux *http.ServeMux) {
	mux.HandleFunc(take(d, "sheet", (*Desk).takeSheet))
	mux.HandleFunc(take(d, "card", (*Desk).takeCard))
	mux.HandleFunc(take(d, "profile", (*Desk).takeProfile))
	mux.HandleFunc(take(d, "drill", (*Desk).takeDrill))
	mux.HandleFunc(take(d, "gpx", (*Desk).takeGPX))
	mux.HandleFunc(take(d, "json", (*Desk).takeJSON))
}

// kinds are those of files by their endings.
var kinds = map[string]string{
	"pdf": "application/pdf", "svg": "image/svg+xml", "png": "image/png", "txt": "text/plain; charset=utf-8", "gpx": "application/gpx+xml", "json": "application/json",
}

// checkFormat refuses a format that a file is not made in.
func checkFormat(format string, others ...string) error {
	for _, known := range append([]string{"pdf", "svg", "png"}, others...) {
		if format == known {
			return nil
		}
	}
	return wrong("format", "format %.10q: it is pdf, svg or png", format)
}

// drawnAs is a document in a format. One of several pages is a PDF: the others hold
// one page.
func drawnAs(document *page.Document, name, format, command string, warnings []string) (*taken, error) {
	out := &taken{warnings: append(warnings, document.Warnings...), command: command}
	if len(document.Pages) > 1 && format != "pdf" {
		out.warnings = append(out.warnings, fmt.Sprintf("it has %d pages, so it is a PDF", len(document.Pages)))
		format = "pdf"
	}
	var b bytes.Buffer
	var err error
	switch format {
	case "pdf":
		err = document.WritePDF(&b)
	case "svg":
		err = document.WriteSVG(&b, 0)
	default:
		err = document.WritePNG(&b, 0, 200)
	}
	out.name, out.kind, out.bytes = name+"."+format, kinds[format], b.Bytes()
	return out, err
}

// paperOf reads a paper as --paper is read.
func paperOf(text string) (page.Paper, error) {
	if text == "" {
		return page.A4, nil
	}
	p, err := page.ParsePaper(text)
	if err != nil {
		return p, wrong("paper", "%v", err)
	}
	return p, nil
}

type sheetQuestion struct {
	Turns   []where  `json:"turns"`
	Scale   float64  `json:"scale"`
	Paper   string   `json:"paper"`
	Format  string   `json:"format"`
	Relief  float64  `json:"relief"`
	Hidden  bool     `json:"hidden"`
	Options *options `json:"options"`
}

func (d *Desk) takeSheet(q *sheetQuestion) (func(ctx context.Context) (*taken, error), error) {
	turns, err := d.points(q.Turns, 1, 2)
	if err != nil {
		return nil, err
	}
	s, err := d.settings(q.Options)
	if err != nil {
		return nil, err
	}
	if err := checkFormat(q.Format); err != nil {
		return nil, err
	}
	r := answer.SheetRequest{
		From: turns[0].Place, Sighting: s.sighting, Cover: d.Cover, Needle: s.needle, Lines: answer.DefaultLines(), Relief: q.Relief, Marks: s.marks, Walk: s.walk,
		Hidden: q.Hidden, Units: s.units, Places: d.Places,
	}
	r.Lines.Scale, r.Lines.Interval = q.Scale, s.walk.Interval
	if len(turns) == 2 {
		r.To = &turns[1].Place
	} else if !q.Hidden {
		r.Cover = answer.Cover{}
	}
	if r.Paper, err = paperOf(q.Paper); err != nil {
		return nil, err
	}
	if err := r.Check(); err != nil {
		return nil, err
	}
	flags := []Flag{{"scale", strconv.FormatFloat(q.Scale, 'f', -1, 64)}, {"paper", q.Paper}, {"relief", strconv.FormatFloat(q.Relief, 'f', -1, 64)}}
	if q.Hidden {
		flags = append(flags, Flag{"hidden", ""})
	}
	command := d.Front.Command("sheet", textsOf(turns), append(append(flags, s.flags...), Flag{"o", "sheet." + q.Format}))
	return func(ctx context.Context) (*taken, error) {
		a, err := ask(ctx, d, r, answer.Sheet)
		if err != nil {
			return nil, err
		}
		out, err := drawnAs(a.Document(), "sheet", q.Format, command, nil)
		if err == nil {
			out.warnings = a.Warnings // the document's among them
		}
		return out, err
	}, nil
}

type cardQuestion struct {
	Turns   []where  `json:"turns"`
	Title   string   `json:"title"`
	Paper   string   `json:"paper"`
	Format  string   `json:"format"`
	Options *options `json:"options"`
}

// routed prepares a route.
func (d *Desk) routed(list []where, title string, o *options) (answer.RouteRequest, settings, error) {
	turns, err := d.points(list, 2, mostTurns)
	if err != nil {
		return answer.RouteRequest{}, settings{}, err
	}
	s, err := d.settings(o)
	if err != nil {
		return answer.RouteRequest{}, s, err
	}
	r, err := d.routeRequest(turns, title, s)
	return r, s, err
}

func (d *Desk) takeCard(q *cardQuestion) (func(ctx context.Context) (*taken, error), error) {
	r, s, err := d.routed(q.Turns, q.Title, q.Options)
	if err != nil {
		return nil, err
	}
	if err := checkFormat(q.Format, "txt"); err != nil {
		return nil, err
	}
	paper, err := paperOf(q.Paper)
	if err != nil {
		return nil, err
	}
	flags := []Flag{{"paper", q.Paper}}
	if q.Title != "" {
		flags = append(flags, Flag{"title", q.Title})
	}
	command := d.Front.Command("route", []string{routeFile}, append(append(flags, s.flags...), Flag{"o", "card." + q.Format}))
	return func(ctx context.Context) (*taken, error) {
		a, err := ask(ctx, d, r, answer.Route)
		if err != nil {
			return nil, err
		}
		if q.Format == "txt" {
			text := report.TextOf(s.units, func(p *report.Page) { report.Route(p, a) })
			return &taken{name: "card.txt", kind: kinds["txt"], bytes: []byte(text), command: command}, nil
		}
		card, err := report.RouteCard(a, paper, s.units)
		if err != nil {
			return nil, err
		}
		return drawnAs(card, "card", q.Format, command, nil)
	}, nil
}

type profileQuestion struct {
	Turns   []where  `json:"turns"`
	Format  string   `json:"format"`
	Options *options `json:"options"`
}

func (d *Desk) takeProfile(q *profileQuestion) (func(ctx context.Context) (*taken, error), error) {
	turns, err := d.points(q.Turns, 2, 2)
	if err != nil {
		return nil, err
	}
	s, err := d.settings(q.Options)
	if err != nil {
		return nil, err
	}
	if err := checkFormat(q.Format); err != nil {
		return nil, err
	}
	s.marks = 0 // a profile shows none
	r, err := d.legRequest(turns[0], turns[1], s)
	if err != nil {
		return nil, err
	}
	command := d.Front.Command("leg", textsOf(turns), append(s.flags, Flag{"plot", "profile." + q.Format}))
	return func(ctx context.Context) (*taken, error) {
		a, err := ask(ctx, d, r, answer.Leg)
		if err != nil {
			return nil, err
		}
		drawing, err := report.LegDrawing(a, s.units)
		if err != nil {
			return nil, err
		}
		return drawnAs(drawing, "profile", q.Format, command, nil)
	}, nil
}

type drillQuestion struct {
	At      *where   `json:"at"`
	Radius  float64  `json:"radius_m"`
	Level   string   `json:"level"`
	Count   int      `json:"count"`
	Seed    uint64   `json:"seed"`
	Paper   string   `json:"paper"`
	Scale   float64  `json:"scale"`
	Part    string   `json:"part"`
	Options *options `json:"options"`
}

// drillParts are the parts of a drill by their words.
var drillParts = map[string]drill.Part{"": drill.Both, "both": drill.Both, "questions": drill.QuestionsOnly, "key": drill.KeyOnly}

func (d *Desk) takeDrill(q *drillQuestion) (func(ctx context.Context) (*taken, error), error) {
	at, err := d.point(q.At, "at")
	if err != nil {
		return nil, err
	}
	s, err := d.settings(q.Options)
	if err != nil {
		return nil, err
	}
	part, ok := drillParts[q.Part]
	if !ok {
		return nil, wrong("part", "part is both, questions or key")
	}
	r := answer.DrillRequest{
		Around: at.Place, Radius: q.Radius, Seed: q.Seed, Level: drill.Level(q.Level), Count: q.Count, Scale: q.Scale, Interval: s.walk.Interval, Units: s.units,
		Sighting: s.sighting, Needle: s.needle, Part: part,
	}
	if r.Paper, err = paperOf(q.Paper); err != nil {
		return nil, err
	}
	if err := r.Check(); err != nil {
		return nil, err
	}
	number := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	flags := []Flag{{"around", at.text}, {"radius", number(q.Radius)}, {"level", q.Level}, {"count", strconv.Itoa(q.Count)}, {"seed", strconv.FormatUint(q.Seed, 10)},
		{"scale", number(q.Scale)}, {"paper", q.Paper}}
	if part != drill.Both {
		flags = append(flags, Flag{"part", q.Part})
	}
	command := d.Front.Command("drill", nil, append(append(flags, s.flags...), Flag{"o", "drill.pdf"}))
	return func(ctx context.Context) (*taken, error) {
		a, err := ask(ctx, d, r, answer.Drill)
		if err != nil {
			return nil, err
		}
		document, err := a.Document(ctx)
		if err != nil {
			return nil, err
		}
		return drawnAs(document, "drill", "pdf", command, nil)
	}, nil
}

type gpxQuestion struct {
	Turns   []where  `json:"turns"`
	Title   string   `json:"title"`
	Options *options `json:"options"`
}

func (d *Desk) takeGPX(q *gpxQuestion) (func(ctx context.Context) (*taken, error), error) {
	r, s, err := d.routed(q.Turns, q.Title, q.Options)
	if err != nil {
		return nil, err
	}
	command := d.Front.Command("route", []string{routeFile}, append(s.flags, Flag{"gpx", "marks.gpx"}))
	return func(ctx context.Context) (*taken, error) {
		a, err := ask(ctx, d, r, answer.Route)
		if err != nil {
			return nil, err
		}
		text, err := a.GPXBytes(ctx, report.RouteWaypoints(a, s.units))
		return &taken{name: routeFile, kind: kinds["gpx"], bytes: text, command: command}, err
	}, nil
}

type jsonQuestion struct {
	Turns   []where  `json:"turns"`
	Options *options `json:"options"`
}

func (d *Desk) takeJSON(q *jsonQuestion) (func(ctx context.Context) (*taken, error), error) {
	r, s, err := d.routed(q.Turns, "", q.Options)
	if err != nil {
		return nil, err
	}
	turns, err := d.points(q.Turns, 2, mostTurns)
	if err != nil {
		return nil, err
	}
	out := &taken{name: "route.json", kind: kinds["json"], command: d.Front.Command("route", []string{routeFile}, append(s.flags, Flag{"json", ""}))}
	if len(turns) == 2 {
		out.name, out.command = "leg.json", d.Front.Command("leg", textsOf(turns), append(s.flags, Flag{"json", ""}))
	}
	return func(ctx context.Context) (*taken, error) {
		g, err := d.Ground.Asked()
		if err != nil {
			return nil, err
		}
		var a any
		if len(turns) == 2 {
			var leg answer.LegRequest
			if leg, err = d.legRequest(turns[0], turns[1], s); err == nil {
				a, err = answer.Leg(ctx, g, leg)
			}
		} else {
			a, err = answer.Route(ctx, g, r)
		}
		if err != nil {
			return nil, err
		}
		var b bytes.Buffer
		err = answer.Encode(&b, a)
		out.bytes = b.Bytes()
		return out, err
	}, nil
}
