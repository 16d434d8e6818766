package sheet

import (
	"fmt"
	"math"
	"strconv"

	"crowline/contour/page"
	"crowline/dem/geodesy"
	"crowline/dem/units"
	"crowline/visibility"
)

// SkylineDrawing is the horizon round an observer as a strip: bearings along
// the foot, elevation angle up the side, both to scale.
//
// The ground under the line is toned by how far off it is, paler with
// distance as the eye has it. A step in the tone is where nearer ground ends
// and farther shows beyond it. Stems under the line say that it is the top of
// what stands on the ground (HorizonPoint.Cover).
type SkylineDrawing struct {
	Title string
	// Points of the horizon in order of bearing, evenly spaced; where one is
	// missing, or has no angle, the line is broken.
	Points []visibility.HorizonPoint
	// Peaks to label where they break the line, the most wanted first: those
	// that find no room are left off.
	Peaks []SkylinePeak
	// Declination adds a row of magnetic bearings; nil for none.
	Declination *Declination
	// Summary stands under the title, a line each; Notes in small print.
	Summary, Notes []string
	Units          units.System
}

// SkylinePeak is a top that breaks the skyline. Without a name it is labelled
// with its elevation.
type SkylinePeak struct {
	Name                string
	Bearing             geodesy.TrueBearing
	Angle               geodesy.Degrees // as seen
	Distance, Elevation float64         // metres
}

const (
	stripPerDegree = 2.0  // millimetres of the long strip to a degree
	stripTall      = 90.0 // and its height, axes included
	skylineSide    = 13.0 // room for figures left of the line
	skylineRight   = 3.0
	skylineEdge    = 7.0 // white paper round all
	skylineOverlap = 5.0 // degrees that rows share
	// The ground may take all of a row's height but skylineSky millimetres,
	// left for labels, and skylineGround of it at the least.
	skylineSky    = 22.0
	skylineGround = 0.62
	// skylineSteepest bounds the exaggeration: beyond it level country would
	// look like mountains.
	skylineSteepest = 10
	skylineLabel    = 6.5 // points
)

// MaxSkylineRows is the most rows a stacked skyline can have.
const MaxSkylineRows = 6

func (d *SkylineDrawing) validate() error {
	if len(d.Points) < 2 {
		return fmt.Errorf("%w: a skyline of %d points", ErrPlan, len(d.Points))
	}
	known := false
	for i, p := range d.Points {
		if !(p.Bearing >= 0 && p.Bearing < 360) || i > 0 && p.Bearing <= d.Points[i-1].Bearing {
			return fmt.Errorf("%w: the skyline's bearing %d is %v degrees", ErrPlan, i, float64(p.Bearing))
		}
		known = known || !math.IsNaN(float64(p.Angle))
	}
	if !known {
		return fmt.Errorf("%w: a skyline without an angle", ErrPlan)
	}
	for _, s := range append(append([]string{d.Title}, d.Summary...), d.Notes...) {
		if err := page.CheckText(s, page.Regular); err != nil {
			return err
		}
	}
	return nil
}

// Strip is the whole round in one strip, 2 mm to the degree: a page 750 mm
// wide and about 120 high, to roll, fold or cut. Peaks whose names the
// typeface cannot show are labelled with their elevation, and Warnings says so.
func (d SkylineDrawing) Strip() (*page.Document, error) {
	return d.document(360*stripPerDegree+skylineSide+skylineRight+2*skylineEdge, 0, 1)
}

// Stacked is the same in rows, 1 to MaxSkylineRows, on one page; each row
// begins where the one before ended and repeats its last few degrees. Up to
// three rows lie across the paper.
func (d SkylineDrawing) Stacked(paper page.Paper, rows int) (*page.Document, error) {
	if rows < 1 || rows > MaxSkylineRows {
		return nil, fmt.Errorf("%w: a skyline in %d rows: 1 to %d can be drawn", ErrPlan, rows, MaxSkylineRows)
	}
	if err := paper.Validate(); err != nil {
		return nil, err
	}
	width, height := paper.Width, paper.Height
	if !paper.Fixed && (rows <= 3) != (width > height) {
		width, height = height, width
	}
	return d.document(width, height, rows)
}

// document lays rows out on a page; with a height of 0 the page is as high as
// it needs to be.
func (d SkylineDrawing) document(width, height float64, rows int) (*page.Document, error) {
	if err := d.validate(); err != nil {
		return nil, err
	}
	doc := &page.Document{Title: d.Title}
	peaks := append([]SkylinePeak{}, d.Peaks...)
	for i := range peaks {
		if err := page.CheckText(peaks[i].Name, page.Bold); err != nil {
			doc.Warnings = append(doc.Warnings, fmt.Sprintf("%v; its elevation stands for it", err))
			peaks[i].Name = ""
		}
	}
	d.Peaks = peaks
	pg := &page.Page{Width: width, Height: height}
	inner := width - 2*skylineEdge
	head := d.heading(&page.Page{}, inner)
	foot := d.foot(&page.Page{}, page.Point{}, inner, true)
	tall := stripTall
	if height > 0 {
		tall = (height - 2*skylineEdge - head - foot - 3*float64(rows)) / float64(rows)
		if tall < 35 {
			return nil, fmt.Errorf("%w: %d rows leave %.0f mm for each, under 35", ErrPlan, rows, tall)
		}
	} else {
		pg.Height = 2*skylineEdge + head + tall + 3 + foot
	}
	d.heading(pg, inner)
	span := 360 / float64(rows)
	if rows > 1 {
		span += skylineOverlap
	}
	s := d.scale(page.Rect{Width: inner - skylineSide - skylineRight, Height: tall - d.axesDepth()}, span)
	unknown := false
	labelled := map[int]bool{}
	for k := range rows {
		s.from = float64(k) * 360 / float64(rows)
		s.box.X, s.box.Y = skylineEdge+skylineSide, skylineEdge+head+float64(k)*(tall+3)
		pg.Open("skyline-"+strconv.Itoa(k+1), fmt.Sprintf("Skyline from %s to %s", bearing(s.from), bearing(s.from+span)))
		unknown = d.ground(pg, s) || unknown
		d.axes(pg, s)
		for _, i := range d.labels(pg, s) {
			labelled[i] = true
		}
		pg.Close()
	}
	for i := range d.Peaks {
		if !labelled[i] && d.Peaks[i].Name != "" {
			doc.Warnings = append(doc.Warnings, fmt.Sprintf("no room on the drawing for the name %q", d.Peaks[i].Name))
		}
	}
	d.foot(pg, page.At(skylineEdge, skylineEdge+head+float64(rows)*(tall+3)), inner, unknown)
	pg.Add(page.Text{At: page.At(width-skylineEdge, skylineEdge+3), Align: page.AlignRight, Size: 7, Color: page.Ink,
		String: fmt.Sprintf("Horizontal %s mm to the degree; vertical scale %s × horizontal",
			strconv.FormatFloat(s.mmX, 'f', 2, 64), strconv.FormatFloat(s.exaggeration, 'g', 3, 64))})
	doc.Pages = []*page.Page{pg}
	return doc, nil
}

func (d *SkylineDrawing) heading(pg *page.Page, width float64) float64 {
	pg.Open("title", "Title")
	defer pg.Close()
	y := skylineEdge
	for _, line := range page.Wrap(d.Title, page.Bold, 10, width-90) { // the scale stands at the right
		y += 10 * page.PointMM * 1.15
		pg.Add(page.Text{At: page.At(skylineEdge, y-0.9), String: line, Face: page.Bold, Size: 10, Color: page.Ink})
	}
	for _, s := range d.Summary {
		for _, line := range page.Wrap(s, page.Regular, 7, width) {
			y += 7 * page.PointMM * 1.25
			pg.Add(page.Text{At: page.At(skylineEdge, y-0.4), String: line, Size: 7, Color: page.Ink})
		}
	}
	return y + 2 - skylineEdge
}

// axesDepth is the room under a row for its bearings.
func (d *SkylineDrawing) axesDepth() float64 {
	if d.Declination != nil {
		return 9.4
	}
	return 5
}

// foot is the key and the notes.
func (d *SkylineDrawing) foot(pg *page.Page, o page.Point, w float64, unknown bool) float64 {
	pg.Open("key", "Key and notes")
	defer pg.Close()
	const sample = 7.0
	x, y := o.X, o.Y+1
	next := func(text string, draw func(c page.Point)) {
		width := sample + 1 + page.TextWidth(text, page.Regular, marginText) + 4
		if x > o.X && x+width > o.X+w {
			x, y = o.X, y+3.9
		}
		c := page.At(x+sample/2, y+1.9)
		draw(c)
		pg.Add(page.Text{At: c.Add(sample/2+1, 0), String: text, Size: marginText, Rise: page.RiseMiddle, Color: page.Ink})
		x += width
	}
	patch := func(c page.Point) page.Rect { return page.Box(c.X-sample/2, c.Y-1.3, sample, 2.6) }
	name, _ := far(d.Units)
	tones := tones(d.Units)
	for i, t := range tones {
		var text string
		switch {
		case i == 0:
			text = fmt.Sprintf("Ground under %s %s off", page.Number(tones[1].beyond), name)
		case i == len(tones)-1:
			text = fmt.Sprintf("over %s %s", page.Number(t.beyond), name)
		default:
			text = fmt.Sprintf("%s to %s %s", page.Number(t.beyond), page.Number(tones[i+1].beyond), name)
		}
		next(text, func(c page.Point) {
			pg.Add(page.Fill{Rings: [][]page.Point{patch(c).Corners()}, Color: t.color})
			pg.Frame(0.1, page.Faint, patch(c))
		})
	}
	next("Level of the eye", func(c page.Point) {
		pg.Add(page.Stroke{Lines: [][]page.Point{{c.Add(-sample/2, 0), c.Add(sample/2, 0)}}, Width: 0.25, Color: page.Blue, Dash: []float64{3, 1.5}})
	})
	if unknown {
		next("Not all the ground is known: it may stand higher", func(c page.Point) {
			r := patch(c)
			pg.Add(page.Stroke{Lines: hatch([][]page.Point{r.Corners()}, r, 1.6), Width: 0.16, Color: page.Vermillion})
			pg.Frame(0.1, page.Faint, r)
		})
	}
	if d.covered() {
		next("Top of what stands on the ground", func(c page.Point) {
			r := patch(c)
			var stems [][]page.Point
			for x := r.X + stemGap/2; x < r.Right(); x += stemGap {
				stems = append(stems, []page.Point{page.At(x, r.Y+0.4), page.At(x, r.Y+0.4+stemLong)})
			}
			pg.Add(page.Stroke{Lines: stems, Width: stemWidth, Color: page.Ink})
			pg.Add(page.Stroke{Lines: [][]page.Point{{page.At(r.X, r.Y+0.4), page.At(r.Right(), r.Y+0.4)}}, Width: 0.3, Color: page.Ink})
		})
	}
	if d.filled() {
		next("Ground filled in from the rim of a void: it may stand higher or lower", func(c page.Point) { filledSample(pg, patch(c)) })
	}
	y += 4.4
	for _, s := range d.Notes {
		y += paragraph(pg, page.At(o.X, y), w, page.Regular, s) + 0.4
	}
	return y - o.Y
}
