package cli

import (
	"context"
	"fmt"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"crowline/cmd/internal/answer"
	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/profile"
	"crowline/profile/magnetic"
	"crowline/visibility"
)

// bearingFlags give a direction by hand.
type bearingFlags struct {
	bearing  float64
	magnetic bool
}

func (f *bearingFlags) add(cmd *cobra.Command, use string) {
	cmd.Flags().Var(newNumber(math.NaN(), &f.bearing, "a bearing in degrees", from(0, 360)), "bearing", use)
	cmd.Flags().BoolVar(&f.magnetic, "magnetic", false, "the bearing given is magnetic, not true")
	needs(cmd, []string{"bearing"}, "magnetic")
}

// set reports whether a bearing was given.
func (f *bearingFlags) set(cmd *cobra.Command) bool { return cmd.Flags().Changed("bearing") }

// heading is the direction the flags give.
func (f *bearingFlags) heading() answer.Heading {
	return answer.Heading{Deg: f.bearing, Magnetic: f.magnetic}
}

// trueBearing is the bearing from true north; field is the magnetic field there.
func (f *bearingFlags) trueBearing(field magnetic.Field, fieldError error) (geodesy.TrueBearing, error) {
	if !f.magnetic {
		return geodesy.NewTrueBearing(geodesy.Degrees(f.bearing)), nil
	}
	if fieldError != nil {
		return 0, fmt.Errorf("--magnetic: %w", fieldError)
	}
	return field.Declination.True(geodesy.NewMagneticBearing(geodesy.Degrees(f.bearing))), nil
}

// groundSeenJSON is what is seen along a bearing.
type groundSeenJSON struct {
	ToM              float64       `json:"to_m"`
	Stretches        []stretchJSON `json:"stretches"`
	SkylineM         *float64      `json:"skyline_m"`
	SkylineElevation *float64      `json:"skyline_elevation_m"`
	SkylineAngleDeg  *float64      `json:"skyline_angle_deg"`
	Skyline          *place        `json:"skyline,omitempty"`
	SkylineFilled    bool          `json:"skyline_filled,omitempty"`
	// SkylineCoverM is how much of the skyline's elevation stands on the
	// ground, TopsSeenM the length of what is seen that is the top of what
	// stands there, CoverUnknownM that along which only the cover is unknown.
	SkylineCoverM float64 `json:"skyline_cover_m,omitempty"`
	TopsSeenM     float64 `json:"tops_seen_m,omitempty"`
	CoverUnknownM float64 `json:"cover_unknown_m,omitempty"`
	// Filled is the part of the line on filled ground, nil where there is none.
	Filled *filledLineJSON `json:"filled_ground,omitempty"`
}

// groundAlong looks along a bearing as far as the radius or the data goes.
func groundAlong(ctx context.Context, grid dem.Posts, observer visibility.Observer, conditions visibility.Conditions, b geodesy.TrueBearing, radius float64) (*groundSeenJSON, error) {
	leg, err := traceBearing(ctx, grid, observer.Place, b, radius)
	if err != nil {
		return nil, err
	}
	return describeGround(leg, observer, conditions)
}

func describeGround(leg *profile.Leg, observer visibility.Observer, conditions visibility.Conditions) (*groundSeenJSON, error) {
	seen, err := visibility.GroundAlong(leg, observer, conditions)
	if err != nil {
		return nil, err
	}
	j := &groundSeenJSON{
		ToM: *rounded(leg.Covered, 1), Stretches: sightStretches(seen.Seen), SkylineM: rounded(seen.Skyline, 1),
		SkylineElevation: rounded(seen.Elevation, 1), SkylineAngleDeg: rounded(float64(seen.Angle), 3),
		SkylineCoverM: *rounded(seen.SkylineCover, 1), TopsSeenM: *rounded(seen.Tops, 1), CoverUnknownM: *rounded(leg.CoverUnknown(), 1),
	}
	if j.SkylineM != nil {
		at := describePlace(namedPlace{LatLon: leg.PlaceAt(seen.Skyline)}, seen.Elevation-seen.SkylineCover)
		j.Skyline, j.SkylineFilled = &at, leg.FilledAt(seen.Skyline)
	}
	if len(leg.Filled()) > 0 {
		j.Filled = describeFilled(leg)
	}
	return j, nil
}

// traceBearing lays a line along a bearing to the radius, or to the data's
// edge when that is 0.
func traceBearing(ctx context.Context, posts dem.Posts, from geodesy.LatLon, b geodesy.TrueBearing, radius float64) (*profile.Leg, error) {
	if radius <= 0 {
		radius = profile.MaxLength * 0.999
	}
	to, _ := geodesy.Direct(from, b, radius)
	return profile.Trace(ctx, posts, from, to)
}

func (g *groundSeenJSON) write(p *page, u units) {
	var seen, unknown []string
	for _, s := range g.Stretches {
		text := u.stretch(s.FromM, s.ToM)
		switch s.Verdict {
		case visibility.Visible.String():
			seen = append(seen, text)
		case visibility.Unknown.String():
			unknown = append(unknown, text)
		}
	}
	const most = 8
	more := ""
	if len(seen) > most {
		more = fmt.Sprintf(" and %d shorter or farther stretches", len(seen)-most)
		seen = seen[:most]
	}
	what, tops := "ground", ""
	if g.TopsSeenM > 0 {
		what = "ground, or the top of what stands on it,"
		tops = fmt.Sprintf("; %s of that is tops, and the ground under them need not be seen", u.distance(g.TopsSeenM))
	}
	p.line("seen", "%s %s%s (looked as far as %s)%s", what, fromStretches(seen), more, u.distance(g.ToM), tops)
	if len(unknown) > 0 {
		why := ""
		if g.CoverUnknownM > 0 {
			why = fmt.Sprintf("; on %s of the line what stands on the ground is not known", u.distance(g.CoverUnknownM))
		}
		p.line("not known", "%s%s", strings.Join(unknown, ", "), why)
	}
	if g.Skyline != nil {
		side := "above"
		if *g.SkylineAngleDeg < 0 {
			side = "below"
		}
		what, cover := "ground", ""
		if g.SkylineCoverM > 0 {
			what, cover = "what stands on the ground", fmt.Sprintf(" (%s of it above the ground)", u.height(g.SkylineCoverM))
		}
		p.line("skyline", "%s %s away, %s high%s, %.1f° %s the horizontal: %s", what, u.distance(*g.SkylineM), u.height(*g.SkylineElevation), cover,
			math.Abs(*g.SkylineAngleDeg), side, g.Skyline.text(u))
		if g.SkylineFilled {
			p.line("FILLED", "the ground on the skyline was %s, and may be higher or lower", filledWords)
		}
	}
	g.Filled.write(p, u)
}

// brief is how far the bare ground differs from what over has, which is the
// same line over cover.
func (g *groundSeenJSON) brief(u units, over *groundSeenJSON) string {
	length := func(j *groundSeenJSON) (sum float64) {
		for _, s := range j.Stretches {
			if s.Verdict == visibility.Visible.String() {
				sum += s.ToM - s.FromM
			}
		}
		return sum
	}
	text := fmt.Sprintf("%s of this line would be seen, not %s", u.distance(length(g)), u.distance(length(over)))
	if over.TopsSeenM > 0 {
		text += fmt.Sprintf(" with %s of tops in it", u.distance(over.TopsSeenM))
	}
	if g.Skyline != nil && (over.Skyline == nil || math.Abs(*g.SkylineM-*over.SkylineM) > 1) {
		text += fmt.Sprintf(", and the skyline would be %s away", u.distance(*g.SkylineM))
	}
	return text
}
