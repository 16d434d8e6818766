package cli

import (
	"context"
	"encoding/json"
	"math"

	"github.com/spf13/cobra"

	"crowline/cmd/internal/answer"
	"crowline/cmd/internal/report"
	"crowline/contour"
	"crowline/dem"
	"crowline/profile"
	"crowline/profile/magnetic"
	"crowline/visibility"
)

type legOptions struct {
	question

	walk     walkFlags
	choice   *contour.Choice // of the interval, where it is made for more than this leg
	from, to string
	plot     string
	marks    int
	chain    bool
	loose    bool
}

func newLegCmd(s Streams, runF func(context.Context, *legOptions) error) *cobra.Command {
	o := &legOptions{question: question{streams: s}}
	if runF == nil {
		runF = legRun
	}
	cmd := &cobra.Command{
		Use:   "leg FROM TO",
		Short: "One straight leg: bearing, sight, climb and time",
		Long: `Work out one straight leg: the bearing to follow (true, grid, magnetic and
back), whether the destination can be seen from the start and from which
parts of the way, what the leg climbs and drops, how steep it is, and what it
takes in time and paces.

Climb is counted in two ways. By the ground: every rise and fall of the
profile, from edge to edge between the posts, except wiggles smaller than
--dead-band. By the map: the contour lines crossed up and down, just those that
a map of this data shows at --interval; what they come to is right to less than
an interval for each rise or fall that crosses a line. A map has no lines where
data is missing.

Times are for walking. Where the leg has ground so steep along its line that
hands are needed, it has no time, and says where.

The sightings are taken on the destination, on summits and your --places, and on
ground of the line that stands up: that within 250 m rises or falls by 5 m or
more (by the data's vertical error where that is more, 10 m where it is not
known) and looks 5 arc-minutes high or more from where it is chosen.`,
		Example: `  crowline leg 34.3297,-118.0548 34.3008,-118.0514
  crowline leg Camp Knob --places trip.gpx --dem tile.tif --units us
  crowline leg "11S 402967 3799217" 34.3008,-118.0514 --json`,
		Args: exactArgs(2, "two places, FROM and TO"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.from, o.to = args[0], args[1]
			return runF(cmd.Context(), o)
		},
	}
	o.question.add(cmd)
	o.walk.add(cmd)
	cmd.Flags().Var(newCount(3, &o.marks, 0, mostMarks), "marks", "the `number` of marks to walk on to list; 0 leaves out marks, chain and landforms")
	cmd.Flags().BoolVar(&o.chain, "chain", false, "only the chain of sightings, start to destination")
	cmd.Flags().BoolVar(&o.loose, "seen-when-chosen", false, "let a mark be seen only from where it is chosen, not throughout the walk to it")
	cmd.Flags().StringVar(&o.plot, "plot", "", "draw the profile to `FILE`.svg, .png or .pdf")
	namesFiles(cmd, filesWritten, "plot")
	return cmd
}

// legAnswer is the JSON of one leg.
type legAnswer struct {
	From          place                 `json:"from"`
	To            place                 `json:"to"`
	DistanceM     float64               `json:"distance_m"`
	CoveredM      float64               `json:"covered_m"`
	UnknownM      float64               `json:"unknown_m"`
	Bearing       bearingJSON           `json:"bearing"`
	Declination   *declinationJSON      `json:"declination"`
	Climb         climbJSON             `json:"climb"`
	Time          timeJSON              `json:"time"`
	Sight         sightJSON             `json:"sight"`
	OverCover     *coverJSON            `json:"over_cover,omitempty"`
	Filled        *filledLineJSON       `json:"filled_ground,omitempty"`
	Marks         []markJSON            `json:"marks"`
	Chain         *chainJSON            `json:"chain"`
	Passed        []passedJSON          `json:"passed"`
	Assumptions   assumptions           `json:"assumptions"`
	ElevationData elevationData         `json:"elevation_data"`
	Cautions      []string              `json:"cautions"`
	bearings      magnetic.Bearings     // for the words
	climb         profile.Climb         //
	gradient      profile.Gradient      //
	times         profile.Times         //
	levels        contour.Levels        //
	interval      contour.Choice        // of levels
	leg           *profile.Leg          //
	wayside       *wayside              // nil when not asked
	seen          visibility.Sight      //
	walking       []visibility.Stretch  //
	conditions    visibility.Conditions //
}

type bearingJSON struct {
	TrueDeg         *float64 `json:"true_deg"`
	GridDeg         *float64 `json:"grid_deg"`
	MagneticDeg     *float64 `json:"magnetic_deg"`
	BackTrueDeg     *float64 `json:"back_true_deg"`
	BackMagneticDeg *float64 `json:"back_magnetic_deg"`
	Grid            string   `json:"grid,omitempty"`
	ConvergenceDeg  *float64 `json:"convergence_deg"`
}

type climbJSON struct {
	AscentM           float64       `json:"ascent_m"`
	DescentM          float64       `json:"descent_m"`
	ErrorM            *float64      `json:"error_m"`
	DeadBandM         float64       `json:"dead_band_m"`
	AtLeast           bool          `json:"at_least"`
	LowestM           *float64      `json:"lowest_m"`
	HighestM          *float64      `json:"highest_m"`
	LowestFilled      bool          `json:"lowest_on_filled_ground,omitempty"`
	HighestFilled     bool          `json:"highest_on_filled_ground,omitempty"`
	SteepestDeg       float64       `json:"steepest_deg"`
	SteepestAtM       float64       `json:"steepest_at_m"`
	SteepestUphill    bool          `json:"steepest_uphill"`
	SlopeBaselineM    float64       `json:"slope_baseline_m"`
	SlopeClasses      []slopeJSON   `json:"slope_classes"`
	Steep             []stretchJSON `json:"steep"`
	GroundSteepestDeg float64       `json:"ground_steepest_deg"`
	GroundSteepestAtM float64       `json:"ground_steepest_at_m"`
	GroundSteep       []stretchJSON `json:"ground_steep"`
	ContourIntervalM  float64       `json:"contour_interval_m"`
	ContourReason     string        `json:"contour_interval_reason"`
	ContourWarning    string        `json:"contour_interval_warning,omitempty"`
	ContoursUp        int           `json:"contours_up"`
	ContoursDown      int           `json:"contours_down"`
	ContoursAtLeast   bool          `json:"contours_at_least"`
	ContourRises      int           `json:"contour_rises"`
	ContourFalls      int           `json:"contour_falls"`
	// What the lines come to is off by less than this on the ground of this
	// data, and by one standard deviation of what the data's error adds; null
	// where nothing is known.
	ContoursUpErrorM  *float64 `json:"contours_up_error_m"`
	ContoursDownError *float64 `json:"contours_down_error_m"`
	ContoursUpSigma   *float64 `json:"contours_up_data_error_m"`
	ContoursDownSigma *float64 `json:"contours_down_data_error_m"`
}

type slopeJSON struct {
	FromDeg float64 `json:"from_deg"`
	ToDeg   float64 `json:"to_deg"`
	Share   float64 `json:"share"`
}

func legRun(ctx context.Context, o *legOptions) error {
	if (o.chain || o.loose) && o.marks == 0 {
		return usageErrorf("--chain and --seen-when-chosen need marks: leave out --marks 0")
	}
	r, err := o.request()
	if err != nil {
		return err
	}
	if o.plot != "" {
		if err := checkDrawingPath(o.plot); err != nil {
			return err
		}
	}
	ctx, g, err := o.open(ctx, r.Reach())
	if err != nil {
		return err
	}
	defer g.Close()
	a, err := answer.Leg(ctx, g, r)
	if err != nil {
		return asked(err)
	}
	if o.plot != "" {
		u, err := o.output.system()
		if err != nil {
			return err
		}
		drawing, err := report.LegDrawing(a, u)
		if err != nil {
			return err
		}
		if err := savePlot(ctx, o.plot, drawing); err != nil {
			return err
		}
	}
	return o.output.writeAnswer(o.streams, a, func(p *report.Page) {
		if o.chain {
			report.LegChain(p, a)
		} else {
			report.Leg(p, a, o.marks)
		}
		if o.plot != "" {
			p.Written("Profile drawn to", o.plot)
		}
	})
}

// request is what the flags ask.
func (o *legOptions) request() (r answer.LegRequest, err error) {
	u, err := o.output.system()
	if err != nil {
		return r, err
	}
	r = answer.LegRequest{Sighting: o.sight.sighting(), Cover: o.cover.request(), Walk: o.walk.request(u), Marks: o.marks, SeenWhenChosen: o.loose}
	if r.Day, err = o.date.day(o.streams); err != nil {
		return r, err
	}
	if r.From, err = o.places.place(o.from); err != nil {
		return r, err
	}
	if r.To, err = o.places.place(o.to); err != nil {
		return r, err
	}
	if r.Places, err = o.places.named(); err != nil {
		return r, err
	}
	return r, asked(r.Check())
}

func writeJSON(w interface{ Write([]byte) (int, error) }, v any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(v)
}

// answerLeg puts the question to the library.
func answerLeg(ctx context.Context, o *legOptions, g *ground, u units, from, to namedPlace) (*legAnswer, error) {
	_, conditions, day, err := o.read()
	if err != nil {
		return nil, err
	}
	posts := g.posts(ctx)
	leg, err := profile.Trace(ctx, posts, from.LatLon, to.LatLon)
	if err != nil {
		return nil, err
	}
	a := &legAnswer{leg: leg, conditions: conditions, Cautions: cautions, Assumptions: o.sight.describe()}
	end := leg.Points[len(leg.Points)-1]
	destination := math.NaN()
	if leg.Covered >= leg.Distance {
		destination = end.Elevation
	}
	a.From, a.To = describePlace(from, leg.Points[0].Elevation), describePlace(to, destination)
	a.DistanceM, a.CoveredM, a.UnknownM = *rounded(leg.Distance, 2), *rounded(leg.Covered, 2), *rounded(leg.Unknown(), 2)
	a.Filled = g.filledAlong(leg)

	a.bearings = magnetic.Follow(leg.Geodesic, from.LatLon, to.LatLon, leg.Points[0].Elevation, day)
	a.Bearing, a.Declination = describeBearings(a.bearings), describeDeclination(a.bearings.Field, a.bearings.FieldError, day)

	band := o.walk.deadBand
	if band < 0 {
		band = g.deadBand()
	}
	a.climb = leg.Climb(band, g.verticalError)
	a.gradient = leg.Gradient()
	if o.choice != nil {
		a.interval = *o.choice
	} else if a.interval, err = g.chooseInterval(ctx, o.walk.interval.question(mapScale, g.verticalError, u), alongLegs(from.LatLon, to.LatLon)); err != nil {
		return nil, err
	}
	a.levels = a.interval.Levels()
	if err := a.countClimb(posts, g.verticalError); err != nil {
		return nil, err
	}

	a.times = leg.Times(a.climb)
	a.Time = describeTimes(a.times)
	a.Time.DoublePaces, a.Time.PacedM, a.Time.PacePer100M = math.Round(profile.DoublePaces(leg.Distance, o.walk.pace)), a.DistanceM, o.walk.pace

	observer := visibility.Observer{Place: from.LatLon, EyeAboveGround: o.sight.eye}
	if a.seen, err = visibility.Along(leg, observer, conditions); err != nil {
		return nil, err
	}
	if a.walking, err = visibility.WhileWalking(leg, observer, conditions); err != nil {
		return nil, err
	}
	a.Sight = describeSight(a.seen, a.walking)
	a.Sight.OwnGround = a.seen.OwnGround(g.deadBand())
	if err := a.Sight.rests(leg, a.seen, observer, conditions); err != nil {
		return nil, err
	}
	if a.Sight.Likely, err = g.likely(ctx, leg, observer, conditions, legSamples); err != nil {
		return nil, err
	}
	over, err := o.cover.open(ctx, g)
	if err != nil {
		return nil, err
	}
	if over != nil {
		defer over.close()
		if a.OverCover, err = over.look(ctx, g.posts(ctx), to.LatLon, observer, conditions, a.seen.Verdict); err != nil {
			return nil, err
		}
	}
	if o.marks > 0 {
		w, err := scan(ctx, g, &o.places, a, observer, conditions, o.loose)
		if err != nil {
			return nil, err
		}
		if err := a.describe(ctx, g, w, o.marks, observer, over, u); err != nil {
			return nil, err
		}
		if g.anyFilled() {
			posts := g.posts(ctx)
			for i := range a.Marks {
				if err := a.Marks[i].filledMark(ctx, posts, from.LatLon, &w.marks[i], observer, conditions); err != nil {
					return nil, err
				}
			}
		}
	}
	a.ElevationData = g.describe(leg.Spacing)
	return a, nil
}

// countClimb fills the JSON's climb from the leg's, and counts contour lines.
func (a *legAnswer) countClimb(posts dem.Posts, verticalError float64) error {
	path := make([]contour.Position, len(a.leg.Points))
	for i, p := range a.leg.Points {
		path[i] = contour.Position{Column: p.Column, Row: p.Row}
	}
	lines := a.levels.CountAlong(posts, path)
	if err := posts.Err(); err != nil {
		return err
	}
	counted := a.levels.Climb(lines, verticalError)
	lowest, highest := a.leg.Extremes()
	g := a.gradient
	c := climbJSON{
		AscentM: *rounded(a.climb.Ascent, 1), DescentM: *rounded(a.climb.Descent, 1), DeadBandM: a.climb.DeadBand,
		AtLeast: a.climb.AtLeast, LowestM: rounded(lowest.Elevation, 1), HighestM: rounded(highest.Elevation, 1),
		LowestFilled: lowest.Filled, HighestFilled: highest.Filled,
		SteepestDeg: *rounded(float64(g.Steepest), 1), SteepestAtM: *rounded(g.At, 0), SteepestUphill: g.Uphill,
		SlopeBaselineM: *rounded(g.Baseline, 1), Steep: plainStretches(g.Steep),
		GroundSteepestDeg: *rounded(float64(g.GroundSteepest), 1), GroundSteepestAtM: *rounded(g.GroundAt, 0), GroundSteep: plainStretches(g.GroundSteep),
		ContourIntervalM: *rounded(a.levels.Interval*a.levels.Unit.Metres(), 4), ContourReason: a.interval.Reason, ContourWarning: a.interval.Warning,
		ContoursUp: lines.Up, ContoursDown: lines.Down, ContoursAtLeast: lines.AtLeast || a.leg.Covered < a.leg.Distance,
		ContourRises: lines.Rises, ContourFalls: lines.Falls,
		ContoursUpErrorM: rounded(counted.AscentWithin, 1), ContoursDownError: rounded(counted.DescentWithin, 1),
		ContoursUpSigma: rounded(counted.AscentSigma, 1), ContoursDownSigma: rounded(counted.DescentSigma, 1),
	}
	if verticalError > 0 {
		c.ErrorM = rounded(a.climb.Error, 1)
	}
	for _, s := range g.Classes {
		c.SlopeClasses = append(c.SlopeClasses, slopeJSON{float64(s.From), float64(s.To), *rounded(s.Share, 4)})
	}
	a.Climb = c
	return nil
}

func describeBearings(b magnetic.Bearings) bearingJSON {
	j := bearingJSON{TrueDeg: rounded(float64(b.True), 3), BackTrueDeg: rounded(float64(b.BackTrue), 3)}
	if b.GridError == nil {
		j.GridDeg, j.ConvergenceDeg, j.Grid = rounded(float64(b.Grid), 3), rounded(float64(b.Convergence), 3), b.GridName
	}
	if b.FieldError == nil {
		j.MagneticDeg = rounded(float64(b.Magnetic), 2)
	}
	if b.BackError == nil {
		j.BackMagneticDeg = rounded(float64(b.BackMagnetic), 2)
	}
	return j
}
