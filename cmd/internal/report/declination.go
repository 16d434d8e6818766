package report

import (
	"fmt"
	"math"

	"crowline/cmd/internal/answer"
	"crowline/dem/units"
	"crowline/profile/magnetic"
)

// Declination writes a declination and what to do with it.
func Declination(p *Page, a *answer.DeclinationAnswer) {
	p.Head("Declination")
	p.Line("place", "%s", p.place(a.Place))
	if d := &a.Declination; d.Given() {
		p.Line("magnetic", "%s of true north, as given by you; taken as good to ± %.1f (one standard deviation)", units.EastWest(d.Deg), d.SigmaDeg)
	} else {
		p.Line("magnetic", "%s of true north on %s, ± %.1f (one standard deviation), moving %s a year; %s",
			units.EastWest(d.Deg), d.Date, d.SigmaDeg, yearly(d.AnnualChangeDeg), d.Model)
	}
	if a.NoGrid == nil {
		p.Line("grid", "north of %s is %s of true north", a.Grid, units.EastWest(a.ConvergenceDeg))
		p.Line("grid to mag", "magnetic north is %s of grid north", units.EastWest(a.GridMagneticDeg))
	} else {
		p.Line("grid", "none: %v", a.NoGrid)
	}
	p.zone(a.Declination.Zone)
	p.Head("In use")
	d := a.Declination.Deg
	p.Note("From true to magnetic: %s. From magnetic to true: %s.", rule(-d), rule(d))
	if a.NoGrid == nil {
		p.Note("From grid to magnetic: %s. From magnetic to grid: %s.", rule(-a.GridMagneticDeg), rule(a.GridMagneticDeg))
	}
	p.Note("Local iron, rock and power lines pull a compass further; the model knows nothing of them.")
}

// zone warns where a compass is not to be trusted.
func (p *Page) zone(z magnetic.Zone) {
	switch z {
	case magnetic.Blackout:
		p.Line("warning", "%v", magnetic.ErrBlackout)
	case magnetic.Caution:
		p.Line("warning", "%s", answer.WeakField)
	}
}

// yearly writes what a declination changes in a year: "0.08° W".
func yearly(d float64) string { return units.Sided(d, 2, "° E", "° W", "hardly") }

// rule says what to do with a bearing to change its north.
func rule(d float64) string {
	r := math.Round(math.Abs(d)*10) / 10
	switch {
	case r == 0:
		return "no change"
	case d > 0:
		return fmt.Sprintf("add %.1f°", r)
	}
	return fmt.Sprintf("take away %.1f°", r)
}
