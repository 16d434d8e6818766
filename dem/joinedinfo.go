package dem

import (
	"fmt"
	"slices"
	"strings"
)

// Info sums up the tiles that have a part in the question. Its warnings say
// what the posts read so far came from.
func (j *Joined) Info() Info {
	j.mutex.Lock()
	defer j.mutex.Unlock()
	return j.info()
}

func (j *Joined) info() Info {
	info := j.families[j.base].Info()
	info.Overviews = nil
	info.Warnings = slices.Clone(j.warnings)
	var names, paths, credits, data, units []string
	type entry struct {
		list *[]string
		text string
	}
	seen := map[entry]bool{}
	add := func(list *[]string, s string) {
		if s != "" && !seen[entry{list, s}] {
			seen[entry{list, s}] = true
			*list = append(*list, s)
		}
	}
	surfaces, unknownError := map[Surface]bool{}, false
	inUnit := map[string][]string{} // the names of the tiles in each of units
	info.VerticalUnitStated = true
	for _, f := range j.families {
		for _, p := range f.tiles {
			t := p.tile.Info
			add(&names, t.Name)
			add(&paths, t.Path)
			add(&credits, t.Attribution)
			add(&data, t.VerticalDatum)
			unit := t.unitText()
			add(&units, unit)
			if !slices.Contains(inUnit[unit], t.Name) {
				inUnit[unit] = append(inUnit[unit], t.Name)
			}
			surfaces[t.Surface] = true
			info.VerticalUnitStated = info.VerticalUnitStated && t.VerticalUnitStated
			info.PixelIsPoint = info.PixelIsPoint && t.PixelIsPoint
			unknownError = unknownError || t.VerticalError == 0
			if t.VerticalError > info.VerticalError {
				info.VerticalError, info.VerticalErrorSource = t.VerticalError, t.VerticalErrorSource
			}
			for _, warning := range j.mosaic.warningsOf(p.tile) {
				add(&info.Warnings, t.Name+": "+warning)
			}
		}
	}
	if unknownError {
		info.VerticalError, info.VerticalErrorSource = 0, ""
	}
	const mostWarnings = 5
	if n := len(info.Warnings); n > mostWarnings+len(j.warnings) {
		info.Warnings = append(info.Warnings[:mostWarnings], fmt.Sprintf("and %d more warnings of the like", n-mostWarnings))
	}
	info.Name, info.Path = joinNames(names), joinNames(paths)
	info.Attribution = strings.Join(credits, "; ")
	if len(units) > 1 {
		info.VerticalUnit = metreUnit
		var parts []string
		for _, unit := range units {
			parts = append(parts, unit+" in "+joinNames(inUnit[unit]))
		}
		info.Warnings = append(info.Warnings, "the files' heights are in different units ("+strings.Join(parts, "; ")+") and were brought to metres")
	}
	if len(data) > 1 {
		info.Warnings = append(info.Warnings, "heights stand on different data ("+strings.Join(data, ", ")+"): where tiles meet there may be a step of a metre or more")
		info.VerticalDatum = ""
	}
	if surfaces[SurfaceModel] && surfaces[BareEarth] {
		info.Warnings = append(info.Warnings, "some tiles show treetops and roofs and some the bare earth: where they meet there may be a step as high as the trees")
		info.Surface = SurfaceUnknown
	}
	if s := j.sentence(); s != "" {
		info.Warnings = append(info.Warnings, s)
	}
	return info
}

// sentence says what the posts read came from, when it was not all one set.
func (j *Joined) sentence() string {
	var parts []string
	for i, s := range j.shares {
		switch {
		case i != j.base && s.Sampled > 0:
			parts = append(parts, fmt.Sprintf("%d sampled from %s (posts %.3g m apart)", s.Sampled, joinNames(s.Names), s.SpacingMetres))
		case i == j.base && s.Posts > 0 && len(j.shares) > 1:
			parts = append(parts, fmt.Sprintf("%d as stored in %s", s.Posts, joinNames(s.Names)))
		}
	}
	if len(parts) == 0 || (len(parts) == 1 && j.shares[j.base].Posts > 0 && j.bridged == 0) {
		return ""
	}
	text := fmt.Sprintf("of %d posts read, %s", j.read, strings.Join(parts, ", "))
	if j.bridged > 0 {
		text += fmt.Sprintf(", %d joined across the edges of tiles", j.bridged)
	}
	if j.voids > 0 {
		text += fmt.Sprintf(", %d void", j.voids)
	}
	for i, s := range j.shares {
		if i != j.base && s.Sampled > 0 { // For takes the lattice that a question comes near
			return text + "; a question that keeps clear of the finest is asked of the other posts themselves, and a sight that is close may then have another verdict"
		}
	}
	return text
}

// Frames are those of the tiles that have a part in the ground, each on its own
// lattice.
func (j *Joined) Frames() []Frame {
	var out []Frame
	for _, f := range j.families {
		out = append(out, f.frame)
	}
	return out
}
