package answer

import (
	"fmt"
	"time"

	"crowline/dem/geodesy"
	"crowline/dem/units"
	"crowline/profile/magnetic"
)

// Bearings are the bearings of a straight line.
type Bearings struct {
	// Bearing at the start from true north.
	TrueDeg float64 `json:"true_deg" round:"3"`
	// Bearing at the start from grid north; null where there is no UTM grid.
	GridDeg float64 `json:"grid_deg" round:"3"`
	// Bearing at the start from magnetic north; null where the magnetic model
	// has no answer.
	MagneticDeg float64 `json:"magnetic_deg" round:"2"`
	// Bearing back at the destination, from true north.
	BackTrueDeg float64 `json:"back_true_deg" round:"3"`
	// Bearing back at the destination, from magnetic north there.
	BackMagneticDeg float64 `json:"back_magnetic_deg" round:"2"`
	// The grid, for example "UTM zone 11N".
	Grid string `json:"grid,omitempty"`
	// Grid north east of true north, at the start.
	ConvergenceDeg float64 `json:"convergence_deg" round:"3"`
	// What to set on the compass, where it was said which compass it is (see
	// declination.compass); left out without, and where the magnetic model has
	// no answer.
	SetDeg *float64 `json:"set_deg,omitempty" round:"2"`

	magnetic magnetic.Bearings
	compass  Compass
}

// Full are the bearings as the library gives them, with why one is missing.
func (b Bearings) Full() magnetic.Bearings { return b.magnetic }

func bearings(b magnetic.Bearings, c Compass) Bearings {
	out := Bearings{
		TrueDeg: float64(b.True), BackTrueDeg: float64(b.BackTrue),
		GridDeg: nan, MagneticDeg: nan, BackMagneticDeg: nan, ConvergenceDeg: nan, magnetic: b, compass: c,
	}
	if b.GridError == nil {
		out.GridDeg, out.ConvergenceDeg, out.Grid = float64(b.Grid), float64(b.Convergence), b.GridName
	}
	if b.FieldError == nil {
		out.MagneticDeg = float64(b.Magnetic)
		if c != AnyCompass {
			set := c.Number(out.TrueDeg, out.MagneticDeg)
			out.SetDeg = &set
		}
	}
	if b.BackError == nil {
		out.BackMagneticDeg = float64(b.BackMagnetic)
	}
	return out
}

// dial writes a bearing as it is set on the compass; a true one where magnetic
// north is not known.
func (b Bearings) dial(t geodesy.TrueBearing) string {
	if b.magnetic.FieldError != nil {
		return "true bearing " + units.Dial(float64(t))
	}
	return b.compass.dial(t, b.magnetic.Field)
}

// dial writes a bearing as it is set on this compass.
func (c Compass) dial(t geodesy.TrueBearing, f magnetic.Field) string {
	return "compass bearing " + units.Dial(c.Number(float64(t), float64(f.Declination.Magnetic(t))))
}

// MagneticDeclination is how far magnetic north is from true north.
type MagneticDeclination struct {
	// Magnetic north east of true north.
	Deg float64 `json:"deg" round:"3"`
	// One standard deviation of it.
	SigmaDeg float64 `json:"sigma_deg" round:"2"`
	// How far it moves east in a year; null where the declination was given.
	AnnualChangeDeg float64 `json:"annual_change_deg" round:"3"`
	// The model it is from; "given" where it was given by hand.
	Model string `json:"model"`
	// The day it is used for, as YYYY-MM-DD.
	Date string `json:"date"`
	// "normal", or "caution" where the horizontal field is weak (2000 to 6000
	// nT), or "blackout" where it is weaker.
	Zone magnetic.Zone `json:"zone"`
	// How the compass in hand is set, where that was said: "plain", with no
	// declination set on it, or "adjusted".
	Compass Compass `json:"compass,omitempty"`
}

// givenModel is the model of a declination given by hand.
const givenModel = "given"

// Given reports whether it was given by hand.
func (d *MagneticDeclination) Given() bool { return d.Model == givenModel }

// Heading is a direction that somebody gives.
type Heading struct {
	// Deg is clockwise from north, degrees: from true north, or from magnetic.
	Deg      float64
	Magnetic bool
}

// Check refuses what is no bearing.
func (h Heading) Check() error {
	if !(h.Deg >= 0 && h.Deg <= 360) {
		return wrongf("a bearing of %g degrees: give one from 0 to 360", h.Deg)
	}
	return nil
}

// bearing is the direction from true north; field is the magnetic field there.
func (h Heading) bearing(field magnetic.Field, fieldError error) (geodesy.TrueBearing, error) {
	if !h.Magnetic {
		return geodesy.NewTrueBearing(geodesy.Degrees(h.Deg)), nil
	}
	if fieldError != nil {
		return 0, fmt.Errorf("the bearing is magnetic: %w", fieldError)
	}
	return field.Declination.True(geodesy.NewMagneticBearing(geodesy.Degrees(h.Deg))), nil
}

// WeakField is the model's caution where the horizontal field is weak
// (magnetic.Caution).
const WeakField = "the horizontal field here is weak (2000 to 6000 nT): a compass swings slowly and may be off by more than stated"

// declination is nil where the model has no answer.
func declination(f magnetic.Field, err error, n Needle) *MagneticDeclination {
	if err != nil {
		return nil
	}
	d := &MagneticDeclination{
		Deg: float64(f.Declination), SigmaDeg: float64(f.DeclinationSigma), AnnualChangeDeg: float64(f.AnnualChange),
		Model: magnetic.WMM2025.Name(), Date: n.Day.Format(time.DateOnly), Zone: f.Zone, Compass: n.Compass,
	}
	if f.Given {
		d.Model = givenModel
	}
	return d
}

// DeclinationRequest asks how far magnetic and grid north are from true north.
type DeclinationRequest struct {
	Place Place
	// Elevation of the place, metres: 1 km of it moves the answer by about 0.01
	// degrees.
	Elevation float64
	Needle
}

// DeclinationAnswer is the answer to a DeclinationRequest.
type DeclinationAnswer struct {
	// The place asked about.
	Place Spot `json:"place"`
	// Magnetic north against true north there.
	Declination MagneticDeclination `json:"declination"`
	// How far the field dips below the horizontal.
	InclinationDeg float64 `json:"inclination_deg" round:"2"`
	// Strength of the horizontal field, which turns a compass.
	HorizontalNT float64 `json:"horizontal_nt" round:"1"`
	// The grid, for example "UTM zone 11N".
	Grid string `json:"grid,omitempty"`
	// Grid north east of true north; null where there is no UTM grid.
	ConvergenceDeg float64 `json:"convergence_deg" round:"3"`
	// Magnetic north east of grid north.
	GridMagneticDeg float64 `json:"grid_magnetic_deg" round:"3"`

	// NoGrid is why there is no grid, nil where there is one.
	NoGrid error `json:"-"`
}

var _ = register[DeclinationAnswer]("declination")

// Declination answers a DeclinationRequest. It needs no ground.
func Declination(r DeclinationRequest) (*DeclinationAnswer, error) {
	field, err := r.at(r.Place.LatLon, r.Elevation)
	if err != nil {
		return nil, err
	}
	b := magnetic.Follow(geodesy.Geodesic{}, r.Place.LatLon, r.Place.LatLon, r.Elevation, r.source())
	a := &DeclinationAnswer{
		Place: spot(r.Place, nan), Declination: *declination(field, nil, r.Needle),
		InclinationDeg: float64(field.Inclination), HorizontalNT: field.Horizontal,
		ConvergenceDeg: nan, GridMagneticDeg: nan, NoGrid: b.GridError,
	}
	if b.GridError == nil {
		a.Grid, a.ConvergenceDeg = b.GridName, float64(b.Convergence)
		a.GridMagneticDeg = float64(field.Declination.GridMagnetic(b.Convergence))
	}
	return a, nil
}
