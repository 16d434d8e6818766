package scene

import (
	"fmt"
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/units"
)

// SkylinePoint is the point of the skyline on a bearing, told from the nearest
// things to its left and right.
type SkylinePoint struct {
	Bearing geodesy.TrueBearing
	// Known: ground is known as far as the data goes. If not, what follows is
	// of the ground that is known: what is not may stand higher.
	Known bool
	// PastGap: it stands behind ground that is not known. Whether it is in sight is
	// not known; what is in sight before the gap stands lower.
	PastGap bool
	// Distance and Elevation in metres, Angle in degrees above the level of the
	// eye.
	Distance, Elevation float64
	Angle               geodesy.Degrees
	Place               geodesy.LatLon
	// Left and Right are the nearest things to either side, by their index in
	// View.Things, and -1 where there is none within 90 degrees. A thing on the
	// bearing itself, within a twentieth of a degree, is both.
	Left, Right int
	// FromLeft is the angle from the left thing to the bearing, ToRight from the
	// bearing to the right thing, degrees, neither below 0.
	FromLeft, ToRight geodesy.Degrees
}

// onBearing is how near a thing is on a bearing, degrees.
const onBearing = 0.05

// Skyline is the point of the skyline on a bearing. ok is false only where no
// ground at all is known on it.
func (v *View) Skyline(bearing geodesy.TrueBearing) (p SkylinePoint, ok bool) {
	r := v.walk(geodesy.Degrees(bearing))
	if len(r.crests) == 0 {
		return SkylinePoint{}, false
	}
	c := r.crests[len(r.crests)-1]
	p = SkylinePoint{
		Bearing: bearing, Known: math.IsInf(r.known, 1), Distance: c.distance, Elevation: c.elevation, Angle: angle(c.slope),
		Place: v.placement.Plane.Inverse(c.distance*r.sin, c.distance*r.cos), Left: -1, Right: -1, FromLeft: 90, ToRight: 90,
	}
	if !p.Known {
		v.pastGap(&p, r, c.slope)
	}
	for i, t := range v.Things {
		d := geodesy.Difference(t.Bearing, bearing)
		if off := geodesy.Degrees(math.Abs(float64(d))); d >= -onBearing && off < p.FromLeft {
			p.Left, p.FromLeft = i, off
		}
		if off := geodesy.Degrees(math.Abs(float64(d))); d <= onBearing && off < p.ToRight {
			p.Right, p.ToRight = i, off
		}
	}
	return p, true
}

// pastGap takes the highest ground behind a gap for the skyline, where that is known
// to rise over what stands before it.
func (v *View) pastGap(p *SkylinePoint, r ray, slope float64) {
	perSquare := v.perSquare(r.sin, r.cos)
	v.placement.Walk(v.reach*r.sin, v.reach*r.cos, func(x dem.Crossing) bool {
		h, d := x.Elevation(v.grid), x.Distance
		if u := (h - v.EyeElevation - perSquare*d*d) / d; d > r.known && u > slope { // never true of a void
			slope = u
			p.PastGap, p.Distance, p.Elevation, p.Angle = true, d, h, angle(u)
		}
		return true
	})
	p.Place = v.placement.Plane.Inverse(p.Distance*r.sin, p.Distance*r.cos)
}

// DescribeSkyline says where a point of the skyline is: "the skyline 6.1°
// (3 fingers) right of the highest top on the skyline, and 12.4° (a fist) left
// of the notch, ...; 3.4 km".
func (v *View) DescribeSkyline(p SkylinePoint, u units.System) string {
	// a thing told from the other needs no more than its noun
	short := func(i, other int) string {
		t := v.Things[i]
		t.Told.brief = true
		if t.Told.How != Beside {
			return v.Reference(t)
		}
		if t.Told.Anchor == other {
			return t.called("")
		}
		return t.called("") + " (" + v.beside(t) + ")"
	}
	from := func(off geodesy.Degrees, side string, i, other int) string {
		hand := Hand(off)
		if hand != "" {
			hand = " (" + hand + ")"
		}
		return fmt.Sprintf("%.1f°%s %s of %s", float64(off), hand, side, short(i, other))
	}
	tail := "; " + u.Distance(p.Distance) + ", " + units.UpDown(float64(p.Angle))
	switch {
	case p.PastGap:
		tail += "; that is of the ground that is known: the data has a gap before it"
	case !p.Known:
		tail += "; higher ground may stand behind it: the data has a gap there"
	}
	switch {
	case p.Left >= 0 && p.FromLeft <= onBearing:
		return "the skyline at " + short(p.Left, p.Left) + tail
	case p.Left >= 0 && p.Right >= 0:
		return "the skyline " + from(p.FromLeft, "right", p.Left, p.Right) + ", and " + from(p.ToRight, "left", p.Right, p.Left) + tail
	case p.Left >= 0:
		return "the skyline " + from(p.FromLeft, "right", p.Left, p.Right) + tail
	case p.Right >= 0:
		return "the skyline " + from(p.ToRight, "left", p.Right, p.Left) + tail
	}
	return "the skyline" + v.on(p.Bearing) + ", where nothing stands out to tell it from" + tail
}
