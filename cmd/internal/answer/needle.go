package answer

import (
	"fmt"
	"math"
	"time"

	"crowline/dem/geodesy"
	"crowline/profile/drift"
	"crowline/profile/magnetic"
)

// Needle is what magnetic bearings go by: the day, or a declination given by
// hand, and how the compass in hand is set.
type Needle struct {
	Day time.Time
	// Declination given by hand, degrees, east positive; nil has the model's on
	// the day.
	Declination *float64
	Compass     Compass
}

// Check refuses a declination that is none.
func (n Needle) Check() error {
	if d := n.Declination; d != nil && !(math.Abs(*d) <= 180) {
		return wrongf("a declination of %g degrees: give one from 180 west to 180 east", *d)
	}
	return nil
}

// source is where declination comes from.
func (n Needle) source() magnetic.Source {
	s := magnetic.Source{Day: n.Day}
	if n.Declination != nil {
		d := magnetic.Declination(*n.Declination)
		s.Given, s.GivenSigma = &d, drift.DeclinationByHand
	}
	return s
}

// at is the magnetic field at a place.
func (n Needle) at(p geodesy.LatLon, elevation float64) (magnetic.Field, error) {
	return n.source().At(p, elevation)
}

// Compass is how the compass in hand is set.
type Compass int

const (
	// AnyCompass: nobody said; numbers for either are given.
	AnyCompass Compass = iota
	// PlainCompass has no declination set on it: one walks magnetic numbers.
	PlainCompass
	// AdjustedCompass has it set: one walks true numbers.
	AdjustedCompass
)

// compassNames are their words.
var compassNames = map[Compass]string{AnyCompass: "any", PlainCompass: "plain", AdjustedCompass: "adjusted"}

func (c Compass) String() string { return compassNames[c] }

// ParseCompass reads "plain" or "adjusted".
func ParseCompass(text string) (Compass, error) {
	for _, c := range []Compass{PlainCompass, AdjustedCompass} {
		if text == c.String() {
			return c, nil
		}
	}
	return 0, fmt.Errorf("%q is not plain (no declination set on it) or adjusted (declination set)", text)
}

// Number is what is set on this compass to follow a bearing, given from true
// and from magnetic north: the magnetic one unless the compass is adjusted.
func (c Compass) Number(trueDeg, magneticDeg float64) float64 {
	if c == AdjustedCompass {
		return trueDeg
	}
	return magneticDeg
}
