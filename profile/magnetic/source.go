package magnetic

import (
	"math"
	"time"

	"crowline/dem/geodesy"
)

// Source is where declination comes from: the World Magnetic Model 2025 on a
// day, or a figure given by hand.
type Source struct {
	Day time.Time
	// Given, when set, is the declination everywhere and on every day, with
	// GivenSigma, degrees, as one standard deviation of its error.
	Given      *Declination
	GivenSigma geodesy.Degrees
}

// At is the field at a place, elevation in metres, with the declination of the
// source. Of one given by hand the yearly change is not known, NaN; the rest of
// the field, which says only how far a compass can be trusted, is the model's on
// the nearest day of its years. Errors are Model.At's; with a declination given
// no day is one.
func (s Source) At(p geodesy.LatLon, elevation float64) (Field, error) {
	if s.Given == nil {
		return WMM2025.At(p, elevation, s.Day)
	}
	year := min(max(DecimalYear(s.Day), WMM2025.epoch), WMM2025.epoch+validYears)
	f, err := WMM2025.atYear(p, elevation, year)
	if err != nil {
		return f, err
	}
	f.Declination, f.DeclinationSigma, f.AnnualChange, f.Given = *s.Given, s.GivenSigma, geodesy.Degrees(math.NaN()), true
	return f, nil
}

// usable is the field where a compass can be followed.
func (s Source) usable(p geodesy.LatLon, elevation float64) (Field, error) {
	f, err := s.At(p, elevation)
	if err == nil && f.Zone == Blackout {
		err = ErrBlackout
	}
	return f, err
}
