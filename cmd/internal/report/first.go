package report

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"crowline/cmd/internal/answer"
	"crowline/dem/units"
	"crowline/profile/magnetic"
	"crowline/visibility"
	"crowline/visibility/chain"
)

// mostFirst is how many lines a leg may take before its first heading.
const mostFirst = 6

// capture is what some lines of text come to.
func (p *Page) capture(write func(*Page)) []string {
	var b bytes.Buffer
	q := NewPage(&b, p.Units)
	write(q)
	text := strings.TrimRight(b.String(), "\n")
	if text == "" {
		return nil
	}
	return strings.Split(text, "\n")
}

// lines writes what capture gave.
func (p *Page) lines(list []string) {
	for _, l := range list {
		p.Raw(l + "\n")
	}
}

// first are the lines that a leader acts on: what could hurt, then which way,
// what to sight, and how far off one may come out. Where they are more than
// mostFirst, the sight is said shorter and the drift left for later, which
// first reports; never the hazards.
func (p *Page) first(a *answer.LegAnswer) (drifted bool) {
	hazards, walk := append(p.hazards(a), p.doubts(a)...), []string{p.walk(a)}
	hazards = hazards[:min(len(hazards), mostHazards)]
	beware := p.joined("BEWARE", hazards)
	walks := p.joined("walk", walk)
	sights := p.sights(a)
	short := sights[:1]
	if a.Asked() && len(a.Plan().Steps) > 0 {
		short = []string{p.firstSight(a, true)}
	}
	tries := []struct{ sights, drift []string }{
		{sights, []string{p.drift(a, false)}},
		{sights[:1], []string{p.drift(a, true)}},
		{sights[:1], nil},
		{short, nil},
		{[]string{"as the sightings below say"}, nil},
	}
	for i, try := range tries {
		all := slices.Concat(beware, walks, p.joined("sight", try.sights), p.joined("drift", try.drift))
		if drifted = try.drift != nil; len(all) <= mostFirst || i == len(tries)-1 {
			p.lines(all)
			p.words.first(hazards, walk, try.sights, try.drift)
			return drifted
		}
	}
	return drifted
}

// joined is a labelled line of clauses; none where there are none.
func (p *Page) joined(label string, clauses []string) []string {
	if len(clauses) == 0 {
		return nil
	}
	return p.capture(func(q *Page) { q.Line(label, "%s", strings.Join(clauses, "; ")) })
}

// mostHazards is how many hazards the first lines name, the gravest first: two
// lines of them.
const mostHazards = 4

// hazards are what could hurt on a leg, the gravest first.
func (p *Page) hazards(a *answer.LegAnswer) []string {
	var out []string
	u, c := p.Units, &a.Climb
	if a.CoveredM < a.DistanceM {
		out = append(out, fmt.Sprintf("the data ends at %s", u.Distance(a.CoveredM)))
	}
	if len(a.Time.NoWalking) > 0 {
		out = append(out, "too steep to walk "+p.forAt(a.Time.NoWalking))
	}
	if a.Arrival != nil {
		if text := dayEnds(a.Arrival, *a.Start, "the goal"); text != "" {
			out = append(out, text)
		}
	}
	if steep := c.GroundSteep; len(steep) > 0 || len(c.Steep) > 0 {
		if length(c.Steep) > length(steep) {
			steep = c.Steep
		}
		where := p.forAt(steep)
		if len(a.Time.NoWalking) > 0 { // the worst place is named
			where = "for " + u.Distance(length(steep)) + " in all"
		}
		out = append(out, fmt.Sprintf("over 30° %s, up to %.0f°", where, math.Max(c.GroundSteepestDeg, c.SteepestDeg)))
	}
	if a.Cliffs != nil && len(*a.Cliffs) > 0 {
		out = append(out, p.cliffs(a))
	}
	if at, ok := waterOnLine(a); ok {
		out = append(out, fmt.Sprintf("water on the line at %s, a lake probably", u.Distance(at)))
	}
	return out
}

// doubts are what of a leg is not known.
func (p *Page) doubts(a *answer.LegAnswer) []string {
	var out []string
	u := p.Units
	if a.CoveredM >= a.DistanceM && a.UnknownM > 0 {
		out = append(out, fmt.Sprintf("no data for %s of the way", u.Distance(a.UnknownM)))
	}
	if a.Filled != nil && len(a.Filled.Stretches) > 0 {
		out = append(out, fmt.Sprintf("%s of the way is guessed, its data was missing", u.Distance(a.Filled.LengthM)))
	}
	if b := a.Bearing.Full(); b.FieldError == nil && b.Field.Zone == magnetic.Caution {
		out = append(out, "the needle is weak here")
	}
	return out
}

// waterOnLine is where the line first goes over what is probably a lake.
func waterOnLine(a *answer.LegAnswer) (at float64, ok bool) {
	if a.Passed == nil {
		return 0, false
	}
	for i := range *a.Passed {
		if f := &(*a.Passed)[i]; f.Water && f.Nearest == nil {
			return f.AtM, true
		}
	}
	return 0, false
}

// cliffs says where the nearest cliff is, and how many more there are.
func (p *Page) cliffs(a *answer.LegAnswer) string {
	list := *a.Cliffs
	near := list[0]
	what := "a cliff"
	if len(list) > 1 {
		what = fmt.Sprintf("%d cliffs, one", len(list))
	}
	if off := math.Abs(near.OffsetM); off >= a.ElevationData.SpacingM/2 {
		return fmt.Sprintf("%s %s %s of the line at %s", what, p.Units.About(off), side(near.OffsetM), p.Units.Distance(near.AtM))
	}
	return fmt.Sprintf("%s on the line at %s", what, p.Units.Distance(near.AtM))
}

// forAt says for how long some stretches go on and where: "for 90 m at 1.88 km".
func (p *Page) forAt(list []answer.Stretch) string {
	sum := length(list)
	var apart []answer.Stretch
	for _, s := range list {
		const gap = 200 // m; one slope to a walker
		if n := len(apart); n > 0 && s.FromM-apart[n-1].ToM < gap {
			apart[n-1].ToM = s.ToM
		} else {
			apart = append(apart, s)
		}
	}
	switch len(apart) {
	case 1:
		return fmt.Sprintf("for %s at %s", p.Units.Distance(sum), p.Units.Distance(apart[0].FromM))
	case 2:
		return fmt.Sprintf("for %s at %s and %s", p.Units.Distance(sum), p.Units.Distance(apart[0].FromM), p.Units.Distance(apart[1].FromM))
	}
	return fmt.Sprintf("for %s in %d places from %s", p.Units.Distance(sum), len(apart), p.Units.Distance(apart[0].FromM))
}

// length is that of some stretches together, metres.
func length(list []answer.Stretch) float64 {
	sum := 0.0
	for _, s := range list {
		sum += s.ToM - s.FromM
	}
	return sum
}

// dial is the number to set on a compass, the true one where magnetic north is
// not known: on the compass chosen, or on one not set for declination.
func dial(a *answer.LegAnswer) (text string, known bool) {
	b := a.Bearing.Full()
	if b.FieldError != nil {
		return units.Dial(float64(b.True)), false
	}
	return units.Dial(a.Declination.Compass.Number(float64(b.True), float64(b.Magnetic))), true
}

// walk says which way, how far, how much up and down, and how long.
func (p *Page) walk(a *answer.LegAnswer) string {
	u, least := p.Units, atLeast(a.Climb.AtLeast)
	set, known := dial(a)
	text := set + " on your compass"
	if adjusted := units.Dial(a.Bearing.TrueDeg); !known {
		text = set + " from true north, magnetic north is not known here"
		if err := a.Bearing.Full().FieldError; errors.As(err, new(*magnetic.DateError)) {
			text = set + " from true north, magnetic north on that day needs --declination"
		}
	} else if adjusted != set && a.Declination.Compass == answer.AnyCompass {
		text += fmt.Sprintf(" (%s if set for declination)", adjusted)
	}
	took := p.timeRange(a)
	if a.Arrival != nil && !a.Arrival.At.IsZero() {
		took = strings.TrimSuffix(took, " without rests") + " and rests, " + thereBy(a.Arrival, *a.Start)
	}
	return fmt.Sprintf("%s, %s, %s%s up, %s down, %s", text, u.Distance(a.DistanceM), least, u.Height(a.Climb.AscentM), u.Height(a.Climb.DescentM), took)
}

// timeRange is the time as a range of the rules.
func (p *Page) timeRange(a *answer.LegAnswer) string {
	times, ok := a.Times().Whole()
	if !ok {
		return "no walking time"
	}
	shortest, longest := times.Extremes()
	return atLeast(a.Times().AtLeast) + fromTo(times[shortest], times[longest]) + " without rests"
}

// fromTo is a range of times, no finer than the rules are worth.
func fromTo(shortest, longest time.Duration) string {
	const step = 5 * time.Minute // rules of thumb are no better
	low, high := shortest.Truncate(step), (longest + step - 1).Truncate(step)
	switch {
	case high < 2*step:
		return "some minutes"
	case low < step:
		return "up to " + units.Clock(high)
	}
	return units.Clock(low) + " to " + units.Clock(high)
}

// sights are what to sight first, and where the destination shows, the most
// needed first.
func (p *Page) sights(a *answer.LegAnswer) []string {
	var out []string
	if a.Asked() && len(a.Plan().Steps) > 0 {
		out = append(out, p.firstSight(a, false))
	}
	return append(out, p.goalShows(a.Sight.Walking(), a.DistanceM))
}

// firstSight is what to walk on from the start; in short without how high it
// stands and where it is lost, which the sightings say.
func (p *Page) firstSight(a *answer.LegAnswer, short bool) string {
	steps, u := a.Plan().Steps, p.Units
	set, _ := dial(a)
	look := func(s *chain.Step, until string) string {
		if short {
			return s.Mark.Look(u) + until
		}
		return lookLost(s.Mark.Look(u)+", "+s.Mark.UpDown()+until, s.LostText(u))
	}
	s := &steps[0]
	if s.Kind == chain.Sighted {
		until := ""
		if s.To < a.DistanceM-1 {
			until = ", as far as " + u.Distance(s.To)
		}
		return look(s, until)
	}
	text := fmt.Sprintf("first %s on the compass", u.Distance(s.To))
	if len(steps) > 1 && steps[1].Kind == chain.Sighted {
		return text + ", then " + look(&steps[1], "")
	}
	if s.To >= a.DistanceM-1 {
		return fmt.Sprintf("no mark ahead on this line: hold %s all the way, and look back along it", set)
	}
	return text
}

// goalShows is from where the destination is seen.
func (p *Page) goalShows(walking []visibility.Stretch, length float64) string {
	u := p.Units
	if len(walking) == 0 {
		return "the goal is not looked at"
	}
	last := walking[len(walking)-1]
	shown := false
	for _, s := range walking {
		shown = shown || s.Verdict == visibility.Visible
	}
	switch {
	case len(walking) == 1 && last.Verdict == visibility.Visible:
		return "the goal is in view all the way"
	case !shown && last.Verdict == visibility.Unknown:
		return "where the goal is in view is not known"
	case !shown:
		return "the goal is not in view till you are there"
	case last.Verdict != visibility.Visible:
		return "the goal is lost again at the end"
	case walking[0].Verdict == visibility.Visible:
		return fmt.Sprintf("the goal shows now, is lost on the way, and stays in view for the last %s", u.Distance(length-last.From))
	}
	return fmt.Sprintf("the goal stays in view for the last %s", u.Distance(length-last.From))
}

// drift says how far to either side one may come out.
func (p *Page) drift(a *answer.LegAnswer, short bool) string {
	d, u := &a.Drift, p.Units
	if by := d.BySightingsM; !math.IsNaN(by) && by < d.OnCompassM {
		return fmt.Sprintf("%s left or right by these sights, %s on the compass alone", u.About(by), u.About(d.OnCompassM))
	}
	text := fmt.Sprintf("%s left or right at the goal on the compass alone", u.About(d.OnCompassM))
	if !short {
		text += fmt.Sprintf("; by pacing %s short or beyond", u.About(d.AlongM))
	}
	return text
}
