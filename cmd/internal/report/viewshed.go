package report

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"crowline/cmd/internal/answer"
	"crowline/contour/page"
	"crowline/contour/sheet"
	"crowline/dem/units"
)

// Viewshed writes what is seen from some places.
func Viewshed(p *Page, a *answer.ViewshedAnswer) {
	for i, v := range a.Views {
		title := "Seen"
		if len(a.Views) > 1 {
			title = fmt.Sprintf("Seen from place %d", i+1)
		}
		p.Head(title)
		switch area := p.areaSeen(v); {
		case a.Steps() != nil && len(a.Views) == 1:
			p.Line("sure", "%s", p.surelySeen(a))
			p.Line("area", "%s, by the data's heights as they are", area)
		case i == 0 && a.Steps() == nil && !math.IsNaN(a.ElevationData.VerticalErrorM):
			p.Line("area", "%s, by the data's heights as they are; a map (-o FILE.pdf) tells how much their error leaves open", area)
		default:
			p.Line("area", "%s", area)
		}
		if f := v.Farthest; f != nil {
			more := p.topSeen(f)
			if v.Filled != nil && v.Filled.Farthest {
				more += ", " + filledWords
			}
			if v.Unknown > 0 {
				more += "; farther ground may be in view where that is not known"
			}
			p.Line("farthest", "%s away, bearing true %s: %s%s", p.Units.Distance(f.DistanceM), units.Bearing(f.BearingTrueDeg), p.place(f.Spot), more)
		}
		p.Line("from", "%s", p.place(v.From))
		p.over(a.OverCover)
		if text := filledView(v.Filled); text != "" {
			p.Line("FILLED", "%s", text)
		}
		if v.Unknown > 0 {
			cover := ""
			if v.Cover != nil {
				cover = fmt.Sprintf(" %d whose cover is not known,", v.Cover.UnknownCover)
			}
			p.Line("not known", "%d posts: %d with no elevation,%s and %d whose line of sight meets such ground or leaves the data",
				v.Unknown, v.VoidPosts, cover, v.DependOnVoids)
		}
		if v.Cover != nil {
			p.Line("bare ground", "%s", strings.TrimPrefix(p.coverView(v.Cover), "over the bare ground "))
		}
	}
	if len(a.SeenBy) > 0 {
		p.Head("Seen by how many")
		if a.Steps() != nil {
			clear, all, within := a.LikelyShares()
			p.Line("sure", "%s of the ground asked about is clear from at least one, %s from all %d; %s more is within the data's error", percent(clear), percent(all), len(a.Views), percent(within))
			p.Line("", "the counts are by the data's heights as they are")
		}
		for _, s := range a.SeenBy {
			text := fmt.Sprintf("%d posts", s.Posts)
			if s.NotKnown > 0 {
				text += fmt.Sprintf(", of %d of them it is not known from one place or more", s.NotKnown)
			}
			p.Line(fmt.Sprintf("%d of %d", s.Observers, len(a.Views)), "%s", text)
		}
	}
	p.data(a.ElevationData)
	p.coverUsed(a.OverCover)
	p.Line("assumed", "%s", p.assumed(a.Assumptions))
	p.warnings(a.Warnings)
	if a.MapScale() > 0 {
		p.Line("map", "at 1:%.0f; print at 100 %% and check the 100 mm bar", a.MapScale())
	}
	p.written(a.Written)
	p.cautions()
}

// written names the files written, among an answer's data.
func (p *Page) written(files []string) {
	for _, f := range files {
		p.Line("written", "%s", f)
	}
}

// areaSeen is how much is seen from a place.
func (p *Page) areaSeen(v answer.View) string {
	return fmt.Sprintf("%s%s, %.1f %% of the ground asked about", atLeast(v.Unknown > 0), p.Units.Area(v.AreaSeenM2), 100*v.Share())
}

// surelySeen is how much is clear from the only place, and how much the data's
// error leaves open.
func (p *Page) surelySeen(a *answer.ViewshedAnswer) string {
	clear, _, within := a.LikelyShares()
	return fmt.Sprintf("%s%s of the ground asked about is clear, and %s within the data's error", atLeast(a.Views[0].Unknown > 0), percent(clear), percent(within))
}

// percent is a share with one decimal, as areas are given with.
func percent(share float64) string { return fmt.Sprintf("%.1f %%", 100*share) }

// topSeen is what stands on the farthest ground, "" for nothing.
func (p *Page) topSeen(f *answer.Farthest) string {
	if f.CoverM < leastCover {
		return ""
	}
	return fmt.Sprintf(", the top of %s of cover", p.Units.Height(f.CoverM))
}

// leastCover is the least cover, metres, that is told: less is written as none.
const leastCover = 0.05

// filledView is the part filled posts have in a view, "" where there are none.
func filledView(f *answer.FilledView) string {
	if f == nil || f.Posts == 0 && f.VisibleRest == 0 && f.HiddenRest == 0 {
		return ""
	}
	text := fmt.Sprintf("%d of the posts were %s, %d of them seen", f.Posts, filledWords, f.Visible)
	if f.VisibleRest+f.HiddenRest > 0 {
		text += fmt.Sprintf("; %d others seen and %d hidden rest on them, and would else not be known", f.VisibleRest, f.HiddenRest)
	}
	return text
}

// coverView is what the cover changes of a view.
func (p *Page) coverView(c *answer.CoverView) string {
	text := fmt.Sprintf("over the bare ground %s would be seen. The cover changes the verdict of %d of %d posts", p.Units.Area(c.BareAreaSeenM2), c.Changed, c.Asked)
	var parts []string
	say := func(n int64, format string) {
		if n > 0 {
			parts = append(parts, fmt.Sprintf(format, n))
		}
	}
	say(c.Lost, "%d seen over the bare ground are hidden by it")
	say(c.Gained, "%d hidden come into view, the cover's top being seen")
	say(c.ToUnknown, "%d are no longer known")
	say(c.Settled, "%d not known are now")
	if len(parts) > 0 {
		text += ": " + strings.Join(parts, ", ")
	}
	if c.TopsSeen > 0 {
		text += fmt.Sprintf(". Of the posts seen %d are tops of what stands there: the ground under them need not be seen", c.TopsSeen)
	}
	return text
}

// ViewshedMap draws the views on an A4 page.
func ViewshedMap(ctx context.Context, g *answer.Ground, a *answer.ViewshedAnswer, needle answer.Needle, u units.System) (*page.Document, error) {
	p := &Page{Units: u}
	return a.Draw(ctx, g, page.A4, needle, func(plan *sheet.Plan) {
		plan.Units, plan.Title, plan.Headline = u, mapTitle(a.Views), p.mapHeadline(a)
		plan.View.Words = ", eye " + u.Small(a.Assumptions.EyeM)
		plan.Notes = p.mapNotes(a)
	})
}

// mapHeadline is how much is seen.
func (p *Page) mapHeadline(a *answer.ViewshedAnswer) string {
	if len(a.Views) > 1 {
		unknown := slices.ContainsFunc(a.Views, func(v answer.View) bool { return v.Unknown > 0 })
		if a.Steps() != nil {
			clear, all, within := a.LikelyShares()
			return fmt.Sprintf("Clear from one or more: %s%s of the ground; from all %d: %s; within the data's error: %s",
				atLeast(unknown), percent(clear), len(a.Views), percent(all), percent(within))
		}
		any, all := a.Shares()
		return fmt.Sprintf("Of the ground asked about, %s%.1f %% is seen from at least one of the places and %.1f %% from all %d.", atLeast(unknown), 100*any, 100*all, len(a.Views))
	}
	v := a.Views[0]
	if a.Steps() != nil {
		return "In sight: " + p.surelySeen(a)
	}
	return p.asTheyAre(v)
}

// asTheyAre is how much is in sight by the data's heights as they are.
func (p *Page) asTheyAre(v answer.View) string {
	text := "In sight: " + p.areaSeen(v)
	if f := v.Farthest; f != nil {
		text += fmt.Sprintf("; farthest %s away on %s° true, at %s%s", p.Units.Distance(f.DistanceM), units.Bearing(f.BearingTrueDeg), p.Units.Height(f.ElevationM), p.topSeen(f))
	}
	return text
}

// mapNotes are the small print of the views.
func (p *Page) mapNotes(a *answer.ViewshedAnswer) []string {
	var out []string
	var from []string
	for i, v := range a.Views {
		text := fmt.Sprintf("%.5f,%.5f", v.From.Lat, v.From.Lon)
		if v.From.MGRS != "" {
			text += ", " + v.From.MGRS
		}
		if v.From.Name != "" {
			text = v.From.Name + " " + text
		}
		if len(a.Views) > 1 {
			text = fmt.Sprintf("%d: %s", i+1, text)
		}
		from = append(from, text)
	}
	out = append(out, "Looked from "+strings.Join(from, "; ")+".")
	if c := a.OverCover; c != nil {
		out = append(out, capitalised(c.Words())+".")
		out = append(out, p.coverSummary(a)...)
		out = append(out, "Cover: "+p.coverUsedText(c)+". Ground is out of sight where neither it nor the top of what stands on it is seen; it is not known where the cover is not.")
		for _, w := range c.Warnings {
			out = append(out, "Warning: "+w+".")
		}
	}
	for i, v := range a.Views {
		if text := filledView(v.Filled); text != "" {
			out = append(out, capitalised(fromPlace(a, i)+text)+".")
		}
	}
	switch {
	case a.Steps() != nil && len(a.Views) == 1:
		out = append(out, "By the data's heights as they are, in sight: "+strings.TrimPrefix(p.asTheyAre(a.Views[0]), "In sight: ")+".")
	case a.Steps() != nil:
		any, all := a.Shares()
		out = append(out, fmt.Sprintf("By the data's heights as they are, %.1f %% is seen from at least one of the places and %.1f %% from all %d.", 100*any, 100*all, len(a.Views)))
	}
	return append(out, "Assumed: "+p.assumed(a.Assumptions)+".")
}

// mapTitle names the places looked from, where there is room for them.
func mapTitle(views []answer.View) string {
	if len(views) > 2 {
		return fmt.Sprintf("Ground seen from %d places", len(views))
	}
	var names []string
	for _, v := range views {
		names = append(names, v.From.Label())
	}
	return "Ground seen from " + strings.Join(names, " and ")
}

// fromPlace says which of several views a sentence is of, "" for the only one.
func fromPlace(a *answer.ViewshedAnswer, i int) string {
	if len(a.Views) == 1 {
		return ""
	}
	return fmt.Sprintf("From place %d: ", i+1)
}

// coverSummary is what the cover changes, a line a view, or one for all where
// there is no room for more.
func (p *Page) coverSummary(a *answer.ViewshedAnswer) []string {
	if len(a.Views) > 2 {
		changed := int64(0)
		for _, v := range a.Views {
			changed += v.Cover.Changed
		}
		return []string{fmt.Sprintf("The cover changes %d verdicts from those over the bare ground, all places together.", changed)}
	}
	var out []string
	for i, v := range a.Views {
		out = append(out, capitalised(fromPlace(a, i)+p.coverView(v.Cover))+".")
	}
	return out
}
