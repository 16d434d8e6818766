package scene

import (
	"context"
	"errors"
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/profile"
	"crowline/visibility"
)

// ErrNoVerticalError: the error of the data's heights is not known.
var ErrNoVerticalError = errors.New("scene: how likely things are to be seen needs the error of the data's heights")

// Draws for each thing: one per cent of standard error.
const (
	drawSamples       = 2500
	drawStandardError = 0.01
)

// Likelihoods are how likely each thing is to be seen from here, in the order of
// Things, by the data's error (visibility.HowSure). Look does not ask, for it
// costs some milliseconds a thing. posts are the ground of Look, or blocks of
// the same. The error is ErrNoVerticalError where Options had none, or ctx's.
func (v *View) Likelihoods(ctx context.Context, posts dem.Posts) ([]visibility.Likelihood, error) {
	out := make([]visibility.Likelihood, len(v.Things))
	for i, t := range v.Things {
		var err error
		if out[i], err = v.Likelihood(ctx, posts, t); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// Likelihood is that of one thing of the view.
func (v *View) Likelihood(ctx context.Context, posts dem.Posts, t Thing) (visibility.Likelihood, error) {
	if !(v.options.VerticalError > 0) {
		return visibility.Likelihood{}, ErrNoVerticalError
	}
	leg, err := profile.Trace(ctx, posts, v.Observer.Place, t.Place)
	if err != nil {
		return visibility.Likelihood{}, err
	}
	return visibility.HowSure(ctx, leg, v.Observer,
		visibility.Conditions{Refraction: v.options.Refraction, TargetAboveGround: t.above},
		visibility.Draws{
			VerticalError: v.options.VerticalError,
			Samples:       drawSamples, StandardError: drawStandardError, Concurrency: v.options.Concurrency,
		})
}

// Bounds of Saddle: how far aside of the notch, degrees, and how much nearer or
// farther, as a share of its distance, the saddle may stand, and posts allowed
// in any case.
const (
	saddleAside = 1.0
	saddleAlong = 0.15
	saddlePosts = 3.0
)

// Saddle tells which of the ground's saddles is a notch: the nearest to it, by
// its index in saddles, if it stands in the notch as seen and about as far off;
// else -1. A notch where a near ridge ends against a far one is no saddle, nor
// is any other thing.
func (v *View) Saddle(t Thing, saddles []geodesy.LatLon) int {
	if t.Kind != Notch || t.Side != 0 {
		return -1
	}
	best, nearest := -1, math.Inf(1)
	for i, s := range saddles {
		g := geodesy.Inverse(v.Observer.Place, s)
		aside := math.Abs(float64(geodesy.Difference(t.Bearing, g.Start))) * math.Pi / 180 * g.Distance
		within := math.Max(math.Max(saddleAside, float64(t.Width)/4)*math.Pi/180*t.Distance, saddlePosts*v.Spacing)
		along := math.Abs(g.Distance - t.Distance)
		if aside > within || along > math.Max(saddleAlong*t.Distance, saddlePosts*v.Spacing) {
			continue
		}
		if d := math.Hypot(aside, along); d < nearest {
			best, nearest = i, d
		}
	}
	return best
}
