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
	// Among: on a bearing, its place from left to right among those like it
	// close by.
	Among How = "among"
)

// Told is how a thing is told apart: a description that a program can check.
// See View.Satisfying.
type Told struct {
	How How
	// Anchor is the thing, by its index in View.Things, that it is told from
	// (Beside), and Off the angle from there to be spoken, degrees, positive to
	// the right; a thing within Give of Off fits it.
	Anchor    int
	Off, Give geodesy.Degrees
	// Point of the compass (OnlyTowards, MostTowards), true, degrees.
	Point geodesy.TrueBearing
	// Window (Among): of things like it whose bearings lie within so many
	// degrees of its own, it is number Among of Of from the left.
	Window    geodesy.Degrees
	Among, Of int
}

// fits reports whether the noun said of t can be said of o as well: a lone hill
// is also a top, a notch in which a ridge ends also a notch, a cliff also a
// steep face.
func fits(t, o Thing) bool {
	if t.Name != "" {
		return t.Name == o.Name
	}
	switch t.Kind {
	case Top:
		return o.Kind == Top && o.Skyline == t.Skyline && (o.Lone || !t.Lone)
	case Notch, RidgeEnd:
		if t.Side != 0 { // "where the near ridge ends"
			return (o.Kind == Notch || o.Kind == RidgeEnd) && o.Side == t.Side
		}
		return o.Kind == Notch
	case Face:
		return o.Kind == Face || o.Kind == Cliff
	case SpurEnd:
		return o.Kind == SpurEnd && o.Side == t.Side
	}
	return o.Kind == t.Kind
}

// Margins of what the eye tells at once: the highest by so many degrees, the
// deepest or tallest by so much more.
const (
	higherBy = 0.25
	largerBy = 1.25
)

// most reports whether t is the highest, deepest or tallest of some things.
func most(t Thing, of []Thing) bool {
	for _, o := range of {
		if o.Bearing == t.Bearing && o.Distance == t.Distance {
			continue
		}
		switch t.Kind {
		case Top:
			if t.Angle < o.Angle+higherBy {
				return false
			}
		case Notch, Cliff, Face, Water:
			if t.size() < largerBy*o.size() {
				return false
			}
		default:
			return false
		}
	}
	return true
}

// size is what the eye compares, degrees.
func (t Thing) size() geodesy.Degrees {
	if t.Kind == Water {
		return t.Width
	}
	return t.StandsOut
}

// Bounds of telling: how far from an anchor a thing may be told, degrees; what
// the eye looks over when it looks towards a point of the compass, to either
// side; and how near to that point the thing stands.
const (
	mostBeside  = 20.0
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
	all := make([]int, 0, len(v.Things))
	for i := range v.Things {
		v.Things[i].Told = Told{}
		all = append(all, i)
	}
	settle := func(t *Thing, told Told) bool {
		old := t.Told
		t.Told = told
		if found := v.Satisfying(*t); len(found) == 1 && found[0].is(*t) {
			return true
		}
		t.Told = old
		return false
	}
	// in four rounds: those known at once, those beside them, those towards a
	// point, those beside these; the rest on their bearing
	beside := func(rest []int) []int {
		var anchors []int
		for i := range v.Things {
			if how := v.Things[i].Told.How; how != "" && how != Beside {
				anchors = append(anchors, i)
			}
		}
		return slices.DeleteFunc(rest, func(i int) bool {
			t := &v.Things[i]
			near := slices.Clone(anchors)
			slices.SortStableFunc(near, func(a, b int) int { return cmp.Compare(apart(*t, v.Things[a]), apart(*t, v.Things[b])) })
			for _, a := range near {
				off := geodesy.Difference(v.Things[a].Bearing, t.Bearing)
				spoken, give := spoken(off)
				if math.Abs(float64(off)) > mostBeside || math.Abs(float64(off)) < tooClose {
					continue
				}
				if settle(t, Told{How: Beside, Anchor: a, Off: spoken, Give: give}) {
					return true
				}
			}
			return false
		})
	}
	rest := slices.DeleteFunc(all, func(i int) bool {
		t := &v.Things[i]
		return t.Name != "" && settle(t, Told{How: ByName}) || settle(t, Told{How: Only}) || settle(t, Told{How: Most})
	})
	rest = beside(rest)
	rest = slices.DeleteFunc(rest, func(i int) bool {
		t := &v.Things[i]
		point := geodesy.NewTrueBearing(geodesy.Degrees(45 * math.Round(float64(t.Bearing)/45)))
		return settle(t, Told{How: OnlyTowards, Point: point}) || settle(t, Told{How: MostTowards, Point: point})
	})
	rest = beside(rest)
	for _, i := range rest {
		t := &v.Things[i]
		for _, w := range windows {
			told := Told{How: Among, Window: w}
			for _, o := range v.Things {
				if fits(*t, o) && apart(*t, o) <= float64(w) {
					told.Of++
					if left(o, *t) || o.is(*t) {
						told.Among++
					}
				}
			}
			t.Told = told
			if told.Of <= mostAmong {
				break
			}
		}
	}
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
	best := func(of []Thing) []Thing {
		return slices.DeleteFunc(slices.Clone(of), func(o Thing) bool { return !most(o, of) })
	}
	switch t.Told.How {
	case ByName, Only:
		return like
	case Most:
		return best(like)
	case OnlyTowards:
		return within(t.Told.Point, towards)
	case MostTowards:
		return best(within(t.Told.Point, towards))
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
		slices.SortFunc(in, func(a, b Thing) int {
			switch {
			case left(a, b):
				return -1
			case left(b, a):
				return 1
			}
			return 0
		})
		if len(in) != t.Told.Of || t.Told.Among < 1 || t.Told.Among > len(in) {
			return nil
		}
		return in[t.Told.Among-1 : t.Told.Among]
	}
	return nil
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

// noun is what a thing is, its grade ("highest", "only", "left") before it
// where it has one, and where it stands after it.
func (t Thing) noun(grade string, many bool) string {
	n, after := "", ""
	switch {
	case t.Name != "" && t.Kind == Known:
		return t.Name
	case t.Name != "":
		n, after = t.Name+", the top", t.where()
	case t.Kind == Known:
		n = "place of yours"
	case t.Lone:
		n, after = "lone hill", t.where()
	case t.Kind == Top:
		n, after = "top", t.where()
	case t.Side != 0 && t.Kind == SpurEnd:
		n, after = "end of the spur", " that comes down from the "+sideWord(geodesy.Degrees(t.Side))
	case t.Side != 0:
		n, after = "place", " where the near ridge on the "+sideWord(geodesy.Degrees(t.Side))+" ends against the far one"
	case t.Kind == Water:
		n = "water"
	default:
		n = string(t.Kind)
	}
	if many {
		switch n {
		case "end of the spur":
			n = "spur ends"
			after = " of spurs from the " + sideWord(geodesy.Degrees(t.Side))
		case "notch":
			n = "notches"
		case "water":
			n = "waters"
		case "place of yours":
			n = "places of yours"
		default:
			n += "s"
		}
		return n + after
	}
	if grade != "" {
		grade += " "
	}
	return "the " + grade + n + after
}

func (t Thing) where() string {
	if t.Skyline {
		return " on the skyline"
	}
	return " below the skyline"
}

// grade is what a thing is most of.
func (t Thing) grade() string {
	switch t.Kind {
	case Top:
		return "highest"
	case Notch:
		return "deepest"
	case Water:
		return "widest"
	}
	return "tallest"
}

// reference is a thing told without its distance.
func (v *View) reference(t Thing) string {
	switch t.Told.How {
	case ByName:
		return t.noun("", false)
	case Only:
		return t.only("")
	case Most:
		return t.noun(t.grade(), false)
	case OnlyTowards:
		return t.only(pointWord(t.Told.Point))
	case MostTowards:
		return t.noun(t.grade(), false) + " to the " + pointWord(t.Told.Point)
	case Beside:
		a := v.Things[t.Told.Anchor]
		return fmt.Sprintf("%s, %s %s of %s", t.plain(), Hand(t.Told.Off), sideWord(t.Told.Off), v.reference(a))
	}
	on := "on " + units.Dial(float64(t.Bearing)) + ", "
	if t.Told.Of <= 1 {
		return on + t.plain()
	}
	return on + fmt.Sprintf("%s of %s %s", ordinal(t.Told.Among, t.Told.Of), count(t.Told.Of), t.noun("", true)) + v.compared(t)
}

// plain is a thing named without a grade; a ridge's end needs no "the place".
func (t Thing) plain() string {
	return strings.TrimPrefix(t.noun("", false), "the place ")
}

// only is a thing that is the only one of its kind, all round or towards a point.
func (t Thing) only(point string) string {
	n := t.noun("only", false)
	if t.Lone || t.Kind == Known {
		n = t.noun("", false)
	}
	if point != "" {
		n += " to the " + point
	}
	return n
}

// compared says of the left or right of two tops whether it is the higher.
func (v *View) compared(t Thing) string {
	if t.Kind != Top || t.Told.Of != 2 {
		return ""
	}
	for _, o := range v.Things {
		if o.is(t) || !fits(t, o) || apart(t, o) > float64(t.Told.Window) {
			continue
		}
		switch {
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
		return "the left"
	case k == n:
		return "the right"
	case n == 3:
		return "the middle"
	}
	return "the " + []string{"", "first", "second", "third", "fourth", "fifth", "sixth"}[min(k, 6)]
}

// Describe says which thing of the view is meant, in words that fit no other,
// with its distance: "the notch, 2 fingers left of the highest top on the
// skyline, 4.1 km". A bearing in it is true.
func (v *View) Describe(t Thing, u units.System) string {
	return v.reference(t) + ", " + u.Distance(t.Distance)
}
