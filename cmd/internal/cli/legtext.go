package cli

import (
	"fmt"
	"math"
	"strings"
	"time"

	"crowline/profile"
	"crowline/profile/magnetic"
)

// write is the leg as text.
func (a *legAnswer) write(p *page, u units, marks int) {
	a.writeHead(p, u)

	p.head("Bearing to follow")
	writeBearings(p, a.bearings, a.Declination)

	p.head("Sight")
	writeSight(p, u, "the destination", "start", a.seen, a.Sight.OwnGround)
	writeLikely(p, u, a.Sight.Likely)
	if a.OverCover != nil {
		a.OverCover.write(p, u, a.seen.Verdict)
	}
	a.Sight.writeFilled(p)
	writeWalking(p, u, a.walking, a.leg.Distance, "the destination")
	if a.OverCover != nil {
		p.line("", "walking is over the bare ground: what stands on it may hide more")
	}
	if a.wayside != nil {
		a.writeMarks(p, u, marks)
		a.writeChain(p, u)
	}

	p.head("Climb")
	a.writeClimb(p, u)

	p.head("Time")
	a.writeTime(p, u)

	if a.wayside != nil {
		a.writePassed(p, u)
	}
	writeFoot(p, u, a.ElevationData, a.Assumptions)
}

// writeChainOnly is the leg with nothing but its sightings.
func (a *legAnswer) writeChainOnly(p *page, u units) {
	a.writeHead(p, u)
	p.line("bearing", "true %s°", bearing(float64(a.bearings.True)))
	if a.bearings.FieldError == nil {
		p.line("", "magnetic %s° on %s", bearing(float64(a.bearings.Magnetic)), a.Declination.Date)
	}
	a.writeChain(p, u)
	writeFoot(p, u, a.ElevationData, a.Assumptions)
}

func (a *legAnswer) writeHead(p *page, u units) {
	p.head("Leg")
	p.line("from", "%s", a.From.text(u))
	p.line("to", "%s", a.To.text(u))
	p.line("distance", "%s, towards %s", u.distance(a.leg.Distance), towards(a.bearings.True))
	if a.leg.Covered < a.leg.Distance {
		p.line("", "The elevation data ends %s along; what follows is for that part, but for bearing and paces.", u.distance(a.leg.Covered))
	} else if a.UnknownM > 0 {
		p.line("", "%s of it has no elevation data (voids).", u.distance(a.UnknownM))
	}
	a.Filled.write(p, u)
}

// writeContours is the climb as a map shows it, with what such a count is off
// by where that is known.
func (a *legAnswer) writeContours(p *page, u units) {
	c := a.Climb
	atLeast := ""
	if c.ContoursAtLeast {
		atLeast = "at least "
	}
	text := fmt.Sprintf("%s%d up, %d down at %g %s", atLeast, c.ContoursUp, c.ContoursDown, a.levels.Interval, a.levels.Unit)
	var parts, errors []string
	add := func(way string, lines, runs int, run string, within, sigma *float64) {
		if within == nil {
			return
		}
		if runs != 1 {
			run += "s"
		}
		parts = append(parts, fmt.Sprintf("%s %s, off by less than %s (%d %s)", way, u.height(float64(lines)*c.ContourIntervalM), u.height(*within), runs, run))
		if sigma != nil {
			errors = append(errors, u.height(*sigma))
		}
	}
	add("up", c.ContoursUp, c.ContourRises, "rise", c.ContoursUpErrorM, c.ContoursUpSigma)
	add("down", c.ContoursDown, c.ContourFalls, "fall", c.ContoursDownError, c.ContoursDownSigma)
	if len(parts) > 0 {
		text += ": " + strings.Join(parts, ", ")
	}
	if len(errors) > 0 {
		text += "; the data's error adds " + strings.Join(errors, " and ") + ", one standard deviation"
	}
	p.line("contours", "%s", text)
	switch {
	case c.ContoursAtLeast && a.leg.Covered >= a.leg.Distance:
		p.line("", "part of the leg is in or beside a void of the data, where a map has no lines")
	default:
		p.line("", "rises and falls between two lines do not show in them")
	}
	p.line("interval", "%s", c.ContourReason)
	if c.ContourWarning != "" {
		p.line("warning", "%s", c.ContourWarning)
	}
}

// filledText says which of the leg's lowest and highest ground was filled in,
// "" for neither.
func (c *climbJSON) filledText() string {
	which := ""
	switch {
	case c.LowestFilled && c.HighestFilled:
		which = "the lowest and the highest ground were"
	case c.LowestFilled:
		which = "the lowest ground was"
	case c.HighestFilled:
		which = "the highest ground was"
	default:
		return ""
	}
	return which + " " + filledWords + ", and may be higher or lower"
}

func (a *legAnswer) writeClimb(p *page, u units) {
	c := a.Climb
	atLeast := ""
	if c.AtLeast {
		atLeast = "at least "
	}
	worth := "; how good the data is is not stated"
	if c.ErrorM != nil {
		worth = fmt.Sprintf(", each give or take %s", u.height(*c.ErrorM))
	}
	p.line("ground", "%sup %s, down %s%s (rises and falls under %s left out)", atLeast,
		u.height(c.AscentM), u.height(c.DescentM), worth, u.height(c.DeadBandM))
	a.writeContours(p, u)
	if c.LowestM != nil && c.HighestM != nil && !math.IsInf(*c.LowestM, 0) {
		p.line("lies", "between %s and %s", u.height(*c.LowestM), u.height(*c.HighestM))
		if text := c.filledText(); text != "" {
			p.line("FILLED", "%s", text)
		}
	}
	sense := "down"
	if c.SteepestUphill {
		sense = "up"
	}
	p.line("steepest", "%.0f° (%.0f %%) %s, at %s; slopes are averages over %s, so short steps are steeper",
		c.SteepestDeg, 100*math.Tan(c.SteepestDeg*math.Pi/180), sense, u.distance(c.SteepestAtM), u.distance(c.SlopeBaselineM))
	var shares []string
	for _, s := range c.SlopeClasses {
		if s.Share < 0.005 {
			continue
		}
		name := fmt.Sprintf("%g to %g°", s.FromDeg, s.ToDeg)
		if s.ToDeg == 90 {
			name = fmt.Sprintf("over %g°", s.FromDeg)
		} else if s.FromDeg == 0 {
			name = fmt.Sprintf("under %g°", s.ToDeg)
		}
		shares = append(shares, fmt.Sprintf("%s %.0f %%", name, 100*s.Share))
	}
	p.line("slopes", "%s of the way", strings.Join(shares, ", "))
	p.line("ground", "steepest under the line in any direction: %.0f°, at %s", c.GroundSteepestDeg, u.distance(c.GroundSteepestAtM))
	if len(c.Steep) > 0 {
		p.line("STEEP", "%g° or more along the line: %s", float64(profile.SteepLimit), steepStretches(u, c.Steep))
	}
	if len(c.GroundSteep) > 0 {
		p.line("STEEP", "ground of %g° or more under the line: %s", float64(profile.SteepLimit), steepStretches(u, c.GroundSteep))
	}
}

// steepStretches lists stretches; where they are many, those less than
// steepGap metres apart in one, and how much there is of them in all.
func steepStretches(u units, list []stretchJSON) string {
	const most, steepGap = 4, 200
	if len(list) <= most {
		return joinStretches(u, list)
	}
	sum := 0.0
	var joined []stretchJSON
	for _, s := range list {
		sum += s.ToM - s.FromM
		if n := len(joined); n > 0 && s.FromM-joined[n-1].ToM < steepGap {
			joined[n-1].ToM = s.ToM
		} else {
			joined = append(joined, s)
		}
	}
	return fmt.Sprintf("%s of the way, in parts of %s", u.distance(sum), joinStretches(u, joined))
}

func joinStretches(u units, list []stretchJSON) string {
	var parts []string
	for _, s := range list {
		parts = append(parts, u.stretch(s.FromM, s.ToM))
	}
	return strings.Join(parts, ", ")
}

// clock writes a duration as hours and minutes.
func clock(d time.Duration) string {
	minutes := int(math.Round(d.Minutes()))
	if minutes < 60 {
		return fmt.Sprintf("%d min", minutes)
	}
	return fmt.Sprintf("%d h %02d min", minutes/60, minutes%60)
}

// writeBearings puts the bearings and what to set on a compass in words.
func writeBearings(p *page, b magnetic.Bearings, d *declinationJSON) {
	p.line("true", "%s°", bearing(float64(b.True)))
	if b.GridError == nil {
		p.line("grid", "%s°  on %s, whose grid north is %s of true north here", bearing(float64(b.Grid)), b.GridName, degreesSide(float64(b.Convergence)))
	} else {
		p.line("grid", "none: %v", b.GridError)
	}
	if b.FieldError != nil {
		p.line("magnetic", "not known: %v", b.FieldError)
	} else {
		p.line("magnetic", "%s°  on %s: declination %s ± %.1f, moving %s a year (%s)",
			bearing(float64(b.Magnetic)), d.Date, eastWest(d.Deg), d.SigmaDeg, eastWestFine(d.AnnualChangeDeg), d.Model)
	}
	back := fmt.Sprintf("true %s°", bearing(float64(b.BackTrue)))
	if b.BackError == nil {
		back += fmt.Sprintf(", magnetic %s°", bearing(float64(b.BackMagnetic)))
	}
	p.line("back", "%s, from the destination", back)
	if b.FieldError == nil {
		magneticDial, trueDial := dial(float64(b.Magnetic)), dial(float64(b.True))
		if magneticDial == trueDial {
			p.line("compass", "set %s on the dial, adjusted for declination or not: the difference is under a degree", trueDial)
		} else {
			p.line("compass", "set %s on the dial if your compass is not adjusted for declination, %s if it is", magneticDial, trueDial)
		}
		if w := zoneWarning(b.Field); w != "" {
			p.line("warning", "%s", w)
		}
	}
}
