package scene

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"crowline/dem/geodesy"
	"crowline/dem/units"
)

// How is the way a thing is told apart from all else in a view.
type How string

// Ways of telling, in the order in which they are tried.
const (
	// ByName: the user's name, which nothing else has.
	ByName How = "name"
	// FromLine: so far to the side of the line that is walked, ahead or back
	// along it, as near as fingers and fists tell; its place from the left where
	// there are several.
	FromLine How = "from the line"
	// Only: the only one of its kind all round.
	Only How = "only"
	// Most: the highest top, the deepest notch, the tallest cliff of all.
	Most How = "most"
	// Beside: so far to the side of a thing told in one of the ways above or
	// below, as near as fingers and fists tell.
	Beside How = "beside"
	// OnlyTowards and MostTowards: as Only and Most, of what stands within 45
	// degrees of a point of the compass.
	OnlyTowards How = "only towards"
	MostTowards How = "most towards"
	// AmongTowards: its place from left to right of the two or three that stand
	// within 45 degrees of a point of the compass.
	AmongTowards How = "among towards"
	// Among: on a bearing, its place from left to right among those like it
	// close by.
	Among How = "among"
)

// Told is how a thing is told apart: a description that a program can check.
// See View.Satisfying.
type Told struct {
	How   How
	noun  noun
	brief bool // said of the skyline: that it is on it need not be said again
	// Anchor is the thing, by its index in View.Things, that it is told from
	// (Beside), and Off the angle from there, or from the line (FromLine), to be
	// spoken, degrees, positive to the right; a thing within Give of Off fits it.
	Anchor int
	// Back: behind, along the line back (FromLine).
	Back      bool
	Off, Give geodesy.Degrees
	// Point of the compass (OnlyTowards, MostTowards, AmongTowards), true,
	// degrees.
	Point geodesy.TrueBearing
	// Window (Among): of things like it whose bearings lie within so many
	// degrees of its own, or that Off fits (FromLine), or that stand towards
	// Point (AmongTowards), it is number Among of Of from the left.
	Window    geodesy.Degrees
	Among, Of int
}

// noun is what a thing is called: the same thing may be called by more than one.
type noun string

const (
	topNoun   noun = "top"
	loneNoun  noun = "lone hill"
	notchNoun noun = "notch"
	ridgeNoun noun = "ridge"
	spurNoun  noun = "spur"
	cliffNoun noun = "cliff"
	faceNoun  noun = "steep face"
	waterNoun noun = "water"
	placeNoun noun = "place"
)

// nouns that a thing may be called by, the best first.
func (t Thing) nouns() []noun {
	switch t.Kind {
	case Top:
		if t.Lone {
			return []noun{loneNoun, topNoun}
		}
		return []noun{topNoun}
	case Notch:
		if t.Side != 0 {
			return []noun{notchNoun, ridgeNoun}
		}
		return []noun{notchNoun}
	case RidgeEnd:
		return []noun{ridgeNoun}
	case SpurEnd:
		return []noun{spurNoun}
	case Cliff:
		return []noun{cliffNoun, faceNoun}
	case Face:
		return []noun{faceNoun}
	case Water:
		return []noun{waterNoun}
	}
	return []noun{placeNoun}
}

// fits reports whether what is said of t, but for where it is, can be said of o
// as well.
func fits(t, o Thing) bool {
	if t.Name != "" {
		return t.Name == o.Name
	}
	if !slices.Contains(o.nouns(), t.Told.noun) {
		return false
	}
	switch t.Told.noun {
	case topNoun, loneNoun:
		return o.Skyline == t.Skyline
	case ridgeNoun, spurNoun:
		return o.Side == t.Side
	}
	return true
}

// Margins of what the eye tells at once: the highest by so many degrees, the
// deepest or tallest by so much more.
const (
	higherBy = 0.25
	largerBy = 1.25
)

// best are those of some things that the eye finds at once: the highest top on
// the skyline within some degrees of a bearing, by the skyline itself, for
// higher ground may be too broad to be listed; the deepest notch, by all low
// places of the skyline; the largest cliff and the widest water.
func (v *View) best(t Thing, of []Thing, bearing geodesy.TrueBearing, within float64) []Thing {
	highest := geodesy.Degrees(math.NaN())
	if t.Told.noun == topNoun && t.Skyline {
		highest = v.highest(bearing, within)
	}
	return slices.DeleteFunc(slices.Clone(of), func(o Thing) bool {
		switch t.Told.noun {
		case topNoun:
			if !o.Skyline {
				return true
			}
			if !(o.Angle >= highest-topLower) {
				return true
			}
			return slices.ContainsFunc(of, func(p Thing) bool { return !p.is(o) && p.Angle > o.Angle-higherBy })
		case notchNoun:
			return v.rivals(v.dips, o, bearing, within, float64(o.StandsOut)/largerBy)
		case cliffNoun, faceNoun, waterNoun:
			return slices.ContainsFunc(of, func(p Thing) bool { return !p.is(o) && largerBy*p.size() > o.size() })
		}
		return true
	})
}

// highest is how high the skyline stands within some degrees of a bearing; NaN
// where any of it is not known.
func (v *View) highest(bearing geodesy.TrueBearing, within float64) geodesy.Degrees {
	at, n := int(math.Round(float64(bearing)/v.Step)), int(within/v.Step)
	out := geodesy.Degrees(math.Inf(-1))
	for i := at - n; i <= at+n; i++ {
		c := v.ray(i).skyline()
		if c == nil {
			return geodesy.Degrees(math.NaN())
		}
		out = max(out, angle(c.slope))
	}
	return out
}

// rivals reports whether another high or low place of the skyline, listed or
// not, stands out by so many degrees within some degrees of a bearing.
func (v *View) rivals(of []rival, t Thing, bearing geodesy.TrueBearing, within, out float64) bool {
	return slices.ContainsFunc(of, func(r rival) bool {
		return r.out > out && math.Abs(float64(geodesy.Difference(bearing, r.bearing))) <= within &&
			math.Abs(float64(geodesy.Difference(t.Bearing, r.bearing))) > inNotch
	})
}

// only are the things if they are what the eye would call the only ones: no
// other high or low place of the skyline, too broad to be listed, is as good.
func (v *View) only(t Thing, of []Thing, bearing geodesy.TrueBearing, within float64) []Thing {
	rivals := v.dips
	switch t.Told.noun {
	case topNoun:
		if !t.Skyline {
			return nil // there are lesser ones in any view
		}
		rivals = v.humps
	case notchNoun:
	case ridgeNoun, spurNoun:
		return nil // likewise
	default:
		return of
	}
	for _, r := range rivals {
		near := func(o Thing) bool { return math.Abs(float64(geodesy.Difference(o.Bearing, r.bearing))) <= inNotch }
		if r.out > float64(v.options.LeastOut) && math.Abs(float64(geodesy.Difference(bearing, r.bearing))) <= within && !slices.ContainsFunc(of, near) {
			return nil
		}
	}
	return of
}

// size is what the eye compares, degrees.
func (t Thing) size() geodesy.Degrees {
	if t.Kind == Water {
		return t.Width
	}
	return t.StandsOut
}

// Bounds of telling: how far from an anchor a thing may be told, degrees; what
// the eye looks over when it looks towards a point of the compass, to either side.
const (
	mostBeside  = 35.0
	towards     = 45.0
	pointWithin = 22.5
)

// Windows that a thing is told apart in, degrees: what a compass reads to with
// care, and less where many stand together.
var windows = []geodesy.Degrees{5, 3, 2, 1}

// mostAmong is how many things of a kind one can count from the left.
const mostAmong = 3

// tell finds for each thing the first way that tells it from all others.
func (v *View) tell() {
	rest := make([]int, len(v.Things))
	for i := range v.Things {
		v.Things[i].Told = Told{}
		rest[i] = i
	}
	try := func(t *Thing, told Told) bool {
		for _, told.noun = range t.nouns() {
			t.Told = told
			if found := v.Satisfying(*t); len(found) == 1 && found[0].is(*t) {
				return true
			}
		}
		t.Told = Told{}
		return false
	}
	whole := len(v.options.Sectors) == 0
	// in four rounds: those known at once, those beside them, those towards a
	// point, those beside these; the rest on their bearing
	beside := func() {
		var anchors []int
		for i := range v.Things {
			if v.Things[i].Told.anchor() {
				anchors = append(anchors, i)
			}
		}
		rest = slices.DeleteFunc(rest, func(i int) bool {
			t := &v.Things[i]
			near := slices.Clone(anchors)
			slices.SortStableFunc(near, func(a, b int) int { return cmp.Compare(apart(*t, v.Things[a]), apart(*t, v.Things[b])) })
			for _, a := range near {
				off := geodesy.Difference(v.Things[a].Bearing, t.Bearing)
				if math.Abs(float64(off)) > mostBeside || math.Abs(float64(off)) < tooClose {
					continue
				}
				spoken, give := spoken(off)
				if try(t, Told{How: Beside, Anchor: a, Off: spoken, Give: give}) {
					return true
				}
			}
			return false
		})
	}
	rest = slices.DeleteFunc(rest, func(i int) bool {
		t := &v.Things[i]
		return t.Name != "" && try(t, Told{How: ByName}) || v.fromLine(t)
	})
	rest = slices.DeleteFunc(rest, func(i int) bool {
		t := &v.Things[i]
		return whole && (try(t, Told{How: Only}) || try(t, Told{How: Most}))
	})
	beside()
	rest = slices.DeleteFunc(rest, func(i int) bool {
		if !whole {
			return false
		}
		t := &v.Things[i]
		point := geodesy.NewTrueBearing(geodesy.Degrees(45 * math.Round(float64(t.Bearing)/45)))
		return try(t, Told{How: OnlyTowards, Point: point}) || try(t, Told{How: MostTowards, Point: point})
	})
	beside()
	rest = slices.DeleteFunc(rest, func(i int) bool {
		t := &v.Things[i]
		point := geodesy.NewTrueBearing(geodesy.Degrees(45 * math.Round(float64(t.Bearing)/45)))
		for of := 2; whole && of <= mostAmong; of++ {
			for k := 1; k <= of; k++ {
				if try(t, Told{How: AmongTowards, Point: point, Among: k, Of: of}) {
					return true
				}
			}
		}
		return false
	})
	for _, i := range rest {
		v.among(&v.Things[i])
	}
}

// anchor reports whether a thing told so is found at once, so that others can be
// told from it.
func (t Told) anchor() bool {
	switch t.How {
	case ByName:
		return true
	case Only, Most, OnlyTowards, MostTowards:
		return t.noun == topNoun || t.noun == loneNoun || t.noun == notchNoun || t.noun == waterNoun
	}
	return false
}

// mostFromLine is how far from the line that is walked, degrees, a thing is told
// from it: a hand at arm's length tells no more.
const mostFromLine = 20.0

// onLine is how near a thing is on the line, degrees: a compass held by hand
// reads no better.
const onLine = 0.5

// fromLine tells a thing by how far it stands from the line that is walked.
func (v *View) fromLine(t *Thing) bool {
	if v.Line == nil {
		return false
	}
	told := Told{How: FromLine}
	off := geodesy.Difference(*v.Line, t.Bearing)
	if math.Abs(float64(off)) > 90 {
		told.Back = true
		off = geodesy.Difference(geodesy.NewTrueBearing(geodesy.Degrees(*v.Line)+180), t.Bearing)
	}
	if math.Abs(float64(off)) > mostFromLine {
		return false
	}
	told.Off, told.Give = spoken(off)
	if math.Abs(float64(off)) <= onLine {
		told.Off, told.Give = 0, spans[0].give
	}
	nouns := t.nouns()
	for most := 1; most <= mostAmong; most++ {
		for _, told.noun = range nouns {
			t.Told = told
			in := v.byLine(*t)
			if len(in) != most {
				continue
			}
			t.Told.Of = most
			t.Told.Among = 1 + slices.IndexFunc(in, t.is)
			if t.Told.Among > 0 {
				return true
			}
		}
	}
	t.Told = Told{}
	return false
}

// byLine are the things that what is said of t and of its angle from the line
// fits, from left to right.
func (v *View) byLine(t Thing) []Thing {
	if v.Line == nil {
		return nil
	}
	from := geodesy.Degrees(*v.Line)
	if t.Told.Back {
		from += 180
	}
	var in []Thing
	for _, o := range v.Things {
		if off := geodesy.Difference(geodesy.NewTrueBearing(from), o.Bearing); fits(t, o) && math.Abs(float64(off-t.Told.Off)) <= float64(t.Told.Give) {
			in = append(in, o)
		}
	}
	fromLeft(in)
	return in
}

// fromLeft puts things in order from left to right.
func fromLeft(in []Thing) {
	slices.SortFunc(in, func(a, b Thing) int {
		switch {
		case left(a, b):
			return -1
		case left(b, a):
			return 1
		}
		return 0
	})
}

// among tells a thing by its bearing and its place from the left, as the noun
// and in the widest window that make it one of a few.
func (v *View) among(t *Thing) {
	best := Told{Of: math.MaxInt}
	nouns := t.nouns()
	slices.Reverse(nouns) // the end of the near ridge rather than one notch of three
	for _, w := range windows {
		for _, n := range nouns {
			told := Told{How: Among, noun: n, Window: w}
			t.Told = told
			for _, o := range v.Things {
				if fits(*t, o) && apart(*t, o) <= float64(w) {
					told.Of++
					if left(o, *t) || o.is(*t) {
						told.Among++
					}
				}
			}
			if told.Of < best.Of && best.Of > mostAmong || told.Of == 1 && best.Of > 1 && w == windows[0] {
				best = told
			}
		}
		if best.Of <= mostAmong {
			break
		}
	}
	t.Told = best
}

// is reports whether two are one thing.
func (t Thing) is(o Thing) bool {
	return t.Kind == o.Kind && t.Bearing == o.Bearing && t.Distance == o.Distance && t.Name == o.Name
}

// left orders things from left to right as seen, the nearer first on one
// bearing.
func left(a, b Thing) bool {
	d := geodesy.Difference(b.Bearing, a.Bearing) // from b to a
	return d < 0 || d == 0 && (a.Distance < b.Distance || a.Distance == b.Distance && a.Kind < b.Kind)
}

// Satisfying are the things of the view that the description of t fits, by
// t.Told: what a person who has only the words would find. Of the things of a
// view exactly one satisfies its own.
func (v *View) Satisfying(t Thing) []Thing {
	var like []Thing
	for _, o := range v.Things {
		if fits(t, o) {
			like = append(like, o)
		}
	}
	within := func(bearing geodesy.TrueBearing, degrees geodesy.Degrees) []Thing {
		return slices.DeleteFunc(slices.Clone(like), func(o Thing) bool {
			return math.Abs(float64(geodesy.Difference(bearing, o.Bearing))) > float64(degrees)
		})
	}
	switch t.Told.How {
	case ByName:
		return like
	case Only:
		return v.only(t, like, 0, 180)
	case Most:
		return v.best(t, like, 0, 180)
	case OnlyTowards:
		return v.only(t, within(t.Told.Point, towards), t.Told.Point, towards)
	case MostTowards:
		return v.best(t, within(t.Told.Point, towards), t.Told.Point, towards)
	case AmongTowards:
		in := v.only(t, within(t.Told.Point, towards), t.Told.Point, towards)
		fromLeft(in)
		return t.Told.picked(in)
	case Beside:
		if t.Told.Anchor < 0 || t.Told.Anchor >= len(v.Things) {
			return nil
		}
		from := v.Things[t.Told.Anchor].Bearing
		return slices.DeleteFunc(like, func(o Thing) bool {
			return math.Abs(float64(geodesy.Difference(from, o.Bearing)-t.Told.Off)) > float64(t.Told.Give)
		})
	case Among:
		in := within(t.Bearing, t.Told.Window)
		fromLeft(in)
		return t.Told.picked(in)
	case FromLine:
		return t.Told.picked(v.byLine(t))
	}
	return nil
}

// picked is the one of some things, from left to right, that is meant.
func (t Told) picked(in []Thing) []Thing {
	if len(in) != t.Of || t.Among < 1 || t.Among > len(in) {
		return nil
	}
	return in[t.Among-1 : t.Among]
}

// Fingers and fists at arm's length, degrees (common practice).
const (
	Finger geodesy.Degrees = 2
	Fist   geodesy.Degrees = 10
)

// spans are the angles that can be spoken with a hand, degrees, and how far off
// an angle spoken so may be: half the way to the next, and a little for hands
// that differ.
var spans = []struct {
	angle, give geodesy.Degrees
	words       string
}{
	{1, 0.7, "half a finger"}, {2, 1.1, "a finger"}, {4, 1.4, "2 fingers"}, {6, 1.4, "3 fingers"}, {8, 1.6, "4 fingers"},
	{10, 2, "a fist"}, {15, 3, "a fist and a half"}, {20, 3, "2 fists"}, {30, 5.5, "3 fists"}, {40, 5.5, "4 fists"}, {50, 5.5, "5 fists"},
}

// spoken is the nearest angle that a hand can tell, with its sign, and how far
// off it may be.
func spoken(off geodesy.Degrees) (angle, give geodesy.Degrees) {
	best := spans[0]
	size := geodesy.Degrees(math.Abs(float64(off)))
	for _, s := range spans[1:] {
		if math.Abs(float64(s.angle-size)) < math.Abs(float64(best.angle-size)) {
			best = s
		}
	}
	return geodesy.Degrees(math.Copysign(float64(best.angle), float64(off))), best.give
}

// Hand tells an angle, degrees, in fingers and fists at arm's length, of about 2
// and 10 degrees (common practice): "a finger", "a fist and a half". Beyond 55
// degrees it is "" : arms are not so long.
func Hand(angle geodesy.Degrees) string {
	angle = geodesy.Degrees(math.Abs(float64(angle)))
	if angle > 55 || math.IsNaN(float64(angle)) {
		return ""
	}
	size, _ := spoken(angle)
	for _, s := range spans {
		if s.angle == size {
			return s.words
		}
	}
	return ""
}

// sideWord is the side of an angle from a thing.
func sideWord(off geodesy.Degrees) string {
	if off < 0 {
		return "left"
	}
	return "right"
}

// compassPoints of eight, from north.
var compassPoints = []string{"north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"}

func pointWord(b geodesy.TrueBearing) string {
	return compassPoints[int(math.Round(float64(b)/45))%8]
}

// singular, plural and what comes after, of each noun.
var words = map[noun][3]string{
	topNoun: {"top", "tops"}, loneNoun: {"lone hill", "lone hills"}, notchNoun: {"notch", "notches"},
	ridgeNoun: {"end", "places", " where the near ridge on the %s ends against the far one"},
	spurNoun:  {"end of the spur", "spur ends", " that runs down from the %s"}, cliffNoun: {"cliff", "cliffs"}, faceNoun: {"steep face", "steep faces"},
	waterNoun: {"stretch of water", "stretches of water", " (a lake, probably)"}, placeNoun: {"place of yours", "places of yours"},
}

// after is what comes after the noun.
func (t Thing) after() string {
	switch t.Told.noun {
	case topNoun, loneNoun:
		switch {
		case !t.Skyline:
			return " before farther ground"
		case t.Told.brief:
			return ""
		}
		return " on the skyline"
	case waterNoun:
		return words[waterNoun][2]
	case ridgeNoun, spurNoun:
		return fmt.Sprintf(words[t.Told.noun][2], sideWord(geodesy.Degrees(t.Side)))
	}
	return ""
}

// called is the thing by its name or noun, with a word before the noun.
func (t Thing) called(grade string) string {
	switch {
	case t.Name != "" && t.Kind == Top:
		return t.Name + ", the top" + t.after()
	case t.Name != "":
		return t.Name
	case t.Told.noun == ridgeNoun:
		return strings.TrimPrefix(t.after(), " ")
	}
	if grade == "" {
		grade = t.shape()
	}
	return "the " + grade + words[t.Told.noun][0] + t.after()
}

// Tips, degrees, up to which a top is pointed, and from which it is round.
const (
	pointed = 1.2
	rounded = 3.5
)

// shape is a word for how a top or a notch looks, where it looks like anything.
func (t Thing) shape() string {
	at, wide := "pointed ", "round "
	switch t.Told.noun {
	case topNoun:
	case notchNoun:
		at, wide = "sharp ", "wide "
	default:
		return ""
	}
	switch {
	case t.Tip > 0 && t.Tip <= pointed:
		return at
	case t.Tip >= rounded:
		return wide
	}
	return ""
}

// grade is what a thing is most of.
func (t Thing) grade() string {
	switch t.Told.noun {
	case topNoun:
		return "highest "
	case notchNoun:
		return "deepest "
	case waterNoun:
		return "widest "
	}
	return "largest "
}

// Reference is a thing told without its distance.
func (v *View) Reference(t Thing) string {
	only := "only "
	if t.Told.noun == loneNoun || t.Kind == Known {
		only = ""
	}
	switch t.Told.How {
	case ByName:
		return t.called("")
	case Only:
		return t.called(only)
	case Most:
		return t.called(t.grade())
	case OnlyTowards:
		return t.called(only) + " to the " + pointWord(t.Told.Point)
	case MostTowards:
		return t.called(t.grade()) + " to the " + pointWord(t.Told.Point)
	case Beside:
		return t.called("") + ", " + v.beside(t)
	}
	on := v.on(t.Bearing)
	switch t.Told.How {
	case FromLine:
		on = t.Told.fromLine()
	case AmongTowards:
		on = " to the " + pointWord(t.Told.Point)
	}
	if t.Told.Of <= 1 || t.Kind == Known && t.Name != "" {
		return t.called("") + on
	}
	return ordinal(t.Told.Among, t.Told.Of) + " of " + count(t.Told.Of) + " " + words[t.Told.noun][1] + t.after() + on + v.compared(t)
}

// fromLine says how a thing lies to the line that is walked.
func (t Told) fromLine() string {
	line := " your line"
	if t.Back {
		line = " the line back"
	}
	if t.Off == 0 {
		return ", on" + line
	}
	return ", " + Hand(t.Off) + " " + sideWord(t.Off) + " of" + line
}

// beside says how a thing lies to its anchor.
func (v *View) beside(t Thing) string {
	return fmt.Sprintf("%s %s of %s", Hand(t.Told.Off), sideWord(t.Told.Off), v.Reference(v.Things[t.Told.Anchor]))
}

// on is a bearing as it is told.
func (v *View) on(b geodesy.TrueBearing) string {
	if v.Dial != nil {
		return " on " + v.Dial(b)
	}
	return " on true bearing " + units.Dial(float64(b))
}

// compared says of the left or right of two tops whether it is the higher.
func (v *View) compared(t Thing) string {
	if t.Kind != Top || t.Told.Of != 2 {
		return ""
	}
	like := v.byLine(t)
	if t.Told.How == Among {
		like = slices.DeleteFunc(slices.Clone(v.Things), func(o Thing) bool { return !fits(t, o) || apart(t, o) > float64(t.Told.Window) })
	}
	for _, o := range like {
		switch {
		case o.is(t):
		case t.Angle >= o.Angle+higherBy:
			return ", the higher one"
		case o.Angle >= t.Angle+higherBy:
			return ", the lower one"
		}
	}
	return ""
}

func count(n int) string {
	if words := []string{"no", "one", "two", "three", "four", "five", "six"}; n < len(words) {
		return words[n]
	}
	return fmt.Sprint(n)
}

// ordinal is a place from the left.
func ordinal(k, n int) string {
	switch {
	case k == 1:
		return "the left-hand one"
	case k == n:
		return "the right-hand one"
	case n == 3:
		return "the middle one"
	}
	return "the " + []string{"", "first", "second", "third", "fourth", "fifth", "sixth"}[min(k, 6)] + " from the left"
}

// Describe says which thing of the view is meant, in words that fit no other,
// with its distance: "the notch, 2 fingers left of the highest top on the
// skyline, 4.1 km". A bearing in it is true.
func (v *View) Describe(t Thing, u units.System) string {
	return v.Reference(t) + ", " + u.Distance(t.Distance)
}
