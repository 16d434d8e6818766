package drill

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"crowline/contour"
	"crowline/contour/sheet"
	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/dem/units"
	"crowline/profile"
	"crowline/visibility"
)

// Kind of question.
type Kind string

// Kinds of question.
const (
	// Landform: name the landform at a mark.
	Landform Kind = "landform"
	// Elevation: read the elevation of a point between contours.
	Elevation Kind = "elevation"
	// Profile: which of four profiles belongs to a line.
	Profile Kind = "profile"
	// Sight: can one place be seen from another.
	Sight Kind = "sight"
	// Climb: which of several legs climbs least, and by how much.
	Climb Kind = "climb"
	// Slope: the steepest slope along a line, in percent and degrees.
	Slope Kind = "slope"
	// BackBearing: the back bearing of a bearing.
	BackBearing Kind = "back-bearing"
	// Norths: from one of true, grid and magnetic north to another.
	Norths Kind = "norths"
	// PageBearing: take a bearing and a distance off the printed page.
	PageBearing Kind = "page-bearing"
	// Destination: what hides the destination, and where it comes into view.
	Destination Kind = "destination"
	// GridReference: write the grid reference of a place, and mark the place of
	// another.
	GridReference Kind = "grid-reference"
	// SlopeShape: is a slope concave or convex, and is its foot seen from its
	// top.
	SlopeShape Kind = "slope-shape"
	// DrawProfile: draw a profile on a blank ruled one, and tell by it whether
	// one end is seen from the other.
	DrawProfile Kind = "draw-profile"
	// WalkTime: the time and the paces of a leg by a stated rule.
	WalkTime Kind = "walk-time"
	// Water: which way water runs, and the stream traced to the map's edge.
	Water Kind = "water"
	// Tracing: the crest, the floor and every saddle of a square, traced.
	Tracing Kind = "tracing"
	// Resection: one's own place by bearings to two marks.
	Resection Kind = "resection"
	// Intersection: a place by bearings from two marks.
	Intersection Kind = "intersection"
)

// Kinds lists every kind, in the order the package names them.
var Kinds = []Kind{Landform, Elevation, Profile, Sight, Climb, Slope, BackBearing, Norths, PageBearing, Destination,
	GridReference, SlopeShape, DrawProfile, WalkTime, Water, Tracing, Resection, Intersection}

// Level is how much a student is asked.
type Level string

// Levels.
const (
	// Beginner: read what the map says at a point.
	Beginner Level = "beginner"
	// Intermediate: read the shape of a line.
	Intermediate Level = "intermediate"
	// Leader: settle what matters before walking.
	Leader Level = "leader"
)

// Levels lists every level, easiest first.
var Levels = []Level{Beginner, Intermediate, Leader}

// KindsOf are the kinds asked at a level unless others are named, those first
// that fill a quarter of an hour.
func KindsOf(l Level) []Kind {
	switch l {
	case Beginner:
		return []Kind{Landform, GridReference, Elevation, Water, Climb, BackBearing, PageBearing, SlopeShape}
	case Intermediate:
		return []Kind{Landform, Water, DrawProfile, Slope, SlopeShape, Tracing, Profile, Elevation, Intersection, GridReference, Norths, Sight, Climb}
	}
	return []Kind{Destination, WalkTime, Resection, SlopeShape, Climb, Tracing, Sight, Slope, DrawProfile, Profile, Landform, Norths}
}

// Options of Make. Around and Radius are needed.
type Options struct {
	Around geodesy.LatLon
	// Radius about it that every marked point lies in, metres.
	Radius float64
	// Seed of the choice: the same seed, the same questions.
	Seed uint64
	// Level; Beginner when "".
	Level Level
	// Count of questions; 10 when zero, 50 at most.
	Count int
	// Minutes the sheet is for, 240 at most: as many questions as fit in them
	// by MinutesOf, and no Count. Zero is by Count.
	Minutes int
	// Kinds to ask; KindsOf(Level) when nil.
	Kinds []Kind
	// Title of the sheet; made of the level and the place when "".
	Title string
	// Units of texts and contours.
	Units units.System
	// Scale of the maps, as a denominator; when zero 25000, or 50000 for
	// posts over 45 m apart.
	Scale float64
	// Interval between contours, metres or feet after Units; contour.Choose's
	// for the scale and the data when zero.
	Interval float64
	// VerticalError is one standard deviation of an elevation, metres; when
	// zero the data's own, or 5 where it states none.
	VerticalError float64
	// Landforms is how those are found that questions are about or name; the
	// library's defaults when zero, with VerticalError. LandformEvery is set
	// where every nth post of the grid is enough to find them on.
	Landforms     landform.FeatureOptions
	LandformEvery int
	// Declination about the place; without one no question has a magnetic
	// bearing.
	Declination *sheet.Declination
	// Date the sheet is made for; kept in the file.
	Date time.Time
	// EyeAboveGround of the observer, metres; visibility's default when zero.
	EyeAboveGround float64
	// Refraction coefficient of sight lines; zero is none. Use
	// visibility.DefaultRefraction for the usual one.
	Refraction float64
	// Progress, when set, is called from the calling goroutine with questions
	// done and in all, never decreasing.
	Progress func(done, total int64)
}

// ErrNone: no question with a clear answer was found.
var ErrNone = errors.New("drill: no question with a clear answer")

// Question is one exercise and its answer.
type Question struct {
	Number int    `json:"number" means:"Its number, from 1."`
	Kind   Kind   `json:"kind" means:"What kind of question it is."`
	Text   string `json:"text" means:"The question."`
	// Minutes and Points are those of its kind: MinutesOf and PointsOf.
	Minutes int `json:"minutes" means:"How long it takes."`
	Points  int `json:"points" means:"What a right answer counts."`
	// Reading is how the answer is read off the map and how near is right; ""
	// where nothing is measured.
	Reading string `json:"reading,omitempty" means:"How the answer is read off the map, and how near to it is right; left out where nothing is measured."`
	// Figure is the map asked about; nil for questions that need none.
	Figure *Figure `json:"figure,omitempty" means:"The map asked about; left out where none is needed."`
	Answer string  `json:"answer,omitempty" means:"The answer; left out of questions alone, like all that tells it."`
	// Working are the steps to the answer.
	Working []string `json:"working,omitempty" means:"The steps to it."`
	// Margin says how clear the answer is.
	Margin string `json:"margin,omitempty" means:"How clear the answer is of error."`
	// Within is how far from Answer is right, in a few words.
	Within string `json:"right_within,omitempty" means:"How far from the answer is right."`
	// Mistakes are wrong answers that are often given.
	Mistakes []Mistake `json:"mistakes,omitempty" means:"Wrong answers that are often given, and what they show."`
	// Data are the figures of the answer: a LandformAnswer, ElevationAnswer,
	// and so on after Kind.
	Data any `json:"data,omitempty" means:"The figures of the answer, after its kind."`
}

// Asked is a question alone: nothing of it tells the answer.
type Asked struct {
	Number  int     `json:"number" means:"Its number, from 1."`
	Kind    Kind    `json:"kind" means:"What kind of question it is."`
	Text    string  `json:"text" means:"The question."`
	Minutes int     `json:"minutes" means:"How long it takes."`
	Points  int     `json:"points" means:"What a right answer counts."`
	Reading string  `json:"reading,omitempty" means:"How the answer is read off the map, and how near to it is right; left out where nothing is measured."`
	Figure  *Figure `json:"figure,omitempty" means:"The map asked about; left out where none is needed."`
}

// Answered is an answer alone, to mark by.
type Answered struct {
	Number   int       `json:"number" means:"The number of its question."`
	Kind     Kind      `json:"kind" means:"What kind of question it is."`
	Points   int       `json:"points" means:"What a right answer counts."`
	Answer   string    `json:"answer" means:"The answer."`
	Within   string    `json:"right_within" means:"How far from the answer is right."`
	Working  []string  `json:"working" means:"The steps to it."`
	Mistakes []Mistake `json:"mistakes" means:"Wrong answers that are often given, and what they show."`
	Margin   string    `json:"margin" means:"How clear the answer is of error."`
	Data     any       `json:"data" means:"The figures of the answer, after its kind."`
}

// Mistake is a wrong answer and what it shows of the one who gives it.
type Mistake struct {
	Answer string `json:"answer" means:"The wrong answer."`
	Shows  string `json:"shows" means:"What was done to come to it."`
}

// DataOf is the zero value of Question.Data for a kind.
func DataOf(k Kind) any {
	switch k {
	case Landform:
		return LandformAnswer{}
	case Elevation:
		return ElevationAnswer{}
	case Profile:
		return ProfileAnswer{}
	case Sight:
		return SightAnswer{}
	case Climb:
		return ClimbAnswer{}
	case Slope:
		return SlopeAnswer{}
	case Destination:
		return DestinationAnswer{}
	case GridReference:
		return GridReferenceAnswer{}
	case SlopeShape:
		return SlopeShapeAnswer{}
	case DrawProfile:
		return DrawProfileAnswer{}
	case WalkTime:
		return WalkTimeAnswer{}
	case Water:
		return WaterAnswer{}
	case Tracing:
		return TracingAnswer{}
	case Resection, Intersection:
		return CrossBearingsAnswer{}
	}
	return BearingAnswer{}
}

// Figure is a map with lettered points, and legs between them.
type Figure struct {
	Centre Place `json:"centre" means:"The middle of what is asked about."`
	// Map it is printed on: a place in Set.Maps, from 1; 0 has a small map of
	// its own about Centre.
	Map   int      `json:"map,omitempty" means:"The number of the map it shares with others, from 1; left out where it has a small map of its own."`
	Marks []Place  `json:"marks" means:"The lettered points."`
	Legs  [][2]int `json:"legs,omitempty" means:"Lines between points, by their places in the list, from 0."` // indices of Marks
	// Profiles to choose from, when the question has a choice of them.
	Profiles []Section `json:"profiles,omitempty" means:"Profiles to choose from."`
	// Blank is the strip to draw a profile on; nil for none.
	Blank *Blank `json:"blank_profile,omitempty" means:"The ruled strip to draw a profile on; left out where none is asked for."`
	// Outline is the corners of a piece of the map that the question is about.
	Outline []Place `json:"outline,omitempty" means:"The corners of the piece of map that the question is about; left out where it is about points."`
	// Key is a profile drawn beside the answer; Drawn is the one that belongs
	// on Blank.
	Key   *sheet.ProfileDrawing `json:"-"`
	Drawn *Section              `json:"-"`
	// Traces are what is to be drawn on the map, shown on the key's.
	Traces []Trace `json:"-"`
	// Within are places that the map must hold though nothing is marked there.
	Within []geodesy.LatLon `json:"-"`

	outlines [][]Place // of a shared map's questions
}

// Place is a place with a letter.
type Place struct {
	Name string  `json:"name,omitempty" means:"Its letter."`
	Lat  float64 `json:"lat" means:"Latitude on WGS 84, north positive."`
	Lon  float64 `json:"lon" means:"Longitude on WGS 84, east positive."`
	// ElevationM is the ground's, metres.
	ElevationM float64 `json:"elevation_m" means:"The ground there; null in questions alone."`
}

// At is the place without its letter.
func (p Place) At() geodesy.LatLon {
	return geodesy.LatLon{Lat: geodesy.Degrees(p.Lat), Lon: geodesy.Degrees(p.Lon)}
}

// Section is a profile: distances and elevations, metres.
type Section struct {
	DistanceM  []float64 `json:"distance_m" means:"Distances along it."`
	ElevationM []float64 `json:"elevation_m" means:"The elevations at those."`
}

// Blank is a ruled strip: its axes.
type Blank struct {
	DistanceM float64 `json:"distance_m" means:"How long it is, from A to B."`
	LowestM   float64 `json:"lowest_m" means:"The elevation at its foot."`
	HighestM  float64 `json:"highest_m" means:"The elevation at its head."`
}

// Set is an exercise sheet.
type Set struct {
	Title string `json:"title" means:"The title of the sheet."`
	// Copy is its letter among the copies of a class; "" for a sheet alone.
	Copy   string  `json:"copy,omitempty" means:"Its letter among the copies of a class; left out of a sheet alone."`
	Seed   uint64  `json:"seed" means:"The seed: the same one makes the same sheet."`
	Level  Level   `json:"level" means:"beginner, intermediate or leader."`
	Around Place   `json:"around" means:"The place the exercises lie about."`
	Radius float64 `json:"radius_m" means:"How far round it they may lie."`
	// Scale of the maps as a denominator; Interval in IntervalUnit.
	Scale          float64 `json:"scale" means:"The scale of the maps, 25000 for 1:25 000."`
	Interval       float64 `json:"contour_interval" means:"The contour interval, in its unit."`
	IntervalUnit   string  `json:"contour_interval_unit" means:"The unit of the contour interval."`
	IntervalReason string  `json:"contour_interval_reason" means:"Why that interval."`
	// VerticalError is one standard deviation, metres.
	VerticalError float64 `json:"vertical_error_m" means:"One standard deviation of an elevation, as taken."`
	// VerticalErrorAssumed: the data states none.
	VerticalErrorAssumed bool       `json:"vertical_error_assumed,omitempty" means:"The data states no error: that one is assumed."`
	Data                 string     `json:"elevation_data" means:"The name of the data."`
	Questions            []Question `json:"questions" means:"The questions."`
	// Maps are the middles of the maps that questions share.
	Maps []Place `json:"maps,omitempty" means:"The middles of the maps that questions share."`
	// Notes are things the teacher must know, such as kinds of question that
	// this ground gave none of.
	Notes []string `json:"notes,omitempty" means:"What the teacher must know, such as kinds of question that this ground gave none of."`

	survey *survey
}

// panelMM is the side of a question's map, millimetres: two stand one above
// the other on A4 and letter paper, bands and scale bars included.
const panelMM = 88

// Lengths of legs on paper, millimetres: long enough to measure to a degree
// and a hundredth, short enough for the map in any direction.
const (
	shortLeg = 36
	longLeg  = 72
	// fanLeg is how far a leg may reach from the middle of its map.
	fanLeg = 36
)

// tries is how many random draws are made for one question.
const tries = 600

// Make draws up a set of questions on a grid, which must hold the ground
// about Around to Radius, and half a map more where legs may reach its edge.
// Questions that would need ground the grid does not have are not asked. The
// error wraps ErrNone when no question at all was found.
func Make(ctx context.Context, grid *dem.Grid, o Options) (*Set, error) {
	s, err := newSurvey(ctx, grid, o)
	if err != nil {
		return nil, err
	}
	return s.set(ctx)
}

// set draws up questions by the survey's seed.
func (s *survey) set(ctx context.Context) (*Set, error) {
	o, grid := s.o, s.grid
	set := &Set{
		Title: o.Title, Seed: o.Seed, Level: o.Level, Around: s.place("", o.Around), Radius: o.Radius,
		Scale: o.Scale, Interval: s.levels.Interval, IntervalUnit: s.levels.Unit.String(), IntervalReason: s.reason,
		VerticalError: o.VerticalError, VerticalErrorAssumed: s.assumed, Data: grid.Source.Name, Notes: slices.Clone(s.notes), survey: s,
	}
	kinds := slices.Clone(o.Kinds)
	spent := 0      // minutes
	passed := false // there was no time for a kind
	for next := 0; len(set.Questions) < o.Count && len(kinds) > 0; {
		kind := kinds[next%len(kinds)]
		if o.Minutes > 0 && spent+MinutesOf(kind) > o.Minutes {
			next %= len(kinds)
			kinds = slices.Delete(kinds, next, next+1)
			passed = passed || !slices.ContainsFunc(set.Questions, func(q Question) bool { return q.Kind == kind })
			continue
		}
		// No kind twice while another has not come once, though a minute or two
		// be left over.
		if passed && slices.ContainsFunc(set.Questions, func(q Question) bool { return q.Kind == kind }) {
			break
		}
		q, err := s.ask(ctx, kind, len(set.Questions))
		if err != nil {
			return nil, err
		}
		if q == nil {
			set.Notes = append(set.Notes, s.why(kind, set.Questions))
			i := next % len(kinds)
			kinds = slices.Delete(kinds, i, i+1)
			next = i
			continue
		}
		spent += MinutesOf(kind)
		set.Questions = append(set.Questions, *q)
		next++
		if o.Progress != nil {
			o.Progress(progressed(len(set.Questions), spent, o))
		}
	}
	if len(set.Questions) == 0 {
		return nil, fmt.Errorf("%w within %s of %s: %s", ErrNone, s.distance(o.Radius), o.Around, set.Notes[len(set.Notes)-1])
	}
	s.share(set)
	if o.Minutes > 0 {
		if left := o.Minutes - spent; left >= fullEnough {
			set.Notes = append(set.Notes, fmt.Sprintf("questions for %d of the %d minutes asked for were found; try another seed, a larger radius or other kinds", spent, o.Minutes))
		}
		if o.Progress != nil {
			o.Progress(int64(o.Minutes), int64(o.Minutes))
		}
	} else if n := len(set.Questions); n < o.Count {
		set.Notes = append(set.Notes, fmt.Sprintf("%d of the %d questions asked for were found; try another seed, a larger radius or other kinds", n, o.Count))
		if o.Progress != nil {
			o.Progress(int64(o.Count), int64(o.Count))
		}
	}
	return set, nil
}

// ask tries for one question of a kind; nil when there is none.
func (s *survey) ask(ctx context.Context, kind Kind, number int) (*Question, error) {
	makers := map[Kind]func(context.Context, *rand.Rand) (*Question, error){
		Landform: s.landform, Elevation: s.elevation, Profile: s.profile, Sight: s.sight, Climb: s.climb, Slope: s.slope,
		BackBearing: s.backBearing, Norths: s.norths, PageBearing: s.pageBearing, Destination: s.destination,
		GridReference: s.gridReference, SlopeShape: s.slopeShape, DrawProfile: s.drawProfile, WalkTime: s.walkTime,
		Water: s.water, Tracing: s.tracing, Resection: s.resection, Intersection: s.intersection,
	}
	// A stream of its own for each question, so that how many tries one
	// takes does not change the next.
	stream := uint64(number)*1000 + uint64(slices.Index(Kinds, kind))
	try := func(in *sharedMap, stream uint64, tries int) (*Question, error) {
		r := rand.New(rand.NewPCG(s.o.Seed, stream))
		s.in = in
		defer func() { s.in = nil }()
		for range tries {
			if err := ctx.Err(); err != nil {
				return nil, fmt.Errorf("drill: %w", err)
			}
			q, err := makers[kind](ctx, r)
			if err != nil {
				return nil, fmt.Errorf("drill: %s: %w", kind, err)
			}
			if q == nil || in != nil && (q.Figure == nil || !s.holds(in, q.Figure)) || !s.fresh(q) {
				continue
			}
			q.Kind, q.Minutes, q.Points, q.Within = kind, MinutesOf(kind), PointsOf(kind), s.within(q)
			q.Mistakes = append(q.Mistakes, s.mistakes(q)...)
			return q, nil
		}
		return nil, nil
	}
	// First on a map that others are on, so that the sheet is short.
	if kind != BackBearing && kind != Norths {
		for i, m := range s.maps {
			if m.questions >= mostShared {
				continue
			}
			s.looked = mostLegs - legsOnShared
			q, err := try(m, stream+100*uint64(i+1), triesOnShared)
			if err != nil {
				return nil, err
			}
			if q != nil {
				s.add(m, i, q.Figure)
				return q, nil
			}
		}
	}
	s.looked = 0
	q, err := try(nil, stream, tries)
	if err != nil || q == nil || q.Figure == nil {
		return q, err
	}
	if m := s.open(q.Figure); m != nil {
		s.maps = append(s.maps, m)
		s.add(m, len(s.maps)-1, q.Figure)
	}
	return q, nil
}

// fresh reports whether a question is unlike those asked before, and on
// another place than any of them, and remembers it.
func (s *survey) fresh(q *Question) bool {
	key := q.Text
	if q.Figure != nil {
		for _, at := range s.asked {
			if geodesy.Inverse(at, q.Figure.Centre.At()).Distance < s.paper(8) {
				return false
			}
		}
		if len(q.Figure.Outline) > 0 {
			// Squares that overlap are one place, and their lines a tangle.
			for _, at := range s.outlined {
				if geodesy.Inverse(at, q.Figure.Centre.At()).Distance < s.paper(1.5*squareMM) {
					return false
				}
			}
			s.outlined = append(s.outlined, q.Figure.Centre.At())
		}
		s.asked = append(s.asked, q.Figure.Centre.At())
		return true
	}
	if s.texts[key] {
		return false
	}
	s.texts[key] = true
	return true
}

// why says why a kind of question ran out.
func (s *survey) why(kind Kind, asked []Question) string {
	n := 0
	for _, q := range asked {
		if q.Kind == kind {
			n++
		}
	}
	switch {
	case kind == Norths && s.o.Declination == nil:
		return "no question of norths: the declination is not known"
	case kind == GridReference && !s.kilometreGrid():
		return fmt.Sprintf("no question of kind %s: at 1:%.0f the map's grid lines are not a kilometre apart", kind, s.o.Scale)
	case (kind == Norths || kind == PageBearing || kind == GridReference || kind == Water || kind == Tracing || kind == Resection || kind == Intersection) && s.zone == 0:
		return fmt.Sprintf("no question of kind %s: there is no grid this near a pole", kind)
	case n == 0:
		return fmt.Sprintf("no question of kind %s: none on this ground is clear of %s and of a slip in reading the map", kind, s.dataError())
	}
	return fmt.Sprintf("only %d of kind %s: no more on this ground are clear of %s and of a slip in reading the map", n, kind, s.dataError())
}

// survey is the ground and what the questions share.
type survey struct {
	grid     *dem.Grid
	whole    bool // the grid has no void
	o        Options
	levels   contour.Levels
	lines    []contour.Line
	reason   string
	features []landform.Feature
	along    landform.AlongOptions
	spacing  float64 // of posts at Around, metres, the larger way
	zone     int     // of the grid at Around; 0 for none
	notes    []string
	asked    []geodesy.LatLon // the middles of the questions
	outlined []geodesy.LatLon // of those with an outline
	texts    map[string]bool
	deadBand float64 // of a climb, metres, as leg has it
	assumed  bool    // the data states no vertical error
	looked   int     // legs drawn, or work as long, for the question being made
	counted  bool    // contours crossed on it must be countable
	drained  *landform.Drainage
	maps     []*sharedMap
	featured map[landform.Kind][]landform.Position // posts within the radius
	in       *sharedMap                            // where a question is being drawn; nil for anywhere
}

func newSurvey(ctx context.Context, grid *dem.Grid, o Options) (*survey, error) {
	s := &survey{grid: grid, texts: map[string]bool{}}
	s.whole = !slices.ContainsFunc(grid.Elevations, func(h float32) bool { return h != h })
	column, row, err := grid.Locate(o.Around)
	if err != nil {
		return nil, fmt.Errorf("drill: %w", err)
	}
	if _, err := dem.ElevationAt(grid, o.Around); err != nil {
		return nil, fmt.Errorf("drill: %w", err)
	}
	a, b, err := grid.Spacing(column, row)
	if err != nil {
		return nil, fmt.Errorf("drill: %w", err)
	}
	s.spacing = max(a, b)
	stated := o.VerticalError
	if stated == 0 {
		stated = grid.Source.VerticalError
	}
	if s.o, err = o.filled(grid, s.spacing); err != nil {
		return nil, err
	}
	s.deadBand, s.assumed = profile.DeadBand(stated), stated == 0
	o = s.o
	if n := grid.FilledPosts(); n > 0 {
		s.notes = append(s.notes, fmt.Sprintf("%d %s", n, filledNote))
	}
	if o.Around.Lat >= -80 && o.Around.Lat <= 84 {
		s.zone = geodesy.UTMZone(o.Around)
	}
	unit := contour.Metre
	if o.Units == units.US {
		unit = contour.Foot
	}
	steepness, err := contour.MeasureSteepness(grid)
	if err != nil {
		return nil, fmt.Errorf("drill: %w", err)
	}
	choice, err := contour.Choose(contour.Question{Scale: o.Scale, Unit: unit, VerticalError: stated, Interval: o.Interval})
	if err != nil {
		return nil, fmt.Errorf("drill: %w", err)
	}
	choice = choice.Drawn(steepness)
	s.levels, s.reason = choice.Levels(), choice.Reason
	if choice.Warning != "" {
		s.notes = append(s.notes, choice.Warning)
	}
	if s.lines, err = contour.Trace(ctx, grid, s.levels, contour.Options{}); err != nil {
		return nil, fmt.Errorf("drill: %w", err)
	}
	if slices.ContainsFunc(o.Kinds, func(k Kind) bool {
		return slices.Contains([]Kind{Landform, Elevation, Destination, Water, Tracing}, k)
	}) {
		asked := o.Landforms
		if asked.VerticalError == 0 {
			asked.VerticalError = o.VerticalError
		}
		f, err := asked.Resolve(grid)
		if err != nil {
			return nil, fmt.Errorf("drill: %w", err)
		}
		s.along = landform.AlongOptions{Scale: f.Scale, MinRelief: f.MinRelief}
		if s.features, err = landform.FeaturesOfEvery(ctx, grid, max(1, o.LandformEvery), f); err != nil {
			return nil, fmt.Errorf("drill: %w", err)
		}
	}
	return s, nil
}

func (o Options) filled(grid *dem.Grid, spacing float64) (Options, error) {
	if o.Level == "" {
		o.Level = Beginner
	}
	if !slices.Contains(Levels, o.Level) {
		return o, fmt.Errorf("drill: level %q: use one of %v", o.Level, Levels)
	}
	if o.Kinds == nil {
		o.Kinds = KindsOf(o.Level)
	}
	if len(o.Kinds) == 0 {
		return o, errors.New("drill: no kind of question is asked for")
	}
	for _, k := range o.Kinds {
		if !slices.Contains(Kinds, k) {
			return o, fmt.Errorf("drill: kind %q: use one of %v", k, Kinds)
		}
	}
	if o.Minutes != 0 && o.Count != 0 {
		return o, errors.New("drill: give a count of questions or the minutes they may take, not both")
	}
	if o.Minutes < 0 || o.Minutes > 240 {
		return o, fmt.Errorf("drill: a sheet of %d minutes: ask for 1 to 240", o.Minutes)
	}
	switch {
	case o.Minutes > 0:
		o.Count = 50
	case o.Count == 0:
		o.Count = 10
	}
	if o.Count < 0 || o.Count > 50 {
		return o, fmt.Errorf("drill: %d questions: ask for 1 to 50", o.Count)
	}
	if o.Scale == 0 {
		o.Scale = 25000
		if spacing > 45 {
			o.Scale = 50000
		}
	}
	if !(o.Scale >= 1000 && o.Scale <= 250000) {
		return o, fmt.Errorf("drill: scale 1:%g is outside 1:1000 to 1:250 000", o.Scale)
	}
	if !(o.Radius > 0) || math.IsInf(o.Radius, 0) {
		return o, fmt.Errorf("drill: a radius of %v metres holds no ground", o.Radius)
	}
	if least := panelMM / 2 * o.Scale / 1000; o.Radius < least {
		return o, fmt.Errorf("drill: a radius of %.0f m is less than half a map at 1:%.0f, %.0f m; take a larger one or a larger scale", o.Radius, o.Scale, least)
	}
	if o.VerticalError == 0 {
		o.VerticalError = grid.Source.VerticalError
	}
	if o.VerticalError == 0 {
		o.VerticalError = 5 // as landform: near SRTM's as measured; most data does better
	}
	if !(o.VerticalError > 0) || math.IsInf(o.VerticalError, 0) {
		return o, fmt.Errorf("drill: a vertical error of %v m is not an error", o.VerticalError)
	}
	if o.EyeAboveGround == 0 {
		o.EyeAboveGround = visibility.DefaultEyeAboveGround
	}
	if !(o.EyeAboveGround > 0) || math.IsInf(o.EyeAboveGround, 0) {
		return o, fmt.Errorf("drill: an eye %v m above the ground is not above it", o.EyeAboveGround)
	}
	if o.Title == "" {
		o.Title = fmt.Sprintf("Map exercises, %s, %s", o.Level, o.Around)
	}
	return o, nil
}
