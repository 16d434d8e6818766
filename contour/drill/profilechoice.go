package drill

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"crowline/dem"
	"crowline/profile"
)

// ProfileAnswer is the data of a question of kind Profile.
type ProfileAnswer struct {
	// Right is the number of the profile of A to B, from 1.
	Right int `json:"right" means:"The number of the right profile, from 1."`
	// DifferM is how far each profile departs from the true one, root mean
	// square, metres; 0 for the right one.
	DifferM []float64 `json:"differ_m" means:"How far each departs from the right one, root mean square."`
}

// samples of a profile, evenly spaced, to compare it by and to draw it.
const samples = 121

// choices is how many profiles there are to choose from.
const choices = 4

func (s *survey) profile(ctx context.Context, r *rand.Rand) (*Question, error) {
	leg, figure, err := s.anyLeg(ctx, r)
	if leg == nil {
		return nil, err
	}
	truth := sampled(leg)
	lo, hi := slices.Min(truth), slices.Max(truth)
	if hi-lo < 3*s.interval() {
		return nil, nil // too flat to have a shape
	}
	others := s.wrongProfiles(ctx, r, truth, leg.Distance)
	if len(others) < choices-1 {
		return nil, nil
	}
	right := r.IntN(choices)
	all := slices.Insert(others[:choices-1], right, truth)
	data := ProfileAnswer{Right: right + 1}
	for _, h := range all {
		section := Section{ElevationM: h}
		for i := range h {
			section.DistanceM = append(section.DistanceM, sampleAt(leg, i))
		}
		figure.Profiles = append(figure.Profiles, section)
		data.DifferM = append(data.DifferM, differ(h, truth))
	}
	least := math.Inf(1)
	for i, d := range data.DifferM {
		if i != right {
			least = min(least, d)
		}
	}
	figure.Key = s.drawing(leg)
	figure.Key.Levels = s.levelsBetween(lo, hi)
	working := []string{"Along A–B the contours show:"}
	for i, t := range leg.Climb(s.interval()/2, s.o.VerticalError).Turns {
		word := "lowest"
		switch {
		case i == 0:
			word = "start"
		case t.Distance == leg.Distance:
			word = "end"
		case t.Elevation > leg.ElevationAt(t.Distance-1):
			word = "high point"
		default:
			word = "low point"
		}
		working = append(working, fmt.Sprintf("%s at %s, %s", word, s.distance(t.Distance), s.vertical(t.Elevation)))
	}
	return &Question{
		Text:    "Which of the four profiles belongs to the line A–B? Lines are ruled at contour levels.",
		Reading: "Mark where the line crosses contours and what their numbers say. One profile fits, three do not.",
		Figure:  figure,
		Answer:  fmt.Sprintf("Profile %d.", right+1),
		Working: []string{working[0] + " " + join(working[1:]) + "."},
		Margin:  fmt.Sprintf("the others depart from it by %s or more, root mean square; %s is asked", s.vertical(least), s.vertical(s.profilesApart())),
		Data:    data,
	}, nil
}

// profilesApart is how far wrong profiles must depart, metres.
func (s *survey) profilesApart() float64 { return max(s.apart(), s.interval()/2) }

// wrongProfiles are profiles that are not the true one: it walked the other
// way, turned upside down, and those of other legs nearby raised or lowered
// to the same mean, so that shape and not level tells them apart. All depart
// far enough from the true one and from each other.
func (s *survey) wrongProfiles(ctx context.Context, r *rand.Rand, truth []float64, length float64) [][]float64 {
	mean := average(truth)
	reversed := slices.Clone(truth)
	slices.Reverse(reversed)
	inverted := slices.Clone(truth)
	for i := range inverted {
		inverted[i] = 2*mean - inverted[i]
	}
	candidates := [][]float64{reversed, inverted}
	spread := slices.Max(truth) - slices.Min(truth)
	for range 60 {
		a, b, ok := s.ends(r)
		if !ok {
			continue
		}
		leg, err := profile.Trace(ctx, s.grid, a, b)
		if err != nil || leg.Unknown() > 0 || len(leg.Filled()) > 0 {
			continue
		}
		h := sampled(leg)
		relief := (slices.Max(h) - slices.Min(h)) * length / leg.Distance
		if relief < 0.6*spread || relief > 1.6*spread {
			continue
		}
		shift := mean - average(h)
		for i := range h {
			h[i] += shift
		}
		candidates = append(candidates, h)
	}
	// Upside down every time would give the game away.
	r.Shuffle(len(candidates), func(i, j int) { candidates[i], candidates[j] = candidates[j], candidates[i] })
	var out [][]float64
	for _, c := range candidates {
		apart := differ(c, truth) >= s.profilesApart()
		for _, o := range out {
			apart = apart && differ(c, o) >= s.profilesApart()
		}
		if apart && len(out) < choices-1 {
			out = append(out, c)
		}
	}
	return out
}

// sampleAt is where the sample stands, metres from the start: the last exactly
// at the end, beyond which no ground is known.
func sampleAt(leg *profile.Leg, i int) float64 {
	return dem.Lerp(0, leg.Distance, float64(i)/(samples-1))
}

func sampled(leg *profile.Leg) []float64 {
	out := make([]float64, samples)
	for i := range out {
		out[i] = leg.ElevationAt(sampleAt(leg, i))
	}
	return out
}

func average(h []float64) float64 {
	sum := 0.0
	for _, v := range h {
		sum += v
	}
	return sum / float64(len(h))
}

// differ is the root mean square difference of two profiles, metres.
func differ(a, b []float64) float64 {
	sum := 0.0
	for i := range a {
		sum += (a[i] - b[i]) * (a[i] - b[i])
	}
	return math.Sqrt(sum / float64(len(a)))
}

// levelsBetween are the contour levels from lo to hi, metres.
func (s *survey) levelsBetween(lo, hi float64) (out []float64) {
	for j := s.levels.Below(lo) + 1; s.levels.Elevation(j) <= hi; j++ {
		out = append(out, s.levels.Elevation(j))
	}
	return out
}

func join(parts []string) string {
	out := ""
	for i, p := range parts {
		if i > 0 {
			out += "; "
		}
		out += p
	}
	return out
}
