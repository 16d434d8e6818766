package sheet

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"time"

	"crowline/contour"
	"crowline/contour/page"
	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/units"
)

// North is which north is up on a sheet.
type North int

const (
	// GridNorth has the sheet on the grid of the UTM zone of its centre.
	GridNorth North = iota
	// TrueNorth has true north up at the centre.
	TrueNorth
)

// Plan is what to draw. The sheet draws what it is handed and computes no
// terrain of its own.
type Plan struct {
	// Title stands at the head; "" for the leg's places, the only one of Points,
	// the centre, or else the data's name.
	Title string
	// Scale is the denominator of the representative fraction: 25000 for
	// 1:25 000. Needed.
	Scale float64
	Paper page.Paper // zero for A4
	North North
	Units units.System
	// Centre of the sheet; nil for the leg's middle, or else the middle of the
	// ground. A sheet with a centre is one page.
	Centre *geodesy.LatLon

	// Ground is the posts the contours come from. It says where elevations
	// are missing, so that blank paper is never taken for flat ground; the
	// relief shading is made of it.
	Ground dem.Posts
	// Filled says that some posts of Ground may be filled in (dem.Filled):
	// room is kept to explain the dots that mark them.
	Filled bool
	// Covered says that Profile may show what stands on the ground: room is
	// kept to explain that.
	Covered bool
	// Data says whose posts they are. Its Warnings speak to whoever runs the
	// program and are not printed: put those a map reader needs in Cautions.
	Data dem.Info

	Contours Contours
	// ContourReading is which way up contour numbers stand.
	ContourReading Reading
	// Plain draws all contours alike, thin and grey, with a few numbers, and does
	// not say their interval: a map to trace index lines on and to work the
	// interval out from.
	Plain bool
	// Relief is the strength of relief shading, 0 for none to 1; 0.5 still
	// leaves every line readable in print.
	Relief float64

	Leg *Leg
	// Route is legs one after the other, numbered on the map, instead of Leg. One
	// too large for a page is split into pages that follow it.
	Route []Leg
	Marks []Mark
	// Hazards are drawn in black under the legs: steep ground on the line, and
	// cliffs.
	Hazards []Hazard
	Points  []Place // other named places
	// Stations are the points of a class's walk.
	Stations []Station
	// Fix is a place from bearings; nil for none.
	Fix *FixDrawing
	// View is what is seen of the ground, and what is not; nil for none. Its
	// verdicts may be left out until the frames are known.
	View *View
	// Tint is a measure of the ground; nil for none.
	Tint *Tint

	// Declination at the sheet; nil when it is not known, which the north
	// diagram then says.
	Declination *Declination
	// MagneticLines draws magnetic-north lines across the map.
	MagneticLines bool

	// Profile of the leg, drawn under the map. Room is kept for it on every
	// sheet with a leg, unless WithoutProfile.
	Profile        *ProfileDrawing
	WithoutProfile bool
	// ProfileRelief is how high the profile reaches from its lowest to its
	// highest, metres: it is drawn taller where the leg is short and steep, so
	// that slopes are not drawn flatter than they are. Zero where not known.
	ProfileRelief float64

	// Headline stands under the title; "" for the leg or the only place, in
	// figures.
	Headline string
	// Notes and then Cautions are printed in the margin, one after another.
	Notes    []string
	Cautions []string
	// Date the sheet is made for, printed and kept in the file.
	Date  time.Time
	Style Style

	keyed bool // room is kept for a page key

	cut page.Point // the map's size, millimetres; zero for what the paper holds
}

// Contours are the lines to draw, as contour.Trace gives them.
type Contours struct {
	Frame *dem.Frame // of the lines' positions; nil for Ground's
	Lines []contour.Line
	// Levels they were traced at: the interval that the margin states.
	Levels contour.Levels
}

// Place is somewhere with a name.
type Place struct {
	Name string
	At   geodesy.LatLon
	// Elevation in metres; NaN when not known.
	Elevation float64
}

// label is the name, or the coordinates of a place without one.
func (p Place) label() string {
	if p.Name != "" {
		return p.Name
	}
	return p.At.String()
}

// Leg is the straight line to walk: the geodesic between two places.
type Leg struct{ From, To Place }

// Mark is something worth sighting.
type Mark struct {
	Place
	// Label tells it from the others, as the text does: "1". Marks of one place
	// share a sign.
	Label string
	// From is where it is sighted from; nil for the leg's start. Without
	// either no bearing is given.
	From *geodesy.LatLon
	// Note is a word or two printed after the bearing.
	Note string
}

// Declination is the angle from true to magnetic north and what it is worth.
type Declination struct {
	East   geodesy.Degrees // positive east
	Sigma  geodesy.Degrees // one standard deviation; 0 when not known
	Annual geodesy.Degrees // change a year, positive east
	Model  string          // for example "WMM2025"
	Date   time.Time
	// Given by hand: it has no model, day or change.
	Given bool
}

// From says what it is from: its model, or who gave it.
func (d *Declination) From() string {
	if d.Given {
		return "as given by you"
	}
	return d.Model
}

// magnetic is what a compass reads for a true bearing.
func (d *Declination) magnetic(b geodesy.TrueBearing) geodesy.MagneticBearing {
	return geodesy.NewMagneticBearing(geodesy.Degrees(b) - d.East)
}

// plainNumbers are so many as are read at a glance and leave lines to count
// between them.
const plainNumbers = 6

// mostNumbers of contours a map carries; 0 for no bound.
func (p *Plan) mostNumbers() int {
	if p.Plain {
		return plainNumbers
	}
	return 0
}

// leastNumbered are the different levels a map is to carry numbers of.
func (p *Plan) leastNumbered() int {
	if p.Plain {
		return 2 // an interval lies between two
	}
	return 0
}

// Errors of a plan, to be tested with errors.Is.
var (
	// ErrPlan: a field makes no sense.
	ErrPlan = errors.New("sheet: the plan cannot be drawn")
	// ErrPages: the leg would need more than MaxPages pages.
	ErrPages = errors.New("sheet: the leg needs too many pages at this scale")
)

// MaxPages is the most pages a leg is split into.
const MaxPages = 40

// LeastScale and MostScale bound the scales a map can be drawn at, as
// denominators.
const (
	LeastScale = 500
	MostScale  = 10e6
)

// filled checks the plan and fills in its defaults.
func (p Plan) filled() (Plan, error) {
	bad := func(format string, args ...any) (Plan, error) {
		return p, fmt.Errorf("%w: "+format, append([]any{ErrPlan}, args...)...)
	}
	if !(p.Scale >= LeastScale && p.Scale <= MostScale) {
		return bad("scale 1:%s is outside 1:%d to 1:%.0f", strconv.FormatFloat(p.Scale, 'f', -1, 64), LeastScale, float64(MostScale))
	}
	if p.Paper == (page.Paper{}) {
		p.Paper = page.A4
	}
	if err := p.Paper.Validate(); err != nil {
		return p, err
	}
	if !(p.Relief >= 0 && p.Relief <= 1) {
		return bad("relief strength %g is outside 0 to 1", p.Relief)
	}
	if p.Contours.Frame == nil && p.Ground != nil {
		p.Contours.Frame = p.Ground.Layout()
	}
	if len(p.Contours.Lines) > 0 && p.Contours.Frame == nil {
		return bad("contour lines without the frame they stand on")
	}
	if p.Leg != nil && p.Leg.From.At == p.Leg.To.At {
		return bad("the leg's two places are the same")
	}
	if p.Centre == nil && p.Leg == nil && len(p.Route) == 0 && p.Ground == nil {
		return bad("no centre, no leg and no ground")
	}
	if err := p.checkRoute(); err != nil {
		return p, err
	}
	if err := p.checkHazards(); err != nil {
		return p, err
	}
	if p.Fix != nil {
		if err := p.Fix.validate(); err != nil {
			return p, err
		}
	}
	if p.View != nil {
		if err := p.View.validate(); err != nil {
			return p, err
		}
	}
	if p.Tint != nil {
		if err := p.Tint.validate(); err != nil {
			return p, err
		}
	}
	if d := p.Declination; d != nil && (math.IsNaN(float64(d.East)) || math.Abs(float64(d.East)) > 180) {
		return bad("declination %g", d.East)
	}
	p.Style = p.Style.filled()
	if p.Plain {
		p.Style = p.Style.plain()
	}
	if err := page.CheckText(p.Title, page.Bold); err != nil {
		return p, err
	}
	return p, nil
}

// title is the plan's, or one made of what it shows.
func (p *Plan) title() string {
	switch {
	case p.Title != "":
		return p.Title
	case p.Leg != nil:
		return p.Leg.From.label() + " to " + p.Leg.To.label()
	case len(p.Route) > 0:
		return p.Route[0].From.label() + " to " + p.Route[len(p.Route)-1].To.label()
	case len(p.Points) == 1:
		return p.Points[0].label()
	case p.Centre != nil:
		return "Around " + p.Centre.String()
	case p.Data.Name != "":
		return p.Data.Name
	}
	return "Contour sheet"
}
