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
	title := fmt.Sprintf("%s to %s, %s", a.From.short(), a.To.short(), u.distance(a.leg.Distance))
	note := fmt.Sprintf("Eye %s above the ground at the start. Contour interval %g %s. Data: %s.",
		u.small(a.seen.EyeElevation-a.leg.Points[0].Elevation), a.levels.Interval, a.levels.Unit, a.dataName())
	if a.OverCover != nil {
		note += fmt.Sprintf(" On the ground: %s.", a.OverCover.Name)
	}
	const width, height = 240, 100
	document, err := drawing.Document(title, []string{note}, width, height, u.drawn(), sheet.DefaultStyle())
	if err != nil {
		return err
	}
	document.Title = "Profile: " + title
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

// drawing hands the leg to the page, over the cover where there is some.
func (a *legAnswer) drawing() (*sheet.ProfileDrawing, error) {
	leg, stopped := a.leg, a.seen.StoppedAt
	if a.OverCover != nil {
		leg, stopped = a.OverCover.leg, a.OverCover.seen.StoppedAt
	}
	d := &sheet.ProfileDrawing{From: a.From.short(), To: a.To.short(), Levels: a.crossedLevels()}
	for _, p := range leg.Points {
		d.Distances = append(d.Distances, p.Distance)
		d.Elevations = append(d.Elevations, p.Bare())
		if a.OverCover != nil {
			d.Cover = append(d.Cover, p.Cover)
		}
	}
	for _, s := range leg.Filled() {
		d.Filled = append(d.Filled, [2]float64{s.From, s.To})
	}
	if !math.IsNaN(a.seen.TargetElevation) {
		// the Earth's radius along the leg, from what its curve drops the end by
		end := leg.Points[len(leg.Points)-1]
		radius := end.Distance * end.Distance / (2 * end.Drop) / (1 - a.conditions.Refraction)
		if math.IsInf(radius, 0) || radius < 0 {
			radius = 0
		}
		d.Sight = &sheet.SightDrawing{
			ToDistance: leg.Distance, FromElevation: a.seen.EyeElevation, ToElevation: a.seen.TargetElevation,
			EffectiveRadius: radius, BlockedAt: stopped,
		}
	}
	ground, err := visibility.GroundAlong(leg, visibility.Observer{Place: leg.From, EyeAboveGround: a.seen.EyeElevation - a.leg.Points[0].Elevation}, a.conditions)
	if err != nil {
		return nil, err
	}
	for _, s := range ground.Seen {
		switch s.Verdict {
		case visibility.Hidden:
			d.Hidden = append(d.Hidden, [2]float64{s.From, s.To})
		case visibility.Unknown:
			d.Unknown = append(d.Unknown, [2]float64{s.From, s.To})
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
