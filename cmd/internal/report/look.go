package report

import (
	"fmt"
	"math"
	"strings"

	"crowline/cmd/internal/answer"
	"crowline/contour/page"
	"crowline/dem/units"
	"crowline/visibility"
)

// Sight writes whether one place is seen from another.
func Sight(p *Page, a *answer.SightAnswer) {
	p.Head("Sight")
	p.sight("the destination", "start", &a.Sight)
	p.Line("distance", "%s, towards %s", p.Units.Distance(a.DistanceM), units.Towards(a.Bearing.TrueDeg))
	p.bearing(a.Bearing.TrueDeg, a.Bearing.MagneticDeg, a.Declination)
	p.Line("from", "%s", p.place(a.From))
	p.Line("to", "%s", p.place(a.To))
	p.filledLine(a.Filled)
	p.likely(a.Sight.Likely)
	p.overCover(a.OverCover, a.Sight.Verdict, false)
	p.filledSight(&a.Sight)
	p.foot(a.ElevationData, a.Assumptions)
}

// SightDrawing draws the line's profile, the line of sight and what it hides.
func SightDrawing(a *answer.SightAnswer, u units.System) (*page.Document, error) {
	title := lineTitle(a.From, a.To, a.DistanceM, a.Bearing.Full(), u)
	return profileDocument(title, a.Profile(), a.OverCover.Over(), a.ElevationData, u)
}

// Look writes what ground is seen along a bearing.
func Look(p *Page, a *answer.LookAnswer) {
	p.Head("Sight")
	p.groundSeen(a.Ground)
	p.bearing(a.BearingDeg, a.MagneticDeg, a.Declination)
	p.Line("from", "%s", p.place(a.From))
	if a.OverCover != nil {
		p.Line("over", "what stands on the ground: %s", a.OverCover.Name)
	}
	if a.GroundBare != nil {
		p.Line("bare ground", "%s", p.bareGround(a.GroundBare, a.Ground))
		p.warnings(a.OverCover.Warnings)
	}
	p.foot(a.ElevationData, a.Assumptions)
}

// LookDrawing draws the line's profile and what is seen of it.
func LookDrawing(a *answer.LookAnswer, u units.System) (*page.Document, error) {
	way, end := "as far as asked", "as far as asked"
	if a.ToEdge() {
		way, end = "to the edge of the data", "edge of the data"
	}
	profile := a.Profile(end)
	title := fmt.Sprintf("Profile from %s on %s, %s, %s", a.From.Short(),
		bearingWords(a.BearingDeg, a.MagneticDeg, a.Heading().Magnetic), way, u.Distance(profile.Line.Covered))
	return profileDocument(title, profile, a.OverCover.Over(), a.ElevationData, u)
}

// groundSeen says which ground on a bearing is seen, and what makes the skyline.
func (p *Page) groundSeen(g *answer.GroundSeen) {
	u := p.Units
	var seen, unknown []string
	for _, s := range g.Stretches {
		text := u.Stretch(s.FromM, s.ToM)
		switch s.Verdict {
		case visibility.Visible.String():
			seen = append(seen, text)
		case visibility.Unknown.String():
			unknown = append(unknown, text)
		}
	}
	const most = 8
	more := ""
	if len(seen) > most {
		more = fmt.Sprintf(" and %d shorter or farther stretches", len(seen)-most)
		seen = seen[:most]
	}
	what, tops := "ground", ""
	if g.TopsSeenM >= leastCover {
		what = "ground, or the top of what stands on it,"
		tops = fmt.Sprintf("; %s of that is tops, and the ground under them need not be seen", u.Distance(g.TopsSeenM))
	}
	p.Line("seen", "%s %s%s (looked as far as %s)%s", what, fromStretches(seen), more, u.Distance(g.ToM), tops)
	if len(unknown) > 0 {
		why := ""
		if g.CoverUnknownM >= leastCover {
			why = fmt.Sprintf("; on %s of the line what stands on the ground is not known", u.Distance(g.CoverUnknownM))
		}
		p.Line("not known", "%s%s", strings.Join(unknown, ", "), why)
	}
	if g.Skyline != nil {
		side := "above"
		if g.SkylineAngleDeg < 0 {
			side = "below"
		}
		what, cover := "ground", ""
		if g.SkylineCoverM >= leastCover {
			what, cover = "what stands on the ground", fmt.Sprintf(" (%s of it above the ground)", u.Height(g.SkylineCoverM))
		}
		if len(unknown) > 0 { // ground not known may stand higher
			what = "of what is known, " + what
		}
		p.Line("skyline", "%s %s away, %s high%s, %.1f° %s the horizontal: %s", what, u.Distance(g.SkylineM), u.Height(g.SkylineElevation), cover,
			math.Abs(g.SkylineAngleDeg), side, p.place(*g.Skyline))
		if g.SkylineFilled {
			p.Line("FILLED", "the ground on the skyline was %s, and may be higher or lower", filledWords)
		}
	}
	p.filledLine(g.Filled)
}

// bareGround is how far the bare ground differs from what over has, which is the
// same line over cover.
func (p *Page) bareGround(bare, over *answer.GroundSeen) string {
	u := p.Units
	length := func(g *answer.GroundSeen) (sum float64) {
		for _, s := range g.Stretches {
			if s.Verdict == visibility.Visible.String() {
				sum += s.ToM - s.FromM
			}
		}
		return sum
	}
	text := fmt.Sprintf("%s of this line would be seen, not %s", u.Distance(length(bare)), u.Distance(length(over)))
	if over.TopsSeenM >= leastCover {
		text += fmt.Sprintf(" with %s of tops in it", u.Distance(over.TopsSeenM))
	}
	if bare.Skyline != nil && (over.Skyline == nil || math.Abs(bare.SkylineM-over.SkylineM) > 1) {
		text += fmt.Sprintf(", and the skyline would be %s away", u.Distance(bare.SkylineM))
	}
	return text
}
