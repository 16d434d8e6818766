package report

import (
	"errors"
	"fmt"
	"math"

	"crowline/cmd/internal/answer"
	"crowline/dem/units"
	"crowline/profile/magnetic"
)

// onDial is the one number to set on the compass that was chosen: "163 on your
// compass". False where none was chosen, or where magnetic north is not known,
// and numbers for both are to be told.
func onDial(trueDeg, magneticDeg float64, d *answer.MagneticDeclination) (string, bool) {
	if d == nil || d.Compass == answer.AnyCompass || math.IsNaN(magneticDeg) {
		return "", false
	}
	return units.Dial(d.Compass.Number(trueDeg, magneticDeg)), true
}

// declined says what a declination is and what it is from: "declination 11.3 E
// ± 0.3 on 2026-11-30".
func declined(d *answer.MagneticDeclination) string {
	text := fmt.Sprintf("declination %s ± %.1f", units.EastWest(d.Deg), d.SigmaDeg)
	if d.Given() {
		return text + ", as given by you"
	}
	return text + " on " + d.Date
}

// declinedBy is declined with the model's name.
func declinedBy(d *answer.MagneticDeclination) string {
	if d.Given() {
		return declined(d)
	}
	return declined(d) + " (" + d.Model + ")"
}

// magneticWords are a magnetic bearing and what it rests on.
func magneticWords(degrees float64, d *answer.MagneticDeclination) string {
	if d.Given() {
		return fmt.Sprintf("magnetic %s° (%s)", units.Bearing(degrees), declined(d))
	}
	return fmt.Sprintf("magnetic %s° on %s (declination %s ± %.1f)", units.Bearing(degrees), d.Date, units.EastWest(d.Deg), d.SigmaDeg)
}

// compassSet says how the chosen compass is set; "" where none was chosen.
func compassSet(d *answer.MagneticDeclination) string {
	switch d.Compass {
	case answer.PlainCompass:
		return "for your compass with no declination set on it"
	case answer.AdjustedCompass:
		return fmt.Sprintf("for your compass with a declination of %s set on it", units.EastWest(d.Deg))
	}
	return ""
}

// noMagnetic is why magnetic north is not known, and what to do about it.
func noMagnetic(err error) string {
	var date *magnetic.DateError
	if errors.As(err, &date) {
		return err.Error() + " (--declination)"
	}
	return err.Error()
}
