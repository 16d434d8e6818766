package sheet

import (
	"fmt"
	"math"
	"strconv"

	"crowline/dem/geodesy"
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
	Units          Units
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
		if err := CheckText(s, Regular); err != nil {
			return err
		}
	}
	return nil
}

// Strip is the whole round in one strip, 2 mm to the degree: a page 750 mm
// wide and about 120 high, to roll, fold or cut. Peaks whose names the
// typeface cannot show are labelled with their elevation, and Warnings says so.
func (d SkylineDrawing) Strip() (*Document, error) {
	return d.document(360*stripPerDegree+skylineSide+skylineRight+2*skylineEdge, 0, 1)
}

// Stacked is the same in rows, 1 to MaxSkylineRows, on one page; each row
// begins where the one before ended and repeats its last few degrees. Up to
// three rows lie across the paper.
func (d SkylineDrawing) Stacked(paper Paper, rows int) (*Document, error) {
	if rows < 1 || rows > MaxSkylineRows {
		return nil, fmt.Errorf("%w: a skyline in %d rows: 1 to %d can be drawn", ErrPlan, rows, MaxSkylineRows)
	}
	if err := paper.validate(); err != nil {
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
func (d SkylineDrawing) document(width, height float64, rows int) (*Document, error) {
	if err := d.validate(); err != nil {
		return nil, err
	}
	doc := &Document{Title: d.Title}
	peaks := append([]SkylinePeak{}, d.Peaks...)
	for i := range peaks {
		if err := CheckText(peaks[i].Name, Bold); err != nil {
			doc.Warnings = append(doc.Warnings, fmt.Sprintf("%v; its elevation stands for it", err))
			peaks[i].Name = ""
		}
	}
	d.Peaks = peaks
	page := &Page{Width: width, Height: height}
	inner := width - 2*skylineEdge
	head := d.heading(&Page{}, inner)
	foot := d.foot(&Page{}, Point{}, inner, true)
	tall := stripTall
	if height > 0 {
		tall = (height - 2*skylineEdge - head - foot - 3*float64(rows)) / float64(rows)
		if tall < 35 {
			return nil, fmt.Errorf("%w: %d rows leave %.0f mm for each, under 35", ErrPlan, rows, tall)
		}
	} else {
		page.Height = 2*skylineEdge + head + tall + 3 + foot
	}
	d.heading(page, inner)
	span := 360 / float64(rows)
	if rows > 1 {
		span += skylineOverlap
	}
	s := d.scale(Rect{Width: inner - skylineSide - skylineRight, Height: tall - d.axesDepth()}, span)
	unknown := false
	labelled := map[int]bool{}
	for k := range rows {
		s.from = float64(k) * 360 / float64(rows)
		s.box.X, s.box.Y = skylineEdge+skylineSide, skylineEdge+head+float64(k)*(tall+3)
		page.Open("skyline-"+strconv.Itoa(k+1), fmt.Sprintf("Skyline from %s to %s", bearing(s.from), bearing(s.from+span)))
		unknown = d.ground(page, s) || unknown
		d.axes(page, s)
		for _, i := range d.labels(page, s) {
			labelled[i] = true
		}
		page.Close()
	}
	for i := range d.Peaks {
		if !labelled[i] && d.Peaks[i].Name != "" {
			doc.Warnings = append(doc.Warnings, fmt.Sprintf("no room on the drawing for the name %q", d.Peaks[i].Name))
		}
	}
	d.foot(page, Point{skylineEdge, skylineEdge + head + float64(rows)*(tall+3)}, inner, unknown)
	page.Add(Text{At: Point{width - skylineEdge, skylineEdge + 3}, Align: AlignRight, Size: 7, Color: ink,
		String: fmt.Sprintf("Horizontal %s mm to the degree; vertical scale %s × horizontal",
			strconv.FormatFloat(s.mmX, 'f', 2, 64), strconv.FormatFloat(s.exaggeration, 'g', 3, 64))})
	doc.Pages = []*Page{page}
	return doc, nil
}

func (d *SkylineDrawing) heading(page *Page, width float64) float64 {
	page.Open("title", "Title")
	defer page.Close()
	y := skylineEdge
	for _, line := range wrap(d.Title, Bold, 10, width-90) { // the scale stands at the right
		y += 10 * pointMM * 1.15
		page.Add(Text{At: Point{skylineEdge, y - 0.9}, String: line, Face: Bold, Size: 10, Color: ink})
	}
	for _, s := range d.Summary {
		for _, line := range wrap(s, Regular, 7, width) {
			y += 7 * pointMM * 1.25
			page.Add(Text{At: Point{skylineEdge, y - 0.4}, String: line, Size: 7, Color: ink})
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
func (d *SkylineDrawing) foot(page *Page, o Point, w float64, unknown bool) float64 {
	page.Open("key", "Key and notes")
	defer page.Close()
	const sample = 7.0
	x, y := o.X, o.Y+1
	next := func(text string, draw func(c Point)) {
		width := sample + 1 + TextWidth(text, Regular, marginText) + 4
		if x > o.X && x+width > o.X+w {
			x, y = o.X, y+3.9
		}
		c := Point{x + sample/2, y + 1.9}
		draw(c)
		page.Add(Text{At: c.Add(sample/2+1, 0), String: text, Size: marginText, Rise: RiseMiddle, Color: ink})
		x += width
	}
	patch := func(c Point) Rect { return Rect{c.X - sample/2, c.Y - 1.3, sample, 2.6} }
	name, _ := d.Units.far()
	tones := d.Units.tones()
	for i, t := range tones {
		var text string
		switch {
		case i == 0:
			text = fmt.Sprintf("Ground under %s %s off", num(tones[1].beyond), name)
		case i == len(tones)-1:
			text = fmt.Sprintf("over %s %s", num(t.beyond), name)
		default:
			text = fmt.Sprintf("%s to %s %s", num(t.beyond), num(tones[i+1].beyond), name)
		}
		next(text, func(c Point) {
			page.Add(Fill{Rings: [][]Point{patch(c).corners()}, Color: t.color})
			page.Frame(0.1, faint, patch(c))
		})
	}
	next("Level of the eye", func(c Point) {
		page.Add(Stroke{Lines: [][]Point{{c.Add(-sample/2, 0), c.Add(sample/2, 0)}}, Width: 0.25, Color: blue, Dash: []float64{3, 1.5}})
	})
	if unknown {
		next("Not all the ground is known: it may stand higher", func(c Point) {
			r := patch(c)
			page.Add(Stroke{Lines: hatch([][]Point{r.corners()}, r, 1.6), Width: 0.16, Color: vermillion})
			page.Frame(0.1, faint, r)
		})
	}
	if d.covered() {
		next("Top of what stands on the ground", func(c Point) {
			r := patch(c)
			var stems [][]Point
			for x := r.X + stemGap/2; x < r.Right(); x += stemGap {
				stems = append(stems, []Point{{x, r.Y + 0.4}, {x, r.Y + 0.4 + stemLong}})
			}
			page.Add(Stroke{Lines: stems, Width: stemWidth, Color: ink})
			page.Add(Stroke{Lines: [][]Point{{{r.X, r.Y + 0.4}, {r.Right(), r.Y + 0.4}}}, Width: 0.3, Color: ink})
		})
	}
	if d.filled() {
		next("Ground filled in from the rim of a void: it may stand higher or lower", func(c Point) { filledSample(page, patch(c)) })
	}
	y += 4.4
	for _, s := range d.Notes {
		y += paragraph(page, Point{o.X, y}, w, Regular, s) + 0.4
	}
	return y - o.Y
}
