package cli

import (
	"fmt"
	"strings"

	"crowline/dem"
	"crowline/visibility"
)

// coverViewJSON is what cover changes in a viewshed, against the same over
// the bare ground.
type coverViewJSON struct {
	BareVisible    int64   `json:"bare_visible_posts"`
	BareAreaSeenM2 float64 `json:"bare_area_seen_m2"`
	// Posts with a verdict, and those of them that the cover gives another.
	Asked   int64 `json:"posts"`
	Changed int64 `json:"changed_posts"`
	// Of these: seen over the bare ground and hidden, the other way round,
	// no longer known, and not known over the bare ground.
	Lost      int64 `json:"visible_to_hidden_posts"`
	Gained    int64 `json:"hidden_to_visible_posts"`
	ToUnknown int64 `json:"to_unknown_posts"`
	Settled   int64 `json:"from_unknown_posts"`
	// TopsSeen are seen posts that are the top of something standing there.
	TopsSeen int64 `json:"tops_seen_posts"`
	// UnknownCover are posts with ground whose cover is not known.
	UnknownCover int64 `json:"unknown_cover_posts"`
}

// compare tells what cover changes: bare is the view without it, covered the
// ground with it that over looks at.
func (j *viewedJSON) compare(bare, over *visibility.Viewed, ground, covered *dem.Grid) {
	c := visibility.CompareCovered(bare, over, ground, covered)
	j.Cover = &coverViewJSON{
		BareVisible: bare.Summary.Visible, BareAreaSeenM2: *rounded(bare.Summary.AreaSeen, 0),
		Asked: c.Asked, Changed: c.Changed, Lost: c.Lost, Gained: c.Gained, ToUnknown: c.ToUnknown, Settled: c.Settled,
		TopsSeen: c.TopsSeen, UnknownCover: c.UnknownCover,
	}
	j.VoidPosts -= c.UnknownCover
	if f := over.Summary.Farthest; f != nil {
		h := ground.Elevation(f.Column, f.Row)
		j.Farthest.ElevationM, j.Farthest.CoverM = rounded(h, 1), *rounded(f.Elevation-h, 1)
	}
}

// text is what the cover changes, "" for no cover.
func (c *coverViewJSON) text(u units) string {
	if c == nil {
		return ""
	}
	text := fmt.Sprintf("over the bare ground %s would be seen. The cover changes the verdict of %d of %d posts", u.area(c.BareAreaSeenM2), c.Changed, c.Asked)
	var parts []string
	say := func(n int64, format string) {
		if n > 0 {
			parts = append(parts, fmt.Sprintf(format, n))
		}
	}
	say(c.Lost, "%d seen over the bare ground are hidden by it")
	say(c.Gained, "%d hidden come into view, the cover's top being seen")
	say(c.ToUnknown, "%d are no longer known")
	say(c.Settled, "%d not known are now")
	if len(parts) > 0 {
		text += ": " + strings.Join(parts, ", ")
	}
	if c.TopsSeen > 0 {
		text += fmt.Sprintf(". Of the posts seen %d are tops of what stands there: the ground under them need not be seen", c.TopsSeen)
	}
	return text
}

// unknownText is the part cover has in posts that are not known.
func (c *coverViewJSON) unknownText() string {
	if c == nil {
		return ""
	}
	return fmt.Sprintf(" %d whose cover is not known,", c.UnknownCover)
}

// coverSkylineJSON is what cover changes of a skyline, against that of the
// bare ground.
type coverSkylineJSON struct {
	// Bearings a step apart, and those of them on which what stands on the
	// ground makes the skyline, which stands higher by at least raised, or is
	// no longer known to the end.
	Of          int     `json:"of_bearings"`
	StepDeg     float64 `json:"step_deg"`
	Tops        int     `json:"made_by_cover_bearings"`
	Raised      int     `json:"raised_bearings"`
	NotKnown    int     `json:"no_longer_known_bearings"`
	MostDeg     float64 `json:"most_raised_deg"`
	MostTrueDeg float64 `json:"most_raised_true_deg"`
}

// raised is by how much a skyline must rise to be said to, degrees: what the
// text's figures show.
const raised = 0.1

func compareSkylines(bare, over *visibility.Horizon, step float64) *coverSkylineJSON {
	c := visibility.CompareSkylines(bare, over, raised)
	j := &coverSkylineJSON{Of: len(over.Points), StepDeg: step, Tops: c.Tops, Raised: c.Raised, NotKnown: c.NotKnown, MostDeg: *rounded(float64(c.Most), 2)}
	if j.MostDeg > 0 {
		j.MostTrueDeg = *rounded(float64(c.MostAt), 2)
	}
	return j
}

// text is what the cover changes, "it" being what stands on the ground.
func (j *coverSkylineJSON) text() string {
	text := fmt.Sprintf("it makes the skyline on %d of %d bearings, and raises that of the bare ground ", j.Tops, j.Of)
	if j.Raised > 0 {
		text += fmt.Sprintf("by a tenth of a degree or more on %d, most by %.1f° on true %s°", j.Raised, j.MostDeg, bearing(j.MostTrueDeg))
	} else {
		text += "nowhere by a tenth of a degree"
	}
	if j.NotKnown > 0 {
		text += fmt.Sprintf("; on %d the skyline is no longer known", j.NotKnown)
	}
	return text
}
