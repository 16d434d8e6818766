package report

import (
	"fmt"
	"math"

	"crowline/cmd/internal/answer"
	"crowline/contour/page"
	"crowline/contour/sheet"
	"crowline/dem/units"
	"crowline/profile/magnetic"
)

// Size of a profile's drawing, millimetres.
const (
	profileWidth  = 240
	profileHeight = 110
)

// LegDrawing draws a leg's profile, its line of sight and what that hides.
func LegDrawing(a *answer.LegAnswer, u units.System) (*page.Document, error) {
	title := lineTitle(a.From, a.To, a.DistanceM, a.Bearing.Full(), u)
	return profileDocument(title, a.Profile(), a.OverCover.Over(), a.ElevationData, u)
}

// lineTitle says where a line goes.
func lineTitle(from, to answer.Spot, distance float64, b magnetic.Bearings, u units.System) string {
	compass := math.NaN()
	if b.FieldError == nil {
		compass = float64(b.Magnetic)
	}
	return fmt.Sprintf("Profile from %s to %s: %s on %s", from.Short(), to.Short(), u.Distance(distance), bearingWords(float64(b.True), compass, false))
}

// profileDocument is a profile on a page of its own; over names the cover it is
// over, "" for none.
func profileDocument(title string, p answer.Profile, over string, d answer.ElevationData, u units.System) (*page.Document, error) {
	drawing, err := answer.ProfileDrawing(p)
	if err != nil {
		return nil, err
	}
	return drawing.Document(title, profileNotes(p, over, d, u), profileWidth, profileHeight, u, sheet.DefaultStyle())
}

// profileNotes say what the drawing is over, and whose the data is.
func profileNotes(p answer.Profile, over string, d answer.ElevationData, u units.System) []string {
	note := fmt.Sprintf("Eye %s above the ground", u.Small(p.Eye-p.Line.Points[0].Elevation))
	if !math.IsNaN(p.Target) {
		note += fmt.Sprintf(", end of the line of sight %s", u.Small(p.Conditions.TargetAboveGround))
	}
	if over != "" {
		note += fmt.Sprintf(". What is in sight is so over what stands on the ground (%s): of ground with something on it, the top; nothing stands where the eye is", over)
	} else {
		note += ". Over the heights of the data alone: nothing is laid on them"
	}
	name := d.Name
	if name == "" {
		name = "not stated"
	}
	data := "Data: " + name
	if !math.IsNaN(d.SpacingM) {
		data += fmt.Sprintf(", posts about %s apart", u.Distance(d.SpacingM))
	}
	if !math.IsNaN(d.VerticalErrorM) {
		data += fmt.Sprintf(", heights good to %s, one standard deviation", u.Height(d.VerticalErrorM))
	}
	return []string{note + ".", data + "."}
}

// bearingWords are a bearing from true and, where that is known, from magnetic
// north, that which was asked for first.
func bearingWords(degrees, compass float64, magneticFirst bool) string {
	words := units.Bearing(degrees) + "° true"
	if math.IsNaN(compass) {
		return words
	}
	other := units.Bearing(compass) + "° magnetic"
	if magneticFirst {
		return other + ", " + words
	}
	return words + ", " + other
}
