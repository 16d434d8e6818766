package cli

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"crowline/contour"
	paper "crowline/contour/page"
	"crowline/dem/geodesy"
	"crowline/profile"
	"crowline/profile/magnetic"
	"crowline/visibility"
)

// cardPassed is how many landforms a card names on a leg.
const cardPassed = 3

type routeOptions struct {
	question

	walk     walkFlags
	file     string
	name     string
	points   bool
	title    string
	rule     string
	straight bool
	paper    string
	out      string
	gpx      string
}

func newRouteCmd(s Streams, runF func(context.Context, *routeOptions) error) *cobra.Command {
	o := &routeOptions{question: question{streams: s}}
	if runF == nil {
		runF = routeRun
	}
	cmd := &cobra.Command{
		Use:   "route FILE",
		Short: "A route card: several legs, with room for notes",
		Long: `Work out several straight legs, one after the other, and write the card to
carry: for each leg the bearing, distance, climb, time, what to walk on and
what is passed, and room for the time, the paces and what was seen.

FILE holds the turning points in order: a GPX route, track or waypoints, a
GeoJSON or KML line or points, or a CSV table with columns lat and lon and
perhaps name. A route is taken before a track, a line before points. A track
recorded with pauses is one line, its pieces joined in order. What is joined or
left out is noted.

Where one turning point more would plainly save climb, it is proposed: at
least a quarter and 60 m less ascent (and more than twice the error of that
ascent), at most 15 % longer, no more steep ground, none that needs hands. Of
those that serve, the one soonest walked by Naismith's rule.

A leg with ground so steep along its line that hands are needed has no time; nor
then has the whole route.

With --cover the mark to walk on is one that is seen over what stands on the
ground too, where there is one, and it is told what the cover does to the sight
of each leg's end. All else is over the bare ground.`,
		Example: `  crowline route trip.gpx
  crowline route trip.csv -o card.pdf --dem tile.tif
  crowline route trip.gpx --name "day two" -o card.txt --gpx marks.gpx`,
		Args: exactArgs(1, "one file of turning points"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.file = args[0]
			return runF(cmd.Context(), o)
		},
	}
	argumentsNameFiles(cmd, filesRead)
	o.question.add(cmd)
	cmd.Flags().StringVar(&o.name, "name", "", "which line of the file, by `name` or number, where it holds several")
	cmd.Flags().BoolVar(&o.points, "points", false, "walk the file's points (of GPX its waypoints) in order, not its lines")
	cmd.Flags().StringVar(&o.title, "title", "", "`title` of the card (default: the route's or the file's name)")
	o.walk.add(cmd)
	cmd.Flags().StringVar(&o.rule, "time", "naismith", "`rule` for the time on the card: naismith (with Langmuir's corrections), tobler or din")
	cmd.Flags().BoolVar(&o.straight, "straight", false, "propose no way round")
	cmd.Flags().StringVar(&o.paper, "paper", "a4", "`paper` of the card: a4, a3, letter, tabloid or WxH in millimetres")
	cmd.Flags().StringVarP(&o.out, "out", "o", "", "write the card to `FILE`.pdf, .svg, .png or .txt")
	namesFiles(cmd, filesWritten, "out")
	needs(cmd, []string{"out"}, "paper")
	cmd.Flags().StringVar(&o.gpx, "gpx", "", "write the route, its turning points and the marks the card names to `FILE`.gpx")
	namesFiles(cmd, filesWritten, "gpx")
	return cmd
}

// routeLegJSON is one leg of a route.
type routeLegJSON struct {
	Number       int              `json:"number"`
	From         place            `json:"from"`
	To           place            `json:"to"`
	DistanceM    float64          `json:"distance_m"`
	CoveredM     float64          `json:"covered_m"`
	UnknownM     float64          `json:"unknown_m"`
	Filled       *filledLineJSON  `json:"filled_ground,omitempty"`
	Bearing      bearingJSON      `json:"bearing"`
	Declination  *declinationJSON `json:"declination"`
	Climb        climbJSON        `json:"climb"`
	Time         timeJSON         `json:"time"`
	Sight        sightJSON        `json:"sight"`
	OverCover    *coverJSON       `json:"over_cover,omitempty"`
	Mark         *markJSON        `json:"mark"`
	CardMarks    []cardMarkJSON   `json:"card_marks"`
	Chain        *chainJSON       `json:"chain"`
	Passed       []passedJSON     `json:"passed"`
	WayRound     *wayRoundJSON    `json:"way_round"`
	answer       *legAnswer
	mark         *visibility.Landmark
	magneticMark *float64
}

// wayRoundJSON is a turning point that would save climb.
type wayRoundJSON struct {
	At          place   `json:"waypoint"`
	AscentM     float64 `json:"ascent_m"`
	DescentM    float64 `json:"descent_m"`
	DistanceM   float64 `json:"distance_m"`
	SavedM      float64 `json:"ascent_saved_m"`
	ExtraM      float64 `json:"extra_distance_m"`
	FirstTrue   float64 `json:"first_true_deg"`
	SecondTrue  float64 `json:"second_true_deg"`
	FirstM      float64 `json:"first_distance_m"`
	SecondM     float64 `json:"second_distance_m"`
	OnFilled    bool    `json:"over_filled_ground,omitempty"`
	doglegFound *profile.Dogleg
}

type routeTotalsJSON struct {
	Legs            int      `json:"legs"`
	DistanceM       float64  `json:"distance_m"`
	AscentM         float64  `json:"ascent_m"`
	DescentM        float64  `json:"descent_m"`
	ErrorM          *float64 `json:"error_m"`
	AtLeast         bool     `json:"at_least"`
	ContoursUp      int      `json:"contours_up"`
	ContoursDown    int      `json:"contours_down"`
	ContoursAtLeast bool     `json:"contours_at_least"`
	// Null where a leg has no time; then beside them the sums over all legs
	// without their stretches of no walking ground.
	NaismithLangmuirS *float64 `json:"naismith_langmuir_s"`
	ToblerS           *float64 `json:"tobler_s"`
	DIN33466S         *float64 `json:"din33466_s"`
	withoutSteepJSON
	LegsWithoutTime []int   `json:"legs_without_time,omitempty"`
	DoublePaces     float64 `json:"double_paces"`
}

type routeAnswer struct {
	Name          string          `json:"name"`
	Legs          []routeLegJSON  `json:"legs"`
	Totals        routeTotalsJSON `json:"totals"`
	Notes         []string        `json:"notes"`
	Written       []string        `json:"written"`
	Assumptions   assumptions     `json:"assumptions"`
	ElevationData elevationData   `json:"elevation_data"`
	Cautions      []string        `json:"cautions"`
	rule          string
	date          time.Time
}

func (o *routeOptions) check() error {
	switch {
	case timeRules[o.rule].words == "":
		return usageErrorf("--time %s: it is naismith, tobler or din", o.rule)
	case o.name != "" && o.points:
		return usageErrorf("--name picks a line and --points leaves lines out: give one of them")
	}
	if o.out != "" {
		switch extension := strings.ToLower(filepath.Ext(o.out)); {
		case extension != ".txt" && !slices.Contains(paper.Formats, extension):
			return usageErrorf("%s: a card's name ends in %s or .txt", o.out, strings.Join(paper.Formats, ", "))
		default:
			if err := checkFolder(o.out); err != nil {
				return err
			}
		}
	}
	if o.gpx != "" {
		if strings.ToLower(filepath.Ext(o.gpx)) != ".gpx" {
			return usageErrorf("--gpx %s: its name ends in .gpx", o.gpx)
		}
		return checkFolder(o.gpx)
	}
	return nil
}

func routeRun(ctx context.Context, o *routeOptions) error {
	u, _, day, err := o.read()
	if err != nil {
		return err
	}
	if err := o.check(); err != nil {
		return err
	}
	size, err := paper.ParsePaper(o.paper)
	if err != nil {
		return usageErrorf("--paper: %w", err)
	}
	r, err := readRoute(o.file, o.name, o.points, u)
	if err != nil {
		return err
	}
	named, err := o.places.all()
	if err != nil {
		return err
	}
	r.nameAfter(named)
	var where []geodesy.LatLon
	margin := 0.0
	for i := 1; i < len(r.places); i++ {
		along, m := alongLeg(r.places[i-1].LatLon, r.places[i].LatLon)
		where, margin = append(where, along...), math.Max(margin, m)
	}
	o.ground.perPost = landformPostBytes
	g, err := o.ground.open(ctx, o.streams, where, margin)
	if err != nil {
		return err
	}
	defer g.Close()
	a := &routeAnswer{Name: r.name, Notes: append([]string{}, r.notes...), Written: []string{}, Assumptions: o.sight.describe(), Cautions: cautions, rule: o.rule, date: day}
	if o.title != "" {
		a.Name = o.title
	}
	turns := make([]geodesy.LatLon, len(r.places))
	for i, p := range r.places {
		turns[i] = p.LatLon
	}
	choice, err := g.chooseInterval(ctx, o.walk.interval.question(mapScale, g.verticalError, u), alongLegs(turns...))
	if err != nil {
		return err
	}
	if choice.Warning != "" {
		a.Notes = append(a.Notes, choice.Warning)
	}
	progress := o.streams.progress("working out legs")
	for i := 1; i < len(r.places); i++ {
		leg, err := o.leg(ctx, g, u, i, r.places[i-1], r.places[i], &choice)
		if err != nil {
			return fmt.Errorf("leg %d, %s to %s: %w", i, r.places[i-1].label(), r.places[i].label(), err)
		}
		a.Legs = append(a.Legs, *leg)
		if progress != nil {
			progress(int64(i), int64(len(r.places)-1))
		}
	}
	a.total()
	a.ElevationData = g.describe(a.Legs[0].answer.leg.Spacing)
	if err := o.save(ctx, a, size, u); err != nil {
		return err
	}
	if o.output.json {
		return writeJSON(o.streams.Out, a)
	}
	p := &page{w: o.streams.Out}
	a.write(p, u)
	return p.err
}

// leg works out one leg, its mark, what it passes and the way round.
func (o *routeOptions) leg(ctx context.Context, g *ground, u units, number int, from, to namedPlace, choice *contour.Choice) (*routeLegJSON, error) {
	one := &legOptions{question: o.question, walk: o.walk, choice: choice, marks: 1}
	a, err := answerLeg(ctx, one, g, u, from, to)
	if err != nil {
		return nil, err
	}
	j := &routeLegJSON{
		Number: number, From: a.From, To: a.To, DistanceM: a.DistanceM, CoveredM: a.CoveredM, UnknownM: a.UnknownM, Filled: a.Filled, Bearing: a.Bearing,
		Declination: a.Declination, Climb: a.Climb, Time: a.Time, Sight: a.Sight, OverCover: a.OverCover, Chain: a.Chain, Passed: a.Passed, answer: a,
	}
	if err := o.choose(ctx, g, a, j, u); err != nil {
		return nil, err
	}
	j.CardMarks = j.cardMarks(u)
	if o.straight {
		return j, nil
	}
	d, err := profile.FindDogleg(ctx, g.posts(ctx), a.leg, profile.DoglegOptions{DeadBand: a.Climb.DeadBandM, VerticalError: g.verticalError})
	if err != nil {
		return nil, err
	}
	if d != nil {
		j.WayRound = &wayRoundJSON{
			At: describePlace(namedPlace{LatLon: d.Waypoint}, d.Second.Points[0].Elevation), AscentM: *rounded(d.Ascent, 1), DescentM: *rounded(d.Descent, 1),
			DistanceM: *rounded(a.leg.Distance+d.Extra, 1), SavedM: *rounded(d.Saved, 1), ExtraM: *rounded(d.Extra, 1),
			FirstTrue: *rounded(float64(d.First.Start), 1), SecondTrue: *rounded(float64(d.Second.Start), 1),
			FirstM: *rounded(d.First.Distance, 1), SecondM: *rounded(d.Second.Distance, 1), doglegFound: d,
			OnFilled: len(d.First.Filled()) > 0 || len(d.Second.Filled()) > 0,
		}
	}
	return j, nil
}

// choose takes the best mark seen from the leg's start: over the cover too,
// where some is.
func (o *routeOptions) choose(ctx context.Context, g *ground, a *legAnswer, j *routeLegJSON, u units) error {
	over, err := o.cover.open(ctx, g)
	if err != nil {
		return err
	}
	if over != nil {
		defer over.close()
	}
	posts := g.posts(ctx)
	marks := a.wayside.marks
	for i := range marks {
		m := &marks[i]
		if m.Sight.Verdict != visibility.Visible || m.TooSmall {
			continue
		}
		described := describeMark(1, m, a.bearings.Field, a.bearings.FieldError, true, u)
		if over != nil {
			conditions := a.conditions
			if m.AboveGround > 0 {
				conditions.TargetAboveGround = m.AboveGround
			}
			observer := visibility.Observer{Place: a.leg.From, EyeAboveGround: o.sight.eye}
			if described.OverCover, err = over.look(ctx, posts, m.Place, observer, conditions, m.Sight.Verdict); err != nil {
				return err
			}
		}
		seen := described.OverCover == nil || !described.OverCover.Depends
		if seen || j.Mark == nil {
			j.Mark, j.mark, j.magneticMark = &described, m, described.MagneticDeg
		}
		if seen {
			break
		}
	}
	return nil
}

// total adds the legs up. The errors of legs are taken as independent.
func (a *routeAnswer) total() {
	t := routeTotalsJSON{Legs: len(a.Legs)}
	variance, stated := 0.0, true
	var times profile.RuleTimes
	for _, l := range a.Legs {
		t.DistanceM += l.DistanceM
		t.AscentM += l.Climb.AscentM
		t.DescentM += l.Climb.DescentM
		t.AtLeast = t.AtLeast || l.Climb.AtLeast
		t.ContoursUp += l.Climb.ContoursUp
		t.ContoursDown += l.Climb.ContoursDown
		t.ContoursAtLeast = t.ContoursAtLeast || l.Climb.ContoursAtLeast
		for rule, d := range l.answer.times.WithoutSteep {
			times[rule] += d
		}
		if _, ok := l.answer.times.Whole(); !ok {
			t.LegsWithoutTime = append(t.LegsWithoutTime, l.Number)
		}
		t.DoublePaces += l.Time.DoublePaces
		if l.Climb.ErrorM == nil {
			stated = false
		} else {
			variance += *l.Climb.ErrorM * *l.Climb.ErrorM
		}
	}
	var sum timeJSON
	sum.set(times, len(t.LegsWithoutTime) == 0)
	t.NaismithLangmuirS, t.ToblerS, t.DIN33466S, t.withoutSteepJSON = sum.NaismithLangmuirS, sum.ToblerS, sum.DIN33466S, sum.withoutSteepJSON
	t.DistanceM, t.AscentM, t.DescentM = *rounded(t.DistanceM, 2), *rounded(t.AscentM, 1), *rounded(t.DescentM, 1)
	if stated {
		t.ErrorM = rounded(math.Sqrt(variance), 1)
	}
	a.Totals = t
}

// fieldOf is the magnetic field at a leg's start.
func (l *routeLegJSON) fieldOf() (magnetic.Field, error) {
	return l.answer.bearings.Field, l.answer.bearings.FieldError
}
