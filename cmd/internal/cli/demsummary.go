package cli

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/web"
)

// demSummaryAnswer is the JSON of several files.
type demSummaryAnswer struct {
	Paths        []string         `json:"paths"`
	Files        int              `json:"files"`
	Posts        int64            `json:"posts"`
	Spacings     []demGroupJSON   `json:"spacings"`
	Systems      []demGroupJSON   `json:"crs"`
	Units        []demGroupJSON   `json:"vertical_units"`
	VerticalData []demGroupJSON   `json:"vertical_datums"`
	Surfaces     []demGroupJSON   `json:"surfaces"`
	DataTypes    []demGroupJSON   `json:"data_types"`
	South        float64          `json:"south_lat"`
	West         float64          `json:"west_lon"`
	North        float64          `json:"north_lat"`
	East         float64          `json:"east_lon"`
	HeightsRead  bool             `json:"heights_read"`
	VoidPosts    *int64           `json:"void_posts,omitempty"`
	VoidShare    *float64         `json:"void_share,omitempty"`
	VoidFiles    *int             `json:"files_all_void,omitempty"`
	SuspectPosts *int64           `json:"suspect_posts,omitempty"`
	SuspectFiles *int             `json:"files_with_suspects,omitempty"`
	Lowest       *demFilePostJSON `json:"lowest,omitempty"`
	Highest      *demFilePostJSON `json:"highest,omitempty"`
	OddFiles     int              `json:"odd_files"`
	Odd          []demNoteJSON    `json:"odd"`
	Suspects     []demNoteJSON    `json:"suspects"`
	NotUsedFiles int              `json:"not_used_files"`
	NotUsed      []demNoteJSON    `json:"not_used"`
	Attributions []string         `json:"attributions"`
	Warnings     []string         `json:"warnings"`
	summary      dem.Summary
}

type demGroupJSON struct {
	Value string   `json:"value"`
	Files int      `json:"files"`
	First []string `json:"first_files"`
}

type demNoteJSON struct {
	File string `json:"file"`
	Text string `json:"text"`
}

type demFilePostJSON struct {
	place
	File string `json:"file"`
}

// mostNotes is how many files of a kind are told one by one.
const mostNotes = 10

func demSummaryRun(ctx context.Context, o *demInfoOptions, options gdalio.Options, u units) error {
	tiles, passed, warnings, err := gdalio.ListMany(ctx, o.paths, gdalio.ManyOptions{Options: options, Remote: remoteOptions(), Progress: o.streams.progress("looking at tiles")})
	if err != nil {
		return err
	}
	headersOnly := o.quick
	paths := slices.Clone(o.paths)
	for i, path := range paths {
		if !gdalio.IsAddress(path) {
			continue
		}
		paths[i] = web.Shown(path)
		if !headersOnly {
			headersOnly = true
			warnings = append(warnings, "heights are not read where an address is among the paths")
		}
	}
	s, err := dem.Summarise(ctx, tiles, dem.SummaryOptions{HeadersOnly: headersOnly, Progress: o.streams.progress("reading heights")})
	if err != nil {
		return err
	}
	a := demSummaryAnswer{
		Paths: paths, Files: s.Files, Posts: s.Posts, Spacings: describeGroups(s.Spacings), Systems: describeGroups(s.Systems),
		Units: describeGroups(s.Units), VerticalData: describeGroups(s.VerticalData), Surfaces: describeGroups(s.Surfaces), DataTypes: describeGroups(s.DataTypes),
		South: *rounded(float64(s.Extent.South), 7), West: *rounded(float64(s.Extent.West), 7), North: *rounded(float64(s.Extent.North), 7), East: *rounded(float64(s.Extent.East), 7),
		HeightsRead: s.Counted, OddFiles: s.OddFiles, Odd: describeNotes(s.Odd), Suspects: describeNotes(s.Suspects),
		NotUsedFiles: s.RefusedFiles + len(passed), NotUsed: describeNotes(s.Refused),
		Attributions: append([]string{}, s.Attributions...), Warnings: append([]string{}, warnings...), summary: s,
	}
	for _, f := range passed {
		if len(a.NotUsed) == mostNotes {
			break
		}
		a.NotUsed = append(a.NotUsed, demNoteJSON{f.File, f.Reason})
	}
	if s.Counted {
		a.VoidPosts, a.VoidFiles, a.SuspectPosts, a.SuspectFiles = &s.Voids, &s.VoidFiles, &s.SuspectPosts, &s.SuspectFiles
		a.VoidShare = rounded(float64(s.Voids)/float64(max(1, s.Posts)), 6)
		for _, e := range []struct {
			to   **demFilePostJSON
			from *dem.FilePost
		}{{&a.Lowest, s.Lowest}, {&a.Highest, s.Highest}} {
			if e.from != nil {
				*e.to = &demFilePostJSON{describePlace(namedPlace{LatLon: e.from.Place}, e.from.Elevation), e.from.File}
			}
		}
		if unit := tiles[0].Info.VerticalUnit; len(s.Units) == 1 {
			if doubt := dem.RangeDoubt(unit, s.LowestBeyond, s.HighestBeyond); doubt != "" {
				a.Warnings = append(a.Warnings, doubt)
			}
		}
	}
	if o.output.json {
		return writeJSON(o.streams.Out, a)
	}
	p := &page{w: o.streams.Out}
	a.write(p, u)
	return p.err
}

func describeGroups(list []dem.Group) []demGroupJSON {
	out := []demGroupJSON{}
	for _, g := range list {
		out = append(out, demGroupJSON{g.Text, g.Files, g.First})
	}
	return out
}

func describeNotes(list []dem.FileNote) []demNoteJSON {
	out := []demNoteJSON{}
	for _, n := range list {
		out = append(out, demNoteJSON{n.File, n.Text})
	}
	return out
}

func (a *demSummaryAnswer) write(p *page, u units) {
	title := strings.Join(a.Paths, ", ")
	if len(a.Paths) > 3 {
		title = fmt.Sprintf("%s and %d more", strings.Join(a.Paths[:3], ", "), len(a.Paths)-3)
	}
	p.head(cut(title, pageWidth))
	p.line("files", "%d, of %d posts in all", a.Files, a.Posts)
	for _, g := range []struct {
		label string
		list  []demGroupJSON
	}{{"format", a.DataTypes}, {"spacing", a.Spacings}, {"crs", a.Systems}, {"heights in", a.Units}, {"above", a.VerticalData}, {"surface", a.Surfaces}} {
		p.line(g.label, "%s", groupsText(g.list, a.Files))
	}
	p.line("extent", "%.5f,%.5f to %.5f,%.5f", a.South, a.West, a.North, a.East)
	if a.HeightsRead {
		text := fmt.Sprintf("%.2f %% of posts", 100**a.VoidShare)
		if *a.VoidFiles > 0 {
			text += fmt.Sprintf("; %d files hold nothing else", *a.VoidFiles)
		}
		p.line("voids", "%s", text)
		p.line("suspect", "%d posts in %d files stand out as no ground does", *a.SuspectPosts, *a.SuspectFiles)
		for _, e := range []struct {
			label string
			at    *demFilePostJSON
		}{{"lowest", a.Lowest}, {"highest", a.Highest}} {
			if e.at != nil {
				p.line(e.label, "%s, in %s", e.at.text(u), filepath.Base(e.at.File))
			}
		}
	} else {
		p.line("heights", "not read")
	}
	for _, c := range a.Attributions {
		p.line("credit", "%s", c)
	}
	for _, w := range a.Warnings {
		p.line("warning", "%s", w)
	}
	writeNotes(p, "Unlike the others", a.Odd, a.OddFiles)
	suspects := 0
	if a.SuspectFiles != nil {
		suspects = *a.SuspectFiles
	}
	writeNotes(p, "Suspect", a.Suspects, suspects)
	writeNotes(p, "Not used", a.NotUsed, a.NotUsedFiles)
}

// groupsText lists what files have, most first.
func groupsText(list []demGroupJSON, all int) string {
	const most = 6
	if len(list) == 1 {
		return list[0].Value
	}
	var parts []string
	rest := all
	for i, g := range list {
		if i == most {
			parts = append(parts, fmt.Sprintf("others (%d)", rest))
			break
		}
		parts = append(parts, fmt.Sprintf("%s (%d)", g.Value, g.Files))
		rest -= g.Files
	}
	return strings.Join(parts, ", ")
}

func writeNotes(p *page, title string, notes []demNoteJSON, files int) {
	if files == 0 {
		return
	}
	p.head(fmt.Sprintf("%s: %d", title, files))
	for _, n := range notes {
		p.note("%s: %s", filepath.Base(n.File), strings.TrimLeft(strings.TrimPrefix(n.Text, n.File), ": "))
	}
	if more := files - len(notes); more > 0 && len(notes) == mostNotes {
		p.note("and %d more", more)
	}
}

// cut shortens text to so many characters.
func cut(text string, n int) string {
	r := []rune(text)
	if len(r) <= n {
		return text
	}
	return string(r[:n-1]) + "…"
}
