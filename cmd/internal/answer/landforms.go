package answer

import (
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
)

// landformOptions is the one rule of what counts as a landform on data with
// such a spacing and error, metres: for what a leg passes, what is listed round
// a place, and what an exercise asks about.
func landformOptions(spacing, verticalError float64) landform.FeatureOptions {
	return landform.FeatureOptions{
		Scale: math.Max(policy.LandformScale, policy.LandformPosts*spacing), VerticalError: verticalError,
		MinRelief: math.Max(policy.LandformRelief, policy.LandformErrors*verticalError),
	}
}

// landformPosts is how far apart posts may stand for these landforms to be
// found, metres.
func landformPosts(o landform.FeatureOptions) float64 {
	return math.Min(o.Scale/policy.PostsAcross, math.Max(o.MinRelief, o.Scale/policy.MostPostsAcross))
}

// spacingAround is how far apart the data's posts stand in the middle of the
// ground round places, metres: the larger of along a row and along a column.
func (g *Ground) spacingAround(places []geodesy.LatLon, margin float64) (float64, error) {
	w, err := dem.WindowAround(g.source.Layout(), places, margin)
	if err != nil {
		return 0, err
	}
	return g.spacingIn(w)
}

func (g *Ground) spacingIn(w dem.Window) (float64, error) {
	alongRow, alongColumn, err := g.source.Layout().Spacing(float64(w.Column)+float64(w.Columns-1)/2, float64(w.Row)+float64(w.Rows-1)/2)
	return math.Max(alongRow, alongColumn), err
}

// every is the step that leaves posts at least so far apart where they are
// finer, both metres.
func every(apart, spacing float64) int {
	const near = 1.01 // posts a hair farther apart than they are said to be
	return max(1, int(near*apart/spacing))
}
