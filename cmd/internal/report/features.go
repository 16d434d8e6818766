package report

import (
	"fmt"
	"math"
	"sort"

	"crowline/cmd/internal/answer"
	"crowline/dem/landform"
	"crowline/dem/units"
)

// Features writes the landforms by kind, those that stand out most first, at
// most so many of a kind.
func Features(p *Page, a *answer.FeaturesAnswer, most int) {
	u := p.Units
	p.Head("Landforms")
	p.Line("around", "%s", p.place(a.Around))
	p.Line("within", "%s; shapes that show within %s and stand out %s or more", u.Distance(a.RadiusM), u.Distance(a.ScaleM), u.Height(a.MinReliefM))
	if len(a.Features) == 0 {
		p.Note("None. Try a smaller --min-relief or --scale, or a larger --radius.")
	}
	byKind := map[landform.Kind][]answer.Feature{}
	for _, f := range a.Features {
		byKind[f.Kind] = append(byKind[f.Kind], f)
	}
	for _, k := range answer.LandformKinds() {
		list := byKind[k]
		if len(list) == 0 {
			continue
		}
		sort.SliceStable(list, func(i, j int) bool { return list[i].ReliefM > list[j].ReliefM })
		p.Head(fmt.Sprintf("%s: %d", k, len(list)))
		for i := range list {
			if i == most {
				p.Note("and %d more that stand out less (--most, or --json for all)", len(list)-most)
				break
			}
			p.feature(&list[i])
		}
	}
	p.Written("Landforms written to", a.Written...)
	p.data(a.ElevationData)
	p.cautions()
}

func (p *Page) feature(f *answer.Feature) {
	u := p.Units
	extent := "long"
	switch f.Kind {
	case landform.Hill, landform.Depression:
		extent = "wide"
	case landform.Saddle:
		extent = "from the lower summit"
	}
	what := "high"
	if f.Kind == landform.Depression || f.Kind == landform.Draw || f.Kind == landform.Valley {
		what = "deep"
	}
	elevation := ""
	if !math.IsNaN(f.Place.ElevationM) {
		elevation = u.Height(f.Place.ElevationM) + ", "
	}
	// nothing in data with errors is 100 % sure
	p.Line(fmt.Sprintf("%.0f %% sure", min(99, 100*f.Confidence)), "%.5f,%.5f, %s off towards %s: %s%s %s, %s %s", f.Place.Lat, f.Place.Lon,
		u.Distance(f.DistanceM), units.Towards(f.TrueDeg), elevation, u.Height(f.ReliefM), what, u.Distance(f.SizeM), extent)
	if n := f.Nearest; n != nil && n.DistanceM < f.DistanceM {
		own := map[landform.Kind]string{landform.Cliff: "steepest part", landform.Depression: "bottom", landform.Hill: "top's middle"}[f.Kind]
		if own == "" {
			own = "middle"
		}
		if n.DistanceM == 0 {
			p.Line("", "the place given is its %s; where you asked lies on it", own)
		} else {
			p.Line("", "the place given is its %s; its nearest point is %s off towards %s", own, u.Distance(n.DistanceM), units.Towards(n.TrueDeg))
		}
	}
	p.Line("", "%s", f.Why().Text(p.lengths()))
	if f.Filled {
		p.Line("FILLED", "it lies on ground %s", filledWords)
	}
}
