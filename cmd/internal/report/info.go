package report

import (
	"fmt"
	"math"
	"path/filepath"
	"strconv"
	"strings"
	"unicode/utf8"

	"crowline/cmd/internal/answer"
	"crowline/dem"
)

// Info writes what a file of elevation data is.
func Info(p *Page, a *answer.InfoAnswer) {
	p.Head(a.Name)
	kind := "posts are the middles of cells"
	if a.PixelIsPoint {
		kind = "posts are points"
	}
	p.Line("format", "%s, %s, %d columns by %d rows; %s", a.Driver, a.DataType, a.Columns, a.Rows, kind)
	spacing := fmt.Sprintf("%s along a row, %s along a column", p.spacing(a.SpacingEastM), p.spacing(a.SpacingNorthM))
	if a.SpacingXDeg != 0 {
		spacing += fmt.Sprintf(" (%s and %s)", arcSeconds(a.SpacingXDeg), arcSeconds(a.SpacingYDeg))
	}
	p.Line("spacing", "%s, at its middle", spacing)
	p.Line("extent", "%.5f,%.5f to %.5f,%.5f", a.South, a.West, a.North, a.East)
	crs := a.CRS
	if a.CRSCode != "" {
		crs += " (" + a.CRSCode + ")"
	}
	p.Line("crs", "%s", crs)
	p.Line("datum", "%s; %s", a.Datum, p.placed(a.PlaceAccuracyM, a.PlaceOperation))
	heights := "in " + plural(a.VerticalUnit)
	if !a.VerticalUnitStated {
		heights += " (assumed: the file does not say; --height-unit sets it)"
	}
	if a.VerticalDatum != "" {
		heights += ", above " + a.VerticalDatum
	} else {
		heights += ", vertical datum not stated"
	}
	p.Line("heights", "%s", heights)
	p.surface(a.Surface)
	if !math.IsNaN(a.VerticalErrorM) {
		p.Line("error", "%s, one standard deviation (%s)", p.Units.Height(a.VerticalErrorM), a.VerticalErrorFrom)
	} else {
		p.Line("error", "not stated; give one with --vertical-error where a command asks")
	}
	nodata := "none declared"
	if a.NoData != nil {
		nodata = strconv.FormatFloat(*a.NoData, 'g', -1, 64)
	}
	p.Line("void value", "%s", nodata)
	if a.VoidShare == nil {
		p.Line("heights", "not read")
	} else {
		p.Line("voids", "%.2f %% of posts", 100**a.VoidShare)
	}
	if a.SuspectPosts != nil {
		p.Line("suspect", "%s", suspectWords(*a.SuspectPosts))
	}
	if a.Lowest != nil {
		p.Line("lowest", "%s", p.place(*a.Lowest))
		p.Line("highest", "%s", p.place(*a.Highest))
	}
	overviews := "none"
	if len(a.Overviews) > 0 {
		var widths []string
		for _, w := range a.Overviews {
			widths = append(widths, strconv.Itoa(w))
		}
		overviews = strings.Join(widths, ", ") + " columns wide"
	}
	p.Line("overviews", "%s", overviews)
	if a.Attribution != "" {
		p.Line("credit", "%s", a.Attribution)
	}
	p.warnings(a.Warnings)
}

// placed says how well places are brought to WGS 84.
func (p *Page) placed(accuracy float64, operation string) string {
	switch {
	case math.IsNaN(accuracy):
		return "how good places are on WGS 84 is not stated, by " + operation
	case accuracy == 0:
		return "places are on WGS 84"
	}
	return fmt.Sprintf("places good to %s on WGS 84, by %s", p.Units.Height(accuracy), operation)
}

// spacing writes a distance between posts to a tenth of its unit.
func (p *Page) spacing(metres float64) string {
	return p.Units.Tenth(metres)
}

// arcSeconds writes a spacing as data sets are named.
func arcSeconds(degrees float64) string {
	return strconv.FormatFloat(answer.Rounded(degrees*3600, 3), 'f', -1, 64) + "″"
}

// Summary writes what several files are.
func Summary(p *Page, a *answer.SummaryAnswer) {
	title := strings.Join(a.Paths, ", ")
	if len(a.Paths) > 3 {
		title = fmt.Sprintf("%s and %d more", strings.Join(a.Paths[:3], ", "), len(a.Paths)-3)
	}
	if utf8.RuneCountInString(title) > Width {
		title = string([]rune(title)[:Width-1]) + "…"
	}
	p.Head(title)
	p.Line("files", "%d, of %d posts in all", a.Files, a.Posts)
	for _, g := range []struct {
		label string
		list  []answer.FileGroup
	}{{"format", a.DataTypes}, {"spacing", a.Spacings}, {"crs", a.Systems}, {"heights in", a.Units}, {"above", a.VerticalData}, {"surface", a.Surfaces}} {
		p.Line(g.label, "%s", groups(g.list, a.Files))
	}
	for _, s := range a.Placed {
		text := p.placed(s.PlaceAccuracyM, s.PlaceOperation)
		if len(a.Placed) > 1 {
			text = s.CRS + ", " + count(s.Files, "file") + ": " + text
		}
		p.Line("datum", "%s", text)
	}
	p.Line("extent", "%.5f,%.5f to %.5f,%.5f", a.South, a.West, a.North, a.East)
	suspects := 0
	if a.HeightsRead {
		text := fmt.Sprintf("%.2f %% of posts", 100**a.VoidShare)
		if *a.VoidFiles > 0 {
			text += fmt.Sprintf("; %d files hold nothing else", *a.VoidFiles)
		}
		p.Line("voids", "%s", text)
		suspects = *a.SuspectFiles
		text = suspectWords(*a.SuspectPosts)
		if suspects > 0 {
			text += ", in " + count(suspects, "file")
		}
		p.Line("suspect", "%s", text)
		for _, e := range []struct {
			label string
			at    *answer.FilePost
		}{{"lowest", a.Lowest}, {"highest", a.Highest}} {
			if e.at != nil {
				p.Line(e.label, "%s, in %s", p.place(e.at.Spot), filepath.Base(e.at.File))
			}
		}
	} else {
		p.Line("heights", "not read")
	}
	for _, c := range a.Attributions {
		p.Line("credit", "%s", c)
	}
	p.warnings(a.Warnings)
	p.fileNotes("Unlike the others", a.Odd, a.OddFiles)
	p.fileNotes("Suspect", a.Suspects, suspects)
	p.fileNotes("Not used", a.NotUsed, a.NotUsedFiles)
}

// groups lists what files have, most first.
func groups(list []answer.FileGroup, all int) string {
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

func (p *Page) fileNotes(title string, notes []answer.FileNote, files int) {
	if files == 0 {
		return
	}
	p.Head(fmt.Sprintf("%s: %d", title, files))
	for _, n := range notes {
		p.Note("%s: %s", filepath.Base(n.File), strings.TrimLeft(strings.TrimPrefix(n.Text, n.File), ": "))
	}
	if more := files - len(notes); more > 0 && len(notes) == answer.MostNotes {
		p.Note("and %d more", more)
	}
}

// Index writes what indexing tiles again came to.
func Index(p *Page, a *answer.IndexAnswer) {
	p.Line("indexed", "%d tiles", a.Tiles)
	p.warnings(a.Warnings)
}

// Get writes what was fetched, and how it is used.
func Get(p *Page, a *answer.GetAnswer) {
	p.Head(a.Of().Title)
	for _, f := range a.Files {
		what := "fetched"
		if f.Already {
			what = "was here"
		}
		p.Line(what, "%s, %.1f MB", f.Path, float64(f.Bytes)/1e6)
	}
	for _, name := range a.NoTile {
		p.Line("no tile", "%s: the publisher has none there (sea, or beyond the data)", name)
	}
	for _, t := range a.WouldFetch {
		size := "its server does not tell its size"
		if t.Bytes > 0 {
			size = fmt.Sprintf("%.1f MB", float64(t.Bytes)/1e6)
		}
		p.Line("would fetch", "%s, %s", t.Path, size)
	}
	if n := len(a.WouldFetch); n > 0 {
		p.Line("in all", "to fetch: %d, %.1f MB; this was a dry run", n, float64(a.WouldFetchBytes)/1e6)
	}
	p.Line("credit", "%s", a.Attribution)
	if a.LicenceFile == "" { // nothing was fetched
		return
	}
	p.Line("licence", "%s", a.LicenceFile)
	p.surface(a.Of().Surface)
	p.Line("use", "--dem %s", a.Folder)
}

// surface says in a line what a data set's heights are of.
func (p *Page) surface(s dem.Surface) {
	if text := surfaceWords(s); text != "" {
		p.Line("shows", "%s", text)
	}
}

// surfaceWords says what heights are of, "" where that is not known.
// suspectWords says how many posts stand out as no ground does.
func suspectWords(posts int64) string {
	switch posts {
	case 0:
		return "none: no post stands out like a spike or a pit"
	case 1:
		return "1 post stands out like a spike or a pit"
	}
	return fmt.Sprintf("%d posts stand out like spikes or pits", posts)
}

func surfaceWords(s dem.Surface) string {
	switch s {
	case dem.SurfaceModel:
		return "a surface model: treetops and roofs where there are any"
	case dem.BareEarth:
		return "bare earth: trees and buildings taken off"
	}
	return ""
}

// Sources lists the data sets there are.
func Sources(p *Page, a *answer.SourcesAnswer) {
	for _, s := range a.Sources {
		p.Head(s.Name)
		p.Line("data", "%s", s.Title)
		if s.SpacingArcSeconds > 0 {
			p.Line("spacing", "%.3g arc-seconds, about %s", s.SpacingArcSeconds, p.Units.Distance(s.SpacingArcSeconds*metresPerArcSecond))
		}
		p.surface(s.Surface)
		if s.VerticalErrorMetres > 0 {
			p.Line("error", "%s, one standard deviation (%s)", p.Units.Height(s.VerticalErrorMetres), s.VerticalErrorSource)
		}
		if s.Coverage != "" {
			p.Line("covers", "%s", s.Coverage)
		}
		p.Line("licence", "%s", s.Licence)
	}
}

// metresPerArcSecond is along a meridian: 1/3600 of a degree of about 111.2 km.
const metresPerArcSecond = 30.9
