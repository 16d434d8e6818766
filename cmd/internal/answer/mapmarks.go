package answer

import (
	"crowline/contour/sheet"
	"crowline/dem/geodesy"
	"crowline/dem/units"
	"crowline/profile"
	"crowline/visibility/chain"
)

// MapMark is a mark to sight, as a map shows it: the same, by the same label, as
// text and card name.
type MapMark struct {
	// Its number among the leg's sightings; of a route the leg's number and a
	// letter, as on the card.
	Label string `json:"label"`
	// What it is called, or what it is.
	Name string `json:"name"`
	// Where it is.
	At Spot `json:"place"`
	// From how far along the leg it is sighted.
	FromM float64 `json:"from_m" round:"1"`
	// It is looked back at.
	Behind bool `json:"behind,omitempty"`

	from geodesy.LatLon
}

// MapHazard is what could hurt on a leg, as a map shows it.
type MapHazard struct {
	// The leg's number, from 1.
	Leg int `json:"leg"`
	// "steep" for ground of 30 degrees or more on the line, or "cliff" for one
	// within the drift of the compass.
	Kind string `json:"kind"`
	// Where it begins along the leg; of a cliff where its nearest part is.
	FromM float64 `json:"from_m" round:"0"`
	// Where it ends; of a cliff the same place.
	ToM float64 `json:"to_m" round:"0"`
	// How far right of the line the nearest part of a cliff is.
	OffsetM float64 `json:"offset_m" round:"0"`

	sign sheet.Hazard
}

// markName is what a mark of the chain is called in a few words.
func markName(m *chain.Mark) string {
	if m.Name != "" {
		return m.Name
	}
	return string(m.Kind)
}

// mapMark is a step's mark on a map.
func (a *LegAnswer) mapMark(s *chain.Step, label string) MapMark {
	return MapMark{
		Label: label, Name: markName(s.Mark), At: spot(PlaceAt(s.Mark.Place), s.Mark.Elevation), FromM: s.From, Behind: s.Mark.Behind,
		from: a.leg.PlaceAt(s.From),
	}
}

// mapMarks are the marks of the leg's sightings, so many at most, labelled by their
// step and their number among marks from 0; those that what stands on the ground
// hides are left out.
func (a *LegAnswer) mapMarks(most int, label func(step, mark int) string) []MapMark {
	out, marks := []MapMark{}, 0
	for i := range a.wayside.plan.Steps {
		s := &a.wayside.plan.Steps[i]
		if !labelled(s) || len(out) == most {
			continue
		}
		if over := a.Chain.Steps[i].OverCover; over == nil || !over.Depends {
			out = append(out, a.mapMark(s, label(i, marks)))
		}
		marks++
	}
	return out
}

// sign is the mark as the sheet draws it: it writes bearings and distance itself.
func (m *MapMark) sign(u units.System) sheet.Mark {
	from := m.from
	k := sheet.Mark{Place: sheet.Place{Name: m.Name, At: m.At.LatLon(), Elevation: m.At.ElevationM}, Label: m.Label, From: &from}
	switch {
	case m.Behind:
		k.Note = "look back from " + u.Distance(m.FromM)
	case m.FromM > 0:
		k.Note = "from " + u.Distance(m.FromM)
	}
	return k
}

// mapHazards are the steep stretches of the line, and the cliffs within drift.
func (a *LegAnswer) mapHazards(number int) []MapHazard {
	out := []MapHazard{}
	length := func(list []profile.Stretch) (sum float64) {
		for _, s := range list {
			sum += s.To - s.From
		}
		return sum
	}
	steep := a.gradient.GroundSteep
	if length(a.gradient.Steep) > length(steep) { // over a step between two posts the line alone is steep
		steep = a.gradient.Steep
	}
	for _, s := range steep {
		out = append(out, MapHazard{Leg: number, Kind: "steep", FromM: s.From, ToM: s.To,
			sign: sheet.Hazard{Kind: sheet.Steep, Parts: [][]geodesy.LatLon{a.along(s)}}})
	}
	if a.Cliffs != nil {
		for _, c := range *a.Cliffs {
			out = append(out, MapHazard{Leg: number, Kind: "cliff", FromM: c.AtM, ToM: c.AtM, OffsetM: c.OffsetM,
				sign: sheet.Hazard{Kind: sheet.Cliff, Parts: c.parts}})
		}
	}
	return out
}

// along is a stretch of the leg as places.
func (a *LegAnswer) along(s profile.Stretch) []geodesy.LatLon {
	const pieces = 8 // a geodesic of a few kilometres is straight between them to a millimetre
	var out []geodesy.LatLon
	for i := range pieces + 1 {
		out = append(out, a.leg.PlaceAt(s.From+(s.To-s.From)*float64(i)/pieces))
	}
	return out
}
