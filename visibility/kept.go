package visibility

import (
	"context"
	"errors"
	"fmt"
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/profile"
)

var errNoProfile = errors.New("the leg has no profile")

// KeptInView is the verdict on a mark, which may stand anywhere, from every
// place along a leg, as consecutive stretches: Hidden ones are where the mark
// is lost, and where one ends it comes back. The walker's eye keeps its
// height above the ground. A stretch of leg on ground that is not known is
// Unknown.
//
// The answer is exact on the ground model, with nothing looked at only here
// and there: every edge of the ground between mark and leg is drawn on to the
// leg as seen from the mark, where it hides a stretch that can be told to the
// end. For the leg's own destination it is WhileWalking.
//
// A mark within a tenth of a metre of the line itself, and sight lines that
// run along the very border of the data, are taken otherwise: the walker
// stands where the leg crosses an edge of the ground and between, never more
// than half a post spacing apart, and each change is halved down to
// KeptResolution; what begins and ends between two neighbouring places can be
// missed.
//
// The sight lines are all drawn on the mark's plane, on which they are
// straight as they are on the walker's. Curvature taken about the mark
// instead of about the eye differs by under a millimetre within 50 km.
//
// The error wraps dem.ErrVoid or dem.ErrOutside when the mark stands on no
// known ground. Cost: the posts between mark and leg, once: a millisecond or
// two for a mark ahead of 10 km of 10 m posts.
func KeptInView(ctx context.Context, posts dem.Posts, leg *profile.Leg, mark geodesy.LatLon,
	eyeAboveGround float64, conditions Conditions) ([]Stretch, error) {
	if geodesy.Inverse(leg.To, mark).Distance < dem.NearLimit {
		return WhileWalking(leg, Observer{Place: leg.From, EyeAboveGround: eyeAboveGround}, conditions)
	}
	if err := conditions.validate(); err != nil {
		return nil, err
	}
	if !(eyeAboveGround >= 0) || math.IsInf(eyeAboveGround, 0) {
		return nil, fmt.Errorf("eye above ground %v m is not a height from 0 up", eyeAboveGround)
	}
	if len(leg.Points) == 0 {
		return nil, errNoProfile
	}
	w, err := newFromMark(posts, leg, mark, conditions)
	if err != nil {
		return nil, err
	}
	out, err := w.drawn(ctx, leg, eyeAboveGround)
	if err != nil {
		return nil, fmt.Errorf("keeping %s in view: %w", mark, err)
	}
	if out == nil {
		if out, err = w.sampled(ctx, leg, eyeAboveGround); err != nil {
			return nil, fmt.Errorf("keeping %s in view: %w", mark, err)
		}
	}
	end := 0.0
	if len(out) > 0 {
		end = out[len(out)-1].To
	}
	if end < leg.Distance-dem.NearLimit {
		k := stretcher{out}
		k.add(Stretch{end, leg.Distance, Unknown})
		out = k.out
	}
	if err := posts.Err(); err != nil {
		return nil, fmt.Errorf("keeping %s in view: %w", mark, err)
	}
	return out, nil
}

// drawn is the answer as far as the leg is known; nil where it cannot be
// drawn.
func (w *fromMark) drawn(ctx context.Context, leg *profile.Leg, eyeAboveGround float64) ([]Stretch, error) {
	f := newFan(w, leg, eyeAboveGround)
	if f == nil {
		return nil, nil
	}
	if ok, err := f.hide(ctx); !ok || err != nil {
		return nil, err
	}
	return f.stretches(), nil
}

// KeptResolution is how finely, metres along the leg, KeptInView places the
// point where a mark on the line goes out of sight or comes back.
const KeptResolution = 1.0

// sampled is the answer from places along the leg.
func (w *fromMark) sampled(ctx context.Context, leg *profile.Leg, eyeAboveGround float64) ([]Stretch, error) {
	verdictAt := func(distance float64) Verdict {
		return w.verdict(leg.PlaceAt(distance), leg.ElevationAt(distance)+eyeAboveGround)
	}
	k := keeper{verdict: verdictAt}
	from, fromVerdict := 0.0, verdictAt(0)
	for i := 1; i < len(leg.Points); i++ {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		start, end := leg.Points[i-1].Distance, leg.Points[i].Distance
		pieces := max(1, int(math.Ceil((end-start)/(leg.Spacing/2))))
		for j := 1; j <= pieces; j++ {
			to := dem.Lerp(start, end, float64(j)/float64(pieces)) // never beyond the last point, where no ground is known
			v := verdictAt(to)
			k.refine(from, to, fromVerdict, v)
			from, fromVerdict = to, v
		}
	}
	return k.out, nil
}

// Share is the share, from 0 to 1, of the first length metres of a leg over
// which its stretches have a verdict.
func Share(stretches []Stretch, length float64, verdict Verdict) float64 {
	if !(length > 0) {
		return 0
	}
	sum := 0.0
	for _, s := range stretches {
		if s.Verdict == verdict {
			sum += max(0, min(s.To, length)-s.From)
		}
	}
	return min(1, sum/length)
}

// FirstSeen is the distance along a leg, metres, from which a mark is first seen,
// NaN where it never is. atLatest is true where a stretch before that is not
// known: it may be seen sooner.
func FirstSeen(stretches []Stretch) (at float64, atLatest bool) {
	for _, s := range stretches {
		switch s.Verdict {
		case Visible:
			return s.From, atLatest
		case Unknown:
			atLatest = true
		}
	}
	return math.NaN(), atLatest
}

// keeper joins stretches and halves down to where the verdict changes.
type keeper struct {
	verdict func(distance float64) Verdict
	out     []Stretch
}

func (k *keeper) refine(from, to float64, atFrom, atTo Verdict) {
	middle := (from + to) / 2
	switch {
	case atFrom == atTo:
		k.add(Stretch{from, to, atTo})
	case to-from <= KeptResolution:
		k.add(Stretch{from, middle, atFrom})
		k.add(Stretch{middle, to, atTo})
	default:
		v := k.verdict(middle)
		k.refine(from, middle, atFrom, v)
		k.refine(middle, to, v, atTo)
	}
}

func (k *keeper) add(s Stretch) {
	if n := len(k.out); n > 0 && k.out[n-1].Verdict == s.Verdict {
		k.out[n-1].To = s.To
		return
	}
	k.out = append(k.out, s)
}

// fromMark draws sight lines backwards, from a mark to eyes round it: one
// placement then serves them all.
type fromMark struct {
	posts     dem.Posts
	placement *dem.Placement
	top       float64 // the mark's, metres
	lowering  float64 // 1 - k
}

func newFromMark(posts dem.Posts, leg *profile.Leg, mark geodesy.LatLon, conditions Conditions) (*fromMark, error) {
	ground, err := dem.ElevationAt(posts, mark)
	if err != nil {
		return nil, fmt.Errorf("mark: %w", err)
	}
	// Every sight line lies near the triangle of mark, start and
	// destination. A line bows out from its chord on any map of the ground
	// by a small share of its length; a tenth and two posts are far over
	// that below the polar circles, as for a leg itself.
	longest := max(geodesy.Inverse(mark, leg.From).Distance, geodesy.Inverse(mark, leg.To).Distance, leg.Distance)
	places := append(geodesy.Waypoints(leg.From, leg.To, 4), mark)
	window, err := dem.WindowAround(posts.Layout(), places, longest/10+2*leg.Spacing)
	if err != nil {
		return nil, err
	}
	p, err := dem.NewPlacement(posts.Layout(), geodesy.NewPlane(mark), window)
	if err != nil {
		return nil, err
	}
	return &fromMark{posts: posts, placement: p, top: ground + conditions.TargetAboveGround, lowering: 1 - conditions.Refraction}, nil
}

// verdict is whether an eye at a place and elevation sees the mark; Unknown
// when the elevation is NaN.
func (w *fromMark) verdict(place geodesy.LatLon, eye float64) Verdict {
	if math.IsNaN(eye) {
		return Unknown
	}
	plane := w.placement.Plane
	east, north := plane.Forward(place)
	distance := math.Hypot(east, north)
	if distance < 2*dem.NearLimit {
		return Visible
	}
	// the drop is the square of the distance along one bearing
	drop := w.lowering * plane.CurvatureDrop(east, north, 0) / (distance * distance)
	limit := (eye-w.top)/distance - drop*distance + GrazingSlope
	hidden, unknown := false, false
	_, left := w.placement.Walk(east, north, func(c dem.Crossing) bool {
		h := c.Elevation(w.posts)
		if math.IsNaN(h) {
			unknown = true
			return true
		}
		hidden = (h-w.top)/c.Distance-drop*c.Distance > limit
		return !hidden
	})
	switch {
	case hidden:
		return Hidden
	case unknown || left:
		return Unknown
	}
	return Visible
}
