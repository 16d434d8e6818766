package waymarks

import (
	"context"
	"math"

	"crowline/dem/geodesy"
	"crowline/dem/landform"
)

// Attack is an attack point: the last plain landform on or near the line within
// the last kilometre, and how to go on from it.
type Attack struct {
	// Kind of a point; "" for a line that is crossed.
	Kind landform.Kind
	// Name in words: "saddle", "where two valleys meet", "valley floor".
	Name string
	// Feature is its index in those given; of two valleys that meet, the
	// smaller's; -1 for a line that is crossed.
	Feature int
	// Place of it, and Elevation in metres.
	Place     geodesy.LatLon
	Elevation float64
	// Along and Aside are where it lies, metres along the leg and to the right.
	Along, Aside float64
	// Distance and Bearing from it to the destination.
	Distance float64
	Bearing  geodesy.TrueBearing
}

// attack looks for the last point, and, where there is none, for the last line
// that is crossed. A point is a top, a saddle, a hollow, or where two valleys
// meet; of points that could be taken for one another, nearer than one may be
// off, none is a point. A line tells how far one has come and not how far
// aside: it is offered where drift is no more than the destination is seen from.
func (f *finder) attack(ctx context.Context) (*Attack, error) {
	var points []Attack
	for i, x := range f.Features {
		if x.Relief < f.forms.MinRelief || x.Level { // of water nobody stands on the bottom
			continue
		}
		switch x.Kind {
		case landform.Hill, landform.Saddle, landform.Depression:
			at, err := f.spotOf(landform.Position{Column: float64(x.Column), Row: float64(x.Row)})
			if err != nil {
				return nil, err
			}
			points = append(points, Attack{Kind: x.Kind, Name: pointNames[x.Kind], Feature: i, Along: at.along, Aside: at.aside, Elevation: float64(x.Elevation)})
		}
	}
	points = append(points, f.meetings()...)
	var best *Attack
	for i := range points {
		p := &points[i]
		off := max(f.width(p.Along), f.Walk.PacedHalf(p.Along))
		if math.Abs(p.Aside) > nearLine || !f.short(p) || best != nil && p.Along <= best.Along || f.twin(points, i, off) {
			continue
		}
		best = p
	}
	if best != nil {
		f.goOn(best)
		return best, nil
	}
	l, err := f.lane(ctx, 0, max(0, f.goal-attackWithin-f.forms.Scale), f.goal)
	if err != nil {
		return nil, err
	}
	for _, e := range l.events {
		p := &Attack{Name: e.name, Along: e.distance, Elevation: e.elevation, Feature: -1}
		if (e.shape == Crest || e.shape == Floor) && f.short(p) && f.width(e.distance) <= f.SeenFrom {
			f.goOn(p)
			best = p
		}
	}
	return best, nil
}

var pointNames = map[landform.Kind]string{landform.Hill: "top of a hill", landform.Saddle: "saddle", landform.Depression: "bottom of a depression"}

// short reports whether the way from a point is one that is left of the leg: not
// none, and within the last kilometre.
func (f *finder) short(p *Attack) bool {
	left := math.Hypot(f.goal-p.Along, p.Aside)
	return p.Along > 0 && f.goal-p.Along >= attackLeast && left <= attackWithin
}

// goOn fills in the way from a point to the destination.
func (f *finder) goOn(p *Attack) {
	p.Place = f.placeOf(spot{p.Along, p.Aside})
	g := geodesy.Inverse(p.Place, f.To)
	p.Distance, p.Bearing = g.Distance, g.Start
}

// twin reports whether another point of a kind lies so near that one may stand
// at it and think to be at this one.
func (f *finder) twin(points []Attack, i int, off float64) bool {
	for j, o := range points {
		if j != i && o.Name == points[i].Name && math.Hypot(o.Along-points[i].Along, o.Aside-points[i].Aside) < off {
			return true
		}
	}
	return false
}

// meetings are where the floor of one valley or draw runs into another's: where
// its lower end comes to another, and not to that one's upper end, of which it
// would be the beginning.
func (f *finder) meetings() []Attack {
	var out []Attack
	for _, l := range f.floors {
		end := l.points[len(l.points)-1] // lines of floors run downhill
		for _, o := range f.floors {
			if o.feature == l.feature {
				continue
			}
			nearest, i := math.Inf(1), 0
			for j, p := range o.points {
				if d := math.Hypot(p.along-end.along, p.aside-end.aside); d < nearest {
					nearest, i = d, j
				}
			}
			top := o.points[0]
			// sides fall away before floors meet: a line of the one ends short of the
			// other; it never runs up to it
			foot, into := f.Features[l.feature].Line[len(l.points)-1], f.Features[o.feature].Line[i]
			up := f.Grid.Elevation(int(into.Column), int(into.Row)) - f.Grid.Elevation(int(foot.Column), int(foot.Row))
			if nearest > max(1.5*f.spacing, f.forms.Scale/3) || up > f.forms.MinRelief/2 || math.Hypot(o.points[i].along-top.along, o.points[i].aside-top.aside) < f.forms.Scale/4 {
				continue
			}
			at := o.points[i]
			out = append(out, Attack{
				Kind: f.Features[o.feature].Kind, Name: "where two valleys meet", Feature: l.feature, Along: at.along, Aside: at.aside,
				Elevation: f.Grid.Elevation(int(into.Column), int(into.Row)),
			})
			break
		}
	}
	// where three meet it is one place
	var apart []Attack
	for _, p := range out {
		if !f.twin(append(apart, p), len(apart), f.on()) {
			apart = append(apart, p)
		}
	}
	return apart
}
