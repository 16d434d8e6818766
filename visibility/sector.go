package visibility

import (
	"fmt"
	"math"

	"crowline/dem/geodesy"
)

// Sector is the bearings from From clockwise to To, both included. From and To
// the same is that one bearing; all round is no sector.
type Sector struct {
	From, To geodesy.TrueBearing
}

func (s Sector) validate() error {
	for _, b := range [2]geodesy.TrueBearing{s.From, s.To} {
		if !(b >= 0 && b < 360) {
			return fmt.Errorf("bearing %v of the sector is not in [0, 360)", float64(b))
		}
	}
	return nil
}

// Contains reports whether a bearing is in the sector.
func (s Sector) Contains(b geodesy.TrueBearing) bool {
	return math.Mod(float64(b)-float64(s.From)+720, 360) <= s.width()
}

// contains reports whether a place on the observer's plane lies in the
// sector.
func (s Sector) contains(east, north float64) bool {
	right := func(b geodesy.TrueBearing) float64 { // > 0 where the place is right of the bearing
		sin, cos := geodesy.Degrees(b).SinCos()
		return east*cos - north*sin
	}
	width := s.width()
	if width > 180 {
		return !(right(s.To) > 0 && right(s.From) < 0)
	}
	if width == 0 {
		sin, cos := geodesy.Degrees(s.From).SinCos()
		return right(s.From) == 0 && east*sin+north*cos > 0
	}
	return right(s.From) >= 0 && right(s.To) <= 0
}

func (s Sector) width() float64 {
	w := math.Mod(float64(s.To)-float64(s.From), 360)
	if w < 0 {
		w += 360
	}
	return w
}

// meets reports whether any line of a job may lie in the sector.
func (s Sector) meets(c *cells, j job) bool {
	for _, t := range [2]float64{j.lo, j.hi} {
		if s.contains(c.metres(j.point(1, t))) {
			return true
		}
	}
	for _, b := range [2]geodesy.TrueBearing{s.From, s.To} {
		sin, cos := geodesy.Degrees(b).SinCos()
		major, minor := j.split(c.fromMetres(sin, cos))
		if major > 0 && minor >= j.lo*major-1e-9 && minor <= j.hi*major+1e-9 {
			return true
		}
	}
	return false
}
