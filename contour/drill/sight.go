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
	Verdict visibility.Verdict `json:"verdict"`
	// ClearanceM is how far the line passes over the ground where it matters,
	// AtM from A, metres; negative where the ground stands above it.
	ClearanceM float64 `json:"clearance_m"`
	AtM        float64 `json:"at_m"`
	DistanceM  float64 `json:"distance_m"`
}

// DestinationAnswer is the data of a question of kind Destination.
type DestinationAnswer struct {
	// BlockedAtM is where the ground that hides B from A stands, metres from
	// A; Landform is its kind, "" when it is none.
	BlockedAtM float64       `json:"blocked_at_m"`
	Landform   landform.Kind `json:"landform,omitempty"`
	// InViewAtM is where B comes into view, EarliestM and LatestM where it
	// might with the data's error, metres from A.
	InViewAtM float64 `json:"in_view_at_m"`
	EarliestM float64 `json:"earliest_m"`
	LatestM   float64 `json:"latest_m"`
	DistanceM float64 `json:"distance_m"`
}

// guard is how many posts at either end of a sight line are left out of its
// margin: there the ground errs with the end that stands on it.
const guard = 3

// latestShare is how far, as a share of the leg, the data's error may move
// the place where a destination comes into view.
const latestShare = 0.125

func (s *survey) conditions() visibility.Conditions {
	return visibility.Conditions{Refraction: s.o.Refraction}
}

func (s *survey) observer(at geodesy.LatLon) visibility.Observer {
	return visibility.Observer{Place: at, EyeAboveGround: s.o.EyeAboveGround}
}

// nearest is the ground between the guards that stands highest against the
// line from the eye at the leg's start to its end, as clearance: metres of
// line over ground.
func (s *survey) nearest(leg *profile.Leg) (clearance float64, at profile.Point) {
	first, last := leg.Points[0], leg.Points[len(leg.Points)-1]
	lowering := 1 - s.o.Refraction
	eye, target := first.Elevation+s.o.EyeAboveGround, last.Elevation-lowering*last.Drop
	clearance = math.Inf(1)
	for _, p := range leg.Points {
		if p.Distance < guard*s.spacing || p.Distance > leg.Distance-guard*s.spacing {
			continue
		}
		c := eye + (target-eye)*p.Distance/leg.Distance - (p.Elevation - lowering*p.Drop)
		if c < clearance {
			clearance, at = c, p
		}
	}
	return clearance, at
}

// sightline draws a leg's line of sight into its key profile.
func (s *survey) sightline(d *sheet.ProfileDrawing, leg *profile.Leg, sight visibility.Sight) {
	last := leg.Points[len(leg.Points)-1]
	d.Sight = &sheet.SightDrawing{
		ToDistance: leg.Distance, FromElevation: sight.EyeElevation, ToElevation: sight.TargetElevation,
		BlockedAt: sight.StoppedAt,
	}
	// drop = d²/2R, so that R/(1-k) is the radius the line is drawn over
	if lowering := 1 - s.o.Refraction; lowering > 0 && last.Drop > 0 {
		d.Sight.EffectiveRadius = leg.Distance * leg.Distance / (2 * last.Drop * lowering)
	}
}

func (s *survey) sight(ctx context.Context, r *rand.Rand) (*Question, error) {
	// Half the answers yes and half no, whatever the ground is like.
	want := visibility.Visible
	if r.IntN(2) == 0 {
		want = visibility.Hidden
	}
	for range 8 {
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
	clearance, at := s.nearest(leg)
	if sight.Verdict != want || math.IsInf(clearance, 0) {
		return nil, nil
	}
	// A wall in front of the eye, or sky over everything, is no question.
	const interesting = 6
	margin := clearance
	if want == visibility.Hidden {
		margin = -clearance
	}
	if margin < s.apart() || margin > interesting*s.apart() {
		return nil, nil
	}
	figure.Key = s.drawing(leg)
	s.sightline(figure.Key, leg, sight)
	straight := sight.EyeElevation + (sight.TargetElevation-sight.EyeElevation)*at.Distance/leg.Distance
	line := straight - (1-s.o.Refraction)*sag(leg, at)
	working := []string{
		fmt.Sprintf("Eye at A: ground %s, eye %s above it. B: ground %s. A to B: %s.", s.vertical(leg.Points[0].Elevation), eyeText(s), s.vertical(sight.TargetElevation), s.distance(leg.Distance)),
		fmt.Sprintf("The ground that counts is %s from A, at %s. There the line of sight passes at %s (the Earth's curve and refraction take off %s).",
			s.distance(at.Distance), s.vertical(at.Elevation), s.vertical(line), fine(s, straight-line)),
	}
	answer := fmt.Sprintf("Yes. The line clears the ground by %s, %s from A, where it comes nearest.", s.vertical(clearance), s.distance(at.Distance))
	if want == visibility.Hidden {
		answer = fmt.Sprintf("No. Ground %s from A stands %s above the line.", s.distance(at.Distance), s.vertical(-clearance))
	}
	return &Question{
		Text:    "Can you see the ground at B from A? Take an eye " + eyeText(s) + " above the ground and no trees.",
		Figure:  figure,
		Answer:  answer,
		Working: working,
		Margin:  fmt.Sprintf("%s from the line, at least %s is asked (2.8 times the data's %s), but for the first and last %s", s.vertical(margin), s.vertical(s.apart()), s.vertical(s.o.VerticalError), s.distance(guard*s.spacing)),
		Data:    SightAnswer{Verdict: want, ClearanceM: clearance, AtM: at.Distance, DistanceM: leg.Distance},
	}, nil
}

func eyeText(s *survey) string { return fine(s, s.o.EyeAboveGround) }

// fine writes a short length to a tenth of the unit.
func fine(s *survey, metres float64) string {
	if s.o.Units == sheet.US {
		return fmt.Sprintf("%.1f ft", metres/foot)
	}
	return fmt.Sprintf("%.1f m", metres)
}

// sag is how far the level line between a leg's ends lies below the straight
// one at a point, with no refraction: the chord's share of the last drop less
// the point's own.
func sag(leg *profile.Leg, at profile.Point) float64 {
	last := leg.Points[len(leg.Points)-1]
	return last.Drop*at.Distance/leg.Distance - at.Drop
}

func (s *survey) destination(ctx context.Context, r *rand.Rand) (*Question, error) {
	a, b, ok := s.ends(r)
	if !ok {
		return nil, nil
	}
	leg, figure, err := s.leg(ctx, a, b)
	if leg == nil {
		return nil, err
	}
	sight, err := visibility.Along(leg, s.observer(a), s.conditions())
	if err != nil {
		return nil, err
	}
	clearance, _ := s.nearest(leg)
	if sight.Verdict != visibility.Hidden || -clearance < s.apart() ||
		sight.BlockedAt < 0.2*leg.Distance || sight.BlockedAt > leg.Distance-guard*s.spacing {
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
	// Seen sooner when B stands higher, but for the ground just before it.
	early, late = min(early, at, late), max(early, at, late)
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
		Text:   "You walk straight from A to B. B cannot be seen from A: what hides it? How far must you walk until B comes into view? Take an eye " + eyeText(s) + " above the ground and no trees.",
		Figure: figure,
		Answer: fmt.Sprintf("%s, %s from A, at %s. B comes into view after %s (between %s and %s, with the data's error).", what,
			s.distance(sight.BlockedAt), s.vertical(sight.BlockerElevation), s.distance(at), s.distance(early), s.distance(late)),
		Working: []string{
			fmt.Sprintf("From A (ground %s) the ground at %s stands highest against the eye; B (%s, %s) lies behind it and would have to stand %s higher.", s.vertical(leg.Points[0].Elevation),
				s.distance(sight.BlockedAt), s.distance(leg.Distance), s.vertical(sight.TargetElevation), s.vertical(sight.TargetExtra)),
			fmt.Sprintf("Lay a ruler on the profile from B over the highest ground before it: it meets the walker's eye %s from A, where the ground is at %s.", s.distance(at), s.vertical(leg.ElevationAt(at))),
		},
		Margin: fmt.Sprintf("the ground stands %s above the line from A, at least %s is asked; the place moves by %s at most", s.vertical(-clearance), s.vertical(s.apart()), s.distance(max(at-early, late-at))),
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
	best, name, kind := s.along.Scale/2, "Rising ground", landform.Kind("")
	if leg.ElevationAt(at-s.spacing) > leg.ElevationAt(at) {
		name = "The brow of a convex slope" // it falls on both sides, the far one more steeply
	}
	for _, p := range passed {
		if d := math.Abs(p.Distance - at); d < best {
			switch p.Kind {
			case landform.Ridge, landform.Spur:
				best, name, kind = d, "The crest of a "+string(p.Kind), p.Kind
			case landform.Hill:
				best, name, kind = d, "The top of a hill", p.Kind
			case "":
				if p.Name == "high point" {
					best, name, kind = d, "The top of a rise", ""
				}
			}
		}
	}
	return name, kind, nil
}
