package fix

import (
	"context"
	"errors"
	"fmt"
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/profile/magnetic"
	"crowline/visibility"
)

// DefaultBearingError is one standard deviation of a bearing taken with a
// hand-held baseplate compass, graduated in 2 degrees (common practice).
const DefaultBearingError geodesy.Degrees = 2

// Bearing is one bearing and the known place it belongs to: the mark it was
// taken to (Resect) or the place it was taken at (Intersect).
type Bearing struct {
	// Name of the known place, for reports.
	Name string
	// Place known.
	Place geodesy.LatLon
	// PlaceError is one standard deviation of Place in any direction, metres:
	// how far from it the walker may have pointed. 0 for none.
	PlaceError float64
	// True is the bearing observed.
	True geodesy.TrueBearing
	// Magnetic, when set, is what the compass read, and True is ignored;
	// Options.Declination turns it where the compass stood.
	Magnetic *geodesy.MagneticBearing
	// Error is one standard deviation of the reading; Options.BearingError
	// when zero.
	Error geodesy.Degrees
}

// Altimeter is a barometric or other reading of the elevation at the
// unknown place.
type Altimeter struct {
	// Elevation read, metres above the data's vertical datum.
	Elevation float64
	// Error is one standard deviation of the reading, metres; needed.
	Error float64
}

// Line is a known line on the ground that the unknown place lies on: a
// stream, a ridge, a path.
type Line struct {
	Name string
	// Points of the line, two or more. Between them it is straight.
	Points []geodesy.LatLon
	// Gaps are the indices in Points, ascending, at which the line begins anew:
	// nothing is known to run from Points[i-1] to Points[i], where a recording
	// paused.
	Gaps []int
	// Error is one standard deviation of how far from the drawn line the
	// place may be, metres; needed.
	Error float64
}

// Sight asks for a check that each mark can be seen, on the lines between
// looking points (visibility.LookingLine).
type Sight struct {
	// EyeAboveGround of the observer, metres.
	EyeAboveGround float64
	// Conditions of the sight lines.
	Conditions visibility.Conditions
}

// Options of Resect and Intersect. The zero value is usable.
type Options struct {
	// BearingError is one standard deviation of a bearing;
	// DefaultBearingError when zero.
	BearingError geodesy.Degrees
	// SharedError is one standard deviation of an error that all bearings
	// have in common, such as the declination's; 0 for none.
	SharedError geodesy.Degrees
	// Declination at a place on the day; needed when a Bearing has Magnetic
	// set. Its own error belongs in SharedError.
	Declination func(at geodesy.LatLon) (magnetic.Declination, error)
	// Posts are the ground; needed with Altimeter and Sight.
	Posts dem.Posts
	// VerticalError is one standard deviation of the ground's elevations,
	// metres; it adds to the altimeter's.
	VerticalError float64
	Altimeter     *Altimeter
	Line          *Line
	Sight         *Sight
}

// Errors, to be tested with errors.Is.
var (
	// ErrEvidence: too little is given to find a place.
	ErrEvidence = errors.New("fix: not enough evidence")
	// ErrNoFix: what is given meets nowhere.
	ErrNoFix = errors.New("fix: no place fits")
)

// Fix is what was found. It is plain data. Where Others is empty Candidate is
// the place; where it is not, what was observed does not say which of them all
// it is, and no ellipse or region about one of them holds the true place as often
// as it says.
type Fix struct {
	Candidate
	// Redundancy is how many more observations there are than are needed.
	Redundancy int
	// Chance of a ChiSquare as large or larger by accident; 1 without
	// redundancy.
	Chance float64
	// Others are the other places that fit about as well, with a likelihood of
	// a twentieth or more of the best's: not joined to one before by places as
	// likely (Region), or outside its 95 % ellipse. Those for which bearings are
	// taken as they were read come before those with one turned half round, which
	// are given beside them where both kinds fit. Of places that fit equally
	// those come first from which more marks can be seen, then the nearer to the
	// marks. Eight are described; Further counts the rest.
	Others  []Candidate
	Further int
	// Warnings, the gravest first.
	Warnings []Warning

	hidden bool // a mark is, by more than the data's error
}

// Ambiguous reports whether several places fit about as well.
func (f *Fix) Ambiguous() bool { return len(f.Others) > 0 }

// Weakest is the direction in which the place is least known: along the
// ellipse, or, where several places fit, along their scatter. A bearing to or
// from square to it helps most.
func (f *Fix) Weakest() geodesy.TrueBearing {
	if !f.Ambiguous() {
		if !f.EllipseHolds() && f.Region != nil {
			return f.Region.Along
		}
		return f.Ellipse(OneSigma).Along
	}
	plane := geodesy.NewPlane(f.Place)
	n := float64(1 + len(f.Others))
	var e, nn, ee, en, nnSquare float64
	for i := range f.Others {
		east, north := plane.Forward(f.Others[i].Place)
		e, nn = e+east/n, nn+north/n
		ee, en, nnSquare = ee+east*east/n, en+east*north/n, nnSquare+north*north/n
	}
	return ellipse(ee-e*e, en-e*nn, nnSquare-nn*nn, OneSigma).Along
}

// Candidate is a place that fits, and what it is worth if it is the one.
type Candidate struct {
	Place geodesy.LatLon
	// Covariance of the place, square metres, from the errors stated (not
	// scaled by how well the bearings agree). With an altimeter or a known
	// line, the second moments about Place of the likelihood of the places
	// round it.
	EastEast, EastNorth, NorthNorth float64
	// Region that holds the place, if it is the one, 19 times in 20: given where
	// EllipseHolds is false, and with an altimeter or a known line. Nil for none.
	Region *Region
	// ChiSquare is the sum of squared residuals over their variances.
	ChiSquare float64
	// Crossing is the best angle at which two of the lines of position cross,
	// degrees in [0, 90].
	Crossing geodesy.Degrees
	// Bearings, in the order given.
	Bearings []Residual
	// Ground is the ground's elevation at Place, metres; NaN without Posts or
	// where it is not known.
	Ground float64
	// GroundFilled: a post that was void and has been filled in (dem.Filled)
	// has a part in Ground.
	GroundFilled bool
	// AltimeterResidual is the reading less Ground, metres; NaN without one.
	AltimeterResidual float64
	// LineDistance is how far Place is from the known line, metres; NaN
	// without one.
	LineDistance float64
}

// Residual is what one bearing came to.
type Residual struct {
	Name string
	// Observed is the true bearing used, Computed what it is at the fix.
	Observed, Computed geodesy.TrueBearing
	// Residual is the turn from Computed to Observed, degrees.
	Residual geodesy.Degrees
	// Error is one standard deviation of the observation, degrees, with the
	// mark's own error in it.
	Error geodesy.Degrees
	// Standardised is the residual over its own standard deviation (Baarda);
	// NaN where nothing checks the bearing.
	Standardised float64
	// Turned: the bearing was taken half round, and this place fits it so. Where
	// no place fits it as it was read, every place found has it so.
	Turned bool
	// Distance between the known place and the fix, metres.
	Distance float64
	// Sight is whether the mark can be seen, OutOfRange when not asked; Extra
	// is how much higher, metres, a hidden mark would have to stand.
	Sight visibility.Verdict
	Extra float64
	// SightFilled: Sight rests on filled ground, and would not be known had
	// its voids stayed.
	SightFilled bool
}

// Resect finds the observer's own place from bearings taken there to known
// marks.
func Resect(ctx context.Context, bearings []Bearing, o Options) (*Fix, error) {
	return solve(ctx, bearings, o, true)
}

// Intersect finds an unknown point from bearings taken at known places.
func Intersect(ctx context.Context, bearings []Bearing, o Options) (*Fix, error) {
	return solve(ctx, bearings, o, false)
}

func (o Options) validate(bearings []Bearing) error {
	bad := func(v float64) bool { return !(v >= 0) || math.IsInf(v, 1) }
	switch {
	case bad(float64(o.BearingError)) || o.BearingError > 45:
		return fmt.Errorf("fix: a compass error of %v degrees is not between 0 and 45", float64(o.BearingError))
	case bad(float64(o.SharedError)) || o.SharedError > 45:
		return fmt.Errorf("fix: a shared error of %v degrees is not between 0 and 45", float64(o.SharedError))
	case bad(o.VerticalError):
		return fmt.Errorf("fix: a vertical error of %v m is not an error", o.VerticalError)
	case len(bearings) == 0:
		return fmt.Errorf("%w: give at least one bearing", ErrEvidence)
	case o.Altimeter != nil && o.Posts == nil:
		return errors.New("fix: an altimeter reading needs elevation data")
	case o.Altimeter != nil && (!(o.Altimeter.Error > 0) || bad(o.Altimeter.Error) || math.IsNaN(o.Altimeter.Elevation) || math.IsInf(o.Altimeter.Elevation, 0)):
		return fmt.Errorf("fix: altimeter %v m with an error of %v m: give both, the error above 0", o.Altimeter.Elevation, o.Altimeter.Error)
	case o.Line != nil && (!(o.Line.Error > 0) || bad(o.Line.Error)):
		return fmt.Errorf("fix: the known line's error of %v m must be above 0", o.Line.Error)
	case o.Line != nil && len(o.Line.Points) < 2:
		return fmt.Errorf("fix: the known line has %d points; it needs two", len(o.Line.Points))
	case o.Line != nil && !o.Line.gapsInOrder():
		return fmt.Errorf("fix: the known line's gaps %v are not ascending indices of its %d points", o.Line.Gaps, len(o.Line.Points))
	case o.Sight != nil && o.Posts == nil:
		return errors.New("fix: checking that marks can be seen needs elevation data")
	}
	if len(bearings) == 1 && o.Altimeter == nil && o.Line == nil {
		return fmt.Errorf("%w: one bearing gives a line, not a place; add a bearing, an altimeter reading or a known line", ErrEvidence)
	}
	for i, b := range bearings {
		if bad(float64(b.Error)) || b.Error > 45 || bad(b.PlaceError) {
			return fmt.Errorf("fix: bearing of %s: error %v degrees, %v m is not an error", b.label(i), float64(b.Error), b.PlaceError)
		}
		if b.Magnetic != nil && o.Declination == nil {
			return fmt.Errorf("fix: bearing of %s is magnetic, and nothing says what the declination is", b.label(i))
		}
		if v := float64(b.True); b.Magnetic == nil && !(v >= 0 && v < 360) {
			return fmt.Errorf("fix: bearing of %s: %v is not in [0, 360)", b.label(i), v)
		}
	}
	return nil
}

func (l *Line) gapsInOrder() bool {
	last := 0
	for _, i := range l.Gaps {
		if i <= last || i >= len(l.Points) {
			return false
		}
		last = i
	}
	return true
}

func (b Bearing) label(i int) string {
	if b.Name != "" {
		return b.Name
	}
	return fmt.Sprintf("place %d", i+1)
}
