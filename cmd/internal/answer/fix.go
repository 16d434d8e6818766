package answer

import (
	"context"
	"errors"
	"fmt"
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/dem/units"
	"crowline/profile"
	"crowline/profile/magnetic"
	"crowline/visibility"
	"crowline/visibility/fix"
)

// FixBearing is a bearing as it was read, and the known place it belongs to.
type FixBearing struct {
	Mark Place
	// Degrees from 0 to 360, from magnetic north or from true.
	Degrees  float64
	Magnetic bool
}

// FixRequest asks for a place from bearings.
type FixRequest struct {
	Bearings []FixBearing
	// Intersect: the bearings were taken at the known places, to the place to be
	// found; else from there to the known ones.
	Intersect bool
	// CompassError is one standard deviation of a bearing, degrees, and
	// MarkError of where on a mark was pointed, metres.
	CompassError, MarkError float64
	// Altimeter and Line are further evidence; nil is none.
	Altimeter *fix.Altimeter
	Line      *fix.Line
	Sighting  Sighting
	Cover     Cover
	Needle
}

// Check refuses what makes no sense.
func (r FixRequest) Check() error {
	for _, b := range r.Bearings {
		if !(b.Degrees >= 0 && b.Degrees <= 360) {
			return wrongf("a bearing of %g degrees: give one from 0 to 360", b.Degrees)
		}
	}
	switch {
	case len(r.Bearings) == 0:
		return wrongf("give at least one bearing")
	case len(r.Bearings) == 1 && r.Altimeter == nil && r.Line == nil:
		return wrongf("one bearing gives a line, not a place; add a bearing, an altimeter reading or a known line")
	case !(r.CompassError > 0 && r.CompassError <= 45):
		return wrongf("a compass error of %g degrees: give one above 0 and up to 45", r.CompassError)
	case !(r.MarkError >= 0 && r.MarkError <= 10e3):
		return wrongf("an error of %g m of the marks: give one from 0 to 10 km", r.MarkError)
	}
	for _, c := range []interface{ Check() error }{r.Sighting, r.Cover, r.Needle} {
		if err := c.Check(); err != nil {
			return err
		}
	}
	return nil
}

// Reach: the unknown place is taken to lie no farther from the marks than they
// lie from each other, and 10 km; along a bearing that only an altimeter bounds
// it is looked for farther out.
func (r FixRequest) Reach() Reach {
	out := Reach{Margin: 10e3}
	if r.Altimeter != nil {
		out.Margin = fix.SearchReach
	}
	for _, b := range r.Bearings {
		out.Places = append(out.Places, b.Mark.LatLon)
		out.Margin = math.Max(out.Margin, geodesy.Inverse(out.Places[0], b.Mark.LatLon).Distance)
	}
	return out
}

// FixAnswer is a place from bearings.
type FixAnswer struct {
	// "resection", or "intersection" where the bearings were taken at the known
	// places.
	Method string `json:"method"`
	// The place found. It, and what belongs to it, is null where several places
	// fit: nothing says which of the candidates it is.
	Place *Spot `json:"place"`
	// Its UTM reference.
	UTM string `json:"utm,omitempty"`
	// The ellipse that holds the true place 19 times in 20; null where the lines
	// cross so flatly that none does, and region is what holds it.
	Ellipse95 *Ellipse `json:"ellipse_95"`
	// The ellipse of one standard deviation along its axes; null where the other is.
	EllipseSigma *Ellipse `json:"ellipse_one_sigma"`
	// The ground that holds the true place 19 times in 20, as an outline; null
	// where the ellipse says as much.
	Region *FixRegion `json:"region"`
	// The place is known well enough to walk on: one place, near enough to all
	// else that fits, and no bearing or mark doubted.
	FitToWalkOn bool `json:"fit_to_walk_on"`
	// The best angle at which two of the lines cross.
	CrossingDeg float64 `json:"crossing_deg" round:"1"`
	// What each bearing came to.
	Bearings []FixResidual `json:"bearings"`
	// Several places fit about as well.
	Ambiguous bool `json:"ambiguous"`
	// Those places; empty where one is found.
	Candidates []FixPlace `json:"candidates"`
	// How many more fit, and are not described.
	Further int `json:"further_candidates"`
	// The sum of squared residuals over their variances.
	ChiSquare float64 `json:"chi_square" round:"4"`
	// How many more observations there are than are needed.
	Redundancy int `json:"redundancy"`
	// The chance of as large a sum by accident.
	Chance float64 `json:"chance" round:"6"`
	// The altimeter's part; left out where none was read.
	Altimeter *FixAltimeter `json:"altimeter,omitempty"`
	// The known line's part; left out where there is none.
	Line *FixLine `json:"line,omitempty"`
	// What is doubtful, the gravest first.
	Warnings []FixWarning `json:"warnings"`
	// What to do with the fix.
	Next []string `json:"next"`
	// One standard deviation of a bearing, as taken.
	CompassError float64 `json:"compass_error_deg" round:"6"`
	// One standard deviation of where on a mark was pointed, as taken.
	MarkErrorM float64 `json:"mark_error_m" round:"3"`
	// Magnetic north at the place; null where the model has no answer.
	Declination *MagneticDeclination `json:"declination"`
	// Whether the marks can be seen was looked at.
	SightsChecked bool `json:"sights_checked"`
	// The ground at the place was a void and has been filled.
	GroundFilled bool `json:"ground_filled,omitempty"`
	// The files of the map; none where it was not asked for.
	Written []string `json:"written"`
	// What is doubtful about the map; left out where nothing is.
	MapWarnings []string `json:"map_warnings,omitempty"`
	// What the sights assume.
	Assumptions Assumptions `json:"assumptions"`
	// The data the answer rests on; null where none is.
	ElevationData *ElevationData `json:"elevation_data"`
	// What always holds.
	Cautions []string `json:"cautions"`

	places []FixPlace // all of them, or the one
	scale  float64    // of the map
}

var _ = register[FixAnswer]("fix")

// Places are all the places that fit, or the one.
func (a *FixAnswer) Places() []FixPlace { return a.places }

// Intersection reports whether the bearings were taken at the known places.
func (a *FixAnswer) Intersection() bool { return a.Method == methodIntersection }

const methodIntersection = "intersection"

// FixPlace is a place that fits, and what it is worth if it is the one.
type FixPlace struct {
	// Where it is.
	Place Spot `json:"place"`
	// Its UTM reference.
	UTM string `json:"utm,omitempty"`
	// The ellipse that holds the true place 19 times in 20, if this is the one;
	// null where none does, and region is what holds it.
	Ellipse95 *Ellipse `json:"ellipse_95"`
	// The ellipse of one standard deviation along its axes; null where the other is.
	EllipseSigma *Ellipse `json:"ellipse_one_sigma"`
	// The ground that holds the true place 19 times in 20, if this is the one;
	// null where the ellipse says as much.
	Region *FixRegion `json:"region"`
	// The best angle at which two of the lines cross.
	CrossingDeg float64 `json:"crossing_deg" round:"1"`
	// What each bearing came to.
	Bearings []FixResidual `json:"bearings"`
	// The sum of squared residuals over their variances.
	ChiSquare float64 `json:"chi_square" round:"4"`
	// How likely it is, as a share of the best.
	Likelihood float64 `json:"relative_likelihood" round:"3"`
	// The altimeter's reading less the ground's elevation.
	AltimeterResidualM *float64 `json:"altimeter_residual_m,omitempty" round:"1"`
	// How far it is from the known line.
	LineDistanceM *float64 `json:"line_distance_m,omitempty" round:"1"`
	// Its ground was a void and has been filled.
	GroundFilled bool `json:"ground_filled,omitempty"`
}

// Ellipse is how well a place is known.
type Ellipse struct {
	// The probability that it holds the true place.
	Probability float64 `json:"probability" round:"4"`
	// Half its long axis.
	SemiMajorM float64 `json:"semi_major_m" round:"1"`
	// Half its short axis.
	SemiMinorM float64 `json:"semi_minor_m" round:"1"`
	// The bearing of its long axis from true north.
	TrueDeg float64 `json:"semi_major_true_deg" round:"1"`
}

// FixRegion is the ground that holds the place.
type FixRegion struct {
	// The probability that it holds the true place.
	Probability float64 `json:"probability" round:"4"`
	// Its outline, as GeoJSON: longitude and latitude on WGS 84.
	Polygon FixPolygon `json:"polygon"`
	// Its area, square metres.
	AreaM2 float64 `json:"area_m2" round:"0"`
	// The greatest distance between two points of it.
	LongestM float64 `json:"longest_m" round:"1"`
	// The bearing of that from true north.
	LongestTrueDeg float64 `json:"longest_true_deg" round:"1"`
	// How wide it is square to that.
	AcrossM float64 `json:"across_m" round:"1"`
	// How far it reaches from the place.
	FarthestM float64 `json:"farthest_m" round:"1"`
	// The bearing there from true north.
	FarthestTrueDeg float64 `json:"farthest_true_deg" round:"1"`
}

// FixPolygon is a polygon of GeoJSON.
type FixPolygon struct {
	// "Polygon".
	Type string `json:"type"`
	// One ring of longitude and latitude, counterclockwise, closed.
	Coordinates [][][2]float64 `json:"coordinates" round:"6"`
}

// FixResidual is what a bearing came to.
type FixResidual struct {
	// The mark's name, or its coordinates.
	Name string `json:"name"`
	// The mark's latitude on WGS 84, north positive.
	Lat float64 `json:"lat"`
	// The mark's longitude on WGS 84, east positive.
	Lon float64 `json:"lon"`
	// The bearing as it was read.
	GivenDeg float64 `json:"given_deg" round:"6"`
	// "true" or "magnetic": the north it was read from.
	GivenFrom string `json:"given_from_north"`
	// The bearing used, from true north.
	TrueDeg float64 `json:"true_deg" round:"2"`
	// What it would be at the place found.
	ComputedDeg float64 `json:"computed_true_deg" round:"2"`
	// The turn from the computed bearing to the one used.
	ResidualDeg float64 `json:"residual_deg" round:"2"`
	// One standard deviation of the bearing, with the mark's own error in it.
	ErrorDeg float64 `json:"error_deg" round:"2"`
	// The residual in its own standard deviations; null where nothing checks
	// the bearing.
	Standardised float64 `json:"standardised" round:"2"`
	// The bearing was taken half round, and fits this place so. Where it fits no
	// place as it was read, it is so at all of them.
	Turned bool `json:"turned_half_round"`
	// How far off the mark is.
	DistanceM float64 `json:"distance_m" round:"1"`
	// Whether the mark is seen: "visible", "hidden", "unknown" or "not asked".
	Sight string `json:"sight"`
	// How much higher a hidden mark would have to stand; null where it is not
	// hidden.
	HiddenByM float64 `json:"hidden_by_m" round:"1"`
	// How likely it is to be seen; left out where that was not asked or the data's
	// error is not known.
	Likely *Likelihood `json:"likelihood,omitempty"`
	// The sight rests on filled ground.
	SightFilled bool `json:"rests_on_filled,omitempty"`
	// The sight over what stands on the ground, where that was given and the
	// sight is known.
	OverCover *CoverSight `json:"over_cover,omitempty"`

	verdict visibility.Verdict
}

// Seen is whether the mark is seen, OutOfRange where that was not asked.
func (r *FixResidual) Seen() visibility.Verdict { return r.verdict }

// FixAltimeter is what an altimeter came to.
type FixAltimeter struct {
	// The elevation it read.
	ElevationM float64 `json:"elevation_m"`
	// One standard deviation of that.
	ErrorM float64 `json:"error_m"`
	// The reading less the ground's elevation; null where several places fit.
	ResidualM *float64 `json:"residual_m" round:"1"`
}

// FixLine is what a known line came to.
type FixLine struct {
	// Its name.
	Name string `json:"name"`
	// One standard deviation of how far the place may be from the drawn line.
	ErrorM float64 `json:"error_m"`
	// How far the place is from it; null where several places fit.
	DistanceM *float64 `json:"distance_m" round:"1"`
}

// FixWarning is something doubtful.
type FixWarning struct {
	// What it is about: "blunder", "back bearing", "ambiguous", "poor geometry",
	// "hidden mark", "off the data", "no redundancy", "same side" or "filled
	// ground".
	Kind fix.WarningKind `json:"kind"`
	// The warning in a sentence, in metres.
	Text string `json:"text"`
	// The marks it is about, if of some.
	Names []string `json:"names"`

	sentence landform.Sentence
}

// Says is the warning, its lengths yet to be written.
func (w *FixWarning) Says() landform.Sentence { return w.sentence }

// metric writes the lengths of sentences in JSON. A height in them is one that
// is wanting.
var metric = visibility.Lengths{Distance: units.Metric.Distance, Height: units.Metric.Need}

// fixField gives the magnetic field where it is needed.
type fixField struct {
	posts  dem.Posts // may be nil
	needle Needle
}

func (f fixField) at(p geodesy.LatLon) (magnetic.Field, error) {
	elevation := 0.0 // 1 km moves the answer by about 0.01 degree
	if f.posts != nil {
		if h, err := dem.ElevationAt(f.posts, p); err == nil {
			elevation = h
		}
	}
	field, err := f.needle.at(p, elevation)
	if err == nil && field.Zone == magnetic.Blackout {
		err = magnetic.ErrBlackout
	}
	return field, err
}

// Fix answers a FixRequest.
func Fix(ctx context.Context, g *Ground, r FixRequest) (*FixAnswer, error) {
	over, err := r.Cover.open(ctx, g)
	if err != nil {
		return nil, err
	}
	if over != nil {
		defer over.close()
	}
	posts := g.posts(ctx)
	options := fix.Options{
		BearingError: geodesy.Degrees(r.CompassError), Altimeter: r.Altimeter, Line: r.Line, Posts: posts, VerticalError: g.verticalError,
		Sight: &fix.Sight{EyeAboveGround: r.Sighting.Eye, Conditions: r.Sighting.conditions()},
	}
	field := fixField{posts, r.Needle}
	bearings, err := r.bearings(&options, field)
	if err != nil {
		return nil, err
	}
	solve := fix.Resect
	if r.Intersect {
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
			return nil, wrongRequest{err}
		}
		return nil, err
	}
	a := r.describe(f, options, field)
	if options.Posts == nil {
		return a, nil
	}
	if err := r.howSure(ctx, g, posts, f, a); err != nil {
		return nil, err
	}
	if over != nil {
		if err := r.lookOver(ctx, over, posts, f, a); err != nil {
			return nil, err
		}
	}
	spacing, err := g.spacingAround([]geodesy.LatLon{f.Place}, 1)
	if err != nil {
		spacing = nan
	}
	d := g.describe(spacing, 0)
	a.ElevationData, a.SightsChecked = &d, true
	return a, nil
}

// lines has each line of sight of each place that fits looked along, where it is
// known whether the mark is seen: from the place to the mark, or the other way
// round.
func (r FixRequest) lines(ctx context.Context, posts dem.Posts, f *fix.Fix, a *FixAnswer, along func(line *profile.Leg, b *FixResidual) error) error {
	for k, found := range append([]fix.Candidate{f.Candidate}, f.Others...) {
		for i, b := range found.Bearings {
			if b.Sight != visibility.Visible && b.Sight != visibility.Hidden {
				continue
			}
			from, to := found.Place, r.Bearings[i].Mark.LatLon
			if r.Intersect {
				from, to = to, from
			}
			line, err := visibility.LookingLine(ctx, posts, from, to)
			if err != nil {
				return err
			}
			if err := along(line, &a.places[k].Bearings[i]); err != nil {
				return err
			}
		}
	}
	return nil
}

// howSure tells of each mark how likely it is to be seen.
func (r FixRequest) howSure(ctx context.Context, g *Ground, posts dem.Posts, f *fix.Fix, a *FixAnswer) error {
	return r.lines(ctx, posts, f, a, func(line *profile.Leg, b *FixResidual) (err error) {
		b.Likely, err = g.likely(ctx, line, r.Sighting.observer(line.From), r.Sighting.conditions(), policy.LegSamples)
		return err
	})
}

// lookOver looks at each mark over the cover.
func (r FixRequest) lookOver(ctx context.Context, over *cover, posts dem.Posts, f *fix.Fix, a *FixAnswer) error {
	return r.lines(ctx, posts, f, a, func(line *profile.Leg, b *FixResidual) (err error) {
		b.OverCover, err = over.look(ctx, posts, line.To, r.Sighting.observer(line.From), r.Sighting.conditions(), b.verdict)
		return err
	})
}

// bearings turns what was read into observations. The declination's error is
// common to all magnetic bearings; where true ones stand beside them it is
// added to each magnetic one instead.
func (r FixRequest) bearings(options *fix.Options, field fixField) ([]fix.Bearing, error) {
	count := 0
	for _, b := range r.Bearings {
		if b.Magnetic {
			count++
		}
	}
	sigma := 0.0
	if count > 0 {
		at, err := field.at(r.Bearings[0].Mark.LatLon)
		if err != nil {
			return nil, fmt.Errorf("magnetic bearings: %w", err)
		}
		sigma = float64(at.DeclinationSigma)
		options.Declination = func(p geodesy.LatLon) (magnetic.Declination, error) {
			f, err := field.at(p)
			return f.Declination, err
		}
	}
	if count == len(r.Bearings) {
		options.SharedError = geodesy.Degrees(sigma)
	}
	var out []fix.Bearing
	for _, b := range r.Bearings {
		one := fix.Bearing{Name: b.Mark.Label(), Place: b.Mark.LatLon, PlaceError: r.MarkError}
		if b.Magnetic {
			m := geodesy.NewMagneticBearing(geodesy.Degrees(b.Degrees))
			one.Magnetic = &m
			if count < len(r.Bearings) {
				one.Error = geodesy.Degrees(math.Hypot(r.CompassError, sigma))
			}
		} else {
			one.True = geodesy.NewTrueBearing(geodesy.Degrees(b.Degrees))
		}
		out = append(out, one)
	}
	return out, nil
}

func ellipse(c fix.Candidate, probability float64) *Ellipse {
	if !c.EllipseHolds() {
		return nil
	}
	e := c.Ellipse(probability)
	return &Ellipse{e.Probability, e.SemiMajor, e.SemiMinor, float64(e.Along)}
}

func fixRegion(r *fix.Region) *FixRegion {
	if r == nil {
		return nil
	}
	out := &FixRegion{
		Probability: r.Probability, AreaM2: r.Area, LongestM: r.Longest, LongestTrueDeg: float64(r.Along), AcrossM: r.Across,
		FarthestM: r.Farthest, FarthestTrueDeg: float64(r.Toward), Polygon: FixPolygon{Type: "Polygon"},
	}
	var ring [][2]float64
	for _, q := range append(r.Outline[:len(r.Outline):len(r.Outline)], r.Outline[0]) {
		ring = append(ring, [2]float64{math.Round(float64(q.Lon)*1e6) / 1e6, math.Round(float64(q.Lat)*1e6) / 1e6})
	}
	out.Polygon.Coordinates = [][][2]float64{ring}
	return out
}

func (r FixRequest) describe(f *fix.Fix, options fix.Options, field fixField) *FixAnswer {
	a := &FixAnswer{
		Method: "resection", Written: []string{}, Ambiguous: f.Ambiguous(), Further: f.Further, CrossingDeg: nan,
		ChiSquare: f.ChiSquare, Redundancy: f.Redundancy, Chance: f.Chance,
		CompassError: r.CompassError, MarkErrorM: r.MarkError, Assumptions: r.Sighting.describe(), Cautions: cautions,
	}
	if r.Intersect {
		a.Method = methodIntersection
	}
	least := f.ChiSquare
	for _, other := range f.Others {
		least = min(least, other.ChiSquare)
	}
	for _, found := range append([]fix.Candidate{f.Candidate}, f.Others...) {
		p := r.describePlace(found, options)
		p.Likelihood = math.Exp((least - found.ChiSquare) / 2)
		a.places = append(a.places, p)
	}
	if options.Altimeter != nil {
		a.Altimeter = &FixAltimeter{ElevationM: options.Altimeter.Elevation, ErrorM: options.Altimeter.Error}
	}
	if options.Line != nil {
		a.Line = &FixLine{Name: options.Line.Name, ErrorM: options.Line.Error}
	}
	if a.Ambiguous {
		a.Candidates = a.places
	} else {
		one := &a.places[0]
		a.Place, a.UTM, a.Ellipse95, a.EllipseSigma, a.CrossingDeg = &one.Place, one.UTM, one.Ellipse95, one.EllipseSigma, one.CrossingDeg
		a.Region, a.FitToWalkOn = one.Region, f.FitToWalkOn(policy.WalkOn)
		a.Bearings, a.GroundFilled = one.Bearings, one.GroundFilled
		if a.Altimeter != nil {
			a.Altimeter.ResidualM = one.AltimeterResidualM
		}
		if a.Line != nil {
			a.Line.DistanceM = one.LineDistanceM
		}
	}
	for _, w := range f.Warnings {
		a.Warnings = append(a.Warnings, FixWarning{Kind: w.Kind, Text: w.Sentence.Text(metric), Names: w.Names, sentence: w.Sentence})
	}
	at, err := field.at(f.Place)
	a.Declination = declination(at, err, r.Needle)
	a.Next = r.next(f, at, err)
	return a
}

// known is a figure, nil where it is not a number.
func known(v float64) *float64 {
	if math.IsNaN(v) {
		return nil
	}
	return &v
}

// describePlace is one place that fits.
func (r FixRequest) describePlace(found fix.Candidate, options fix.Options) FixPlace {
	out := FixPlace{
		Place:     spot(PlaceAt(found.Place), found.Ground),
		Ellipse95: ellipse(found, 0.95), EllipseSigma: ellipse(found, fix.OneSigma), Region: fixRegion(found.Region),
		CrossingDeg: float64(found.Crossing), ChiSquare: found.ChiSquare, GroundFilled: found.GroundFilled,
		AltimeterResidualM: known(found.AltimeterResidual), LineDistanceM: known(found.LineDistance),
	}
	if grid, err := geodesy.ToUTM(found.Place); err == nil {
		out.UTM = grid.String()
	}
	for i, b := range found.Bearings {
		mark := r.Bearings[i].Mark
		one := FixResidual{
			Name: b.Name, Lat: float64(mark.Lat), Lon: float64(mark.Lon), GivenDeg: r.Bearings[i].Degrees, GivenFrom: "true",
			TrueDeg: float64(b.Observed), ComputedDeg: float64(b.Computed), ResidualDeg: float64(b.Residual), ErrorDeg: float64(b.Error),
			Standardised: b.Standardised, Turned: b.Turned, DistanceM: b.Distance, Sight: "not asked", HiddenByM: nan, verdict: visibility.OutOfRange,
		}
		if r.Bearings[i].Magnetic {
			one.GivenFrom = "magnetic"
		}
		if options.Sight != nil {
			one.Sight, one.verdict = b.Sight.String(), b.Sight
			if b.Sight == visibility.Hidden {
				one.HiddenByM = b.Extra
			}
			one.SightFilled = b.SightFilled
		}
		out.Bearings = append(out.Bearings, one)
	}
	return out
}

// next is what to do with the fix. A bearing pins the place square to itself,
// so the one that helps most lies square to where the place is least known.
func (r FixRequest) next(f *fix.Fix, field magnetic.Field, fieldError error) []string {
	has := map[fix.WarningKind]bool{}
	for _, w := range f.Warnings {
		has[w.Kind] = true
	}
	var out []string
	if has[fix.Blunder] || has[fix.BackBearing] || has[fix.HiddenMark] {
		out = append(out, "Do not walk on this fix yet: make sure of each mark and take the bearings again, away from iron.")
	}
	if has[fix.Blunder] || has[fix.PoorGeometry] || has[fix.NoRedundancy] || has[fix.Ambiguous] || has[fix.SameSide] {
		square := func(turn float64) string {
			b := geodesy.NewTrueBearing(geodesy.Degrees(f.Weakest()) + geodesy.Degrees(turn))
			text := "true " + units.Dial(float64(b)) + "°"
			if fieldError == nil {
				text += fmt.Sprintf(" (magnetic %s°)", units.Dial(float64(field.Declination.Magnetic(b))))
			}
			return text
		}
		use := "would help most"
		if f.Ambiguous() {
			use = "tells these places apart best"
		}
		if r.Intersect {
			out = append(out, fmt.Sprintf("The bearing that %s is one taken from near %s or %s of the point.", use, square(90), square(-90)))
		} else {
			out = append(out, fmt.Sprintf("The mark that %s lies near %s or %s from you.", use, square(90), square(-90)))
		}
	}
	switch {
	case r.Intersect:
	case f.Ambiguous():
		out = append(out, "Then rule places out by the ground about you: the slope under your feet, the nearest stream or crest, a mark in sight that the data hides from there.")
	default:
		out = append(out, "Then check the fix against the ground about you: the slope under your feet, the nearest stream or crest.")
	}
	return out
}
