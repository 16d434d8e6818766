package cli

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/profile/magnetic"
	"crowline/visibility"
)

type landmarksOptions struct {
	question

	bearing bearingFlags

	from         string
	directed     bool
	within       float64
	radius       float64
	prominence   float64
	visualRange  float64
	most         int
	hidden       bool
	forFix       bool
	compassError float64
	markError    float64
}

func newLandmarksCmd(s Streams, runF func(context.Context, *landmarksOptions) error) *cobra.Command {
	o := &landmarksOptions{question: question{streams: s}}
	if runF == nil {
		runF = landmarksRun
	}
	cmd := &cobra.Command{
		Use:   "landmarks FROM",
		Short: "What can be sighted from a place, best mark first",
		Long: `List what can be sighted from a place: summits found in the data and your own
--places, each with its bearing, distance, elevation angle, what stands behind
it and how far it stands out, ranked as marks to walk on. With --bearing only
marks near that bearing, and what ground is seen along it.

A mark's rank is the product of: far (d/(d + 2 km)); on the bearing; on the
skyline (1) or against ground (1/2, more the farther behind); distinct
(h/(h + 1/4°), h its height as an angle); kept in view, where a leg is asked;
and how likely it is to be seen, where the data's vertical error is known. Each
mark says why it stands where it does. Marks smaller than an arc-minute come
after all others: the eye does not tell them.

--for-fix proposes sets of marks that are each seen with 75 % or more, by the
error of the place they fix; if there are none, sets with doubtful marks, and
says so.

` + coverHelp + `
A mark, named place or summit, stands on bare ground in such a clearing of its
own. Marks whose verdict is another over the bare ground are said.`,
		Example: `  crowline landmarks 34.3297,-118.0548 --radius 15km
  crowline landmarks Camp --places trip.gpx --bearing 138 --magnetic
  crowline landmarks Camp --places trip.gpx --for-fix`,
		Args: exactArgs(1, "one place"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.from = args[0]
			o.directed = o.bearing.set(cmd)
			return runF(cmd.Context(), o)
		},
	}
	o.question.add(cmd)
	o.bearing.add(cmd, "look along this bearing, `degrees`")
	cmd.Flags().Var(newNumber(float64(visibility.DefaultWithin), &o.within, "an angle in degrees", above(0, 180)), "within", "how far off the bearing a mark may lie, `degrees`")
	addRadius(cmd, &o.radius)
	cmd.Flags().Var(newLength(0, &o.prominence).within(above(0, 10e3)), "prominence", "least rise of a summit above its saddle (default 20m, or twice the data's vertical error)")
	cmd.Flags().Lookup("prominence").DefValue = ""
	cmd.Flags().Var(newLength(0, &o.visualRange).within(above(0, 1000e3)), "visual-range", "how far the air lets one see: marks lost in haze come after all others that show (default: not asked)")
	cmd.Flags().Lookup("visual-range").DefValue = ""
	cmd.Flags().Var(newCount(12, &o.most, 0, mostInList), "most", "list at most this `number` in text")
	cmd.Flags().BoolVar(&o.hidden, "with-hidden", false, "list hidden marks too, and by how much")
	cmd.Flags().BoolVar(&o.forFix, "for-fix", false, "propose the visible marks that fix this place best by their bearings")
	addCompassError(cmd, &o.compassError, 2, "one standard deviation of a compass bearing, `degrees`, for --for-fix")
	addMarkError(cmd, &o.markError, "one standard deviation of where on a mark you would point, for --for-fix")
	needs(cmd, []string{"bearing"}, "within")
	needs(cmd, []string{"for-fix"}, "compass-error", "mark-error")
	return cmd
}

// markJSON is a mark in JSON.
type markJSON struct {
	Rank              int           `json:"rank"`
	Kind              string        `json:"kind"`
	At                place         `json:"place"`
	ProminenceM       *float64      `json:"prominence_m"`
	ProminenceAtLeast bool          `json:"prominence_at_least"`
	TrueDeg           float64       `json:"true_deg"`
	MagneticDeg       *float64      `json:"magnetic_deg"`
	OffBearingDeg     *float64      `json:"off_bearing_deg"`
	DistanceM         float64       `json:"distance_m"`
	Sight             sightJSON     `json:"sight"`
	OverCover         *coverJSON    `json:"over_cover,omitempty"`
	OverBare          *sightJSON    `json:"over_bare_ground,omitempty"` // where Sight is over cover
	DependsOnCover    bool          `json:"depends_on_cover,omitempty"`
	OwnSlope          bool          `json:"hidden_by_own_slope"`
	SeenBy            *place        `json:"seen_by_its_top,omitempty"` // the post its sight is of
	Backdrop          string        `json:"behind,omitempty"`
	BehindM           *float64      `json:"ground_behind_at_m"`
	BehindCoverM      float64       `json:"behind_cover_m,omitempty"` // of it, what stands on the ground
	AngularHeightDeg  *float64      `json:"angular_height_deg"`
	AngularWidthDeg   *float64      `json:"angular_width_deg"`
	TooSmall          bool          `json:"too_small"`
	Filled            bool          `json:"on_filled_ground,omitempty"`
	KeptShare         *float64      `json:"kept_in_view_share"`
	Kept              []stretchJSON `json:"kept_in_view,omitempty"`
	Score             float64       `json:"score"`
	Why               string        `json:"why"`
}

func describeMark(rank int, l *visibility.Landmark, field magnetic.Field, fieldError error, directed bool, u units) markJSON {
	j := markJSON{
		Rank: rank, Kind: l.Kind, At: describePlace(namedPlace{l.Name, l.Place}, l.Elevation),
		ProminenceM: rounded(l.Prominence, 1), ProminenceAtLeast: l.ProminenceAtLeast,
		TrueDeg: *rounded(float64(l.Bearing), 2), DistanceM: *rounded(l.Distance, 1), Sight: describeSight(l.Sight, nil),
		OwnSlope: l.OwnSlope, Backdrop: l.Backdrop.String(), TooSmall: l.TooSmall, Score: *rounded(l.Score, 4), Why: l.Explain(u.lengths()),
	}
	if fieldError == nil && field.Zone != magnetic.Blackout {
		j.MagneticDeg = rounded(float64(field.Declination.Magnetic(l.Bearing)), 1)
	}
	if directed {
		j.OffBearingDeg = rounded(float64(l.OffBearing), 2)
	}
	if l.Sight.Verdict == visibility.Visible {
		j.BehindM, j.BehindCoverM = rounded(l.BehindAt, 0), *rounded(l.BehindCover, 1)
		j.AngularHeightDeg, j.AngularWidthDeg = rounded(float64(l.AngularHeight), 3), rounded(float64(l.AngularWidth), 3)
	}
	if l.Top != nil {
		top := describePlace(namedPlace{LatLon: *l.Top}, l.TopElevation)
		j.SeenBy = &top
	}
	if l.Kept != nil {
		j.Kept, j.KeptShare = sightStretches(l.Kept), rounded(l.KeptShare, 3)
	}
	return j
}

// lengths are the library's sentences in these units.
func (u units) lengths() visibility.Lengths {
	return visibility.Lengths{Distance: u.distance, Height: u.height}
}

type landmarksAnswer struct {
	From          place            `json:"from"`
	BearingDeg    *float64         `json:"bearing_true_deg"`
	Ground        *groundSeenJSON  `json:"ground_along"`
	GroundBare    *groundSeenJSON  `json:"bare_ground_along,omitempty"`
	Marks         []markJSON       `json:"marks"`
	DependOnCover *int             `json:"marks_depending_on_cover,omitempty"`
	OverCover     *coverUsedJSON   `json:"over_cover,omitempty"`
	ForFix        *fixMarksJSON    `json:"for_fix,omitempty"`
	Declination   *declinationJSON `json:"declination"`
	Assumptions   assumptions      `json:"assumptions"`
	ElevationData elevationData    `json:"elevation_data"`
	Cautions      []string         `json:"cautions"`
}

func landmarksRun(ctx context.Context, o *landmarksOptions) error {
	u, conditions, day, err := o.read()
	if err != nil {
		return err
	}
	from, err := o.places.resolve(o.from)
	if err != nil {
		return err
	}
	g, err := o.openAbout(ctx, o.radius, horizonPostBytes, from.LatLon)
	if err != nil {
		return err
	}
	defer g.Close()
	over, err := o.cover.open(ctx, g)
	if err != nil {
		return err
	}
	grid, err := g.reach(ctx, []geodesy.LatLon{from.LatLon}, o.radius)
	if err != nil {
		return err
	}
	var layer *dem.CoverLayer
	var used *coverUsedJSON
	if over != nil {
		defer over.close()
		if layer, used, err = over.lay(ctx, o.streams, grid); err != nil {
			return err
		}
	}
	start, err := dem.ElevationAt(grid, from.LatLon)
	if err != nil {
		return err
	}
	field, fieldError := magnetic.WMM2025.At(from.LatLon, start, day)
	prominence := o.prominence
	if prominence <= 0 {
		prominence = g.prominence()
	}
	list, err := candidates(ctx, grid, &o.places, prominence)
	if err != nil {
		return err
	}
	observer := visibility.Observer{Place: from.LatLon, EyeAboveGround: o.sight.eye}
	opts := visibility.LandmarkOptions{
		Conditions: conditions, Within: geodesy.Degrees(o.within), Radius: o.radius, VisualRange: o.visualRange, OwnGround: g.deadBand(),
		Progress: o.streams.progress("looking at marks"),
	}
	spacing, err := gridSpacing(grid)
	if err != nil {
		return err
	}
	a := landmarksAnswer{
		From: describePlace(from, start), Marks: []markJSON{}, Declination: describeDeclination(field, fieldError, day),
		OverCover: used, Assumptions: o.sight.describe(), ElevationData: g.describe(spacing), Cautions: cautions,
	}
	if o.directed {
		b, err := o.bearing.trueBearing(field, fieldError)
		if err != nil {
			return err
		}
		opts.Bearing = &b
		a.BearingDeg = rounded(float64(b), 2)
		if a.Ground, err = groundAlong(ctx, grid, observer, conditions, b, o.radius); err != nil {
			return err
		}
		if over != nil {
			a.GroundBare = a.Ground
			covered, err := layer.Covered(over.clearing(from.LatLon))
			if err != nil {
				return err
			}
			if a.Ground, err = groundAlong(ctx, covered, observer, conditions, b, o.radius); err != nil {
				return err
			}
		}
	}
	if over == nil { // over cover they are looked at again
		opts.VerticalError = g.verticalError
	}
	marks, err := visibility.Landmarks(ctx, grid, observer, list, opts)
	if err != nil {
		return err
	}
	var bare []visibility.Sight
	if over != nil {
		opts.VerticalError = g.verticalError
		if marks, bare, err = visibility.LandmarksCovered(ctx, layer, over.radius, observer, marks, opts); err != nil {
			return err
		}
		a.DependOnCover = new(int)
	}
	for i := range marks {
		m := describeMark(i+1, &marks[i], field, fieldError, o.directed, u)
		var posts dem.Posts = grid
		if over != nil {
			was := describeSight(bare[i], nil)
			was.OwnGround = bare[i].OwnGround(over.within)
			m.OverBare, m.DependsOnCover = &was, visibility.DependsOnCover(bare[i], marks[i].Sight, over.within)
			if m.DependsOnCover {
				*a.DependOnCover++
			}
			if posts, err = layer.Covered(over.clearing(from.LatLon), over.clearing(marks[i].Place)); err != nil {
				return err
			}
		}
		if marks[i].Sight.Verdict == visibility.Hidden && !o.hidden && !o.output.json && !m.DependsOnCover {
			continue
		}
		if len(a.Marks) < o.most || marks[i].Likelihood != nil {
			if m.Sight.Likely, err = g.likelyMark(ctx, posts, &marks[i], observer, conditions); err != nil {
				return err
			}
		}
		if grid.Filled != nil {
			if err := m.filledMark(ctx, posts, from.LatLon, &marks[i], observer, conditions); err != nil {
				return err
			}
		}
		a.Marks = append(a.Marks, m)
	}
	if o.forFix {
		if a.ForFix, err = proposeFix(ctx, from, marks, o.compassError, o.markError); err != nil {
			return err
		}
	}
	if o.output.json {
		return writeJSON(o.streams.Out, a)
	}
	p := &page{w: o.streams.Out}
	a.write(p, u, o, len(marks))
	return p.err
}

func (a landmarksAnswer) write(p *page, u units, o *landmarksOptions, all int) {
	p.head("From")
	p.line("place", "%s", a.From.text(u))
	a.OverCover.writeOver(p)
	if a.Declination != nil {
		p.line("magnetic", "bearings on %s, declination %s ± %.1f", a.Declination.Date, eastWest(a.Declination.Deg), a.Declination.SigmaDeg)
	}
	if a.Ground != nil {
		p.head(fmt.Sprintf("Along true %s°", bearing(*a.BearingDeg)))
		a.Ground.write(p, u)
		if a.GroundBare != nil {
			p.line("bare ground", "%s", a.GroundBare.brief(u, a.Ground))
		}
	}
	p.head("Marks, best first")
	// marks that the cover hides come after those that answer the question
	var listed, lost []markJSON
	for _, m := range a.Marks {
		if m.DependsOnCover && m.Sight.Verdict == visibility.Hidden.String() && !o.hidden {
			lost = append(lost, m)
		} else {
			listed = append(listed, m)
		}
	}
	if len(listed) == 0 {
		p.note("None is visible, of %d looked at.", all)
	}
	write := func(marks []markJSON) {
		for i, m := range marks {
			if i == o.most {
				p.note("and %d more (--most, or --json for all)", len(marks)-i)
				break
			}
			m.write(p, u)
		}
	}
	write(listed)
	if len(lost) > 0 {
		p.head("Hidden by what stands on the ground")
		write(lost)
	}
	if n := a.DependOnCover; n != nil {
		p.head("What the cover changes")
		p.note("The verdict of %d of %d marks depends on it.", *n, all)
	}
	if a.ForFix != nil {
		a.ForFix.write(p, u)
	}
	p.head("Data")
	a.ElevationData.write(p, u)
	a.OverCover.write(p, u)
	p.line("assumed", "%s", a.Assumptions.text(u))
	writeCautions(p)
}

// write is one mark: its figures, then why it stands where it does.
func (m markJSON) write(p *page, u units) {
	name := m.At.Name
	if name == "" {
		name = m.Kind
		if m.At.ElevationM != nil {
			name += " " + u.height(*m.At.ElevationM)
		}
	}
	magneticText := ""
	if m.MagneticDeg != nil {
		magneticText = fmt.Sprintf(", magnetic %s°", bearing(*m.MagneticDeg))
	}
	angleText := ""
	if m.Sight.ElevationAngleDeg != nil {
		angleText = ", " + upDown(*m.Sight.ElevationAngleDeg)
	}
	p.line(fmt.Sprintf("%d", m.Rank), "%s: true %s°%s, %s%s   %.5f,%.5f", name, bearing(m.TrueDeg), magneticText, u.distance(m.DistanceM), angleText, m.At.Lat, m.At.Lon)
	sure := ""
	if m.Sight.Likely != nil && m.Sight.Verdict != visibility.Visible.String() { // of a visible mark it is part of why
		sure = " How sure: " + m.Sight.Likely.words + "."
	}
	if m.OverCover != nil {
		verdict, why := m.OverCover.verdict(u)
		sure += fmt.Sprintf(" With what stands on the ground: %s%s.", verdict, why)
	}
	if m.DependsOnCover {
		bare := m.OverBare.Verdict
		if m.OverBare.OwnGround {
			bare = ownGroundWords
		}
		sure += fmt.Sprintf(" Over the bare ground: %s; it depends on what stands there.", bare)
	}
	if text := m.filledText(); text != "" {
		sure += " FILLED: " + text
	}
	p.line("", "%s%s", m.Why, sure)
}
