package cli

import (
	"context"
	"fmt"
	"strings"

	"crowline/contour"
	"crowline/dem"
	"crowline/dem/geodesy"
)

const (
	// mapScale is the scale of the map whose contours a leg counts, and of a
	// sheet unless another is asked for.
	mapScale = 25000
	// intervalMargin is how far from a leg, metres, the ground bears on the
	// interval of its map: as far as landforms are looked for, so that little
	// more is read for it.
	intervalMargin = 2 * 500
)

// intervalFlag is a contour interval in the unit it was given in; a bare
// number is metres. Not set, it is chosen.
type intervalFlag struct {
	value float64
	unit  contour.Unit
	set   bool
}

func (f *intervalFlag) String() string { return "" }
func (f *intervalFlag) Type() string   { return "interval" }

func (f *intervalFlag) Set(text string) error {
	unit := contour.Metre
	number := strings.ToLower(strings.TrimSpace(text))
	if number == "auto" {
		*f = intervalFlag{}
		return nil
	}
	if rest, ok := strings.CutSuffix(number, "ft"); ok {
		unit, number = contour.Foot, rest
	}
	v, err := parseLength(number)
	if err != nil {
		return fmt.Errorf("%q is not a contour interval; write one as 20m or 40ft, or auto", text)
	}
	if err := from(contour.LeastInterval, contour.MostInterval).check(v*unit.Metres(), text, "a contour interval", plainLength); err != nil {
		return err
	}
	f.value, f.unit, f.set = v, unit, true
	return nil
}

// question is what the flag asks of the choice of an interval, for ground
// whose steepness is yet to be filled in.
func (f *intervalFlag) question(scale, verticalError float64, u units) contour.Question {
	q := contour.Question{Scale: scale, VerticalError: verticalError}
	if u.us {
		q.Unit = contour.Foot
	}
	if f.set {
		q.Interval, q.Unit = f.value, f.unit
	}
	return q
}

// chooseInterval picks the contour interval for the ground along legs, or
// says what the one asked for is worth there. Whatever counts, draws or writes
// the contours of a leg asks here, so that at one scale they are the same
// lines. places lie on the legs, close enough that the box round them holds
// all.
func (g *ground) chooseInterval(ctx context.Context, q contour.Question, places []geodesy.LatLon) (contour.Choice, error) {
	w, err := dem.WindowAround(g.source.Layout(), places, intervalMargin)
	if err != nil {
		return contour.Choice{}, err
	}
	if q.Steepness, err = contour.SampleSteepness(ctx, g.source, w); err != nil {
		return contour.Choice{}, err
	}
	if q.Steepness.Cells > 0 {
		return contour.Choose(q)
	}
	// no cell with an elevation at every corner: there is no contour either
	choice := contour.Choice{Interval: q.Interval, Unit: q.Unit, Supported: contour.SupportedInterval(q.VerticalError),
		Reason: "too little of the ground is known to choose by"}
	if q.Interval == 0 {
		choice.Interval = map[contour.Unit]float64{contour.Metre: 20, contour.Foot: 40}[q.Unit]
	}
	return choice, nil
}

// alongLegs are places on the legs from each place to the next.
func alongLegs(turns ...geodesy.LatLon) []geodesy.LatLon {
	var out []geodesy.LatLon
	for i := 1; i < len(turns); i++ {
		out = append(out, geodesy.Waypoints(turns[i-1], turns[i], 16)...)
	}
	return out
}
