package sheet

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"crowline/contour/page"
)

// northArm is the length of the north diagram's arms, millimetres.
const northArm = 19

// northDiagram draws true, grid and magnetic north from one point, at their
// true angles, in a box w wide with its top left corner at o, and the figures
// under it. It returns the depth used. The directions are those on the map
// above it, at its centre.
func (b *blocks) northDiagram(pg *page.Page, o page.Point, w float64) float64 {
	p, d, style := b.proj, b.declination(), b.plan.Style
	type arm struct {
		name  string
		angle float64 // clockwise from the top of the page
		color page.Color
		width float64
	}
	arms := []arm{{"True", p.trueNorth(), style.Ink, 0.3}}
	if p.utm != nil {
		arms = append(arms, arm{"Grid", p.gridNorth(), page.Faint, 0.3})
	}
	if d != nil {
		arms = append(arms, arm{"Magnetic", p.magneticNorth(d), style.Magnetic.Color, 0.4})
	}
	slices.SortStableFunc(arms, func(a, b arm) int { return cmp.Compare(a.angle, b.angle) })
	// How far the arms reach decides where their common foot stands, so that
	// a large declination stays in the box.
	left, right, up := 0.0, 0.0, 0.0
	for _, a := range arms {
		u := page.Toward(a.angle)
		left, right, up = math.Min(left, u.X*northArm), math.Max(right, u.X*northArm), math.Max(up, -u.Y*northArm)
	}
	const size, head = 6.5, 5.0
	foot := page.At(o.X+w/2-(left+right)/2, o.Y+head+up)
	bottom := foot.Y
	// Names stand in a row above, apart from one another and tied to their
	// arms by a thin leader where they had to move.
	x := make([]float64, len(arms))
	for i, a := range arms {
		x[i] = foot.X + page.Toward(a.angle).X*northArm
	}
	half := func(i int) float64 { return page.TextWidth(arms[i].name, page.Regular, size)/2 + 0.8 }
	for range 50 {
		for i := 1; i < len(x); i++ {
			if over := half(i-1) + half(i) - (x[i] - x[i-1]); over > 0 {
				x[i-1] -= over / 2
				x[i] += over / 2
			}
		}
	}
	for i := range x {
		x[i] = math.Min(math.Max(x[i], o.X+half(i)), o.X+w-half(i))
	}
	for i, a := range arms {
		u := page.Toward(a.angle)
		tip := foot.Step(u, northArm)
		bottom = math.Max(bottom, tip.Y)
		pg.Line(a.width, a.color, foot, tip)
		side := u.Left()
		pg.Add(page.Fill{Rings: [][]page.Point{{tip.Step(u, 0.4), tip.Step(u, -1.9).Step(side, 0.6), tip.Step(u, -1.9).Step(side, -0.6)}}, Color: a.color})
		name := page.At(x[i], o.Y+2.4)
		pg.Line(page.LeastWidth, page.Faint, tip.Step(u, 0.4), name.Add(0, 0.7))
		pg.Add(page.Text{At: name, String: a.name, Size: size, Align: page.AlignCenter, Color: a.color})
	}
	y := bottom + 1
	for _, s := range b.northFigures() {
		for _, line := range page.Wrap(s, page.Regular, size, w) {
			y += size * page.PointMM * 1.22
			pg.Add(page.Text{At: page.At(o.X, y), String: line, Size: size, Color: page.Ink})
		}
	}
	return y + 0.8 - o.Y
}

// declination is the plan's, or one as long in print where room is kept for it.
func (b *blocks) declination() *Declination {
	if b.plan.Declination == nil && b.reserve {
		return &Declination{East: 10.1, Sigma: 0.1, Annual: 0.11, Model: "WMM2025", Date: time.Date(2000, time.September, 30, 0, 0, 0, 0, time.UTC)}
	}
	return b.plan.Declination
}

// northFigures are the diagram's angles in words.
func (b *blocks) northFigures() []string {
	p, d := b.proj, b.declination()
	up := "Grid north is up."
	if p.north == TrueNorth {
		up = "True north is up."
	}
	out := []string{up}
	if p.utm != nil {
		out = append(out, "Grid north: "+east(float64(p.convergence), 2)+" of true north.")
	}
	if d == nil {
		return append(out, "Magnetic north: not known for this sheet.")
	}
	s := "Magnetic north: " + east(float64(d.East), 1) + " of true north"
	if d.Sigma > 0 {
		s += fmt.Sprintf(" (±%.1f°)", float64(d.Sigma))
	}
	out = append(out, s+".")
	if p.utm != nil {
		out = append(out, "Grid-magnetic angle: "+east(float64(d.East)-float64(p.convergence), 1)+".")
	}
	if d.Given {
		return append(out, "Declination as given by you. Angles true, at the sheet's centre.")
	}
	s = d.Model
	if !d.Date.IsZero() {
		s += ", " + d.Date.Format("2 January 2006")
	}
	return append(out, fmt.Sprintf("%s; changes %s a year. Angles true, at the sheet's centre.", s, east(float64(d.Annual), 2)))
}
