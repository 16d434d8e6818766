package cli

import (
	"context"
	"fmt"
	"strings"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/profile"
	"crowline/visibility"
)

// filledWords is what text calls ground that --fill-voids made.
const filledWords = "filled in from the rim of a void"

// filled is the source's record of filled posts, nil without --fill-voids.
func (g *ground) filled() *dem.Filled { return dem.FilledIn(g.source) }

// anyFilled reports whether any post read so far was filled.
func (g *ground) anyFilled() bool {
	f := g.filled()
	return f != nil && f.Count() > 0
}

// filledLineJSON is the part of a line that lies on filled ground, present
// with --fill-voids only.
type filledLineJSON struct {
	LengthM   float64       `json:"length_m"`
	Stretches []stretchJSON `json:"stretches"`
	Start     bool          `json:"start_filled"`
	End       bool          `json:"end_filled"`
}

// filledAlong says where a line lies on filled ground; nil without
// --fill-voids.
func (g *ground) filledAlong(leg *profile.Leg) *filledLineJSON {
	if g.filled() == nil {
		return nil
	}
	return describeFilled(leg)
}

func describeFilled(leg *profile.Leg) *filledLineJSON {
	stretches := leg.Filled()
	j := &filledLineJSON{
		Stretches: plainStretches(stretches), Start: leg.Points[0].Filled, End: leg.Covered >= leg.Distance && leg.Points[len(leg.Points)-1].Filled,
	}
	length := 0.0
	for _, s := range stretches {
		length += s.To - s.From
	}
	j.LengthM = *rounded(length, 1)
	return j
}

// text is one sentence, "" when nothing is filled.
func (j *filledLineJSON) text(u units) string {
	if j == nil || len(j.Stretches) == 0 {
		return ""
	}
	const most = 4
	listed, more := j.Stretches, ""
	if len(listed) > most {
		listed, more = listed[:most], fmt.Sprintf(" and %d more stretches", len(j.Stretches)-most)
	}
	text := fmt.Sprintf("%s of the line lies on ground %s: %s%s", u.distance(j.LengthM), filledWords, joinStretches(u, listed), more)
	switch {
	case j.Start && j.End:
		text += "; so do both its ends"
	case j.Start:
		text += "; so does its start"
	case j.End:
		text += "; so does its end"
	}
	return text
}

func (j *filledLineJSON) write(p *page, u units) {
	if text := j.text(u); text != "" {
		p.line("FILLED", "%s", text)
	}
}

// rests says what part filled ground has in a sight: whether the ground that
// hides the target is filled, and whether the verdict would not be known had
// the voids stayed.
func (j *sightJSON) rests(leg *profile.Leg, s visibility.Sight, observer visibility.Observer, conditions visibility.Conditions) error {
	j.BlockerFilled = leg.FilledAt(s.BlockedAt)
	var err error
	j.RestsOnFilled, err = visibility.RestsOnFilled(leg, s.Verdict, observer, conditions)
	return err
}

// filledText is what filled ground does to the verdict, "" for nothing.
func (j *sightJSON) filledText() string {
	switch {
	case j.BlockerFilled && j.RestsOnFilled:
		return "the ground that hides it was " + filledWords + ", and may be higher or lower; nothing else known hides it"
	case j.BlockerFilled:
		return "the ground named was " + filledWords + ", and may be higher or lower; other ground hides it too"
	case j.RestsOnFilled && j.Verdict == visibility.Visible.String():
		return "the line passes over ground " + filledWords + ": what stood there may hide it"
	case j.RestsOnFilled:
		return "the verdict rests on ground " + filledWords + ", which may be higher or lower"
	}
	return ""
}

// filledMark marks a mark that stands on filled ground, and a sight of it
// that rests on some.
func (m *markJSON) filledMark(ctx context.Context, posts dem.Posts, from geodesy.LatLon, l *visibility.Landmark, observer visibility.Observer, conditions visibility.Conditions) error {
	if column, row, err := posts.Layout().Locate(l.Place); err == nil {
		m.Filled = dem.FilledAt(posts, column, row)
	}
	if l.Sight.Verdict == visibility.Unknown || geodesy.Inverse(from, l.Place).Distance < 1 {
		return posts.Err()
	}
	leg, err := profile.Trace(ctx, posts, from, l.Place)
	if err != nil {
		return err
	}
	if l.AboveGround > 0 {
		conditions.TargetAboveGround = l.AboveGround
	}
	return m.Sight.rests(leg, l.Sight, observer, conditions)
}

// filledText is the mark's part of it, "" for none.
func (m *markJSON) filledText() string {
	var parts []string
	if m.Filled {
		parts = append(parts, "Its ground was "+filledWords+".")
	}
	if text := m.Sight.filledText(); text != "" {
		parts = append(parts, capitalised(text)+".")
	}
	return strings.Join(parts, " ")
}

func capitalised(s string) string { return strings.ToUpper(s[:1]) + s[1:] }
