package drill

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"crowline/contour/sheet"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/profile"
	"crowline/visibility"
)

// SightAnswer is the data of a question of kind Sight.
type SightAnswer struct {
	Verdict visibility.Verdict `json:"verdict" means:"Whether B is seen from A."`
	// ClearanceM, AtM from A, metres: how far the line passes over the ground
	// that rises nearest to it and falls away again, or, negative, how far the
	// ground that stands highest above the line does.
	ClearanceM float64 `json:"clearance_m" means:"How far the line passes over the ground where it comes nearest; below 0, how far the ground stands above the line."`
	AtM        float64 `json:"at_m" means:"Where that is, from A."`
	// LowestM and HighestM are the least and the most that ClearanceM comes to
	// on a well drawn profile, metres.
	LowestM  float64 `json:"lowest_m" means:"The least that a well drawn profile makes of it."`
	HighestM float64 `json:"highest_m" means:"The most that a well drawn profile makes of it."`
	// Probability that B is seen, with the data's error.
	Probability float64 `json:"probability" means:"The probability that B is seen, with the data's error."`
	DistanceM   float64 `json:"distance_m" means:"How far it is from A to B."`
}

// DestinationAnswer is the data of a question of kind Destination.
type DestinationAnswer struct {
	// BlockedAtM is where the ground that hides B from A stands, metres from
	// A; Landform is its kind, "" when it is none.
	BlockedAtM float64       `json:"blocked_at_m" means:"Where the ground stands that hides B, from A."`
	Landform   landform.Kind `json:"landform,omitempty" means:"The landform that is; left out where it is none."`
	// InViewAtM is where B comes into view, EarliestM and LatestM where it
	// might with the data's error, or on a well drawn profile, metres from A.
	InViewAtM float64 `json:"in_view_at_m" means:"Where B comes into view, from A."`
	EarliestM float64 `json:"earliest_m" means:"The earliest it might, with the data's error or on a well drawn profile."`
	LatestM   float64 `json:"latest_m" means:"The latest it might, likewise."`
	DistanceM float64 `json:"distance_m" means:"How far it is from A to B."`
}

const (
	// insidePosts and insideMM are how far from both ends of a sight line the
	// ground that settles it stands, in posts and in millimetres on the map:
	// nearer, its elevation errs with that of the end, and a pencil cannot
	// tell it from the end.
	insidePosts = 2
	insideMM    = 6
	// interesting is how many times what is asked a line may clear the ground
	// or the ground stand above it: a wall in front of the eye, or sky over
	// everything, is no question.
	interesting = 6
	// legsForYes and legsForNo are how many legs are drawn for a question with
	// that answer before it is drawn again which is wanted: on hills one in two
	// to five hundred will do for a yes, one in three to five for a no. mostLegs
	// are drawn for one question.
	legsForYes = 600
	legsForNo  = 6
	mostLegs   = 20000
	// legsForDestination are drawn at a time.
	legsForDestination = 10
	// sightSamples of visibility.Probability: 0.5 % of standard error at the 95 %
	// that is asked.
	sightSamples = 2000
)

// latestShare is how far, as a share of the leg, the data's error may move
// the place where a destination comes into view.
const latestShare = 0.125

func (s *survey) conditions() visibility.Conditions {
	return visibility.Conditions{Refraction: s.o.Refraction}
}

func (s *survey) observer(at geodesy.LatLon) visibility.Observer {
	return visibility.Observer{Place: at, EyeAboveGround: s.o.EyeAboveGround}
}

// inside is how far from both ends the ground that settles a sight stands,
// metres.
func (s *survey) inside() float64 { return max(insidePosts*s.spacing, s.paper(insideMM)) }

// sightline draws a leg's line of sight into its key profile.
func (s *survey) sightline(d *sheet.ProfileDrawing, leg *profile.Leg, sight visibility.Sight) {
	d.Sight = &sheet.SightDrawing{
		ToDistance: leg.Distance, FromElevation: sight.EyeElevation, ToElevation: sight.TargetElevation,
		EffectiveRadius: leg.EffectiveRadius(s.o.Refraction), BlockedAt: sight.BlockedAt, BlockerElevation: sight.BlockerElevation, StoppedAt: sight.StoppedAt,
	}
}

func (s *survey) sight(ctx context.Context, r *rand.Rand) (*Question, error) {
	// Half the answers yes and half no, whatever the ground is like. Few legs
	// are in clear sight all the way, so more are looked along for a yes.
	want, legs := visibility.Visible, legsForYes
	if r.IntN(2) == 0 {
		want, legs = visibility.Hidden, legsForNo
	}
	for range legs {
		if s.looked >= mostLegs {
			return nil, nil
		}
		s.looked++
		a, b, ok := s.ends(r)
		if !ok {
			continue
		}
		q, err := s.sightBetween(ctx, a, b, want)
		if q != nil || err != nil {
			return q, err
		}
	}
	return nil, nil
}

func (s *survey) sightBetween(ctx context.Context, a, b geodesy.LatLon, want visibility.Verdict) (*Question, error) {
	leg, figure, err := s.leg(ctx, a, b)
	if leg == nil {
		return nil, err
	}
	sight, err := visibility.Along(leg, s.observer(a), s.conditions())
	if err != nil {
		return nil, err
	}
	if sight.Verdict != want || s.counted && !s.countable(leg) {
		return nil, nil
	}
	line := s.clearances(leg, sight)
	i, ok := lowest(line)
	if sight.Verdict != want || !ok {
		return nil, nil
	}
	crest := line[i]
	margin := math.Abs(crest.clearance)
	if want == visibility.Hidden && crest.clearance != sight.Clearance || !(margin >= s.apart() && margin <= interesting*max(s.apart(), s.interval()/2)) ||
		crest.distance < s.inside() || crest.distance > leg.Distance-s.inside() || !noneAbove(line, above(line, crest.distance)) {
		return nil, nil
	}
	good, ok, err := s.readClearance(leg, sight.Verdict, crest.clearance)
	if !ok || err != nil {
		return nil, err
	}
	model := visibility.DefaultErrorModel(s.o.VerticalError, leg)
	model.Seed, model.Samples = s.o.Seed, sightSamples
	likely, err := visibility.Probability(ctx, leg, s.observer(a), s.conditions(), model)
	if err != nil {
		return nil, err
	}
	sure := visibility.LikelyVisible
	if want == visibility.Hidden {
		sure = visibility.LikelyHidden
	}
	if likely.Word != sure {
		return nil, nil
	}
	figure.Key = s.drawing(leg)
	s.sightline(figure.Key, leg, sight)
	at := leg.Points[i]
	straight := sight.EyeElevation + (sight.TargetElevation-sight.EyeElevation)*at.Distance/leg.Distance
	drop := (1 - s.o.Refraction) * sag(leg, at)
	working := []string{
		fmt.Sprintf("Eye at A: ground %s, eye %s above it. B: ground %s. A to B: %s.", s.vertical(leg.Points[0].Elevation), eyeText(s), s.vertical(sight.TargetElevation), s.distance(leg.Distance)),
		"Draw the profile of A–B, and a straight line from the eye at A to the ground at B.",
	}
	there := fmt.Sprintf("%s from A. There the ground is at %s and the line at %s", s.distance(at.Distance), s.vertical(at.Elevation), s.vertical(straight-drop))
	if s.vertical(drop) != s.vertical(0) { // else it changes no figure here
		there += fmt.Sprintf(" (the Earth's curve and refraction lower it by %s)", fine(s, drop))
	}
	var answer, share, seen, label string
	if want == visibility.Hidden {
		answer = fmt.Sprintf("No. The ground stands above the line of sight: by %s where it is highest above it, %s from A (%s to %s is a good reading).",
			s.vertical(margin), s.distance(at.Distance), s.vertical(-good.high), s.vertical(-good.low))
		working = append(working, "The ground stands highest above the line "+there+".")
		share, seen, label = cases(1-likely.Probability), "out of sight", "highest"
	} else {
		answer = fmt.Sprintf("Yes. The ground comes nearest to the line of sight %s from A, and there the line passes %s above it (%s to %s is a good reading).",
			s.distance(at.Distance), s.vertical(margin), s.vertical(good.low), s.vertical(good.high))
		working = append(working, "The ground comes nearest to the line "+there+".",
			"Close to A and B the gap is smaller, because the line starts at the eye and ends on the ground; that ground only falls away from the line. What counts is where the ground rises towards the line and falls away again.")
		share, seen, label = cases(likely.Probability), "in sight", "nearest"
	}
	figure.Key.Marks = []sheet.ProfileMark{{Distance: at.Distance, Label: label}}
	return &Question{
		Text:    "Can you see the ground at B from A? Take an eye " + eyeText(s) + " above the ground and no trees.",
		Reading: s.profileReading(),
		Figure:  figure,
		Answer:  answer,
		Working: working,
		Margin: fmt.Sprintf("%s from the line, at least %s is asked (2.8 times %s). With that error B is %s in %s of 100 cases, at least 95 are asked. Profiles drawn from the contours with heights read a quarter of the interval wrong all give this answer",
			s.vertical(margin), s.vertical(s.apart()), s.dataError(), seen, share),
		Data: SightAnswer{Verdict: want, ClearanceM: crest.clearance, AtM: crest.distance, LowestM: good.low, HighestM: good.high,
			Probability: likely.Probability, DistanceM: leg.Distance},
	}, nil
}

// profileReading is how the profile of a sight line is read off the map.
func (s *survey) profileReading() string {
	return fmt.Sprintf("Draw the profile from the contours. Half way between two lines of one elevation, take half an interval more or less. Heights a quarter of the interval out, %s %s, are right, and so is the answer they give.",
		number(s.levels.Interval/4), s.levels.Unit)
}

// cases writes a share as cases of a hundred: never all of them, for draws of
// the error cannot show that.
func cases(share float64) string {
	if n := math.Round(100 * share); n < 100 {
		return number(n)
	}
	return "over 99"
}

func eyeText(s *survey) string { return fine(s, s.o.EyeAboveGround) }

// fine writes a short length to a tenth of the unit.
func fine(s *survey, metres float64) string { return s.o.Units.Tenth(metres) }

// sag is how far the level line between a leg's ends lies below the straight
// one at a point, with no refraction: the chord's share of the last drop less
// the point's own.
func sag(leg *profile.Leg, at profile.Point) float64 {
	last := leg.Points[len(leg.Points)-1]
	return last.Drop*at.Distance/leg.Distance - at.Drop
}

func (s *survey) destination(ctx context.Context, r *rand.Rand) (*Question, error) {
	for range legsForDestination {
		a, b, ok := s.ends(r)
		if !ok {
			continue
		}
		q, err := s.destinationBetween(ctx, a, b)
		if q != nil || err != nil {
			return q, err
		}
	}
	return nil, nil
}

func (s *survey) destinationBetween(ctx context.Context, a, b geodesy.LatLon) (*Question, error) {
	leg, figure, err := s.leg(ctx, a, b)
	if leg == nil {
		return nil, err
	}
	sight, err := visibility.Along(leg, s.observer(a), s.conditions())
	if err != nil {
		return nil, err
	}
	if sight.Verdict != visibility.Hidden || -sight.Clearance < s.apart() ||
		math.Abs(sight.BlockedAt-sight.ClearanceAt) > s.spacing || sight.BlockedAt < 0.2*leg.Distance || sight.BlockedAt > leg.Distance-s.inside() {
		return nil, nil
	}
	line := s.clearances(leg, sight)
	if !s.oneHider(line, sight.BlockedAt, s.apart()) {
		return nil, nil
	}
	at, once, err := s.comesIntoView(leg, a, 0)
	if err != nil || !once {
		return nil, err
	}
	early, _, err := s.comesIntoView(leg, a, s.apart())
	if err != nil {
		return nil, err
	}
	late, _, err := s.comesIntoView(leg, a, -s.apart())
	if err != nil {
		return nil, err
	}
	drawn, ok, err := s.readDestination(leg, a, above(line, sight.BlockedAt))
	if !ok || err != nil {
		return nil, err
	}
	// Seen sooner when B stands higher, but for the ground just before it.
	early, late = min(early, at, late, drawn.low), max(early, at, late, drawn.high)
	share := latestShare * leg.Distance
	// What hides B from A must also be the last to hide it: a walker comes up
	// to that crest and sees B over it.
	if at < 0.1*leg.Distance || at > sight.BlockedAt+2*s.spacing || at-early > share || late-at > share {
		return nil, nil
	}
	if !s.measured(leg.PlaceAt(sight.BlockedAt), s.along.Scale) {
		return nil, nil
	}
	what, kind, err := s.whatStands(leg, sight.BlockedAt)
	if err != nil {
		return nil, err
	}
	figure.Key = s.drawing(leg)
	s.sightline(figure.Key, leg, sight)
	figure.Key.Marks = []sheet.ProfileMark{{Distance: at, Label: "in view"}}
	return &Question{
		Text:    "You walk straight from A to B. B cannot be seen from A: what hides it? How far must you walk until B comes into view? Take an eye " + eyeText(s) + " above the ground and no trees.",
		Reading: s.profileReading(),
		Figure:  figure,
		Answer: fmt.Sprintf("%s, %s from A, at %s. B comes into view after %s (%s to %s is a good reading).", what,
			s.distance(sight.BlockedAt), s.vertical(sight.BlockerElevation), s.distance(at), s.distance(early), s.distance(late)),
		Working: []string{
			fmt.Sprintf("From A (ground %s) the ground at %s stands highest against the eye; B (%s, %s) lies behind it and would have to stand %s higher.", s.vertical(leg.Points[0].Elevation),
				s.distance(sight.BlockedAt), s.distance(leg.Distance), s.vertical(sight.TargetElevation), s.vertical(sight.TargetExtra)),
			fmt.Sprintf("Lay a ruler on the profile from B over the highest ground before it: it meets the walker's eye %s from A, where the ground is at %s.", s.distance(at), s.vertical(leg.ElevationAt(at))),
		},
		Margin: fmt.Sprintf("%s from A the ground stands %s above the line from A to B, at least %s is asked (2.8 times %s); no other rise comes so near to that line. With heights that far wrong, or read a quarter of the interval wrong, the place where B comes into view moves by %s at most",
			s.distance(sight.ClearanceAt), s.vertical(-sight.Clearance), s.vertical(s.apart()), s.dataError(), s.distance(max(at-early, late-at))),
		Data: DestinationAnswer{BlockedAtM: sight.BlockedAt, Landform: kind, InViewAtM: at, EarliestM: early, LatestM: late,
			DistanceM: leg.Distance},
	}, nil
}

// comesIntoView is where along the leg the destination comes into view to
// stay, if it stands so many metres higher than the data has it, and whether
// it is hidden until there and seen from there on.
func (s *survey) comesIntoView(leg *profile.Leg, a geodesy.LatLon, higher float64) (at float64, once bool, err error) {
	shifted := *leg
	shifted.Points = slices.Clone(leg.Points)
	shifted.Points[len(shifted.Points)-1].Elevation += higher
	stretches, err := visibility.WhileWalking(&shifted, s.observer(a), s.conditions())
	if err != nil {
		return 0, false, err
	}
	for _, w := range stretches {
		if w.Verdict != visibility.Visible {
			at = w.To
		}
	}
	return at, len(stretches) == 2 && stretches[0].Verdict == visibility.Hidden, nil
}

// whatStands names the landform that the leg passes at a distance.
func (s *survey) whatStands(leg *profile.Leg, at float64) (string, landform.Kind, error) {
	passed, err := landform.Along(&s.grid.Frame, path(leg), s.features, s.along)
	if err != nil {
		return "", "", err
	}
	best, name, kind := s.along.Scale/2, "The brow of a convex slope", landform.Kind("")
	if s.tops(leg, at, -1) && s.tops(leg, at, 1) {
		name = "The top of a rise"
	}
	for _, p := range passed {
		if d := math.Abs(p.Distance - at); d < best {
			switch p.Kind {
			case landform.Ridge, landform.Spur:
				best, name, kind = d, "The crest of a "+string(p.Kind), p.Kind
			case landform.Hill:
				best, name, kind = d, "The top of a hill", p.Kind
				if p.Aside != 0 {
					name = "The side of a hill"
				}
			case "":
				if p.Name == "high point" {
					best, name, kind = d, "The top of a rise", ""
				}
			}
		}
	}
	return name, kind, nil
}

// tops reports whether the ground of a leg falls from a place by what a good
// reading tells before it rises by that, going on (1) or back (-1).
func (s *survey) tops(leg *profile.Leg, at float64, step int) bool {
	told, h := readingError*s.interval(), leg.ElevationAt(at)
	points := slices.Clone(leg.Points)
	if step < 0 {
		slices.Reverse(points)
	}
	for _, p := range points {
		if float64(step)*(p.Distance-at) <= 0 {
			continue
		}
		switch {
		case p.Elevation <= h-told:
			return true
		case p.Elevation >= h+told:
			return false
		}
	}
	return false
}
