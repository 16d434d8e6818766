package magnetic

import (
	"errors"
	"fmt"

	"crowline/dem/geodesy"
)

// Bearings are all the ways to say which way a leg goes.
type Bearings struct {
	// True leaves the start; BackTrue leaves the destination towards the
	// start. They differ from a half turn by the convergence of the meridians
	// between the two places.
	True, BackTrue geodesy.TrueBearing
	// Grid is True on the UTM grid of the start, GridName that grid, and
	// Convergence its grid north from true north there. GridError says why
	// there is none.
	Grid        geodesy.GridBearing
	GridName    string
	Convergence geodesy.Convergence
	GridError   error
	// Magnetic is True on the day, at the start; Field is the field
	// there. FieldError says why there is none.
	Magnetic   geodesy.MagneticBearing
	Field      Field
	FieldError error
	// BackMagnetic is BackTrue on the day, at the destination. BackError says
	// why there is none.
	BackMagnetic geodesy.MagneticBearing
	BackError    error
}

// ErrBlackout: so near a magnetic pole a compass cannot be followed.
var ErrBlackout = errors.New("a compass is unreliable here (the World Magnetic Model's blackout zone, horizontal field under 2000 nT)")

// Follow says which way a geodesic goes, with magnetic north from a source.
// elevation is the ground's at the start, metres; the field changes by
// a hundredth of a degree over kilometres of it.
func Follow(g geodesy.Geodesic, from, to geodesy.LatLon, elevation float64, north Source) Bearings {
	b := Bearings{True: g.Start, BackTrue: g.End.Back()}
	if utm, err := geodesy.ToUTM(from); err != nil {
		b.GridError = err
	} else if b.Convergence, b.GridError = geodesy.ConvergenceAt(from); b.GridError == nil {
		b.Grid = b.Convergence.Grid(b.True)
		hemisphere := "S"
		if utm.North {
			hemisphere = "N"
		}
		b.GridName = fmt.Sprintf("UTM zone %d%s", utm.Zone, hemisphere)
	}
	if b.Field, b.FieldError = north.usable(from, elevation); b.FieldError == nil {
		b.Magnetic = b.Field.Declination.Magnetic(b.True)
	}
	var back Field
	if back, b.BackError = north.usable(to, elevation); b.BackError == nil {
		b.BackMagnetic = back.Declination.Magnetic(b.BackTrue)
	}
	return b
}
