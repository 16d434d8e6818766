package drill

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"crowline/contour"
	"crowline/contour/sheet"
	"crowline/dem/geodesy"
	"crowline/profile"
)

// SlopeAnswer is the data of a question of kind Slope.
type SlopeAnswer struct {
	// RiseM over RunM, metres; the run begins FromM from A.
	RiseM float64 `json:"rise_m" means:"How much the run rises."`
	RunM  float64 `json:"run_m" means:"How long it is."`
	FromM float64 `json:"from_m" means:"Where it begins, from A."`
	// Percent and Degrees, and what a reading half a millimetre out at each
	// end would give.
	Percent     float64         `json:"percent" means:"Its slope."`
	Degrees     geodesy.Degrees `json:"degrees" means:"The same as an angle, in degrees."`
	LowPercent  float64         `json:"low_percent" means:"What a reading half a millimetre long at each end gives."`
	HighPercent float64         `json:"high_percent" means:"What a reading half a millimetre short at each end gives."`
	// LowerM and UpperM are the contours at the ends, metres.
	LowerM float64 `json:"lower_contour_m" means:"The contour line at its lower end."`
	UpperM float64 `json:"upper_contour_m" means:"The contour line at its upper end."`
}

const (
	// slopeIntervals is over how many intervals a slope is taken: one is too
	// short to measure and hangs on the data's error.
	slopeIntervals = 3
	leastRunMM     = 4
	// runsApart: any other run is this many times as long.
	runsApart = 1.2
	// rulerMM is a reading's error, of both ends together, millimetres: half
	// a millimetre each.
	rulerMM = 0.7
	// riseShare is the share of the rise that the error of its two ends may be.
	riseShare = 0.15
)

// crossing is where a leg crosses a contour.
type crossing struct {
	distance float64
	level    int
	up       bool
}

// crossings of a leg with the contours, in order, by the rule the lines are
// drawn by.
func crossings(leg *profile.Leg, levels contour.Levels) (out []crossing) {
	for i := 1; i < len(leg.Points); i++ {
		p, q := leg.Points[i-1], leg.Points[i]
		from, to := levels.Below(p.Elevation), levels.Below(q.Elevation)
		at := func(j int, up bool) {
			t := (levels.Elevation(j) - p.Elevation) / (q.Elevation - p.Elevation)
			out = append(out, crossing{distance: p.Distance + t*(q.Distance-p.Distance), level: j, up: up})
		}
		for j := from + 1; j <= to; j++ {
			at(j, true)
		}
		for j := from; j > to; j-- {
			at(j, false)
		}
	}
	return out
}

// run is several contours crossed one after another, all up or all down.
type run struct {
	first    int // index of its first crossing
	from, to float64
	low, hi  int // levels
}

func runs(c []crossing) (out []run) {
	for i := 0; i+slopeIntervals < len(c); i++ {
		even := true
		for k := 1; k <= slopeIntervals; k++ {
			even = even && c[i+k].up == c[i].up
		}
		if even {
			a, b := c[i], c[i+slopeIntervals]
			out = append(out, run{first: i, from: a.distance, to: b.distance, low: min(a.level, b.level), hi: max(a.level, b.level)})
		}
	}
	return out
}

func (s *survey) slope(ctx context.Context, r *rand.Rand) (*Question, error) {
	if s.apart()/2 > riseShare*slopeIntervals*s.interval() {
		return nil, nil
	}
	leg, figure, err := s.anyLeg(ctx, r)
	if leg == nil {
		return nil, err
	}
	if !s.countable(leg) {
		return nil, nil
	}
	all := runs(crossings(leg, s.levels))
	if len(all) < 2 {
		return nil, nil
	}
	best := all[0]
	for _, x := range all {
		if x.to-x.from < best.to-best.from {
			best = x
		}
	}
	length := best.to - best.from
	clear := math.Inf(1)
	for _, x := range all {
		if d := x.first - best.first; d < -1 || d > 1 {
			clear = min(clear, (x.to-x.from)/length)
		}
	}
	mm := length * 1000 / s.o.Scale
	if mm < leastRunMM || clear < runsApart || math.IsInf(clear, 1) {
		return nil, nil
	}
	rise := slopeIntervals * s.interval()
	percent := func(run float64) float64 { return 100 * rise / run }
	data := SlopeAnswer{
		RiseM: rise, RunM: length, FromM: best.from,
		Percent: percent(length), Degrees: geodesy.Atan2(rise, length),
		LowPercent: percent(length + s.paper(rulerMM)), HighPercent: percent(length - s.paper(rulerMM)),
		LowerM: s.levels.Elevation(best.low), UpperM: s.levels.Elevation(best.hi),
	}
	figure.Key = s.drawing(leg)
	figure.Key.Levels = s.levelsBetween(data.LowerM-s.interval()/2, data.UpperM+s.interval()/2)
	figure.Key.Marks = []sheet.ProfileMark{{Distance: (best.from + best.to) / 2, Label: "steepest"}}
	low, high := geodesy.Atan2(data.LowPercent, 100), geodesy.Atan2(data.HighPercent, 100)
	return &Question{
		Text:    fmt.Sprintf("Along A–B, find the four contours crossed one after another, all uphill or all downhill, that stand closest together. How steep is the ground there, in percent and in degrees? The interval is %s %s.", number(s.levels.Interval), s.levels.Unit),
		Reading: fmt.Sprintf("Measure from the first of the four to the last; three intervals are %s. Half a millimetre out at either end is right.", s.vertical(slopeIntervals*s.interval())),
		Figure:  figure,
		Answer:  fmt.Sprintf("%.0f %%, %.0f° (%.0f to %.0f %%, %.0f to %.0f°, is a good reading).", data.Percent, float64(data.Degrees), data.LowPercent, data.HighPercent, float64(low), float64(high)),
		Working: []string{
			fmt.Sprintf("Closest together are the contours from %s to %s %s, %s from A.", s.levels.Label(best.low), s.levels.Label(best.hi), s.levels.Unit, s.distance(best.from)),
			fmt.Sprintf("Rise: %d intervals, %s. Run: %.1f mm on the map, %s on the ground.", slopeIntervals, s.vertical(rise), mm, s.vertical(length)),
			fmt.Sprintf("Rise over run is %.2f: %.0f %%. The angle whose tangent is %.2f is %.0f°.", rise/length, data.Percent, rise/length, float64(data.Degrees)),
		},
		Margin: fmt.Sprintf("the next closest run is %.2f times as long, at least %.1f is asked; %s is %.0f %% of the rise, at most %.0f %%", clear, runsApart, s.dataError(), 100*s.apart()/2/rise, 100*riseShare),
		Data:   data,
	}, nil
}
