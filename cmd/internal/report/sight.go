package report

import (
	"fmt"
	"math"
	"strings"

	"crowline/cmd/internal/answer"
	"crowline/dem/units"
	"crowline/profile/magnetic"
	"crowline/visibility"
)

// filledWords is what text calls ground that was a void.
const filledWords = answer.FilledWords

// whether words a verdict and how sure it is as one statement about a target,
// and before gives what must stand before the reason where it is not sure.
func whether(target string, verdict visibility.Verdict, likely *answer.Likelihood) (words, before string) {
	l := likely.Full()
	words = target + " is " + visibility.Worded(verdict, l)
	if !l.Sure() {
		before = "by the data's heights "
	}
	return words, before
}

// sight says whether a target is seen from the start, and how sure that is.
func (p *Page) sight(target, from string, line *answer.SightLine) {
	s, u := line.Full(), p.Units
	angle := ""
	if !math.IsNaN(float64(s.Angle)) {
		side := "above"
		if s.Angle < 0 {
			side = "below"
		}
		angle = fmt.Sprintf(", %.1f° %s the horizontal", math.Abs(float64(s.Angle)), side)
	}
	switch s.Verdict {
	case visibility.Visible:
		text, before := whether(target, s.Verdict, line.Likely)
		text += angle
		if !math.IsNaN(s.Clearance) {
			text += fmt.Sprintf("; "+before+"the line clears the ground between by %s where it comes closest, %s off", u.Height(s.Nearest), u.Distance(s.NearestAt))
		}
		p.Line("from "+from, "%s", text)
	case visibility.Hidden:
		text, before := whether(target, s.Verdict, line.Likely)
		p.Line("from "+from, "%s%s: %sground at %s, %s high, stands in front of it",
			text, angle, before, u.Distance(s.BlockedAt), u.Height(s.BlockerElevation))
		least, why := "", ""
		if s.AtLeast {
			least, why = "at least ", "; part of the way has no data and may need more"
		}
		p.Line("", "you would see it if it stood %s%s higher, or you stood %s%s higher%s", least, u.Need(s.TargetExtra), least, u.Need(s.EyeExtra), why)
	default:
		p.Line("from "+from, "%s: not known. The line meets ground with no elevation data, and the ground that is known does not hide it.", target)
	}
}

// walking says from which parts of a leg so long its destination is seen.
func (p *Page) walking(walking []visibility.Stretch, length float64, what string) {
	u := p.Units
	if len(walking) == 1 {
		switch walking[0].Verdict {
		case visibility.Visible:
			p.Line("walking", "%s stays in view all the way", what)
		case visibility.Hidden:
			p.Line("walking", "%s stays hidden all the way", what)
		default:
			p.Line("walking", "not known for any part of the way")
		}
		return
	}
	var hidden, unknown []string
	for _, s := range walking {
		text := u.Stretch(s.From, s.To)
		switch s.Verdict {
		case visibility.Hidden:
			hidden = append(hidden, text)
		case visibility.Unknown:
			unknown = append(unknown, text)
		}
	}
	if len(hidden) > 0 {
		p.Line("walking", "hidden %s", fromStretches(hidden))
	}
	if len(unknown) > 0 {
		p.Line("walking", "not known %s", fromStretches(unknown))
	}
	if at, atLatest := visibility.FirstSeen(walking); walking[0].Verdict == visibility.Hidden && !math.IsNaN(at) {
		text := fmt.Sprintf("%s first comes into view %s along, %s before it", what, u.Distance(at), u.Distance(length-at))
		if atLatest {
			text = fmt.Sprintf("%s comes into view %s along at the latest, %s before it", what, u.Distance(at), u.Distance(length-at))
		}
		p.Line("", "%s", text)
	}
	if last := len(walking) - 1; walking[last].Verdict == visibility.Visible {
		from := u.Distance(walking[last].From)
		if walking[last-1].Verdict == visibility.Unknown {
			from += " on at the latest"
		} else {
			from += " on"
		}
		p.Line("", "and stays in view from %s", from)
	}
}

// fromStretches joins stretches: "from 0 m to 1.20 km, at 3.40 km".
func fromStretches(list []string) string {
	text := strings.Join(list, ", ")
	if !strings.HasPrefix(text, "at ") {
		text = "from " + text
	}
	return text
}

// likely says by what it is known how sure a verdict is; the verdict says how
// sure.
func (p *Page) likely(l *answer.Likelihood) {
	if l == nil {
		p.Line("how sure", "not known: the data's vertical error is not stated (--vertical-error)")
		return
	}
	without := ""
	if l.WithoutFilled {
		without = "; filled ground is left out: its accuracy is unknown"
	}
	known := "by"
	if math.IsNaN(l.Probability) {
		known = l.Words + ", by"
	}
	p.Line("how sure", "%s heights good to %s (errors alike within some %s) and refraction to ± %g%s",
		known, p.Units.Height(l.VerticalErrorM), p.Units.Distance(l.CorrelationM), l.RefractionSigmaK, without)
}

// bearing says a bearing from true north and, where the field is known, by the
// compass.
func (p *Page) bearing(degrees, compass float64, d *answer.MagneticDeclination) {
	if set, ok := onDial(degrees, compass, d); ok {
		p.Line("bearing", "%s on your compass", set)
		p.Line("", "true %s°, %s", units.Bearing(degrees), declined(d))
		return
	}
	text := fmt.Sprintf("true %s°", units.Bearing(degrees))
	if !math.IsNaN(compass) && d != nil {
		text += ", " + magneticWords(compass, d)
	}
	p.Line("bearing", "%s", text)
}

// bearings puts the bearings and what to set on a compass in words.
func (p *Page) bearings(list answer.Bearings, d *answer.MagneticDeclination) {
	b := list.Full()
	p.Line("true", "%s°", units.Bearing(float64(b.True)))
	if b.GridError == nil {
		p.Line("grid", "%s°  on %s, whose grid north is %s of true north here", units.Bearing(float64(b.Grid)), b.GridName,
			units.Sided(float64(b.Convergence), 1, "° east", "° west", "within 0.1°"))
	} else {
		p.Line("grid", "none: %v", b.GridError)
	}
	if b.FieldError != nil {
		p.Line("magnetic", "not known: %s", noMagnetic(b.FieldError))
	} else if d.Given() {
		p.Line("magnetic", "%s°: %s", units.Bearing(float64(b.Magnetic)), declined(d))
	} else {
		p.Line("magnetic", "%s°  on %s: declination %s ± %.1f, moving %s a year (%s)",
			units.Bearing(float64(b.Magnetic)), d.Date, units.EastWest(d.Deg), d.SigmaDeg, yearly(d.AnnualChangeDeg), d.Model)
	}
	back := fmt.Sprintf("true %s°", units.Bearing(float64(b.BackTrue)))
	if b.BackError == nil {
		back += fmt.Sprintf(", magnetic %s°", units.Bearing(float64(b.BackMagnetic)))
	}
	p.Line("back", "%s, from the destination", back)
	if b.FieldError == nil {
		magneticDial, trueDial := units.Dial(float64(b.Magnetic)), units.Dial(float64(b.True))
		if set, ok := onDial(float64(b.True), float64(b.Magnetic), d); ok {
			p.Line("compass", "set %s on the dial, %s", set, compassSet(d))
		} else if magneticDial == trueDial {
			p.Line("compass", "set %s on the dial, adjusted for declination or not: the difference is under a degree", trueDial)
		} else {
			p.Line("compass", "set %s on the dial if your compass is not adjusted for declination, %s if it is", magneticDial, trueDial)
		}
		if magneticDial != trueDial {
			p.Line("", "or, on a dial marked with the declination: set %s, turn till the needle lies on the mark for %s and not on north, and follow the arrow (common practice)",
				trueDial, units.EastWest(d.Deg))
		}
		if b.Field.Zone == magnetic.Caution {
			p.zone(b.Field.Zone)
		}
	}
}

// filledLine says which of a line lies on filled ground, where any does.
func (p *Page) filledLine(f *answer.FilledLine) {
	if text := p.filledLineText(f); text != "" {
		p.Line("FILLED", "%s", text)
	}
}

func (p *Page) filledLineText(f *answer.FilledLine) string {
	if f == nil || len(f.Stretches) == 0 {
		return ""
	}
	const most = 4
	listed, more := f.Stretches, ""
	if len(listed) > most {
		listed, more = listed[:most], fmt.Sprintf(" and %d more stretches", len(f.Stretches)-most)
	}
	text := fmt.Sprintf("%s of the line lies on ground %s: %s%s", p.Units.Distance(f.LengthM), filledWords, p.stretches(listed), more)
	switch {
	case f.Start && f.End:
		text += "; so do both its ends"
	case f.Start:
		text += "; so does its start"
	case f.End:
		text += "; so does its end"
	}
	return text
}

// stretches lists parts of a line.
func (p *Page) stretches(list []answer.Stretch) string {
	var parts []string
	for _, s := range list {
		parts = append(parts, p.Units.Stretch(s.FromM, s.ToM))
	}
	return strings.Join(parts, ", ")
}

// filledSight is what filled ground does to a verdict, "" for nothing.
func filledSight(s *answer.SightLine) string {
	switch {
	case s.BlockerFilled && s.RestsOnFilled:
		return "the ground that hides it was " + filledWords + ", and may be higher or lower; nothing else known hides it"
	case s.BlockerFilled:
		return "the ground named was " + filledWords + ", and may be higher or lower; other ground hides it too"
	case s.RestsOnFilled && s.Verdict == visibility.Visible:
		return "the line passes over ground " + filledWords + ": what stood there may hide it"
	case s.RestsOnFilled:
		return "the verdict rests on ground " + filledWords + ", which may be higher or lower"
	}
	return ""
}

func (p *Page) filledSight(s *answer.SightLine) {
	if text := filledSight(s); text != "" {
		p.Line("FILLED", "%s", text)
	}
}

// sentence ends a text with a full stop unless it asks something.
func sentence(text string) string {
	if strings.HasSuffix(text, "?") {
		return text
	}
	return text + "."
}

func capitalised(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

// coverSight says what the cover changes of a verdict over the bare ground, and
// what hides the target.
func (p *Page) coverSight(c *answer.CoverSight, bare visibility.Verdict) string {
	return p.coverSaid(c, bare, false)
}

// coverSaid is coverSight, in brief without why.
func (p *Page) coverSaid(c *answer.CoverSight, bare visibility.Verdict, brief bool) string {
	verdict, why := p.coverVerdict(c)
	if brief {
		why = ""
	}
	text := fmt.Sprintf("with what stands on the ground (%s) it is %s", c.Name, verdict)
	if !c.Depends && c.Sight.Verdict == bare {
		text += " too"
	}
	text += why
	if c.Depends {
		text += fmt.Sprintf(". Over the bare ground it is %s: this sight depends on what stands there", bare)
	}
	return text
}

// coverVerdict is that over the cover, and what hides the target or is not
// known.
func (p *Page) coverVerdict(c *answer.CoverSight) (verdict, why string) {
	s := c.Sight.Full()
	switch {
	case s.Verdict == visibility.Hidden:
		least := ""
		if s.AtLeast {
			least = "at least "
		}
		return "hidden", fmt.Sprintf(", %s%s behind %s", least, p.Units.Need(s.TargetExtra), s.Behind(p.lengths()))
	case s.CoverUnknown:
		return "not known", ", because what stands on the ground on the way is not"
	case s.Verdict == visibility.Unknown:
		return "not known", ", because part of the way has no elevation data"
	}
	return s.Verdict.String(), ""
}

// overCover is the cover's part of a sight, in brief without why.
func (p *Page) overCover(c *answer.CoverSight, bare visibility.Verdict, brief bool) {
	if c == nil {
		return
	}
	p.Line("over cover", "%s", p.coverSaid(c, bare, brief))
	if c.Warning != "" {
		p.Line("warning", "%s", c.Warning)
	}
}

// lengths are the library's sentences in these units.
func (p *Page) lengths() visibility.Lengths {
	return visibility.Lengths{Distance: p.Units.Distance, Height: p.Units.Height}
}
