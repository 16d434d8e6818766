package cli

import (
	"fmt"
	"strings"
	"time"

	"crowline/profile"
)

type timeJSON struct {
	// Null where part of the leg is no walking ground.
	NaismithLangmuirS *float64 `json:"naismith_langmuir_s"`
	ToblerS           *float64 `json:"tobler_s"`
	DIN33466S         *float64 `json:"din33466_s"`
	withoutSteepJSON
	// NoWalking are the stretches over profile.WalkingLimit along the line, on
	// which no rule holds; SteepWalking those from profile.SteepLimit to it, where
	// the times stand with a word of caution.
	NoWalking    []stretchJSON `json:"no_walking_ground"`
	SteepWalking []stretchJSON `json:"steep_walking_ground"`
	// RulesApart is where the rules differ by more than double: "gentle falls",
	// "steep ground".
	RulesApart string `json:"rules_apart,omitempty"`
	// TimedM is how far along the leg the times are for, WithoutDataM how much
	// of that crosses voids; AtLeast: the whole leg takes no less.
	TimedM       float64 `json:"timed_m"`
	WithoutDataM float64 `json:"timed_without_data_m"`
	AtLeast      bool    `json:"at_least"`
	// DoublePaces are those of PacedM, the whole leg.
	DoublePaces float64 `json:"double_paces"`
	PacedM      float64 `json:"paced_m"`
	PacePer100M float64 `json:"double_paces_per_100m"`
}

// withoutSteepJSON are the times of a leg without its stretches of no walking
// ground, the rest put together end to end; only where there are such.
type withoutSteepJSON struct {
	NaismithWithoutSteepS *float64 `json:"naismith_langmuir_without_steep_s,omitempty"`
	ToblerWithoutSteepS   *float64 `json:"tobler_without_steep_s,omitempty"`
	DIN33466WithoutSteepS *float64 `json:"din33466_without_steep_s,omitempty"`
}

func describeTimes(t profile.Times) timeJSON {
	j := timeJSON{
		NoWalking: plainStretches(t.NoWalking), SteepWalking: plainStretches(t.Steep),
		TimedM: *rounded(t.Timed, 2), WithoutDataM: *rounded(t.NoData, 2), AtLeast: t.AtLeast,
	}
	_, whole := t.Whole()
	j.set(t.WithoutSteep, whole)
	if whole {
		j.RulesApart = t.Apart.String()
	}
	return j
}

// set puts the times where they belong: they are the leg's where the whole of it
// is walking ground.
func (j *timeJSON) set(t profile.RuleTimes, whole bool) {
	naismith, tobler, din := number(t[profile.ByNaismithLangmuir].Seconds()), number(t[profile.ByTobler].Seconds()), number(t[profile.ByDIN33466].Seconds())
	if whole {
		j.NaismithLangmuirS, j.ToblerS, j.DIN33466S = naismith, tobler, din
		return
	}
	j.withoutSteepJSON = withoutSteepJSON{naismith, tobler, din}
}

// ruleNames are the rules as a line of text names them.
var ruleNames = map[profile.Rule]string{
	profile.ByNaismithLangmuir: "Naismith with Langmuir's corrections", profile.ByTobler: "Tobler off path", profile.ByDIN33466: "DIN 33466",
}

// noTime says why a leg has no time on foot; "" where it has one.
func noTime(t profile.Times, u units) string {
	if len(t.NoWalking) == 0 {
		return ""
	}
	return "no time: " + amounts(u, t.NoWalking, "is", "are") + " no walking ground"
}

// amounts says how much of the way some stretches are, and where, with the verb
// that follows.
func amounts(u units, list []profile.Stretch, is, are string) string {
	const most = 2
	sum := 0.0
	var parts []string
	for _, s := range list {
		sum += s.To - s.From
		parts = append(parts, fmt.Sprintf("%s at %s", u.distance(s.To-s.From), u.distance(s.From)))
	}
	switch {
	case len(list) > most:
		return fmt.Sprintf("%s in %d places, the first at %s, %s", u.distance(sum), len(list), u.distance(list[0].From), is)
	case len(list) > 1:
		return strings.Join(parts, " and ") + " " + are
	}
	return parts[0] + " " + is
}

// timeNotes are what is said beside the times of a leg: where they are less sure
// than they look, and why the rules differ by more than double. Nil where the
// leg has no time.
func (a *legAnswer) timeNotes(u units) []string {
	times, ok := a.times.Whole()
	if !ok {
		return nil
	}
	var out []string
	if len(a.times.Steep) > 0 {
		out = append(out, fmt.Sprintf("CAUTION: %s %g to %g° steep; allow more time there than the rules give",
			amounts(u, a.times.Steep, "is", "are"), float64(profile.SteepLimit), float64(profile.WalkingLimit)))
	}
	if a.gradient.GroundSteepest > profile.WalkingLimit {
		out = append(out, fmt.Sprintf("CAUTION: the ground under the line is up to %.0f° steep, at %s; the rules go by the slope along the line alone",
			float64(a.gradient.GroundSteepest), u.distance(a.gradient.GroundAt)))
	}
	if a.times.Apart != profile.NotApart {
		_, longest := times.Extremes()
		out = append(out, fmt.Sprintf("the rules differ by more than double, up to %s by %s: %s", clock(times[longest]), ruleNames[longest], whyApart(a.times.Apart, longest)))
	}
	return out
}

// whyApart says why the rules differ, of which one gives the longest time.
func whyApart(a profile.Apart, longest profile.Rule) string {
	switch {
	case a == profile.ApartOnGentleFalls:
		return "on falls of 5 to 12° Langmuir takes time off, which the others hardly do"
	case longest == profile.ByTobler:
		return "on steep ground Tobler slows down far more than the others"
	}
	return "on steep ground DIN 33466 goes only 300 m up or 500 m down in an hour"
}

// cardRule is a rule for the time on a card, and what the card calls it.
type cardRule struct {
	rule  profile.Rule
	words string
}

var timeRules = map[string]cardRule{
	"naismith": {profile.ByNaismithLangmuir, "Naismith's rule with Langmuir's corrections"},
	"tobler":   {profile.ByTobler, "Tobler's rule off path"},
	"din":      {profile.ByDIN33466, "DIN 33466"},
}

// walkingTime of a leg by the card's rule; false where it has none.
func (l *routeLegJSON) walkingTime(rule string) (time.Duration, bool) {
	times, ok := l.answer.times.Whole()
	return times[timeRules[rule].rule], ok
}

// walkingTime of the whole route by the card's rule; false where a leg has
// none.
func (a *routeAnswer) walkingTime() (time.Duration, bool) {
	var sum time.Duration
	for i := range a.Legs {
		d, ok := a.Legs[i].walkingTime(a.rule)
		if !ok {
			return 0, false
		}
		sum += d
	}
	return sum, true
}

// cardTimeNotes are what a card's narrow cell says beside a leg's time: a longer
// time by another rule, and where to allow more.
func (l *routeLegJSON) cardTimeNotes() []string {
	times, ok := l.answer.times.Whole()
	if !ok {
		return nil
	}
	var out []string
	if len(l.answer.times.Steep) > 0 {
		out = append(out, fmt.Sprintf("allow more: %g to %g° steep", float64(profile.SteepLimit), float64(profile.WalkingLimit)))
	}
	if apart := l.answer.times.Apart; apart != profile.NotApart {
		_, longest := times.Extremes()
		out = append(out, fmt.Sprintf("up to %s by %s, for %s", clock(times[longest]), ruleNames[longest], apart))
	}
	return out
}

// legsText names legs by their numbers, with the verb that follows.
func legsText(numbers []int, has, have string) string {
	var parts []string
	for _, n := range numbers {
		parts = append(parts, fmt.Sprint(n))
	}
	switch n := len(parts); n {
	case 1:
		return "leg " + parts[0] + " " + has
	default:
		return "legs " + strings.Join(parts[:n-1], ", ") + " and " + parts[n-1] + " " + have
	}
}
