package answer

import (
	"context"
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/profile/magnetic"
)

// About is what is said of all the ground at once.
type About struct {
	Data ElevationData
	// Lowest and Highest are the extremes of the elevations, metres; NaN where
	// there are none.
	Lowest, Highest float64
}

// About reads all the ground and says what it is.
func (g *Ground) About(ctx context.Context) (*About, error) {
	asked, err := g.Asked()
	if err != nil {
		return nil, err
	}
	layout := asked.source.Layout()
	out := &About{Lowest: nan, Highest: nan}
	low, high := math.Inf(1), math.Inf(-1)
	err = dem.Rows(ctx, asked.source, layout.Whole(), func(posts []float32) error {
		for _, h := range posts {
			if v := float64(h); v == v { // not NaN
				low, high = min(low, v), max(high, v)
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	if low <= high {
		out.Lowest, out.Highest = low, high
	}
	spacing, err := gridSpacing(&dem.Grid{Frame: *layout})
	out.Data = asked.describe(spacing, 0)
	return out, err
}

// Spot is a place with the elevation of the ground there.
func (g *Ground) Spot(ctx context.Context, p Place) (Spot, error) {
	elevation, err := dem.ElevationAt(g.posts(ctx), p.LatLon)
	return spot(p, elevation), err
}

// SpotOf is a place whose ground is not known.
func SpotOf(p Place) Spot { return spot(p, nan) }

// Norths are the directions that are called north at a place, positive east.
type Norths struct {
	// Grid north from true north; null where there is no UTM grid.
	ConvergenceDeg float64 `json:"convergence_deg" round:"3"`
	// Magnetic north from true north; null where the model has no answer.
	DeclinationDeg float64 `json:"declination_deg" round:"3"`
	// Magnetic north from grid north; null where either is.
	GridMagneticDeg float64 `json:"grid_magnetic_deg" round:"3"`
	// How far magnetic north moves east in a year.
	AnnualChangeDeg float64 `json:"annual_change_deg" round:"3"`
	// The model.
	Model string `json:"model"`
	// The day it holds for.
	Date string `json:"date"`
}

// NorthsAt are those at a place.
func NorthsAt(s Spot, n Needle) Norths {
	out := Norths{ConvergenceDeg: nan, DeclinationDeg: nan, GridMagneticDeg: nan, AnnualChangeDeg: nan, Model: magnetic.WMM2025.Name(), Date: n.Day.Format("2006-01-02")}
	if c, err := geodesy.ConvergenceAt(s.LatLon()); err == nil {
		out.ConvergenceDeg = float64(c)
	}
	if d := magneticNorth(s.LatLon(), s.ElevationM, n); d != nil {
		out.DeclinationDeg, out.AnnualChangeDeg = float64(d.East), float64(d.Annual)
	}
	out.GridMagneticDeg = out.DeclinationDeg - out.ConvergenceDeg
	return out
}

// GridReference is a place on the UTM grid as it is typed; "" where there is no
// grid.
func GridReference(p geodesy.LatLon) string {
	u, err := geodesy.ToUTM(p)
	if err != nil {
		return ""
	}
	return u.String()
}
