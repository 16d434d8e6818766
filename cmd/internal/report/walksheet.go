package report

import (
	"context"
	"fmt"
	"math"
	"strings"

	"crowline/cmd/internal/answer"
	"crowline/contour/page"
	"crowline/contour/sheet"
	"crowline/dem/units"
	"crowline/profile/waymarks"
)

// WalkSheet writes a walk for a class: what the leader does first, the whole, the
// points and the legs.
func WalkSheet(p *Page, a *answer.WalkSheetAnswer) {
	p.Line("FIRST", "%s", a.First)
	p.Line("walk", "%s", p.walkWhole(a))
	if len(a.Written) > 0 {
		p.Line("written", "%s: %s", strings.Join(a.Written, ", "), map[bool]string{true: "the points and the route for a receiver", false: "the master map, the blank map, the route card"}[strings.HasSuffix(strings.ToLower(a.Written[0]), ".gpx")])
	}
	p.Head("Points")
	for i := range a.Points {
		p.Line(a.Points[i].Letter, "%s", p.walkPoint(&a.Points[i]))
	}
	p.Head("Legs")
	for i := range a.Legs {
		p.Line(a.Legs[i].From.Name+" to "+a.Legs[i].To.Name, "%s", p.walkLeg(&a.Legs[i]))
	}
	for _, n := range a.Notes {
		p.Line("note", "%s", n)
	}
	p.warnings(a.Warnings)
	p.data(a.ElevationData)
	p.cautions()
}

// walkWhole is the whole walk in figures.
func (p *Page) walkWhole(a *answer.WalkSheetAnswer) string {
	t := &a.Totals
	text := fmt.Sprintf("%d points, a round of %s, %s up and down", len(a.Points), p.Units.Distance(t.DistanceM), p.Units.Height(t.AscentM))
	if !a.Round {
		text = fmt.Sprintf("%d points, %s to the last, %s up and %s down, and back the same way", len(a.Points), p.Units.Distance(t.DistanceM), p.Units.Height(t.AscentM), p.Units.Height(t.DescentM))
	}
	if !math.IsNaN(t.QuickestS) {
		text += fmt.Sprintf("; %s to %s%s without stops", units.Clock(seconds(t.QuickestS)), units.Clock(seconds(t.SlowestS)), map[bool]string{false: " to the last point"}[a.Round])
	}
	return text
}

// walkPoint is a point, how it is known and what is behind it.
func (p *Page) walkPoint(w *answer.WalkPoint) string {
	text := fmt.Sprintf("%s, %s, %s: %s; ground of %.0f°", w.Kind, reference(w.At), p.Units.Elevation(w.At.ElevationM), w.KnownBy, w.SlopeDeg)
	if w.Catching != nil {
		text += ". Gone too far on the way there: " + p.walkCatch(*w.Catching)
	}
	return text
}

// walkCatch is what tells that one has gone too far.
func (p *Page) walkCatch(c answer.CatchingFeature) string {
	text := map[waymarks.Shape]string{waymarks.Floor: "you cross a valley floor", waymarks.Crest: "you cross a crest", waymarks.Falls: "the ground falls", waymarks.Rises: "the ground rises"}[c.Shape]
	if c.Name != "" {
		text += " (" + c.Name + ")"
	}
	return fmt.Sprintf("%s, %s beyond", text, p.Units.Distance(c.BeyondM))
}

// walkLeg is a leg in a line.
func (p *Page) walkLeg(l *answer.RouteLeg) string {
	bearing := units.Dial(l.Bearing.TrueDeg) + "° true"
	if !math.IsNaN(l.Bearing.MagneticDeg) {
		bearing = units.Dial(l.Bearing.MagneticDeg) + "° magnetic, " + bearing
	}
	text := fmt.Sprintf("%s, %s, %s up, %s down, steepest %.0f°", bearing, p.Units.Distance(l.DistanceM), p.Units.Height(l.Climb.AscentM), p.Units.Height(l.Climb.DescentM),
		max(l.Climb.SteepestDeg, l.Climb.GroundSteepestDeg))
	if s := l.Time.RuleS; !math.IsNaN(s) {
		text += ", " + units.Clock(seconds(s))
	}
	return text
}

// WalkSheets draws the walk: the master map, the blank map and the card.
func WalkSheets(ctx context.Context, g *answer.Ground, a *answer.WalkSheetAnswer, paper page.Paper, u units.System) (*page.Document, error) {
	p := &Page{Units: u}
	doc, err := a.Maps(ctx, g, func(master, blank *sheet.Plan) {
		master.Title, blank.Title = "Master map: "+a.Name, "Map for the class: "+a.Name
		master.Headline = "LEADER: WALK ALL OF IT YOURSELF FIRST."
		blank.Headline = "Put the points on it yourselves. Follow your leader, who has walked the ground, and local rules."
		master.Notes = append(master.Notes, capitalised(p.walkWhole(a))+".", a.First)
		for i := range a.Points {
			w := &a.Points[i]
			master.Notes = append(master.Notes, w.Letter+": "+p.walkPoint(w)+".")
		}
	})
	if err != nil {
		return nil, err
	}
	route := *a.Route()
	route.Name = "Route card: " + a.Name
	if paper.Fixed && paper.Width < paper.Height && !strings.Contains(paper.Name, "mm") { // a card lies on its side
		paper.Fixed = false
	}
	card, err := RouteCard(&route, paper, u, a.First)
	if err != nil {
		return nil, err
	}
	doc.Pages, doc.Warnings = append(doc.Pages, card.Pages...), append(doc.Warnings, card.Warnings...)
	return doc, nil
}
