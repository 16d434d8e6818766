package visibility

import (
	"context"
	"math"
	"slices"
	"sync"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// CoverChange is what cover changes in a viewshed, against the same over the
// bare ground, in posts.
type CoverChange struct {
	// Asked are the posts with a verdict, Changed those of them that the cover
	// gives another.
	Asked, Changed int64
	// Of the changed: seen over the bare ground and hidden, the other way
	// round, no longer known, and not known over the bare ground.
	Lost, Gained, ToUnknown, Settled int64
	// TopsSeen are seen posts that are the top of something standing there.
	TopsSeen int64
	// UnknownCover are posts with ground whose cover is not known.
	UnknownCover int64
}

// CompareCovered counts what cover changes. bare is the view over the ground,
// over the same view over covered, which is the ground with the cover on it
// (dem.CoverLayer.Grid).
func CompareCovered(bare, over *Viewed, ground, covered *dem.Grid) CoverChange {
	var c CoverChange
	w := over.Window
	for i, now := range over.Verdicts {
		if now == OutOfRange {
			continue
		}
		c.Asked++
		column, row := w.Column+i%w.Columns, w.Row+i/w.Columns
		h, top := ground.Elevation(column, row), covered.Elevation(column, row)
		switch {
		case now == Visible && top > h:
			c.TopsSeen++
		case now == Unknown && h == h && top != top:
			c.UnknownCover++
		}
		was := bare.Verdicts[i]
		switch {
		case now == was:
			continue
		case now == Unknown:
			c.ToUnknown++
		case was == Unknown:
			c.Settled++
		case now == Hidden:
			c.Lost++
		default:
			c.Gained++
		}
		c.Changed++
	}
	return c
}

// DependsOnCover reports whether a sight over cover comes out another than the
// same over the bare ground.
func DependsOnCover(bare, over Sight) bool { return bare.Verdict != over.Verdict }

// LandmarksCovered looks at marks again over cover, each in a clearing of its
// own as wide as the observer's, radius metres, and ranks them by that; bare
// are the sights they had, over the bare ground, in the same order. Options
// are those of Landmarks; errors are its and those of dem.CoverLayer.Covered.
func LandmarksCovered(ctx context.Context, layer *dem.CoverLayer, radius float64, o Observer, marks []Landmark, opts LandmarkOptions) (over []Landmark, bare []Sight, err error) {
	type both struct {
		over Landmark
		bare Sight
	}
	looked, failed := make([]both, len(marks)), make([]error, len(marks))
	progress := opts.Progress
	opts.Progress = nil // of one mark at a time
	var mutex sync.Mutex
	done := int64(0)
	clearing := func(p geodesy.LatLon) dem.Clearing { return dem.Clearing{Centre: p, Radius: radius} }
	stands, err := o.Standing(layer.Ground())
	if err != nil {
		return nil, nil, err
	}
	look := func(i int) error {
		looked[i].bare = marks[i].Sight
		posts, err := layer.Covered(clearing(stands.Place), clearing(marks[i].LookedAt))
		if err != nil {
			return err
		}
		one, err := Landmarks(ctx, posts, o, []Candidate{marks[i].Candidate}, opts)
		if len(one) == 1 {
			looked[i].over = one[0]
		}
		return err
	}
	err = parallel(ctx, len(marks), opts.Concurrency, func(_, i int) {
		failed[i] = look(i)
		if progress != nil {
			mutex.Lock()
			defer mutex.Unlock()
			done++
			progress(done, int64(len(marks)))
		}
	})
	for i := 0; err == nil && i < len(failed); i++ {
		err = failed[i]
	}
	if err != nil {
		return nil, nil, err
	}
	slices.SortStableFunc(looked, func(a, b both) int { return Rank(a.over, b.over) })
	for _, l := range looked {
		over, bare = append(over, l.over), append(bare, l.bare)
	}
	return over, bare, nil
}

// SkylineChange is what cover changes of a skyline, against that of the bare
// ground.
type SkylineChange struct {
	// Raised are the bearings on which the skyline stands higher by at least
	// the least asked for, NotKnown those on which it is no longer known, and
	// Tops those on which the top of what stands on the ground makes it.
	Raised, NotKnown, Tops int
	// Most is the most it is raised by, at the bearing MostAt; 0 for nowhere.
	Most   geodesy.Degrees
	MostAt geodesy.TrueBearing
}

// CompareSkylines counts what cover changes: bare and over are skylines of
// one observer at the same bearings. A rise of least degrees counts.
func CompareSkylines(bare, over *Horizon, least geodesy.Degrees) SkylineChange {
	var c SkylineChange
	for i, p := range over.Points {
		was := bare.Points[i]
		if was.Verdict == Visible && p.Verdict != Visible {
			c.NotKnown++
		}
		if p.Cover > 0 {
			c.Tops++
		}
		d := p.Angle - was.Angle
		if math.IsNaN(float64(d)) {
			continue
		}
		if d >= least {
			c.Raised++
		}
		if d > c.Most {
			c.Most, c.MostAt = d, p.Bearing
		}
	}
	return c
}
