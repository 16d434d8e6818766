package visibility

import (
	"fmt"
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// Defaults of this package. They are not applied to zero values: an eye at
// exactly 0 m and refraction of exactly 0 are things a caller may mean.
const (
	// DefaultEyeAboveGround is the eye of a standing adult, metres.
	DefaultEyeAboveGround = 1.6
	// DefaultRefraction is k = R/r by common practice (Gauss).
	DefaultRefraction = 0.13
)

// Observer is where the eye is.
type Observer struct {
	// Place is the observer's position; it need not be on a post.
	Place geodesy.LatLon
	// EyeAboveGround is the eye above the ground at Place, metres, not
	// negative. Zero means on the ground.
	EyeAboveGround float64
	// EyeElevation, when set, is the eye's elevation above the data's
	// vertical datum, metres, and EyeAboveGround is ignored. It must not lie
	// below the ground.
	EyeElevation *float64
}

// NewObserver stands an observer at a place with the default eye.
func NewObserver(place geodesy.LatLon) Observer {
	return Observer{Place: place, EyeAboveGround: DefaultEyeAboveGround}
}

// Conditions are what every sight line assumes beside the observer.
type Conditions struct {
	// TargetAboveGround is the target's top above the ground it stands on,
	// metres, not negative. Zero means the ground itself.
	TargetAboveGround float64
	// Refraction is k = R/r: the share of the Earth's curvature that a sight
	// line bends through. Zero means none.
	Refraction float64
}

// DefaultConditions: the ground itself, with k = 0.13.
func DefaultConditions() Conditions { return Conditions{Refraction: DefaultRefraction} }

// maxRefraction bounds k on either side. Measured values run from -4 to +16
// close above warm grass (Hirt et al., JGR 115, D21102, 2010); outside that
// a number is a slip.
const maxRefraction = 20

func (c Conditions) validate() error {
	if !(c.TargetAboveGround >= 0) || math.IsInf(c.TargetAboveGround, 0) {
		return fmt.Errorf("target above ground %v m is not a height from 0 up", c.TargetAboveGround)
	}
	if !(math.Abs(c.Refraction) <= maxRefraction) {
		return fmt.Errorf("refraction coefficient %v is not between %d and %d", c.Refraction, -maxRefraction, maxRefraction)
	}
	return nil
}

// eye is the ground's elevation at the observer and the eye's, metres above
// the data's vertical datum. The error wraps dem.ErrVoid or dem.ErrOutside
// where the observer stands on no known ground: without it nothing can be
// said of what the near ground hides.
func (o Observer) eye(posts dem.Posts) (ground, eye float64, err error) {
	ground, err = dem.ElevationAt(posts, o.Place)
	if err != nil {
		return 0, 0, fmt.Errorf("observer: %w", err)
	}
	if o.EyeElevation != nil {
		eye = *o.EyeElevation
		if !(eye >= ground) || math.IsInf(eye, 0) {
			return 0, 0, fmt.Errorf("observer: eye elevation %v m is below the ground there, %.1f m", eye, ground)
		}
		return ground, eye, nil
	}
	if !(o.EyeAboveGround >= 0) || math.IsInf(o.EyeAboveGround, 0) {
		return 0, 0, fmt.Errorf("observer: eye above ground %v m is not a height from 0 up", o.EyeAboveGround)
	}
	return ground, ground + o.EyeAboveGround, nil
}
