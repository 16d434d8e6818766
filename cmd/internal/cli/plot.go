package cli

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"crowline/cmd/internal/answer"
	paper "crowline/contour/page"
	"crowline/contour/sheet"
	"crowline/profile"
	"crowline/profile/magnetic"
)

// checkDrawingPath refuses a file that could not be written, before anything
// is computed for it.
func checkDrawingPath(path string) error {
	extension := strings.ToLower(filepath.Ext(path))
	if !slices.Contains(paper.Formats, extension) {
		return usageErrorf("%s: a drawing's name ends in %s", path, strings.Join(paper.Formats, ", "))
	}
	return checkFolder(path)
}

// checkFolder makes sure the folder a file is to go in is there.
func checkFolder(path string) error {
	folder := filepath.Dir(path)
	info, err := os.Stat(folder)
	switch {
	case err != nil:
		return fmt.Errorf("cannot write %s: there is no folder %s", path, folder)
	case !info.IsDir():
		return fmt.Errorf("cannot write %s: %s is not a folder", path, folder)
	}
	return nil
}

// plotLeg draws the leg's profile, its sight line and what it hides, under a
// title.
func plotLeg(ctx context.Context, path, title string, a *legAnswer, u units) error {
	drawing, err := a.drawing()
	if err != nil {
		return err
	}
	const width, height = 240, 110
	document, err := drawing.Document(title, a.plotNotes(u), width, height, u.drawn(), sheet.DefaultStyle())
	if err != nil {
		return err
	}
	return savePlot(ctx, path, document)
}

// savePlot writes a drawing, unless the run was stopped while it was made.
func savePlot(ctx context.Context, path string, document *paper.Document) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	_, err := document.Save(path, 200)
	return err
}

// plotTitle says where the leg goes.
func (a *legAnswer) plotTitle(u units) string {
	return fmt.Sprintf("Profile from %s to %s: %s on %s", a.From.short(), a.To.short(), u.distance(a.leg.Distance), bearingWords(a.bearings, false))
}

// lookTitle says where a look along a bearing goes, and lookEnd is what stands
// at its end.
func lookTitle(from place, b magnetic.Bearings, magneticAsked bool, leg *profile.Leg, u units) string {
	end := "as far as asked"
	if leg.Covered < leg.Distance {
		end = "to the edge of the data"
	}
	return fmt.Sprintf("Profile from %s on %s, %s, %s", from.short(), bearingWords(b, magneticAsked), end, u.distance(leg.Covered))
}

func lookEnd(leg *profile.Leg) string {
	if leg.Covered < leg.Distance {
		return "edge of the data"
	}
	return "as far as asked"
}

// bearingWords are the bearing from true and from magnetic north, that which
// was asked for first.
func bearingWords(b magnetic.Bearings, magneticFirst bool) string {
	words := bearing(float64(b.True)) + "° true"
	if b.FieldError != nil {
		return words
	}
	compass := bearing(float64(b.Magnetic)) + "° magnetic"
	if magneticFirst {
		return compass + ", " + words
	}
	return words + ", " + compass
}

// plotNotes say what the drawing is over, and whose the data is.
func (a *legAnswer) plotNotes(u units) []string {
	note := fmt.Sprintf("Eye %s above the ground", u.small(a.seen.EyeElevation-a.leg.Points[0].Elevation))
	if !math.IsNaN(a.seen.TargetElevation) {
		note += fmt.Sprintf(", end of the line of sight %s", u.small(a.conditions.TargetAboveGround))
	}
	if a.OverCover != nil {
		note += fmt.Sprintf(". What is in sight is so over what stands on the ground (%s): of ground with something on it, the top; nothing stands where the eye is", a.OverCover.Name)
	} else {
		note += ". Over the heights of the data alone: nothing is laid on them"
	}
	name := a.ElevationData.Name
	if name == "" {
		name = "not stated"
	}
	data := "Data: " + name
	if a.ElevationData.SpacingM != nil {
		data += fmt.Sprintf(", posts about %s apart", u.distance(*a.ElevationData.SpacingM))
	}
	if a.ElevationData.VerticalErrorM != nil {
		data += fmt.Sprintf(", heights good to %s, one standard deviation", u.height(*a.ElevationData.VerticalErrorM))
	}
	return []string{note + ".", data + "."}
}

// short is the place's name, or its coordinates.
func (p place) short() string {
	if p.Name != "" {
		return p.Name
	}
	return fmt.Sprintf("%.4f,%.4f", p.Lat, p.Lon)
}

// drawing hands the leg to the page, over the cover where there is some.
func (a *legAnswer) drawing() (*sheet.ProfileDrawing, error) {
	p := answer.Profile{
		Line: a.leg, Eye: a.seen.EyeElevation, Target: a.seen.TargetElevation, StoppedAt: a.seen.StoppedAt,
		Conditions: a.conditions, Levels: a.levels, From: a.From.short(), To: a.To.short(),
	}
	if a.OverCover != nil {
		p.Covered, p.StoppedAt = a.OverCover.leg, a.OverCover.seen.StoppedAt
	}
	return answer.ProfileDrawing(p)
}

// drawn is the units as a drawing has them.
func (u units) drawn() sheet.Units {
	if u.us {
		return sheet.US
	}
	return sheet.Metric
}
