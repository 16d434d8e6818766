package drill

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"crowline/dem/geodesy"
	"crowline/dem/units"
	"crowline/profile"
)

// WalkTimeAnswer is the data of a question of kind WalkTime.
type WalkTimeAnswer struct {
	DistanceM float64 `json:"distance_m" means:"How far it is from A to B."`
	Up        int     `json:"contours_up" means:"Contour lines crossed upwards."`
	AscentM   float64 `json:"counted_ascent_m" means:"What those come to."`
	// Minutes by the rule, and Paces, every second footfall.
	Minutes      float64 `json:"minutes" means:"The time by the rule."`
	LeastMinutes float64 `json:"least_minutes" means:"The least that is right."`
	MostMinutes  float64 `json:"most_minutes" means:"The most that is right."`
	Paces        float64 `json:"double_paces" means:"Double paces from A to B."`
	LeastPaces   float64 `json:"least_double_paces" means:"The least that is right."`
	MostPaces    float64 `json:"most_double_paces" means:"The most that is right."`
}

const (
	// Naismith's rule, in whole figures that a class can work with: 5 km in an
	// hour, and a minute for every 10 m of ascent (W. W. Naismith, Scottish
	// Mountaineering Club Journal 2, 1892, as metric maps have it).
	ruleSpeed  = 5000.0 / 60 // metres a minute
	ruleAscent = 10.0        // metres of ascent a minute
	// In US units the rule is his own: 3 miles in an hour, and an hour for every
	// 2000 ft.
	ruleSpeedUS  = 3 * 1609.344 / 60
	ruleAscentUS = 2000 * 0.3048 / 60
	// rulePaces are double paces of 100 m: common practice, of easy ground; those
	// of 100 yards are as many to the whole pace.
	rulePaces   = 65
	rulePacesUS = 59
)

// paces are the double paces of 100 m by the rule, and its words.
func (s *survey) paces() (per100m float64, words string) {
	if s.o.Units == units.US {
		return rulePacesUS / 0.9144, fmt.Sprintf("%d in 100 yards", rulePacesUS)
	}
	return rulePaces, fmt.Sprintf("%d in 100 m", rulePaces)
}

// rule is the speed and the rate of ascent of the rule, metres a minute, and
// its words.
func (s *survey) rule() (speed, ascent float64, words string) {
	if s.o.Units == units.US {
		return ruleSpeedUS, ruleAscentUS, "3 miles an hour, and 3 minutes more for every 100 ft of ascent"
	}
	return ruleSpeed, ruleAscent, "5 km an hour, and 1 minute more for every 10 m of ascent"
}

func (s *survey) walkTime(ctx context.Context, r *rand.Rand) (*Question, error) {
	leg, figure, err := s.anyLeg(ctx, r)
	if leg == nil || !s.countable(leg) {
		return nil, err
	}
	lines := s.levels.CountAlong(s.grid, positions(leg))
	up := lines.Up
	if lines.AtLeast || up < 3 || up+lines.Down > mostLines {
		return nil, nil
	}
	ascent := float64(up) * s.interval()
	climb := leg.Climb(s.deadBand, s.o.VerticalError)
	// As for a climb: a right count is the ground's ascent, or the question
	// would teach the wrong thing.
	if within := s.levels.Climb(lines, 0).AscentWithin; math.Abs(climb.Ascent-ascent) > max(s.interval(), within) {
		return nil, nil
	}
	speed, rate, words := s.rule()
	per100m, pacing := s.paces()
	minutes := func(distance, ascent float64) float64 { return distance/speed + ascent/rate }
	slip := s.paper(rulerMM)
	d := WalkTimeAnswer{
		DistanceM: leg.Distance, Up: up, AscentM: ascent, Minutes: minutes(leg.Distance, ascent),
		LeastMinutes: math.Floor(minutes(leg.Distance-slip, ascent-s.interval())), MostMinutes: math.Ceil(minutes(leg.Distance+slip, ascent+s.interval())),
		Paces:      profile.DoublePaces(leg.Distance, per100m),
		LeastPaces: math.Floor(profile.DoublePaces(leg.Distance-slip, per100m)), MostPaces: math.Ceil(profile.DoublePaces(leg.Distance+slip, per100m)),
	}
	length := geodesy.Inverse(figure.Marks[0].At(), figure.Marks[1].At()).Distance
	mistakes := []Mistake{
		{fmt.Sprintf("%.0f minutes", leg.Distance/speed), "left the climb out"},
		{fmt.Sprintf("%.0f paces", 2*d.Paces), "counted every footfall"},
	}
	if both := minutes(leg.Distance, float64(lines.Up+lines.Down)*s.interval()); both > d.MostMinutes {
		mistakes = append(mistakes, Mistake{fmt.Sprintf("%.0f minutes", both), "counted the contours crossed going down as well"})
	}
	return &Question{
		Text: fmt.Sprintf("How long does the straight leg A–B take, and how many double paces is it? The rule: %s; descent costs nothing. A double pace is every second footfall: %s.", words, pacing),
		Reading: fmt.Sprintf("Measure A–B and count the contours crossed going up; the interval is %s %s. One contour out and %s out are right.",
			number(s.levels.Interval), s.levels.Unit, s.distance(slip)),
		Figure: figure,
		Answer: fmt.Sprintf("%.0f minutes, %.0f double paces.", d.Minutes, d.Paces),
		Working: []string{
			fmt.Sprintf("A–B measures %.1f mm: %s. That alone is %.0f minutes, and %.0f double paces.", s.mm(length), s.distance(length), leg.Distance/speed, d.Paces),
			fmt.Sprintf("Climb: %s, %.0f minutes more.", s.climbed(up), ascent/rate),
		},
		Margin:   fmt.Sprintf("the ground's own ascent, rises under %s left out, is %s", s.vertical(s.deadBand), s.vertical(climb.Ascent)),
		Mistakes: mistakes,
		Data:     d,
	}, nil
}
