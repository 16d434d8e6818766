package answer

import (
	"fmt"
	"math"

	"crowline/contour"
	"crowline/contour/sheet"
	"crowline/profile"
	"crowline/visibility"
)

// Profile is a line whose ground, sight and hidden ground are to be drawn.
type Profile struct {
	// Line is over the bare ground, Covered over what stands on it; nil where
	// nothing was laid.
	Line, Covered *profile.Leg
	// Eye is the elevation of the eye, metres. Target is the end of the line of
	// sight's; NaN draws none.
	Eye, Target float64
	// Sight is the line's, over the cover where there is some: what hides its
	// end. The zero value draws none.
	Sight visibility.Sight
	// Conditions of the sight.
	Conditions visibility.Conditions
	// Levels are those of the contour lines crossed that are marked.
	Levels contour.Levels
	// From and To name the ends.
	From, To string
	// AsFarAsData draws no farther than there is data; else the rest of the
	// line is drawn as ground with none.
	AsFarAsData bool
}

// ProfileDrawing is the drawing of a line, over the cover where there is some:
// of a leg, of a sight and on a sheet alike.
func ProfileDrawing(p Profile) (*sheet.ProfileDrawing, error) {
	leg := p.Line
	if p.Covered != nil {
		leg = p.Covered
	}
	d := &sheet.ProfileDrawing{From: p.From, To: p.To, Levels: crossedLevels(p.Line, p.Levels), Interval: fmt.Sprintf("%g %s", p.Levels.Interval, p.Levels.Unit)}
	for _, at := range leg.Points {
		d.Distances = append(d.Distances, at.Distance)
		d.Elevations = append(d.Elevations, at.Bare())
		if p.Covered != nil {
			d.Cover = append(d.Cover, at.Cover)
		}
	}
	if leg.Covered < leg.Distance && !p.AsFarAsData {
		d.Distances, d.Elevations = append(d.Distances, leg.Distance), append(d.Elevations, nan)
		if d.Cover != nil {
			d.Cover = append(d.Cover, nan)
		}
	}
	for _, s := range leg.Filled() {
		d.Filled = append(d.Filled, [2]float64{s.From, s.To})
	}
	if !math.IsNaN(p.Target) {
		d.Sight = &sheet.SightDrawing{
			ToDistance: leg.Distance, FromElevation: p.Eye, ToElevation: p.Target,
			EffectiveRadius: leg.EffectiveRadius(p.Conditions.Refraction), BlockedAt: p.Sight.BlockedAt, BlockerElevation: p.Sight.BlockerElevation, StoppedAt: p.Sight.StoppedAt,
		}
	}
	ground, err := visibility.GroundAlong(leg, visibility.Observer{Place: leg.From, EyeAboveGround: p.Eye - p.Line.Points[0].Elevation}, p.Conditions)
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

// crossedLevels are the contour levels between a line's lowest and highest
// ground, metres.
func crossedLevels(leg *profile.Leg, levels contour.Levels) []float64 {
	lowest, highest := leg.Extremes()
	if math.IsInf(lowest.Elevation, 0) {
		return nil
	}
	var out []float64
	for j := levels.Below(lowest.Elevation) + 1; j <= levels.Below(highest.Elevation); j++ {
		out = append(out, levels.Elevation(j))
	}
	return out
}

// Short is the place's name, or its coordinates to four decimals, about 10 m:
// for a drawing.
func (s Spot) Short() string {
	if s.Name != "" {
		return s.Name
	}
	return fmt.Sprintf("%.4f,%.4f", s.Lat, s.Lon)
}

// sightProfile is the profile of a sight from one place to another.
func sightProfile(leg *profile.Leg, s *SightLine, over *CoverSight, c visibility.Conditions, interval contour.Choice, from, to Spot) Profile {
	p := Profile{
		Line: leg, Eye: s.sight.EyeElevation, Target: s.sight.TargetElevation, Sight: s.sight,
		Conditions: c, Levels: interval.Levels(), From: from.Short(), To: to.Short(),
	}
	if over != nil {
		p.Covered, p.Sight = over.leg, over.Sight.sight
	}
	return p
}

// Profile is the leg's, to be drawn.
func (a *LegAnswer) Profile() Profile {
	return sightProfile(a.line, &a.Sight, a.OverCover, a.conditions, a.interval, a.From, a.To)
}
