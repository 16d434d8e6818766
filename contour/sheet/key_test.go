package sheet

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"crowline/contour/page"
)

// TestEverySignOnASheetIsExplained: what is drawn is in the key or named
// beside, and the key has nothing that is not drawn.
func TestEverySignOnASheetIsExplained(t *testing.T) {
	t.Parallel()
	signs := func(p Plan) map[string]bool {
		pg := compose(t, p).Pages[0]
		checkPage(t, pg)
		said := strings.Join(pageTexts(pg), "\n")
		has := func(group string) bool { return groupOf(pg, group) != nil }
		arrows, marks := 0, 0 // a mark's sign is two rings, an arrow to one off the sheet one
		if g := groupOf(pg, "marks"); g != nil {
			for _, it := range g.Items {
				if f, ok := it.(page.Fill); ok && f.Color == p.Style.filled().Sight.Color {
					if len(f.Rings) == 1 {
						arrows++
					} else {
						marks++
					}
				}
			}
		}
		for _, row := range []struct {
			drawn bool
			text  string
		}{
			{has("relief"), "Relief lit from upper left"},
			{has("places"), "Place\n"},
			{marks > 0 && arrows == 0, "Mark to sight, line to it"},
			{arrows > 0, "Mark; arrow if off the sheet"},
			{has("profile"), "Profile:"},
			{has("profile") && len(p.Profile.Hidden) > 0, saysHidden},
			{has("profile") && p.Profile.Sight != nil, saysSight + "\n"},
			{has("profile") && len(p.Profile.Levels) > 0, saysTicks},
			{has("hidden"), "Ground out of sight"},
			{has("no-elevation"), "No elevation data"},
			{has("magnetic-north"), "Magnetic north\n"},
		} {
			assert.Equal(t, row.drawn, strings.Contains(said, row.text), "%s: %q in\n%s", p.title(), row.text, said)
		}
		return map[string]bool{"arrow": arrows > 0, "mark": marks > 0, "profile": has("profile"), "relief": has("relief")}
	}
	full := demoPlan(t)
	got := signs(full)
	assert.Equal(t, map[string]bool{"arrow": true, "mark": true, "profile": true, "relief": true}, got)
	bare := full
	bare.Marks, bare.Relief, bare.Points, bare.View, bare.MagneticLines = nil, 0, nil, nil, false
	bare.Profile = &ProfileDrawing{From: "Camp", To: "High Point", Distances: full.Profile.Distances, Elevations: full.Profile.Elevations}
	assert.Equal(t, map[string]bool{"arrow": false, "mark": false, "profile": true, "relief": false}, signs(bare))
	only := full
	only.Marks = full.Marks[1:] // the one off the sheet
	assert.Equal(t, map[string]bool{"arrow": true, "mark": false, "profile": true, "relief": true}, signs(only))
	only.Marks = full.Marks[:1] // the one on it
	assert.Equal(t, map[string]bool{"arrow": false, "mark": true, "profile": true, "relief": true}, signs(only))
	place := full
	place.Leg, place.Profile, place.Marks = nil, nil, nil
	place.Centre = &place.Points[0].At
	signs(place)
}

func TestTitleSaysThePlace(t *testing.T) {
	t.Parallel()
	a, b := ll(36.09, -86.94), ll(36.2, -86.9)
	for want, p := range map[string]Plan{
		"Day one":                    {Title: "Day one", Centre: &a},
		"Camp to Knob":               {Leg: &Leg{From: Place{Name: "Camp", At: a}, To: Place{Name: "Knob", At: b}}},
		"36.09000,-86.94000 to Knob": {Leg: &Leg{From: Place{At: a}, To: Place{Name: "Knob", At: b}}},
		"36.09000,-86.94000 to 36.20000,-86.90000": {Leg: &Leg{From: Place{At: a}, To: Place{At: b}}},
		"Camp":                      {Centre: &a, Points: []Place{{Name: "Camp", At: a}}},
		"36.09000,-86.94000":        {Centre: &a, Points: []Place{{At: a}}},
		"Around 36.09000,-86.94000": {Centre: &a},
		"Contour sheet":             {},
	} {
		p.Data.Name = ""
		assert.Equal(t, want, p.title())
		if want != "Contour sheet" {
			p.Data.Name = "coast.tif"
			assert.Equal(t, want, p.title(), "not the data's name")
		}
	}
}

// TestANamelessSignIsNamedAtTheHead where the map has no room for its name.
func TestANamelessSignIsNamedAtTheHead(t *testing.T) {
	t.Parallel()
	p := demoPlan(t)
	for i := range 8 { // marks on one another
		p.Marks = append(p.Marks, Mark{Place: Place{Name: "Cairn " + string(rune('A'+i)), At: p.Marks[0].At, Elevation: 500}})
	}
	d := compose(t, p)
	pg := d.Pages[0]
	said := strings.Join(pageTexts(pg), "\n")
	assert.NotEmpty(t, d.Warnings)
	assert.Contains(t, said, "No room on the map to name Cairn")
	assert.NotContains(t, strings.Join(pageTexts(compose(t, demoPlan(t)).Pages[0]), "\n"), "No room")
	var texts []page.Text
	for _, it := range groupOf(pg, "head").Items {
		if v, ok := it.(page.Text); ok {
			texts = append(texts, v)
		}
	}
	for i, a := range texts {
		for _, b := range texts[:i] {
			assert.False(t, a.Box().Overlaps(b.Box()), "%q on %q", a.String, b.String)
		}
	}
}
