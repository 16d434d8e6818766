package fix

import (
	"fmt"
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// observations about a place: whitened residuals are made of these.
type observations struct {
	residual []float64    // observed less computed, in each one's own unit
	slope    [][2]float64 // of the computed value, per metre east and north
	variance []float64    // without the shared part
}

// observed is the true bearing of reading i with the compass where it stood
// if the unknown place is at x.
func (p *problem) observed(i int, x geodesy.LatLon) (geodesy.TrueBearing, error) {
	b := p.bearings[i]
	out := b.True
	if b.Magnetic != nil {
		at := b.Place
		if p.resect {
			at = x
		}
		declination, err := p.options.Declination(at)
		if err != nil {
			return 0, fmt.Errorf("fix: bearing of %s: %w", b.label(i), err)
		}
		out = declination.True(*b.Magnetic)
	}
	if p.turned[i] {
		out = out.Back()
	}
	return out, nil
}

// computed is the bearing that reading i should have if the unknown place is
// at x, the distance, and how the bearing changes as x moves, degrees per
// metre east and north.
//
// The slopes are those of the sphere of the mean radius at x: moving x
// across the line by a metre turns its far end by 1/(R sin(s/R)) and its
// near end by cos(s/R) of that, less the turn of north itself, tan(lat)/R
// for a metre east. The ellipsoid's differ by a part in a hundred thousand
// at 100 km (TestSlopesAgainstDifferences), which costs a step of the search
// and nothing of the answer.
func (p *problem) computed(i int, x geodesy.LatLon) (bearing geodesy.TrueBearing, distance float64, slope [2]float64) {
	m, n := geodesy.RadiiOfCurvature(x.Lat)
	radius := math.Sqrt(m * n)
	perMetre := func(length float64) float64 { return 180 / math.Pi / length }
	if p.resect {
		g := geodesy.Inverse(x, p.bearings[i].Place)
		sin, cos := geodesy.Degrees(g.Start).SinCos()
		turn := perMetre(radius * math.Sin(g.Distance/radius))
		turn *= math.Cos(g.Distance / radius)
		north := perMetre(n) * x.Lat.Tan()
		return g.Start, g.Distance, [2]float64{north - turn*cos, turn * sin}
	}
	g := geodesy.Inverse(p.bearings[i].Place, x)
	sin, cos := geodesy.Degrees(g.End).SinCos()
	turn := perMetre(radius * math.Sin(g.Distance/radius))
	return g.Start, g.Distance, [2]float64{turn * cos, -turn * sin}
}

func (p *problem) readingError(i int) float64 {
	for _, e := range []geodesy.Degrees{p.bearings[i].Error, p.options.BearingError} {
		if e > 0 {
			return float64(e)
		}
	}
	return float64(DefaultBearingError)
}

// observe linearises everything about x.
func (p *problem) observe(x geodesy.LatLon) (observations, error) {
	var o observations
	add := func(residual float64, slope [2]float64, variance float64) {
		o.residual = append(o.residual, residual)
		o.slope = append(o.slope, slope)
		o.variance = append(o.variance, variance)
	}
	for i, b := range p.bearings {
		observed, err := p.observed(i, x)
		if err != nil {
			return o, err
		}
		computed, distance, slope := p.computed(i, x)
		if distance < 1e-3 {
			return o, fmt.Errorf("%w: the place comes out on %s itself", ErrNoFix, b.label(i))
		}
		sigma := p.readingError(i)
		mark := float64(geodesy.Atan2(b.PlaceError, distance))
		add(float64(geodesy.Difference(computed, observed)), slope, sigma*sigma+mark*mark)
	}
	if p.options.Altimeter == nil && p.options.Line == nil {
		return o, nil
	}
	plane := geodesy.NewPlane(x)
	if a := p.options.Altimeter; a != nil {
		h, err := dem.ElevationAt(p.options.Posts, x)
		if err != nil {
			return o, fmt.Errorf("fix: altimeter: %w", err)
		}
		slope, err := p.groundSlope(x, plane)
		if err != nil {
			return o, err
		}
		add(a.Elevation-h, slope, a.Error*a.Error+p.options.VerticalError*p.options.VerticalError)
	}
	if l := p.options.Line; l != nil {
		distance, toward := l.nearest(plane)
		// moving toward the line takes off as much of the distance to it
		add(distance, toward, l.Error*l.Error)
	}
	return o, nil
}

// nearest is how far a line passes from the plane's centre, and the unit
// step toward it. Pieces of the line that are plainly farther than others, by
// latitude and longitude, are not placed on the plane.
func (l *Line) nearest(plane geodesy.Plane) (distance float64, toward [2]float64) {
	distance = math.Inf(1)
	piece := func(ae, an, be, bn float64) {
		t := foot(ae, an, be, bn)
		e, n := ae+t*(be-ae), an+t*(bn-an)
		if d := math.Hypot(e, n); d < distance {
			distance = d
			length := math.Hypot(be-ae, bn-an)
			switch {
			case d > settled:
				toward = [2]float64{e / d, n / d}
			case length > 0: // on the line: across it, either way
				toward = [2]float64{(bn - an) / length, -(be - ae) / length}
			}
		}
	}
	meridian, prime := geodesy.RadiiOfCurvature(plane.Centre.Lat)
	_, cos := plane.Centre.Lat.SinCos()
	rough := func(q geodesy.LatLon) (e, n float64) {
		return math.Remainder(float64(q.Lon-plane.Centre.Lon), 360) * math.Pi / 180 * prime * cos, float64(q.Lat-plane.Centre.Lat) * math.Pi / 180 * meridian
	}
	// least a piece may be off, and most the nearest: roughShare of the distance
	// and how far a geodesic bends from a straight line of the chart
	offs := make([]float64, len(l.Points)) // of the piece that ends at a point
	most := math.Inf(1)
	ae, an := rough(l.Points[0])
	gaps := l.Gaps
	for k, q := range l.Points {
		be, bn := rough(q)
		if len(gaps) > 0 && gaps[0] == k {
			gaps = gaps[1:]
			ae, an = be, bn
		}
		t := foot(ae, an, be, bn)
		d := math.Hypot(ae+t*(be-ae), an+t*(bn-an))
		length := math.Hypot(be-ae, bn-an)
		margin := roughShare*(d+min(length, length*length/meridian)) + 1
		offs[k], most = d-margin, min(most, d+margin)
		ae, an = be, bn
	}
	gaps = l.Gaps
	for k, q := range l.Points {
		from := q // which may be all there is of its piece
		if k > 0 {
			from = l.Points[k-1]
		}
		if len(gaps) > 0 && gaps[0] == k {
			gaps = gaps[1:]
			from = q
		}
		if most < roughReach && offs[k] > most {
			continue
		}
		ae, an := plane.Forward(from)
		be, bn := plane.Forward(q)
		piece(ae, an, be, bn)
	}
	return distance, toward
}

const (
	// roughShare of a distance is more than latitude and longitude as a chart get
	// wrong within roughReach, metres, up to 80 degrees north or south.
	roughShare = 0.2
	roughReach = 100e3
)

// foot is the share of the way from one point to another, metres, at which the
// origin is nearest.
func foot(ae, an, be, bn float64) float64 {
	de, dn := be-ae, bn-an
	length := de*de + dn*dn
	if length == 0 {
		return 0
	}
	return min(1, max(0, -(ae*de+an*dn)/length))
}

// groundSlope is the rise of the ground per metre east and north, over a
// post spacing either way so that one bump does not lead the search astray.
func (p *problem) groundSlope(x geodesy.LatLon, plane geodesy.Plane) ([2]float64, error) {
	f := p.options.Posts.Layout()
	column, row, err := f.Locate(x)
	if err != nil {
		return [2]float64{}, fmt.Errorf("fix: altimeter: %w", err)
	}
	alongRow, alongColumn, err := f.Spacing(column, row)
	if err != nil {
		return [2]float64{}, fmt.Errorf("fix: altimeter: %w", err)
	}
	step := max(alongRow, alongColumn)
	rise := func(e, n float64) (float64, error) {
		hi, err := dem.ElevationAt(p.options.Posts, plane.Inverse(e, n))
		if err != nil {
			return 0, fmt.Errorf("fix: altimeter: %w", err)
		}
		lo, err := dem.ElevationAt(p.options.Posts, plane.Inverse(-e, -n))
		if err != nil {
			return 0, fmt.Errorf("fix: altimeter: %w", err)
		}
		return (hi - lo) / (2 * step), nil
	}
	var out [2]float64
	if out[0], err = rise(step, 0); err != nil {
		return out, err
	}
	out[1], err = rise(0, step)
	return out, err
}
