package cli

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"crowline/contour/sheet"
	"crowline/visibility"
)

// checkDrawingPath refuses a file that could not be written, before anything
// is computed for it.
func checkDrawingPath(path string) error {
	extension := strings.ToLower(filepath.Ext(path))
	if !slices.Contains(sheet.Formats, extension) {
		return usageErrorf("%s: a drawing's name ends in %s", path, strings.Join(sheet.Formats, ", "))
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

// plotLeg draws the leg's profile, its sight line and what it hides.
func plotLeg(ctx context.Context, path string, a *legAnswer, u units) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	drawing, err := a.drawing()
	if err != nil {
		return err
	}
	const width, height, margin = 240, 100, 6
	title := fmt.Sprintf("%s to %s, %s", a.From.short(), a.To.short(), u.distance(a.leg.Distance))
	document := &sheet.Document{Title: "Profile: " + title, Pages: []*sheet.Page{{Width: width, Height: height}}}
	drawnUnits := sheet.Metric
	if u.us {
		drawnUnits = sheet.US
	}
	style := sheet.DefaultStyle()
	p := document.Pages[0]
	if _, err := drawing.Draw(p, sheet.Rect{X: margin, Y: margin + 5, Width: width - 2*margin, Height: height - 2*margin - 10}, drawnUnits, style); err != nil {
		return err
	}
	p.Add(sheet.Text{At: sheet.Point{X: margin, Y: margin + 1.5}, String: title, Face: sheet.Bold, Size: 9, Color: style.Ink})
	dotted := ""
	if len(drawing.Filled) > 0 {
		dotted = " Dotted ground was " + filledWords + "."
	}
	p.Add(sheet.Text{At: sheet.Point{X: margin, Y: height - margin + 1}, Size: 6.5, Color: style.Ink,
		String: fmt.Sprintf("Hatched ground cannot be seen from the start (eye %s). Contours crossed at %g %s. Data: %s.%s",
			u.small(a.seen.EyeElevation-a.leg.Points[0].Elevation), a.levels.Interval, a.levels.Unit, a.dataName(), dotted)})
	_, err = document.Save(path, 200)
	return err
}

func (a *legAnswer) dataName() string {
	if a.ElevationData.Name == "" {
		return "not stated"
	}
	return a.ElevationData.Name
}

// short is the place's name, or its coordinates.
func (p place) short() string {
	if p.Name != "" {
		return p.Name
	}
	return fmt.Sprintf("%.4f,%.4f", p.Lat, p.Lon)
}

// drawing hands the leg to the page.
func (a *legAnswer) drawing() (*sheet.ProfileDrawing, error) {
	d := &sheet.ProfileDrawing{From: a.From.short(), To: a.To.short(), Levels: a.crossedLevels()}
	for _, p := range a.leg.Points {
		d.Distances = append(d.Distances, p.Distance)
		d.Elevations = append(d.Elevations, p.Elevation)
	}
	for _, s := range a.leg.Filled() {
		d.Filled = append(d.Filled, [2]float64{s.From, s.To})
	}
	if !math.IsNaN(a.seen.TargetElevation) {
		// the Earth's radius along the leg, from what its curve drops the end by
		end := a.leg.Points[len(a.leg.Points)-1]
		radius := end.Distance * end.Distance / (2 * end.Drop) / (1 - a.conditions.Refraction)
		if math.IsInf(radius, 0) || radius < 0 {
			radius = 0
		}
		d.Sight = &sheet.SightDrawing{
			ToDistance: a.leg.Distance, FromElevation: a.seen.EyeElevation, ToElevation: a.seen.TargetElevation,
			EffectiveRadius: radius, BlockedAt: a.seen.StoppedAt,
		}
	}
	ground, err := visibility.GroundAlong(a.leg, visibility.Observer{Place: a.leg.From, EyeAboveGround: a.seen.EyeElevation - a.leg.Points[0].Elevation}, a.conditions)
	if err != nil {
		return nil, err
	}
	for _, s := range ground.Seen {
		if s.Verdict == visibility.Hidden {
			d.Hidden = append(d.Hidden, [2]float64{s.From, s.To})
		}
	}
	return d, nil
}

// crossedLevels are the contour levels between the leg's lowest and highest
// ground, metres.
func (a *legAnswer) crossedLevels() []float64 {
	lowest, highest := a.leg.Extremes()
	if math.IsInf(lowest.Elevation, 0) {
		return nil
	}
	var levels []float64
	for j := a.levels.Below(lowest.Elevation) + 1; j <= a.levels.Below(highest.Elevation); j++ {
		levels = append(levels, a.levels.Elevation(j))
	}
	return levels
}
