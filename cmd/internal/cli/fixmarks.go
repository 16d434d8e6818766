package cli

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"crowline/dem/geodesy"
	"crowline/visibility"
	"crowline/visibility/fix"
)

// setsKept is how many sets of marks of each size JSON lists.
const setsKept = 3

// oneMark is how near two marks are one to a walker who sights them, metres:
// their bearings would not check each other.
const oneMark = 100.0

// fixMarksJSON are the sets of marks that fix a place best.
type fixMarksJSON struct {
	CompassErrorDeg float64       `json:"compass_error_deg"`
	PlaceErrorM     float64       `json:"mark_place_error_m"`
	Two             []markSetJSON `json:"sets_of_two"`
	Three           []markSetJSON `json:"sets_of_three"`
	// IfSeen is a better set of two, if its doubtful marks are seen.
	IfSeen *markSetJSON `json:"set_of_two_if_seen,omitempty"`
	// SureKnown: how likely marks are to be seen is known, and counted.
	SureKnown bool `json:"likelihood_known"`
	// Combined marks, and those left out as over the limit.
	Combined int `json:"marks_combined"`
	Beyond   int `json:"marks_beyond_limit"`
}

// markSetJSON is marks to sight together and the fix to expect.
type markSetJSON struct {
	Marks      []fixMarkJSON `json:"marks"`
	SemiMajorM float64       `json:"semi_major_95_m"`
	SemiMinorM float64       `json:"semi_minor_95_m"`
	AlongDeg   float64       `json:"semi_major_true_deg"`
	// CrossingDeg is the best angle at which two of the lines cross.
	CrossingDeg float64 `json:"crossing_deg"`
	// Doubtful is how many of the marks are seen with less than 75 %.
	Doubtful int `json:"doubtful_marks"`
}

// fixMarkJSON is one mark of a set. Rank is its place in the list of marks.
type fixMarkJSON struct {
	Rank    int     `json:"rank"`
	Name    string  `json:"name"`
	Lat     float64 `json:"lat"`
	Lon     float64 `json:"lon"`
	TrueDeg float64 `json:"true_deg"`
	// Probability that it is seen; null where that is not known.
	Probability *float64 `json:"probability"`
	words       string
}

// addMarkError adds --mark-error, which fix and landmarks take alike.
func addMarkError(cmd *cobra.Command, target *float64, use string) {
	cmd.Flags().Var(newLength(fix.DefaultPlaceError, target).within(from(0, 10e3)), "mark-error", use)
}

// addCompassError adds --compass-error, which fix and landmarks take alike. No
// compass is read to less than a hundredth of a degree.
func addCompassError(cmd *cobra.Command, target *float64, value float64, use string) {
	cmd.Flags().Var(newNumber(value, target, "an error in degrees", from(0.01, 45)), "compass-error", use)
}

// proposeFix picks, of the marks an observer sees, the sets of two and three
// whose bearings fix the place best.
func proposeFix(ctx context.Context, from namedPlace, marks []visibility.Landmark, compassError, markError float64) (*fixMarksJSON, error) {
	if !(markError > 0) {
		return nil, usageErrorf("--mark-error %g: for --for-fix it is a length above 0, or the nearest boulder would do", markError)
	}
	var usable []fix.Mark
	ranks := map[geodesy.LatLon]int{}
	known := false
	for i, m := range marks {
		if m.Sight.Verdict != visibility.Visible || m.TooSmall {
			continue
		}
		// a named place on a summit of the data is one mark, by its name
		if k := slices.IndexFunc(usable, func(u fix.Mark) bool { return geodesy.Inverse(u.Place, m.Place).Distance < oneMark }); k >= 0 {
			if usable[k].Name == "" {
				usable[k].Name = m.Name
			}
			continue
		}
		ranks[m.Place] = i + 1
		known = known || m.Likelihood != nil
		usable = append(usable, fix.Mark{Name: m.Name, Place: m.Place, TopAboveGround: m.AboveGround, Doubtful: m.Doubtful()})
	}
	best, err := fix.BestMarks(ctx, from.LatLon, usable, fix.MarkOptions{BearingError: geodesy.Degrees(compassError), PlaceError: markError, Keep: setsKept})
	if err != nil {
		return nil, err
	}
	out := &fixMarksJSON{
		CompassErrorDeg: compassError, PlaceErrorM: markError, Combined: best.Visible, Beyond: best.Beyond,
		Two: []markSetJSON{}, Three: []markSetJSON{}, SureKnown: known,
	}
	describe := func(sets ...fix.MarkSet) []markSetJSON {
		list := []markSetJSON{}
		for _, s := range sets {
			j := markSetJSON{
				SemiMajorM: *rounded(s.Ellipse.SemiMajor, 1), SemiMinorM: *rounded(s.Ellipse.SemiMinor, 1),
				AlongDeg: *rounded(float64(s.Ellipse.Along), 1), CrossingDeg: *rounded(float64(s.Crossing), 1), Doubtful: s.Doubtful,
			}
			for k, m := range s.Marks {
				rank := ranks[m.Place]
				name := m.Name
				if name == "" {
					name = marks[rank-1].Kind
				}
				one := fixMarkJSON{
					Rank: rank, Name: name, Lat: *rounded(float64(m.Place.Lat), 7), Lon: *rounded(float64(m.Place.Lon), 7),
					TrueDeg: *rounded(float64(s.Bearings[k]), 2),
				}
				if l := marks[rank-1].Likelihood; l != nil {
					one.Probability, one.words = rounded(l.Probability, 3), l.Text()
				}
				j.Marks = append(j.Marks, one)
			}
			list = append(list, j)
		}
		return list
	}
	out.Two, out.Three = describe(best.Two...), describe(best.Three...)
	if best.IfSeen != nil {
		out.IfSeen = &describe(*best.IfSeen)[0]
	}
	return out, nil
}

// write gives the best set of two and of three.
func (f *fixMarksJSON) write(p *page, u units) {
	p.head("Marks that fix this place best")
	if len(f.Two) == 0 {
		p.note("Two marks in sight are needed; %d can be used.", f.Combined)
		return
	}
	p.line("best two", "%s", f.Two[0].text(u))
	if len(f.Three) > 0 {
		p.line("best three", "%s", f.Three[0].text(u))
		p.line("", "three check each other: a mark mistaken for another shows")
	}
	sight := "in sight"
	if f.SureKnown {
		sight = "seen with 75 % or more"
	}
	if f.Two[0].Doubtful > 0 {
		p.line("DOUBTFUL", "no two marks are seen with 75 %% or more: look which of these are in sight before you count on them")
		sight = "in sight"
	}
	if f.Two[0].CrossingDeg < flatCrossing {
		p.line("POOR", "no two marks %s cross at %.0f° or more: the place will be well known one way and badly the other", sight, flatCrossing)
	}
	if s := f.IfSeen; s != nil && (f.Two[0].CrossingDeg < flatCrossing || s.SemiMajorM < f.Two[0].SemiMajorM/2) {
		p.line("if seen", "better: %s", s.text(u))
	}
	sure := ""
	if !f.SureKnown {
		sure = "; taken as seen, for how good the heights are is not stated (--vertical-error)"
	}
	p.line("assumed", "compass good to %g° and marks to %s, one standard deviation; of %d marks that can be used%s",
		f.CompassErrorDeg, u.distance(f.PlaceErrorM), f.Combined, sure)
	if f.Beyond > 0 {
		p.line("", "%d farther marks were not tried", f.Beyond)
	}
}

// flatCrossing is the angle, degrees, under which two lines of position
// cross too flatly to be trusted (fix warns of it likewise).
const flatCrossing = 30.0

func (s markSetJSON) text(u units) string {
	var parts []string
	for _, m := range s.Marks {
		sure := ""
		if m.words != "" {
			sure = ": " + m.words
		}
		parts = append(parts, fmt.Sprintf("%s (mark %d%s) at true %s°", m.Name, m.Rank, sure, bearing(m.TrueDeg)))
	}
	return fmt.Sprintf("%s; crossing at %.0f°, they fix the place within %s by %s (19 times in 20)",
		strings.Join(parts, ", "), s.CrossingDeg, u.distance(s.SemiMajorM), u.distance(s.SemiMinorM))
}
