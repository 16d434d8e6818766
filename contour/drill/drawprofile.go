package drill

import (
	"context"
	"math"
	"math/rand/v2"

	"crowline/contour/page"
	"crowline/profile"
)

// DrawProfileAnswer is the data of a question of kind DrawProfile.
type DrawProfileAnswer struct {
	// SightAnswer is whether B is seen from A on it.
	SightAnswer
	// Profile is the ground, and Crossings the contours it crosses: where the
	// profile must pass.
	Profile   Section `json:"profile" means:"The ground from A to B."`
	Crossings Section `json:"crossings" means:"The contour lines crossed on the way: where the profile passes."`
}

// drawProfile is a sight question whose profile is to be drawn on a ruled
// strip, so that both are judged on the same lines.
func (s *survey) drawProfile(ctx context.Context, r *rand.Rand) (*Question, error) {
	s.counted = true
	q, err := s.sight(ctx, r)
	s.counted = false
	if q == nil || err != nil {
		return nil, err
	}
	a, b := q.Figure.Marks[0].At(), q.Figure.Marks[1].At()
	leg, err := profile.Trace(ctx, s.grid, a, b)
	if err != nil {
		return nil, err
	}
	data := DrawProfileAnswer{SightAnswer: q.Data.(SightAnswer), Profile: section(leg)}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, h := range data.Profile.ElevationM {
		lo, hi = min(lo, h), max(hi, h)
	}
	for _, c := range crossings(leg, s.levels) {
		data.Crossings.DistanceM = append(data.Crossings.DistanceM, c.distance)
		data.Crossings.ElevationM = append(data.Crossings.ElevationM, s.levels.Elevation(c.level))
	}
	levels := s.levelsBetween(lo-s.interval(), hi+s.interval()+s.o.EyeAboveGround)
	q.Text = "Draw the profile of A–B on the strip. By your profile: can you see the ground at B from A? Take an eye " + eyeText(s) + " above the ground and no trees."
	q.Figure.Blank = &Blank{DistanceM: leg.Distance, LowestM: levels[0], HighestM: levels[len(levels)-1]}
	q.Figure.Drawn, q.Figure.Key = &data.Profile, nil
	q.Data = data
	return q, nil
}

// stripTall is the height of a blank profile in a column, millimetres.
const stripTall = 32.0

// strip draws a ruled strip with its axes, and the profile on it where there
// is one: the same lines for question and key.
func (l *layouter) strip(f *Figure, box page.Rect, drawn *Section) {
	s, b := l.survey, f.Blank
	const head, left, foot = 4.0, 12, 4.5
	frame := page.Box(box.X+left, box.Y+head, box.Width-left-3, box.Height-head-foot)
	levels := s.levelsBetween(b.LowestM, b.HighestM)
	up, along := frame.Height/(b.HighestM-b.LowestM), frame.Width/b.DistanceM
	labelled := math.Inf(1)
	crowded := s.interval()*up < leastRuling
	for _, level := range levels {
		y := frame.Bottom() - (level-b.LowestM)*up
		n := s.levels.Below(level + 1e-6)
		index := s.levels.Kind(n).String() == "index"
		width := page.LeastWidth
		if index {
			width = 0.2
		}
		if crowded && !index {
			continue
		}
		l.page.Line(width, faint, page.At(frame.X, y), page.At(frame.Right(), y))
		if (index || up*s.interval() > 2.6) && labelled-y > 2.4 {
			l.page.Add(page.Text{At: page.At(frame.X-0.8, y), String: s.levels.Label(n), Size: 6, Align: page.AlignRight, Rise: page.RiseMiddle, Color: ink})
			labelled = y
		}
	}
	// Ticks along the foot, a centimetre of the map apart.
	for mm := 10.0; s.paper(mm) < b.DistanceM; mm += 10 {
		x := frame.X + s.paper(mm)*along
		l.page.Line(page.LeastWidth, faint, page.At(x, frame.Y), page.At(x, frame.Bottom()))
		l.page.Add(page.Text{At: page.At(x, frame.Bottom()+0.8), String: number(mm), Size: 6, Align: page.AlignCenter, Rise: page.RiseTop, Color: ink})
	}
	l.page.Add(page.Text{At: page.At(frame.X, frame.Bottom()+0.8), String: "mm", Size: 6, Rise: page.RiseTop, Color: ink})
	if drawn != nil {
		var line []page.Point
		for k, h := range drawn.ElevationM {
			line = append(line, page.At(frame.X+drawn.DistanceM[k]*along, frame.Bottom()-(h-b.LowestM)*up))
		}
		l.page.Add(page.Stroke{Lines: [][]page.Point{line}, Width: 0.5, Color: ink})
		eye := line[0].Add(0, -s.o.EyeAboveGround*up)
		l.page.Line(0.2, ink, eye, line[len(line)-1])
	}
	l.page.Frame(0.15, ink, frame)
	l.text(page.At(frame.X, frame.Y-1), 7, page.Bold, page.AlignLeft, "A")
	l.text(page.At(frame.Right(), frame.Y-1), 7, page.Bold, page.AlignRight, "B")
}
