package cli

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"crowline/dem"
	"crowline/profile"
	"crowline/profile/magnetic"
	"crowline/visibility"
)

// sightJSON is a sight in JSON.
type sightJSON struct {
	Verdict           string   `json:"verdict"`
	ClearanceM        *float64 `json:"clearance_m"`
	ClearanceAtM      *float64 `json:"clearance_at_m"`
	ElevationAngleDeg *float64 `json:"elevation_angle_deg"`
	BlockedAtM        *float64 `json:"blocked_at_m"`
	BlockerElevationM *float64 `json:"blocker_elevation_m"`
	ExtraHeightM      *float64 `json:"extra_height_m"`
	ExtraEyeHeightM   *float64 `json:"extra_eye_height_m"`
	// BlockedBy is "ground", "cover" where only what stands on it hides the
	// target there, or "ground and cover" where the ground would alone.
	// BlockerCoverM is how much of the blocker's elevation stands on the
	// ground, BareExtraM the extra height were there nothing on it.
	BlockedBy     string   `json:"blocked_by,omitempty"`
	BlockerCoverM *float64 `json:"blocker_cover_m,omitempty"`
	BareExtraM    *float64 `json:"bare_ground_extra_height_m,omitempty"`
	// CoverUnknown: unknown, and only because what stands on the ground is.
	CoverUnknown bool `json:"cover_unknown,omitempty"`
	// ExtraAtLeast: part of the way is not known, and may ask for more.
	ExtraAtLeast bool `json:"extra_at_least,omitempty"`
	// OwnGround: only ground within a post of the target hides it, and by no
	// more than the data's error; that ground is in sight.
	OwnGround      bool     `json:"own_ground,omitempty"`
	ComesIntoViewM *float64 `json:"comes_into_view_m"`
	// BlockerFilled: the ground that hides the target was filled in.
	// RestsOnFilled: the verdict would not be known had the voids stayed.
	BlockerFilled bool          `json:"blocker_filled,omitempty"`
	RestsOnFilled bool          `json:"rests_on_filled,omitempty"`
	Likely        *likelyJSON   `json:"likelihood"`
	WhileWalking  []stretchJSON `json:"while_walking,omitempty"`
}

func describeSight(s visibility.Sight, walking []visibility.Stretch) sightJSON {
	j := sightJSON{
		Verdict: s.Verdict.String(), ClearanceM: rounded(s.Nearest, 2), ClearanceAtM: rounded(s.NearestAt, 1),
		ElevationAngleDeg: rounded(float64(s.Angle), 3), BlockedAtM: rounded(s.BlockedAt, 1), BlockerElevationM: rounded(s.BlockerElevation, 1),
		BlockedBy: s.BlockedBy.String(), CoverUnknown: s.CoverUnknown,
	}
	if s.BlockerCover > 0 {
		j.BlockerCoverM, j.BareExtraM = rounded(s.BlockerCover, 1), rounded(s.BareExtra, 2)
	}
	if s.Verdict != visibility.Unknown {
		j.ExtraHeightM, j.ExtraEyeHeightM, j.ExtraAtLeast = rounded(s.TargetExtra, 2), rounded(s.EyeExtra, 2), s.AtLeast
	}
	if walking != nil {
		j.WhileWalking = sightStretches(walking)
		if s.Verdict == visibility.Hidden {
			if at, ok := firstSeen(walking); ok {
				j.ComesIntoViewM = rounded(at, 1)
			}
		}
	}
	return j
}

// firstSeen is the distance along the leg at which the destination is first
// seen.
func firstSeen(walking []visibility.Stretch) (float64, bool) {
	for _, s := range walking {
		if s.Verdict == visibility.Visible {
			return s.From, true
		}
	}
	return 0, false
}

// writeSight says whether a target is seen from the start. own is whether only
// its own ground hides it.
func writeSight(p *page, u units, target, from string, s visibility.Sight, own bool) {
	angle := ""
	if !math.IsNaN(float64(s.Angle)) {
		side := "above"
		if s.Angle < 0 {
			side = "below"
		}
		angle = fmt.Sprintf(", %.1f° %s the horizontal", math.Abs(float64(s.Angle)), side)
	}
	switch s.Verdict {
	case visibility.Visible:
		text := fmt.Sprintf("%s is visible%s", target, angle)
		if !math.IsNaN(s.Clearance) {
			text += fmt.Sprintf("; the line clears the ground between by %s, least at %s", u.height(s.Nearest), u.distance(s.NearestAt))
		}
		p.line("from "+from, "%s", text)
	case visibility.Hidden:
		if own {
			p.line("from "+from, "%s is hidden by its own ground, by %s%s: what stands in front is %s from it, nearer than the posts are to each other (%s), so the data cannot tell the two apart. That ground, %s high, is in sight",
				target, u.need(s.TargetExtra), angle, u.distance(s.Distance-s.BlockedAt), u.distance(s.Spacing), u.height(s.BlockerElevation))
			return
		}
		p.line("from "+from, "%s is hidden%s: ground at %s, %s high, stands in front of it",
			target, angle, u.distance(s.BlockedAt), u.height(s.BlockerElevation))
		least, why := "", ""
		if s.AtLeast {
			least, why = "at least ", "; part of the way has no data, and may ask for more"
		}
		p.line("", "to be just seen it would have to stand %s%s higher, or the eye %s%s higher%s", least, u.need(s.TargetExtra), least, u.need(s.EyeExtra), why)
	default:
		p.line("from "+from, "%s: not known. The line meets ground with no elevation data, and the ground that is known does not hide it.", target)
	}
}

// fromStretches joins stretches: "from 0 m to 1.20 km, at 3.40 km".
func fromStretches(list []string) string {
	text := strings.Join(list, ", ")
	if !strings.HasPrefix(text, "at ") {
		text = "from " + text
	}
	return text
}

type sightOptions struct {
	question

	bearing bearingFlags

	from, to string
	directed bool
	radius   float64
	plot     string
}

func newSightCmd(s Streams, runF func(context.Context, *sightOptions) error) *cobra.Command {
	o := &sightOptions{question: question{streams: s}}
	if runF == nil {
		runF = sightRun
	}
	cmd := &cobra.Command{
		Use:   "sight FROM [TO]",
		Short: "What is seen: one place from another, or along a bearing",
		Long: `Tell whether TO can be seen from FROM over the ground: the verdict (visible,
hidden or unknown), by how much the line clears the ground or is blocked and
where, the elevation angle, and how much higher eye or target would have to be.
How sure it is comes from the data's vertical error: visible is 95 % or more,
probably visible 75, doubtful 25, probably hidden 5, and under that hidden.

With --bearing instead of TO: what ground is seen along that bearing, as far
as --radius or the edge of the data, and what stands on the skyline.

With --cover it is also told whether TO is seen over what stands on the ground,
eye and target each on bare ground in a clearing as wide as --clearing says and
never less than its cell. Along a bearing the answer is over it. --plot draws
it, and what cannot be seen over it.

Curvature and refraction are allowed for. Ground that just touches the line
does not hide. Unknown means that the line meets ground with no elevation
data.`,
		Example: `  crowline sight 34.3297,-118.0548 34.3008,-118.0514 --eye 1.7m
  crowline sight Camp Tower --places trip.gpx --target-height 60ft --json
  crowline sight 34.3297,-118.0548 --bearing 138 --magnetic --radius 12km`,
		Args: rangeArgs(1, 2, "a place and either another or --bearing"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.from, o.directed = args[0], o.bearing.set(cmd)
			if len(args) == 2 {
				o.to = args[1]
			}
			if o.directed == (o.to != "") {
				return usageErrorf("sight takes a place and either another or --bearing")
			}
			return runF(cmd.Context(), o)
		},
	}
	o.question.add(cmd)
	o.bearing.add(cmd, "look along this bearing, `degrees`, instead of at a place")
	addRadius(cmd, &o.radius)
	needs(cmd, []string{"bearing"}, "radius")
	cmd.Flags().StringVar(&o.plot, "plot", "", "draw the profile to `FILE`.svg, .png or .pdf")
	namesFiles(cmd, filesWritten, "plot")
	return cmd
}

type sightAnswer struct {
	From          place            `json:"from"`
	To            place            `json:"to"`
	DistanceM     float64          `json:"distance_m"`
	Bearing       bearingJSON      `json:"bearing"`
	Declination   *declinationJSON `json:"declination"`
	Sight         sightJSON        `json:"sight"`
	OverCover     *coverJSON       `json:"over_cover,omitempty"`
	Filled        *filledLineJSON  `json:"filled_ground,omitempty"`
	Assumptions   assumptions      `json:"assumptions"`
	ElevationData elevationData    `json:"elevation_data"`
	Cautions      []string         `json:"cautions"`
}

func sightRun(ctx context.Context, o *sightOptions) error {
	u, conditions, day, err := o.read()
	if err != nil {
		return err
	}
	if o.plot != "" {
		if err := checkDrawingPath(o.plot); err != nil {
			return err
		}
	}
	from, err := o.places.resolve(o.from)
	if err != nil {
		return err
	}
	if o.directed {
		g, err := o.openAbout(ctx, o.radius, horizonPostBytes, from.LatLon)
		if err != nil {
			return err
		}
		defer g.Close()
		return o.look(ctx, g, u, from, conditions, day)
	}
	to, err := o.places.resolve(o.to)
	if err != nil {
		return err
	}
	g, err := o.ground.openLeg(ctx, o.streams, from.LatLon, to.LatLon)
	if err != nil {
		return err
	}
	defer g.Close()
	leg, err := profile.Trace(ctx, g.posts(ctx), from.LatLon, to.LatLon)
	if err != nil {
		return err
	}
	observer := visibility.Observer{Place: from.LatLon, EyeAboveGround: o.sight.eye}
	s, err := visibility.Along(leg, observer, conditions)
	if err != nil {
		return err
	}
	b := magnetic.Follow(leg.Geodesic, from.LatLon, to.LatLon, leg.Points[0].Elevation, day)
	destination := math.NaN()
	if leg.Covered >= leg.Distance {
		destination = leg.Points[len(leg.Points)-1].Elevation
	}
	a := sightAnswer{
		From: describePlace(from, leg.Points[0].Elevation), To: describePlace(to, destination), DistanceM: *rounded(leg.Distance, 2),
		Bearing: describeBearings(b), Declination: describeDeclination(b.Field, b.FieldError, day),
		Sight: describeSight(s, nil), Filled: g.filledAlong(leg), Assumptions: o.sight.describe(), Cautions: cautions,
	}
	a.Sight.OwnGround = s.OwnGround(g.deadBand())
	if err := a.Sight.rests(leg, s, observer, conditions); err != nil {
		return err
	}
	if a.Sight.Likely, err = g.likely(ctx, leg, observer, conditions, sightSamples); err != nil {
		return err
	}
	over, err := o.cover.open(ctx, g)
	if err != nil {
		return err
	}
	if over != nil {
		defer over.close()
		if a.OverCover, err = over.look(ctx, g.posts(ctx), to.LatLon, observer, conditions, s.Verdict); err != nil {
			return err
		}
	}
	a.ElevationData = g.describe(leg.Spacing)
	if o.plot != "" {
		choice, err := g.chooseInterval(ctx, (&intervalFlag{}).question(mapScale, g.verticalError, u), alongLegs(from.LatLon, to.LatLon))
		if err != nil {
			return err
		}
		full := &legAnswer{leg: leg, From: a.From, To: a.To, bearings: b, seen: s, conditions: conditions, levels: choice.Levels(), ElevationData: a.ElevationData, OverCover: a.OverCover}
		if err := plotLeg(ctx, o.plot, full.plotTitle(u), full, u); err != nil {
			return err
		}
	}
	if o.output.json {
		return writeJSON(o.streams.Out, a)
	}
	p := &page{w: o.streams.Out}
	p.head("Sight")
	p.line("from", "%s", a.From.text(u))
	p.line("to", "%s", a.To.text(u))
	p.line("distance", "%s, towards %s", u.distance(leg.Distance), towards(b.True))
	a.Filled.write(p, u)
	var compass *float64
	if b.FieldError == nil {
		compass = number(float64(b.Magnetic))
	}
	writeBearing(p, float64(b.True), compass, a.Declination)
	writeSight(p, u, "it", "there", s, a.Sight.OwnGround)
	writeLikely(p, u, a.Sight.Likely)
	if a.OverCover != nil {
		a.OverCover.write(p, u, s.Verdict)
	}
	a.Sight.writeFilled(p)
	writeFoot(p, u, a.ElevationData, a.Assumptions)
	return p.err
}

// writeBearing says a bearing from true north and, where the field is known, by
// the compass.
func writeBearing(p *page, degrees float64, compass *float64, d *declinationJSON) {
	text := fmt.Sprintf("true %s°", bearing(degrees))
	if compass != nil {
		text += fmt.Sprintf(", magnetic %s° on %s (declination %s ± %.1f)", bearing(*compass), d.Date, eastWest(d.Deg), d.SigmaDeg)
	}
	p.line("bearing", "%s", text)
}

// lookAnswer is what is seen along a bearing.
type lookAnswer struct {
	From          place            `json:"from"`
	BearingDeg    float64          `json:"true_deg"`
	MagneticDeg   *float64         `json:"magnetic_deg"`
	Ground        *groundSeenJSON  `json:"ground_along"`
	GroundBare    *groundSeenJSON  `json:"bare_ground_along,omitempty"`
	OverCover     *coverAlongJSON  `json:"over_cover,omitempty"`
	Declination   *declinationJSON `json:"declination"`
	Assumptions   assumptions      `json:"assumptions"`
	ElevationData elevationData    `json:"elevation_data"`
	Cautions      []string         `json:"cautions"`
}

// look answers a sight along a bearing.
func (o *sightOptions) look(ctx context.Context, g *ground, u units, from namedPlace, conditions visibility.Conditions, day time.Time) error {
	posts := g.posts(ctx)
	start, err := dem.ElevationAt(posts, from.LatLon)
	if err != nil {
		return err
	}
	field, fieldError := magnetic.WMM2025.At(from.LatLon, start, day)
	b, err := o.bearing.trueBearing(field, fieldError)
	if err != nil {
		return err
	}
	observer := visibility.Observer{Place: from.LatLon, EyeAboveGround: o.sight.eye}
	leg, err := traceBearing(ctx, posts, from.LatLon, b, o.radius)
	if err != nil {
		return err
	}
	a := lookAnswer{
		From: describePlace(from, start), BearingDeg: *rounded(float64(b), 2), Declination: describeDeclination(field, fieldError, day),
		Assumptions: o.sight.describe(), ElevationData: g.describe(leg.Spacing), Cautions: cautions,
	}
	if fieldError == nil {
		a.MagneticDeg = rounded(float64(field.Declination.Magnetic(b)), 1)
	}
	if a.Ground, err = describeGround(leg, observer, conditions); err != nil {
		return err
	}
	over, err := o.cover.open(ctx, g)
	if err != nil {
		return err
	}
	if over != nil {
		defer over.close()
		a.GroundBare = a.Ground
		if a.Ground, a.OverCover, err = over.along(ctx, posts, observer, conditions, b, o.radius); err != nil {
			return err
		}
	}
	if o.plot != "" {
		seen := visibility.Sight{EyeElevation: start + o.sight.eye, TargetElevation: math.NaN(), BlockedAt: math.NaN(), StoppedAt: math.NaN()}
		along := magnetic.Bearings{True: b, FieldError: fieldError}
		if fieldError == nil {
			along.Magnetic = field.Declination.Magnetic(b)
		}
		shown := *leg
		shown.Distance = leg.Covered
		choice, err := g.chooseInterval(ctx, (&intervalFlag{}).question(mapScale, g.verticalError, u), alongLegs(from.LatLon, leg.PlaceAt(leg.Covered)))
		if err != nil {
			return err
		}
		full := &legAnswer{leg: &shown, From: a.From, To: place{Name: lookEnd(leg)}, seen: seen, conditions: conditions, levels: choice.Levels(), ElevationData: a.ElevationData}
		if a.OverCover != nil {
			covered := *a.OverCover.leg
			covered.Distance = covered.Covered
			full.OverCover = &coverJSON{Name: a.OverCover.Name, leg: &covered, seen: seen}
		}
		if err := plotLeg(ctx, o.plot, lookTitle(a.From, along, o.bearing.magnetic, leg, u), full, u); err != nil {
			return err
		}
	}
	if o.output.json {
		return writeJSON(o.streams.Out, a)
	}
	p := &page{w: o.streams.Out}
	p.head("Sight")
	p.line("from", "%s", a.From.text(u))
	writeBearing(p, a.BearingDeg, a.MagneticDeg, a.Declination)
	if a.OverCover != nil {
		p.line("over", "what stands on the ground: %s", a.OverCover.Name)
	}
	a.Ground.write(p, u)
	if a.GroundBare != nil {
		p.line("bare ground", "%s", a.GroundBare.brief(u, a.Ground))
		for _, w := range a.OverCover.Warnings {
			p.line("warning", "%s", w)
		}
	}
	writeFoot(p, u, a.ElevationData, a.Assumptions)
	return p.err
}
