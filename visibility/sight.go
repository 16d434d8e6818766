package visibility

import (
	"errors"
	"fmt"
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/profile"
)

// Sight is the answer for one target seen along a leg from its start.
type Sight struct {
	// Verdict: Hidden only where known ground nearer than the target stands
	// above the sight line, by more than GrazingSlope; Unknown where the known ground does not
	// hide it but part of the ground between, or under the target, is not
	// known.
	Verdict Verdict
	// Distance to the target, metres.
	Distance float64
	// EyeElevation and TargetElevation are the two ends of the sight line,
	// metres above the data's vertical datum; TargetElevation is NaN when the
	// ground there is unknown.
	EyeElevation, TargetElevation float64
	// Angle is the target's elevation angle as the eye sees it, refraction
	// included, degrees above the horizontal; NaN when TargetElevation is.
	Angle geodesy.Degrees
	// Clearance is how far the sight line passes above the known ground
	// between, at the place where that is least, ClearanceAt metres from the
	// start; negative where the ground stands above it. NaN when no ground
	// between is known.
	Clearance, ClearanceAt float64
	// Nearest is how far the line passes above the ground where it comes nearest
	// to it, metres, NearestAt metres from the start: anywhere but in the eye's
	// and the target's own cells (the ground nearer to a post than to any
	// other, and theirs is the one they are in), where it begins and ends
	// on the ground. Equal to Clearance where ground stands over the line, and
	// where the line never leaves those cells.
	Nearest, NearestAt float64
	// BlockedAt is the distance, metres, of the ground that stands highest
	// against the eye in front of a hidden target: the crest the walker sees
	// instead. NaN unless Hidden. BlockerElevation is that ground's.
	BlockedAt, BlockerElevation float64
	// BlockedBy is whether bare ground stands there or what is on it, and
	// BlockerCover how much of BlockerElevation is the latter, metres. Over
	// dem.Covered ground only is it ever more than bare. Zero unless Hidden.
	BlockedBy    Blocker
	BlockerCover float64
	// StoppedAt is the distance, metres, at which known ground first rises
	// over the line to the target, which may be before BlockedAt. NaN unless
	// Hidden.
	StoppedAt float64
	// TargetExtra and EyeExtra are how much higher, metres, the target's top
	// or the eye would have to be for the target to be just seen, the other
	// staying where it is. Both 0 unless Hidden.
	TargetExtra, EyeExtra float64
	// AtLeast is true of a hidden target with ground on the way that is not
	// known: TargetExtra and EyeExtra are then what the known ground asks for.
	AtLeast bool
	// BareExtra is TargetExtra were there nothing on the ground between: 0
	// where the bare ground, as far as it is known, does not hide the target.
	BareExtra float64
	// CoverUnknown: Unknown, and the ground is known all the way: only what
	// stands on it is not.
	CoverUnknown bool
}

// Along looks from the leg's start to its end. Heights seen are lowered by
// the Earth's curve less refraction at the two posts of each crossed edge
// and joined by a straight line, as in the viewshed. The observer's Place
// must be the leg's start; the error names what is wrong. The leg's ends are
// taken to the letter: where they are places that people name, lay the leg by
// LookingLine.
func Along(leg *profile.Leg, observer Observer, conditions Conditions) (Sight, error) {
	line, err := newSection(leg, observer, conditions)
	if err != nil {
		return Sight{}, err
	}
	return line.sight(), nil
}

// section is a leg in the vertical plane of sight, where sight lines are
// straight: distance against elevation lowered by curvature and refraction.
type section struct {
	leg        *profile.Leg
	distance   []float64
	lowered    []float64 // ground, NaN where void
	eyeAbove   float64   // eye above ground, for every place along the leg
	eye        float64   // the eye at the start
	target     float64   // lowered top of the target; NaN when unknown
	top        float64   // the target's elevation, not lowered
	lowering   float64   // 1 - k
	conditions Conditions
}

func newSection(leg *profile.Leg, observer Observer, conditions Conditions) (*section, error) {
	if err := conditions.validate(); err != nil {
		return nil, err
	}
	if len(leg.Points) == 0 {
		return nil, errors.New("the leg has no profile")
	}
	if observer.Place != leg.From {
		return nil, fmt.Errorf("the observer at %s is not at the start of the leg, %s", observer.Place, leg.From)
	}
	ground := leg.Points[0].Elevation
	eye := ground + observer.EyeAboveGround
	if observer.EyeElevation != nil {
		eye = *observer.EyeElevation
	}
	if !(eye >= ground) || math.IsInf(eye, 0) {
		return nil, fmt.Errorf("the eye at %.1f m is below the ground at the start, %.1f m; give an eye height from 0 up", eye, ground)
	}
	s := &section{
		leg: leg, eye: eye, eyeAbove: eye - ground, lowering: 1 - conditions.Refraction, conditions: conditions,
		distance: make([]float64, len(leg.Points)), lowered: make([]float64, len(leg.Points)),
		target: math.NaN(), top: math.NaN(),
	}
	for i, p := range leg.Points {
		s.distance[i] = p.Distance
		s.lowered[i] = p.Elevation - s.lowering*p.Drop
	}
	if last := leg.Points[len(leg.Points)-1]; last.Distance >= leg.Distance-dem.NearLimit {
		s.top = last.Elevation + conditions.TargetAboveGround
		s.target = s.top - s.lowering*last.Drop
	}
	return s, nil
}

// between reports whether point i of the section can stand between eye and
// target: not either end, nor within rounding of it.
func (s *section) between(i int) bool {
	d := s.distance[i]
	return d > dem.NearLimit && d < s.leg.Distance-dem.NearLimit
}

func (s *section) sight() Sight {
	out := Sight{
		Distance: s.leg.Distance, EyeElevation: s.eye, TargetElevation: s.top,
		Clearance: math.NaN(), ClearanceAt: math.NaN(), BlockedAt: math.NaN(), BlockerElevation: math.NaN(), StoppedAt: math.NaN(),
	}
	length := s.leg.Distance
	slope := (s.target - s.eye) / length
	out.Angle = geodesy.Atan2(slope, 1)
	highest, at := math.Inf(-1), -1
	unknown := math.IsNaN(s.target)
	for i, h := range s.lowered {
		if !s.between(i) {
			continue
		}
		if math.IsNaN(h) {
			unknown = true
			continue
		}
		if u := (h - s.eye) / s.distance[i]; u > highest {
			highest, at = u, i
		}
		if clear := s.eye + slope*s.distance[i] - h; !(clear >= out.Clearance) && !math.IsNaN(clear) {
			out.Clearance, out.ClearanceAt = clear, s.distance[i]
		}
	}
	switch {
	case highest > slope+GrazingSlope:
		out.Verdict = Hidden
		out.BlockedAt, out.BlockerElevation = s.distance[at], s.leg.Points[at].Elevation
		out.TargetExtra = (highest - slope) * length
		out.EyeExtra = s.eyeExtra()
		out.StoppedAt = s.stoppedAt(slope)
		out.AtLeast = unknown
		s.blame(&out, at, slope)
	case unknown:
		out.Verdict, out.CoverUnknown = Unknown, s.coverUnknown()
	default:
		out.Verdict = Visible
	}
	out.Nearest, out.NearestAt = out.Clearance, out.ClearanceAt
	if out.Clearance >= 0 {
		out.Nearest, out.NearestAt = s.nearest(slope, out)
	}
	return out
}

// nearest is where a line of this slope that no ground stands over passes
// nearest to it, as Sight.Nearest has it.
func (s *section) nearest(slope float64, out Sight) (clearance, at float64) {
	clearance, at = math.Inf(1), math.NaN()
	points := s.leg.Points
	cell := func(p *profile.Point) [2]float64 { return [2]float64{math.Round(p.Column), math.Round(p.Row)} }
	eye, target := cell(&points[0]), cell(&points[len(points)-1])
	for i := range points {
		if c := cell(&points[i]); !s.between(i) || c == eye || c == target {
			continue
		}
		if c := s.eye + slope*s.distance[i] - s.lowered[i]; c < clearance { // never true of a void
			clearance, at = c, s.distance[i]
		}
	}
	if math.IsNaN(at) {
		return out.Clearance, out.ClearanceAt
	}
	return clearance, at
}

// stoppedAt is where the ground first rises over a line of this slope from
// the eye. Ground is straight between points; across a gap in it, the point
// that is known to stand over the line counts.
func (s *section) stoppedAt(slope float64) float64 {
	before := math.NaN() // the line over the ground at the point before
	for i, h := range s.lowered {
		over := s.eye + slope*s.distance[i] - h
		if s.between(i) && over < 0 {
			if !(before >= 0) {
				return s.distance[i]
			}
			from := s.distance[i-1]
			return from + (s.distance[i]-from)*before/(before-over)
		}
		before = over
	}
	return math.NaN()
}

// eyeExtra is how much the eye must rise to clear every point between.
func (s *section) eyeExtra() float64 {
	need := 0.0
	for i, h := range s.lowered {
		if !s.between(i) || math.IsNaN(h) {
			continue
		}
		rest := s.leg.Distance - s.distance[i]
		need = max(need, s.target+(h-s.target)*s.leg.Distance/rest-s.eye)
	}
	return need
}

// Stretch is part of a leg with one verdict, metres from the start.
type Stretch struct {
	From, To float64
	Verdict  Verdict
}

// WhileWalking is the verdict on the leg's destination from every place
// along the leg, as consecutive stretches: exact, because with both ends on
// one line everything is straight in the plane of sight. The walker's eye
// keeps its height above the ground. Stretches on ground that is not known
// are Unknown.
func WhileWalking(leg *profile.Leg, observer Observer, conditions Conditions) ([]Stretch, error) {
	s, err := newSection(leg, observer, conditions)
	if err != nil {
		return nil, err
	}
	if math.IsNaN(s.target) {
		return []Stretch{{0, leg.Distance, Unknown}}, nil
	}
	length := leg.Distance
	var reversed []Stretch
	steepest := math.Inf(-1) // slope from the target up to the highest ground so far
	void := false            // some ground between is not known
	for i := len(s.distance) - 2; i >= 0; i-- {
		a, b := s.distance[i], s.distance[i+1]
		if h := s.lowered[i+1]; s.between(i + 1) {
			if math.IsNaN(h) {
				void = true
			} else {
				steepest = max(steepest, (h-s.target)/(length-b))
			}
		}
		if b-a <= 0 {
			continue
		}
		clear := Visible
		if void {
			clear = Unknown
		}
		if math.IsNaN(s.lowered[i]) || math.IsNaN(s.lowered[i+1]) {
			reversed = appendStretch(reversed, Stretch{a, b, Unknown})
			continue
		}
		if math.IsInf(steepest, -1) {
			reversed = appendStretch(reversed, Stretch{a, b, clear})
			continue
		}
		// the eye above the line from the target over its horizon, at a and b
		above := func(j int) float64 {
			rest := length - s.distance[j]
			return s.lowered[j] + s.eyeAbove - (s.target + (steepest-GrazingSlope)*rest)
		}
		for _, part := range split(a, b, above(i), above(i+1), clear, Hidden) {
			reversed = appendStretch(reversed, part)
		}
	}
	out := make([]Stretch, 0, len(reversed))
	for i := len(reversed) - 1; i >= 0; i-- {
		out = append(out, reversed[i])
	}
	return out, nil
}

// split cuts a stretch from a to b where a linear value, atA and atB at its
// ends, changes sign, and gives the parts from b back to a: at or above zero
// is yes, below is no.
func split(a, b, atA, atB float64, yes, no Verdict) []Stretch {
	of := func(v float64) Verdict {
		if v >= 0 {
			return yes
		}
		return no
	}
	if (atA >= 0) == (atB >= 0) {
		return []Stretch{{a, b, of(atA)}}
	}
	m := a + (b-a)*atA/(atA-atB)
	return []Stretch{{m, b, of(atB)}, {a, m, of(atA)}}
}

// sliver is the length, metres, under which a stretch is rounding, not
// ground, and takes the verdict of its neighbour.
const sliver = 1e-6

// appendStretch adds a part that ends where the last begins, joining equals.
func appendStretch(reversed []Stretch, s Stretch) []Stretch {
	n := len(reversed)
	if n > 0 && (reversed[n-1].Verdict == s.Verdict || s.To-s.From < sliver) {
		reversed[n-1].From = s.From
		return reversed
	}
	return append(reversed, s)
}

// Ground is what an eye at the leg's start sees of the ground along it.
type Ground struct {
	// Seen are consecutive stretches of ground: Visible, Hidden or Unknown
	// (void, or known ground that only a void could hide).
	Seen []Stretch
	// Skyline is the distance, metres, of the ground that stands highest
	// against the eye: the last that is seen. Elevation is its ground's and
	// Angle its elevation angle, refraction included. NaN when no ground is
	// known.
	Skyline, Elevation float64
	Angle              geodesy.Degrees
	// SkylineCover is how much of Elevation is what stands on the ground
	// (dem.Covered), metres; 0 for bare ground.
	SkylineCover float64
	// Tops is the length, metres, of what is Visible that is the top of what
	// stands on the ground: the ground itself need not be seen there.
	Tops float64
}

// GroundAlong tells which ground along a leg is seen from its start: the
// answer to "what do I see if I look that way?". Exact in the plane of
// sight.
func GroundAlong(leg *profile.Leg, observer Observer, conditions Conditions) (Ground, error) {
	s, err := newSection(leg, observer, conditions)
	if err != nil {
		return Ground{}, err
	}
	covered := func(i int) bool { return leg.Points[i].Cover > 0 }
	g := Ground{Skyline: math.NaN(), Elevation: math.NaN(), Angle: geodesy.Degrees(math.NaN())}
	highest, void := math.Inf(-1), false
	for i := 1; i < len(s.distance); i++ {
		a, b := s.distance[i-1], s.distance[i]
		ha, hb := s.lowered[i-1], s.lowered[i]
		if math.IsNaN(ha) || math.IsNaN(hb) {
			void = true
			g.add(Stretch{a, b, Unknown})
		} else if b > a {
			clear := Visible
			if void {
				clear = Unknown
			}
			parts := []Stretch{{a, b, clear}}
			if !math.IsInf(highest, -1) {
				parts = split(a, b, ha-s.eye-(highest-GrazingSlope)*a, hb-s.eye-(highest-GrazingSlope)*b, clear, Hidden)
			}
			for j := len(parts) - 1; j >= 0; j-- {
				g.add(parts[j])
				if parts[j].Verdict == Visible && (covered(i-1) || covered(i)) {
					g.Tops += parts[j].To - parts[j].From
				}
			}
		}
		if !math.IsNaN(hb) && b > dem.NearLimit {
			if u := (hb - s.eye) / b; u > highest {
				highest = u
				g.Skyline, g.Elevation, g.SkylineCover = b, s.leg.Points[i].Elevation, s.leg.Points[i].Cover
				g.Angle = geodesy.Atan2(u, 1)
			}
		}
	}
	return g, nil
}

func (g *Ground) add(s Stretch) {
	n := len(g.Seen)
	if n > 0 && (g.Seen[n-1].Verdict == s.Verdict || s.To-s.From < sliver) {
		g.Seen[n-1].To = s.To
		return
	}
	g.Seen = append(g.Seen, s)
}
