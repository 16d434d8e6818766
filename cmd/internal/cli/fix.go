package cli

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/profile/magnetic"
	"crowline/visibility"
	"crowline/visibility/fix"
)

type fixOptions struct {
	question

	bearings       []string
	intersect      bool
	magnetic       bool
	compassError   float64
	markError      float64
	altimeter      float64
	altimeterError float64
	line           string
	lineName       string
	lineError      float64
}

func newFixCmd(s Streams, runF func(context.Context, *fixOptions) error) *cobra.Command {
	o := &fixOptions{question: question{streams: s}}
	if runF == nil {
		runF = fixRun
	}
	cmd := &cobra.Command{
		Use:   "fix --bearing MARK=DEG --bearing MARK=DEG",
		Short: "Find a place from compass bearings",
		Long: `Find where you are from bearings you took to known marks (resection), or with
--intersect where an unknown point is from bearings taken to it at known
places. MARK is a place or a name from --places. A bearing is true unless
--magnetic is given or it ends in m: 212m; 212t is true in any case.

The answer is the place that fits the bearings best, how well it is known (the
ellipse that holds the true place 19 times in 20), what each bearing is out
by, and what is doubtful: lines that cross flatly, a bearing that does not
agree, a mark that the ground hides. Lines that cross at less than 2.4 times
the error of the angle between them (7° for a compass good to 2°) may as well
be parallel: they give no place.

An altimeter reading or a known line (a stream, a ridge, a path) that you stand
on counts as evidence; with one of them a single bearing may be enough. Where
several places fit about as well (the worst a twentieth as likely as the best),
all are listed, and none is called yours.

With --cover it is also told of each mark whether it is seen over what stands
on the ground, eye and mark each on bare ground in a clearing as wide as
--clearing says and never less than its cell. The place does not depend on it.`,
		Example: `  crowline fix --bearing 34.3277,-118.0574=225 --bearing 34.3115,-118.0533=176
  crowline fix --places trip.gpx --bearing Knob=46m --bearing Tower=123m
  crowline fix --intersect --places trip.gpx --bearing Camp=80 --bearing Ford=12
  crowline fix --bearing Knob=46 --line stream.gpx --places trip.gpx`,
		Args: exactArgs(0, "no places: give bearings with --bearing MARK=DEG"),
		RunE: func(cmd *cobra.Command, _ []string) error { return runF(cmd.Context(), o) },
	}
	o.question.add(cmd)
	cmd.Flags().StringArrayVar(&o.bearings, "bearing", nil, "a bearing in degrees and the known place it belongs to, as `MARK=DEG`; repeat")
	cmd.Flags().BoolVar(&o.intersect, "intersect", false, "the bearings were taken at the known places, to the point to be found")
	cmd.Flags().BoolVar(&o.magnetic, "magnetic", false, "bearings are magnetic on --date unless they end in t")
	addCompassError(cmd, &o.compassError, float64(fix.DefaultBearingError), "one standard deviation of a bearing, `degrees`")
	addMarkError(cmd, &o.markError, "one standard deviation of where on a mark you pointed, or stood")
	cmd.Flags().Var(newLength(math.NaN(), &o.altimeter).within(from(dem.LowestLand, dem.HighestLand)), "altimeter", "the elevation an altimeter reads at the place to be found")
	cmd.Flags().Lookup("altimeter").DefValue = ""
	cmd.Flags().Var(newLength(10, &o.altimeterError).within(above(0, 1000)), "altimeter-error", "one standard deviation of the altimeter: a drift of 1 hPa reads as about 8 m")
	cmd.Flags().StringVar(&o.line, "line", "", "`file` with a line the place lies on: GPX, GeoJSON or KML; a track not where it was paused")
	namesFiles(cmd, filesRead, "line")
	cmd.Flags().StringVar(&o.lineName, "line-name", "", "the `name` of the line, where the file holds several")
	cmd.Flags().Var(newLength(20, &o.lineError).within(above(0, 10e3)), "line-error", "one standard deviation of how far from the drawn line the place may be")
	needs(cmd, []string{"altimeter"}, "altimeter-error")
	needs(cmd, []string{"line"}, "line-name", "line-error")
	return cmd
}

// fixAnswer is the JSON of a fix.
type fixAnswer struct {
	Method string `json:"method"`
	// Place, and what belongs to it, is null where several places fit: nothing
	// says which of Candidates it is.
	Place         *place            `json:"place"`
	UTM           string            `json:"utm,omitempty"`
	Ellipse95     *ellipseJSON      `json:"ellipse_95"`
	EllipseSigma  *ellipseJSON      `json:"ellipse_one_sigma"`
	CrossingDeg   *float64          `json:"crossing_deg"`
	Bearings      []fixBearingJSON  `json:"bearings"`
	Ambiguous     bool              `json:"ambiguous"`
	Candidates    []fixPlaceJSON    `json:"candidates"`
	Further       int               `json:"further_candidates"` // not described
	ChiSquare     float64           `json:"chi_square"`
	Redundancy    int               `json:"redundancy"`
	Chance        float64           `json:"chance"`
	Altimeter     *fixAltimeterJSON `json:"altimeter,omitempty"`
	Line          *fixLineJSON      `json:"line,omitempty"`
	Warnings      []fixWarningJSON  `json:"warnings"`
	Next          []string          `json:"next"`
	CompassError  float64           `json:"compass_error_deg"`
	MarkErrorM    float64           `json:"mark_error_m"`
	Declination   *declinationJSON  `json:"declination"`
	SightsChecked bool              `json:"sights_checked"`
	GroundFilled  bool              `json:"ground_filled,omitempty"`
	Assumptions   assumptions       `json:"assumptions"`
	ElevationData *elevationData    `json:"elevation_data"`
	Cautions      []string          `json:"cautions"`
	places        []fixPlaceJSON    // all of them, or the one
}

// fixPlaceJSON is a place that fits, and what it is worth if it is the one.
type fixPlaceJSON struct {
	Place        place            `json:"place"`
	UTM          string           `json:"utm,omitempty"`
	Ellipse95    ellipseJSON      `json:"ellipse_95"`
	EllipseSigma ellipseJSON      `json:"ellipse_one_sigma"`
	CrossingDeg  float64          `json:"crossing_deg"`
	Bearings     []fixBearingJSON `json:"bearings"`
	ChiSquare    float64          `json:"chi_square"`
	// Likelihood is a share of the best's.
	Likelihood         float64  `json:"relative_likelihood"`
	AltimeterResidualM *float64 `json:"altimeter_residual_m,omitempty"`
	LineDistanceM      *float64 `json:"line_distance_m,omitempty"`
	GroundFilled       bool     `json:"ground_filled,omitempty"`
}

type ellipseJSON struct {
	Probability float64 `json:"probability"`
	SemiMajorM  float64 `json:"semi_major_m"`
	SemiMinorM  float64 `json:"semi_minor_m"`
	TrueDeg     float64 `json:"semi_major_true_deg"`
}

type fixBearingJSON struct {
	Name         string   `json:"name"`
	Lat          float64  `json:"lat"`
	Lon          float64  `json:"lon"`
	GivenDeg     float64  `json:"given_deg"`
	GivenFrom    string   `json:"given_from_north"`
	TrueDeg      float64  `json:"true_deg"`
	ComputedDeg  float64  `json:"computed_true_deg"`
	ResidualDeg  float64  `json:"residual_deg"`
	ErrorDeg     float64  `json:"error_deg"`
	Standardised *float64 `json:"standardised"`
	Turned       bool     `json:"turned_half_round"`
	DistanceM    float64  `json:"distance_m"`
	Sight        string   `json:"sight"`
	HiddenByM    *float64 `json:"hidden_by_m"`
	OwnGround    bool     `json:"own_ground,omitempty"` // what is in sight
	hiddenBy     float64  // the same, not rounded: text rounds once
	// SightFilled: the sight rests on filled ground.
	SightFilled bool `json:"rests_on_filled,omitempty"`
	// OverCover is the sight over what stands on the ground, where it was
	// given and Sight is known.
	OverCover *coverJSON `json:"over_cover,omitempty"`
}

type fixAltimeterJSON struct {
	ElevationM float64  `json:"elevation_m"`
	ErrorM     float64  `json:"error_m"`
	ResidualM  *float64 `json:"residual_m"`
}

type fixLineJSON struct {
	Name      string   `json:"name"`
	ErrorM    float64  `json:"error_m"`
	DistanceM *float64 `json:"distance_m"`
}

type fixWarningJSON struct {
	Kind  string   `json:"kind"`
	Text  string   `json:"text"`
	Names []string `json:"names"`
}

// fixBearing is a bearing as it was written.
type fixBearing struct {
	mark     namedPlace
	degrees  float64
	magnetic bool
}

// parseFixBearing reads MARK=DEG, DEG perhaps with t or m after it.
func (o *fixOptions) parseFixBearing(text string) (fixBearing, error) {
	at := strings.LastIndex(text, "=")
	if at < 0 {
		return fixBearing{}, usageErrorf("--bearing %q: write MARK=DEG, a known place and degrees", text)
	}
	number, magneticGiven := strings.ToLower(strings.TrimSpace(text[at+1:])), o.magnetic
	if rest, ok := strings.CutSuffix(number, "m"); ok {
		number, magneticGiven = rest, true
	} else if rest, ok := strings.CutSuffix(number, "t"); ok {
		number, magneticGiven = rest, false
	}
	degrees, ok := geodesy.ParseNumber(strings.TrimSpace(strings.TrimSuffix(number, "°")))
	if !ok || degrees < 0 || degrees > 360 {
		return fixBearing{}, usageErrorf("--bearing %q: %q is not a bearing from 0 to 360 degrees", text, strings.TrimSpace(text[at+1:]))
	}
	mark, err := o.places.resolve(text[:at])
	if err != nil {
		return fixBearing{}, err
	}
	return fixBearing{mark, degrees, magneticGiven}, nil
}

// fixField gives the magnetic field where it is needed.
type fixField struct {
	posts dem.Posts // may be nil
	day   time.Time
}

func (f fixField) at(p geodesy.LatLon) (magnetic.Field, error) {
	elevation := 0.0 // 1 km moves the answer by about 0.01 degree
	if f.posts != nil {
		if h, err := dem.ElevationAt(f.posts, p); err == nil {
			elevation = h
		}
	}
	field, err := magnetic.WMM2025.At(p, elevation, f.day)
	if err == nil && field.Zone == magnetic.Blackout {
		err = magnetic.ErrBlackout
	}
	return field, err
}

func fixRun(ctx context.Context, o *fixOptions) error {
	u, conditions, day, err := o.read()
	if err != nil {
		return err
	}
	var given []fixBearing
	for _, text := range o.bearings {
		b, err := o.parseFixBearing(text)
		if err != nil {
			return err
		}
		given = append(given, b)
	}
	options := fix.Options{BearingError: geodesy.Degrees(o.compassError), Lengths: visibility.Lengths{Distance: u.distance, Height: u.need}}
	if o.line != "" {
		line, err := knownLine(o.line, o.lineName)
		if err != nil {
			return err
		}
		line.Error = o.lineError
		options.Line = line
	}
	if !math.IsNaN(o.altimeter) {
		options.Altimeter = &fix.Altimeter{Elevation: o.altimeter, Error: o.altimeterError}
	}
	// the unknown place is taken to lie no farther from the marks than they
	// lie from each other, and 10 km; along a bearing that only an altimeter
	// bounds it is looked for farther out
	var marks []geodesy.LatLon
	margin := 10e3
	if options.Altimeter != nil {
		margin = fix.SearchReach
	}
	for _, b := range given {
		marks = append(marks, b.mark.LatLon)
		margin = math.Max(margin, geodesy.Inverse(marks[0], b.mark.LatLon).Distance)
	}
	g, err := o.ground.open(ctx, o.streams, marks, margin)
	if err != nil {
		return err
	}
	defer g.Close()
	over, err := o.cover.open(ctx, g)
	if err != nil {
		return err
	}
	if over != nil {
		defer over.close()
	}
	posts := g.posts(ctx)
	options.Posts, options.VerticalError = posts, g.verticalError
	options.Sight = &fix.Sight{EyeAboveGround: o.sight.eye, Conditions: conditions, OwnGround: g.deadBand()}
	field := fixField{posts, day}
	bearings, err := o.bearingsFor(given, &options, field)
	if err != nil {
		return err
	}
	solve := fix.Resect
	if o.intersect {
		solve = fix.Intersect
	}
	f, err := solve(ctx, bearings, options)
	if err == nil && g.demo && math.IsNaN(f.Ground) && options.Altimeter == nil {
		// nobody asked for the demo data here: without it there is a fix and
		// no word on what can be seen
		options.Posts, options.Sight = nil, nil
		f, err = solve(ctx, bearings, options)
	}
	if err != nil {
		if errors.Is(err, fix.ErrEvidence) {
			return &flagError{err}
		}
		return err
	}
	a := o.describeFix(f, given, options, field)
	if options.Posts != nil {
		spacing := math.NaN()
		if grid, err := g.around(ctx, []geodesy.LatLon{f.Place}, 1); err == nil {
			if s, err := gridSpacing(grid); err == nil {
				spacing = s
			}
		}
		d := g.describe(spacing)
		a.ElevationData, a.SightsChecked = &d, true
		if over != nil {
			if err := o.lookOver(ctx, over, posts, f, given, conditions, a); err != nil {
				return err
			}
		}
	}
	if o.output.json {
		return writeJSON(o.streams.Out, a)
	}
	p := &page{w: o.streams.Out}
	a.write(p, u, o.intersect)
	return p.err
}

// lookOver looks at each mark from each place that fits, or the other way
// round, over the cover.
func (o *fixOptions) lookOver(ctx context.Context, over *cover, posts dem.Posts, f *fix.Fix, given []fixBearing, conditions visibility.Conditions, a *fixAnswer) error {
	for k, found := range append([]fix.Candidate{f.Candidate}, f.Others...) {
		for i, r := range found.Bearings {
			if r.Sight != visibility.Visible && r.Sight != visibility.Hidden {
				continue
			}
			from, to := found.Place, given[i].mark.LatLon
			if o.intersect {
				from, to = to, from
			}
			seen, err := over.look(ctx, posts, to, visibility.Observer{Place: from, EyeAboveGround: o.sight.eye}, conditions, r.Sight)
			if err != nil {
				return err
			}
			a.places[k].Bearings[i].OverCover = seen
		}
	}
	return nil
}

// bearingsFor turns what was written into observations. The declination's
// error is common to all magnetic bearings; where true ones stand beside
// them it is added to each magnetic one instead.
func (o *fixOptions) bearingsFor(given []fixBearing, options *fix.Options, field fixField) ([]fix.Bearing, error) {
	count := 0
	for _, b := range given {
		if b.magnetic {
			count++
		}
	}
	sigma := 0.0
	if count > 0 {
		at, err := field.at(given[0].mark.LatLon)
		if err != nil {
			return nil, fmt.Errorf("magnetic bearings: %w", err)
		}
		sigma = float64(at.DeclinationSigma)
		options.Declination = func(p geodesy.LatLon) (magnetic.Declination, error) {
			f, err := field.at(p)
			return f.Declination, err
		}
	}
	if count == len(given) {
		options.SharedError = geodesy.Degrees(sigma)
	}
	var out []fix.Bearing
	for _, b := range given {
		one := fix.Bearing{Name: b.mark.label(), Place: b.mark.LatLon, PlaceError: o.markError}
		if b.magnetic {
			m := geodesy.NewMagneticBearing(geodesy.Degrees(b.degrees))
			one.Magnetic = &m
			if count < len(given) {
				one.Error = geodesy.Degrees(math.Hypot(o.compassError, sigma))
			}
		} else {
			one.True = geodesy.NewTrueBearing(geodesy.Degrees(b.degrees))
		}
		out = append(out, one)
	}
	return out, nil
}

// knownLine reads the one line meant of a file.
func knownLine(path, name string) (*fix.Line, error) {
	lines, err := gdalio.ReadLines(path)
	if err != nil {
		return nil, err
	}
	var long []gdalio.Line // of two points and more
	for _, l := range lines {
		if len(l.Points) > 1 {
			long = append(long, l)
		}
	}
	switch {
	case len(lines) == 0:
		return nil, fmt.Errorf("%s holds no line", path)
	case len(long) == 0:
		return nil, fmt.Errorf("%s holds no line: what there is has one point", path)
	}
	found, err := pickLine(path, long, name, "--line-name")
	if err != nil {
		return nil, err
	}
	line := &fix.Line{Name: found.Name, Gaps: found.Gaps}
	if line.Name == "" {
		line.Name = "the line"
	}
	for _, p := range found.Points {
		line.Points = append(line.Points, p.LatLon)
	}
	return line, nil
}

func describeEllipse(e fix.Ellipse) ellipseJSON {
	return ellipseJSON{
		Probability: *rounded(e.Probability, 4), SemiMajorM: *rounded(e.SemiMajor, 1), SemiMinorM: *rounded(e.SemiMinor, 1),
		TrueDeg: *rounded(float64(e.Along), 1),
	}
}

func (o *fixOptions) describeFix(f *fix.Fix, given []fixBearing, options fix.Options, field fixField) *fixAnswer {
	a := &fixAnswer{
		Method: "resection", Ambiguous: f.Ambiguous(), Bearings: []fixBearingJSON{}, Candidates: []fixPlaceJSON{}, Further: f.Further,
		ChiSquare: *rounded(f.ChiSquare, 4), Redundancy: f.Redundancy, Chance: *rounded(f.Chance, 6), Warnings: []fixWarningJSON{},
		CompassError: o.compassError, MarkErrorM: o.markError, Assumptions: o.sight.describe(), Cautions: cautions,
	}
	if o.intersect {
		a.Method = "intersection"
	}
	least := f.ChiSquare
	for _, other := range f.Others {
		least = min(least, other.ChiSquare)
	}
	for _, found := range append([]fix.Candidate{f.Candidate}, f.Others...) {
		j := describeFound(found, given, options)
		j.Likelihood = *rounded(math.Exp((least-found.ChiSquare)/2), 3)
		a.places = append(a.places, j)
	}
	if options.Altimeter != nil {
		a.Altimeter = &fixAltimeterJSON{ElevationM: options.Altimeter.Elevation, ErrorM: options.Altimeter.Error}
	}
	if options.Line != nil {
		a.Line = &fixLineJSON{Name: options.Line.Name, ErrorM: options.Line.Error}
	}
	if a.Ambiguous {
		a.Candidates = a.places
	} else {
		one := &a.places[0]
		a.Place, a.UTM, a.Ellipse95, a.EllipseSigma, a.CrossingDeg = &one.Place, one.UTM, &one.Ellipse95, &one.EllipseSigma, &one.CrossingDeg
		a.Bearings, a.GroundFilled = one.Bearings, one.GroundFilled
		if a.Altimeter != nil {
			a.Altimeter.ResidualM = one.AltimeterResidualM
		}
		if a.Line != nil {
			a.Line.DistanceM = one.LineDistanceM
		}
	}
	for _, w := range f.Warnings {
		names := w.Names
		if names == nil {
			names = []string{}
		}
		a.Warnings = append(a.Warnings, fixWarningJSON{string(w.Kind), w.Text, names})
	}
	at, err := field.at(f.Place)
	a.Declination = describeDeclination(at, err, field.day)
	a.Next = o.next(f, at, err)
	return a
}

// describeFound is one place that fits.
func describeFound(found fix.Candidate, given []fixBearing, options fix.Options) fixPlaceJSON {
	j := fixPlaceJSON{
		Place:     describePlace(namedPlace{LatLon: found.Place}, found.Ground),
		Ellipse95: describeEllipse(found.Ellipse(0.95)), EllipseSigma: describeEllipse(found.Ellipse(fix.OneSigma)),
		CrossingDeg: *rounded(float64(found.Crossing), 1), ChiSquare: *rounded(found.ChiSquare, 4), GroundFilled: found.GroundFilled,
		AltimeterResidualM: rounded(found.AltimeterResidual, 1), LineDistanceM: rounded(found.LineDistance, 1),
	}
	if grid, err := geodesy.ToUTM(found.Place); err == nil {
		j.UTM = grid.String()
	}
	for i, r := range found.Bearings {
		b := fixBearingJSON{
			Name: r.Name, Lat: *rounded(float64(given[i].mark.Lat), 7), Lon: *rounded(float64(given[i].mark.Lon), 7),
			GivenDeg: given[i].degrees, GivenFrom: "true", TrueDeg: *rounded(float64(r.Observed), 2), ComputedDeg: *rounded(float64(r.Computed), 2),
			ResidualDeg: *rounded(float64(r.Residual), 2), ErrorDeg: *rounded(float64(r.Error), 2), Standardised: rounded(r.Standardised, 2),
			Turned: r.Turned, DistanceM: *rounded(r.Distance, 1), Sight: "not asked",
		}
		if given[i].magnetic {
			b.GivenFrom = "magnetic"
		}
		if options.Sight != nil {
			b.Sight = r.Sight.String()
			if r.Sight == visibility.Hidden {
				b.HiddenByM, b.hiddenBy = rounded(r.Extra, 1), r.Extra
			}
			b.SightFilled, b.OwnGround = r.SightFilled, r.OwnGround
		}
		j.Bearings = append(j.Bearings, b)
	}
	return j
}

// next is what to do with the fix. A bearing pins the place square to itself,
// so the one that helps most lies square to where the place is least known.
func (o *fixOptions) next(f *fix.Fix, field magnetic.Field, fieldError error) []string {
	has := map[fix.WarningKind]bool{}
	for _, w := range f.Warnings {
		has[w.Kind] = true
	}
	out := []string{}
	if has[fix.Blunder] || has[fix.BackBearing] || has[fix.HiddenMark] {
		out = append(out, "Do not walk on this fix yet: make sure of each mark and take the bearings again, away from iron.")
	}
	if has[fix.Blunder] || has[fix.PoorGeometry] || has[fix.NoRedundancy] || has[fix.Ambiguous] || has[fix.SameSide] {
		square := func(turn float64) string {
			b := geodesy.NewTrueBearing(geodesy.Degrees(f.Weakest()) + geodesy.Degrees(turn))
			text := "true " + dial(float64(b)) + "°"
			if fieldError == nil {
				text += fmt.Sprintf(" (magnetic %s°)", dial(float64(field.Declination.Magnetic(b))))
			}
			return text
		}
		use := "would help most"
		if f.Ambiguous() {
			use = "tells these places apart best"
		}
		if o.intersect {
			out = append(out, fmt.Sprintf("The bearing that %s is one taken from near %s or %s of the point.", use, square(90), square(-90)))
		} else {
			out = append(out, fmt.Sprintf("The mark that %s lies near %s or %s from you.", use, square(90), square(-90)))
		}
	}
	switch {
	case o.intersect:
	case f.Ambiguous():
		out = append(out, "Then rule places out by the ground about you: the slope under your feet, the nearest stream or crest, a mark in sight that the data hides from there.")
	default:
		out = append(out, "Then check the fix against the ground about you: the slope under your feet, the nearest stream or crest.")
	}
	return out
}
