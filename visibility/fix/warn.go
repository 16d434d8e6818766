package fix

import (
	"fmt"
	"math"
	"strings"

	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/visibility"
)

// WarningKind says what a warning is about.
type WarningKind string

// Kinds of warning.
const (
	// Blunder: the bearings do not agree within their errors.
	Blunder WarningKind = "blunder"
	// BackBearing: a reading was turned half round, since no place fits it
	// otherwise, or to find what else fits.
	BackBearing WarningKind = "back bearing"
	// Ambiguous: another place fits about as well.
	Ambiguous WarningKind = "ambiguous"
	// PoorGeometry: the lines cross at a flat angle.
	PoorGeometry WarningKind = "poor geometry"
	// HiddenMark: a mark cannot be seen from the answer, or it is not known
	// whether it can.
	HiddenMark WarningKind = "hidden mark"
	// OffData: ground of the elevation read was not looked for beyond the data.
	OffData WarningKind = "off the data"
	// NoRedundancy: nothing checks the bearings.
	NoRedundancy WarningKind = "no redundancy"
	// SameSide: all marks lie in one half of the circle.
	SameSide WarningKind = "same side"
	// FilledGround: the ground at the answer, or a line of sight, was void and
	// has been filled in.
	FilledGround WarningKind = "filled ground"
)

// Warning is a thing the reader of a fix must know, in one plain sentence.
type Warning struct {
	Kind     WarningKind
	Sentence landform.Sentence
	// Names of the bearings it is about, if of some.
	Names []string
}

// LeastCrossing is the flattest angle at which lines of position should
// cross (common practice).
const LeastCrossing geodesy.Degrees = 30

// longEllipse is the ratio of axes at which geometry is poor: two equal
// lines of position that cross at the least angle a make an ellipse
// cot(a/2) = 3.73 times as long as wide. More lines can cross well in pairs
// and still be weak together, as distant ones across a near one.
var longEllipse = 1 / (LeastCrossing / 2).Tan()

// blunderResidual is how many of its standard deviations a bearing's
// residual may be before it is taken as wrong (common practice).
const blunderResidual = 3

func (p *problem) warn(f *Fix, l looked, cut int) {
	add := func(kind WarningKind, names []string, format string, args ...any) {
		f.Warnings = append(f.Warnings, Warning{Kind: kind, Sentence: landform.Say(format, args...), Names: names})
	}
	p.warnBlunder(f, add)
	p.warnTurned(f, add)
	if f.Ambiguous() {
		add(Ambiguous, nil, "%d places fit about as well, and nothing given tells them apart: take another bearing", 1+len(f.Others)+f.Further)
	} else {
		p.warnGeometry(f, add)
	}
	p.warnHidden(f, add)
	p.warnBeyond(f, l, cut, add)
	p.warnFilled(f, add)
	if f.Redundancy == 0 {
		add(NoRedundancy, nil, "nothing checks the bearings: a wrong mark or a misread dial would go unseen; take one more")
	} else if p.resect && len(p.bearings) >= 3 && oneSide(f.Bearings) {
		add(SameSide, nil, "all marks lie on one side, so an error in all the bearings moves the fix and hardly shows; take one from behind you")
	}
}

// warnTurned names the bearings that were taken half round: at every place, where
// none fits them as they were read, or at some.
func (p *problem) warnTurned(f *Fix, add func(WarningKind, []string, string, ...any)) {
	var only, sometimes []string
	for i, r := range f.Bearings {
		all, one := r.Turned, r.Turned
		for _, o := range f.Others {
			all, one = all && o.Bearings[i].Turned, one || o.Bearings[i].Turned
		}
		switch {
		case all:
			only = append(only, r.Name)
		case one:
			sometimes = append(sometimes, r.Name)
		}
	}
	if len(only) > 0 {
		add(BackBearing, only, "the bearing of %s fits only when turned half round, and was: was the back bearing given, or the wrong end of the needle read?", strings.Join(only, ", "))
	}
	if len(sometimes) > 0 {
		add(BackBearing, sometimes, "some of these places fit the bearing of %s as it was read, others when it is turned half round: was the wrong end of the needle read?", strings.Join(sometimes, ", "))
	}
}

// warnGeometry says how the lines of the one place found cross.
func (p *problem) warnGeometry(f *Fix, add func(WarningKind, []string, string, ...any)) {
	e := f.Ellipse(OneSigma)
	switch {
	case f.Crossing < LeastCrossing:
		add(PoorGeometry, nil, "the lines cross at %.0f degrees; under %.0f a fix is weak along them: take a mark more to the side", float64(f.Crossing), float64(LeastCrossing))
	case e.SemiMajor > longEllipse*e.SemiMinor:
		add(PoorGeometry, nil, "the fix is %.1f times weaker along %03.0f degrees than across: take a nearer mark near that line's right angle", e.SemiMajor/e.SemiMinor, float64(e.Along))
	}
}

// doubtedHeight is how many of the heights' standard deviations more a hidden mark
// must lack for it to be doubted: under two, it may as well be in sight.
const doubtedHeight = 2

// warnHidden names the marks that cannot be seen from the place found, or from
// none of several, by more than the data's error; from which of several is in each
// one's bearings.
func (p *problem) warnHidden(f *Fix, add func(WarningKind, []string, string, ...any)) {
	for i, r := range f.Bearings {
		verdict, extra := r.Sight, r.Extra
		for _, o := range f.Others {
			if o.Bearings[i].Sight != verdict {
				verdict = visibility.OutOfRange
			}
			extra = min(extra, o.Bearings[i].Extra)
		}
		from, least := "the fix", ""
		if f.Ambiguous() {
			from, least = "each of these places", "at least "
		}
		switch verdict {
		case visibility.Hidden:
			if extra <= doubtedHeight*p.options.VerticalError {
				continue // the data cannot tell that it is hidden
			}
			f.hidden = true
			add(HiddenMark, []string{r.Name}, "ground hides %s from %s: it would have to stand %s%s higher; did you sight another mark?", r.Name, from, least, landform.Up(extra))
		case visibility.Unknown:
			add(HiddenMark, []string{r.Name}, "the data cannot say whether %s is seen from %s", r.Name, from)
		}
	}
}

// warnBeyond says where ground of the elevation read was not looked for.
// cut is how many of the places reach to where it ends.
func (p *problem) warnBeyond(f *Fix, l looked, cut int, add func(WarningKind, []string, string, ...any)) {
	name := p.bearings[0].label(0)
	switch {
	case cut > 0 && f.Ambiguous():
		add(OffData, nil, "the ground that fits reaches to where the data ends at %d of these places: they may be larger than is said", cut)
	case cut > 0:
		add(OffData, nil, "the ground that fits reaches to where the data ends: the place may lie farther out than the ellipse says")
	}
	if l.ends {
		add(OffData, nil, "the data ends %s from %s along the bearing: places farther out were not looked at", landform.Far(l.to), name)
	}
	if l.unknown > 0 {
		add(OffData, nil, "the data knows no ground over %s of the line of bearing to %s: places there were not looked at", landform.Far(l.unknown), name)
	}
}

// warnFilled says what of the answer rests on ground that nobody measured.
func (p *problem) warnFilled(f *Fix, add func(WarningKind, []string, string, ...any)) {
	filled := f.GroundFilled
	for _, o := range f.Others {
		filled = filled || o.GroundFilled
	}
	if filled {
		text := "the ground at the fix was filled in from the rim of a void: its elevation was not measured"
		if f.Ambiguous() {
			text = "the ground at some of these places was filled in from the rim of a void: its elevation was not measured"
		}
		if p.options.Altimeter != nil {
			text += ", and the altimeter was held against it"
		}
		add(FilledGround, nil, "%s", text)
	}
	var names []string
	for _, r := range f.Bearings {
		if r.SightFilled {
			names = append(names, r.Name)
		}
	}
	if len(names) > 0 {
		add(FilledGround, names, "whether %s can be seen rests on ground filled in from the rim of a void, which may be higher or lower", strings.Join(names, " and "))
	}
}

func (p *problem) warnBlunder(f *Fix, add func(WarningKind, []string, string, ...any)) {
	worst, at := 0.0, -1
	for i, r := range f.Bearings {
		if w := math.Abs(r.Standardised); w > worst {
			worst, at = w, i
		}
	}
	if f.Redundancy == 0 || !(f.Chance < rejected || worst > blunderResidual) {
		return
	}
	// With one check, or two suspects within a tenth, no one bearing is named.
	alone := f.Redundancy > 1 && at >= 0
	for i, r := range f.Bearings {
		if i != at && alone && math.Abs(r.Standardised) > 0.9*worst {
			alone = false
		}
	}
	if alone {
		r := f.Bearings[at]
		add(Blunder, []string{r.Name}, "the bearing of %s is out by %.1f degrees, %.1f times its error: leave it out or take it again", r.Name, math.Abs(float64(r.Residual)), worst)
		return
	}
	add(Blunder, nil, "the readings do not agree within their errors (chance alone does this %s): a reading or a mark is wrong, and nothing tells which", oneIn(f.Chance))
}

// oneIn says how often something happens by chance.
func oneIn(chance float64) string {
	const rare = 1000 // past it the errors are hardly those assumed
	if chance < 1.0/rare {
		return fmt.Sprintf("less than 1 time in %d", rare)
	}
	return fmt.Sprintf("1 time in %.0f", 1/chance)
}

// oneSide reports whether all marks lie within half a turn.
func oneSide(bearings []Residual) bool {
	for _, a := range bearings {
		all := true
		for _, b := range bearings {
			d := geodesy.Difference(a.Computed, b.Computed)
			all = all && d >= 0
		}
		if all {
			return true
		}
	}
	return false
}
