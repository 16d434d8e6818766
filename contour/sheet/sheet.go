package sheet

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"crowline/contour/page"
	"crowline/dem/geodesy"
)

// legBearings is the leg and its bearing on the sheet's grid at its start.
func (p *Plan) legBearings(proj *projection) (geodesy.Geodesic, geodesy.GridBearing, bool) {
	g := geodesy.Inverse(p.Leg.From.At, p.Leg.To.At)
	if proj.utm == nil {
		return g, 0, false
	}
	f, err := geodesy.GridInZone(p.Leg.From.At, proj.zone)
	if err != nil {
		return g, 0, false
	}
	return g, f.Convergence.Grid(g.Start), true
}

// Compose draws the plan: one page, or as many as the leg takes at the scale.
//
// Names that the typeface cannot show are replaced by the place's coordinates
// and reported in Warnings; a title that it cannot show is a *GlyphError.
// Errors wrap ErrPlan or ErrPages, or are the context's. Safe for concurrent
// use: the plan is only read.
func Compose(ctx context.Context, plan Plan) (*page.Document, error) {
	plan, err := plan.filled()
	if err != nil {
		return nil, err
	}
	doc := &page.Document{Created: plan.Date, Subject: "Contour sheet at " + fraction(plan.Scale) + ", WGS 84"}
	plan.showable(doc)
	doc.Title = plan.title()
	plan.Title = doc.Title
	pages, err := plan.pages()
	if err != nil {
		return nil, err
	}
	key, err := plan.newPageKey(pages)
	if err != nil {
		return nil, err
	}
	for i, l := range pages {
		if key != nil {
			key.number = i + 1
		}
		pg, unlabelled, err := plan.compose(ctx, l, key, i+1, len(pages))
		if err != nil {
			return nil, err
		}
		for _, s := range unlabelled {
			doc.Warnings = append(doc.Warnings, fmt.Sprintf("sheet: page %d has no room for the name %q beside its sign", i+1, s))
		}
		doc.Pages = append(doc.Pages, pg)
	}
	return doc, nil
}

// showable replaces what the typeface cannot show, on copies.
func (p *Plan) showable(doc *page.Document) {
	fix := func(s, instead string) string {
		var glyphs *page.GlyphError
		if errors.As(page.CheckText(s, page.Regular), &glyphs) {
			doc.Warnings = append(doc.Warnings, fmt.Sprintf("%v; the sheet shows %s instead", glyphs, instead))
			return instead
		}
		return s
	}
	place := func(q *Place) { q.Name = fix(q.Name, q.At.String()) }
	if p.Leg != nil {
		leg := *p.Leg
		place(&leg.From)
		place(&leg.To)
		p.Leg = &leg
	}
	p.Route = append([]Leg(nil), p.Route...)
	for i := range p.Route {
		place(&p.Route[i].From)
		place(&p.Route[i].To)
	}
	p.Marks = append([]Mark(nil), p.Marks...)
	for i := range p.Marks {
		place(&p.Marks[i].Place)
		p.Marks[i].Label = fix(p.Marks[i].Label, fmt.Sprint(i+1))
		p.Marks[i].Note = fix(p.Marks[i].Note, "a note")
	}
	p.Points = append([]Place(nil), p.Points...)
	for i := range p.Points {
		place(&p.Points[i])
	}
	if p.Fix != nil {
		drawing := *p.Fix
		drawing.Places = append([]Place(nil), drawing.Places...)
		for i := range drawing.Places {
			place(&drawing.Places[i])
		}
		drawing.Banner = fix(drawing.Banner, "NO PLACE")
		drawing.Rays = append([]Ray(nil), drawing.Rays...)
		for i := range drawing.Rays {
			drawing.Rays[i].Words = fix(drawing.Rays[i].Words, "")
		}
		p.Fix = &drawing
	}
	if p.Profile != nil {
		profile := *p.Profile
		start, destination := "start", "destination"
		if p.Leg != nil {
			start, destination = p.Leg.From.At.String(), p.Leg.To.At.String()
		}
		profile.From, profile.To = fix(profile.From, start), fix(profile.To, destination)
		profile.Marks = append([]ProfileMark(nil), profile.Marks...)
		for i := range profile.Marks {
			profile.Marks[i].Label = fix(profile.Marks[i].Label, fmt.Sprintf("mark %d", i+1))
		}
		p.Profile = &profile
	}
	if p.View != nil {
		view := *p.View
		view.From = append([]Place(nil), view.From...)
		for i := range view.From {
			place(&view.From[i])
		}
		view.Words = fix(view.Words, "")
		p.View = &view
	}
	p.Headline = fix(p.Headline, "")
	p.Notes = append([]string(nil), p.Notes...)
	for i := range p.Notes {
		p.Notes[i] = fix(p.Notes[i], "a note that could not be set")
	}
	p.Data.Name = fix(p.Data.Name, "a file")
	p.Data.VerticalDatum = fix(p.Data.VerticalDatum, "its datum")
	p.Data.Attribution = fix(p.Data.Attribution, "see the data's licence")
	p.Data.VerticalErrorSource = fix(p.Data.VerticalErrorSource, "its publisher")
	p.Cautions = append([]string(nil), p.Cautions...)
	for i := range p.Cautions {
		p.Cautions[i] = fix(p.Cautions[i], "a caution that could not be set")
	}
}

func (p *Plan) compose(ctx context.Context, l *layout, key *pageKey, number, of int) (pg *page.Page, unlabelled []string, err error) {
	pg = &page.Page{Width: l.paper.Width, Height: l.paper.Height}
	m := &mapPanel{plan: p, page: pg, proj: l.proj, frame: l.frame}
	if err := m.draw(ctx); err != nil {
		return nil, nil, err
	}
	b := &blocks{plan: p, proj: l.proj, drew: m.drew}
	right := l.paper.Width - paperMargin
	pg.Open("head", "Title")
	pg.Add(page.Text{At: page.At(paperMargin, paperMargin), String: page.Fit(p.Title, page.Bold, 14, right-paperMargin-40), Face: page.Bold, Size: 14, Rise: page.RiseTop, Color: page.Ink},
		page.Text{At: page.At(right, paperMargin), String: fraction(p.Scale), Face: page.Bold, Size: 14, Rise: page.RiseTop, Align: page.AlignRight, Color: page.Ink},
		page.Text{At: page.At(paperMargin, paperMargin+9), String: page.Fit(b.headline(), page.Regular, 8, right-paperMargin-44), Size: 8, Color: page.Ink})
	var small string
	if !p.Date.IsZero() {
		small = p.Date.Format("2 January 2006")
	}
	if of > 1 {
		if small != "" {
			small += ", "
		}
		small += fmt.Sprintf("page %d of %d", number, of)
	}
	pg.Add(page.Text{At: page.At(right, paperMargin+9), String: small, Size: 7, Align: page.AlignRight, Color: page.Ink})
	if len(m.unlabelled) > 0 && p.Headline == "" { // a sign without its name is named here
		x := paperMargin + page.TextWidth(b.headline(), page.Regular, 8) + 5
		said := "No room on the map to name " + strings.Join(m.unlabelled, ", ")
		pg.Add(page.Text{At: page.At(x, paperMargin+9), String: page.Fit(said, page.Italic, 7, right-page.TextWidth(small, page.Regular, 7)-4-x), Face: page.Italic, Size: 7, Color: page.Ink})
	}
	pg.Close()
	if p.Profile != nil {
		pg.Open("profile", "Profile of the leg")
		_, signs, err := p.Profile.draw(pg, l.profile, p.Units, p.Style, true)
		if err != nil {
			return nil, nil, err
		}
		pg.Open("profile-key", "Key to the profile")
		signs.draw(pg, page.At(l.signs.X, l.signs.Y+signsAir), l.signs.Width, signsHeading, p.Style)
		pg.Close()
	}
	pg.Open("scale", "Scale")
	b.scale(pg, page.At(l.scaleAt.X, l.scaleAt.Y), l.scaleAt.Width)
	pg.Open("north", "True, grid and magnetic north")
	b.northDiagram(pg, page.At(l.northAt.X, l.northAt.Y), l.northAt.Width)
	pg.Open("key", "Key")
	tall := b.key(pg, page.At(l.keyAt.X, l.keyAt.Y), l.keyAt.Width)
	if key != nil {
		if _, err := key.draw(pg, p, page.At(l.keyAt.X, l.keyAt.Y+tall+pageKeyAir), l.keyAt.Width); err != nil {
			return nil, nil, err
		}
	}
	pg.Open("notes", "Data and cautions")
	b.foot(pg, page.At(l.footAt.X, l.footAt.Y), l.footAt.Width)
	pg.Close()
	return pg, m.unlabelled, nil
}
