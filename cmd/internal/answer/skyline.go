package answer

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"math"
	"strconv"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/dem/outfile"
	"crowline/profile/magnetic"
	"crowline/visibility"
)

// SkylineRequest asks for the horizon round a place.
type SkylineRequest struct {
	From Place
	// Sighting of the ground itself: its target has no height.
	Sighting Sighting
	Cover    Cover
	Needle
	// Radius bounds the summits listed, metres; 0 is as far as the data goes.
	// The skyline is what it is, whatever is listed.
	Radius float64
	// Step between the bearings given, degrees.
	Step float64
	// Places are the user's, which may name summits or stand on the skyline.
	Places []Place
}

// Check refuses what makes no sense.
func (r SkylineRequest) Check() error {
	if n := 360 / r.Step; !(r.Step > 0) || math.Abs(n-math.Round(n)) > 1e-6 {
		return wrongf("a step of %g degrees: give one that goes into 360 a whole number of times, as 0.5 or 5", r.Step)
	}
	if err := checkRadius(r.Radius); err != nil {
		return err
	}
	if err := r.Sighting.Check(); err != nil {
		return err
	}
	if err := r.Needle.Check(); err != nil {
		return err
	}
	return r.Cover.Check()
}

// Reach is the ground within the radius, and what rises behind.
func (r SkylineRequest) Reach() Reach { return reachBehind(r.Radius, r.From) }

// Horizon is the skyline on one bearing.
type Horizon struct {
	// The bearing from true north.
	TrueDeg float64 `json:"true_deg" round:"3"`
	// From magnetic north; null where the model has no answer.
	MagneticDeg float64 `json:"magnetic_deg" round:"2"`
	// The skyline's angle above the horizontal; null where no ground is known.
	AngleDeg float64 `json:"angle_deg" round:"3"`
	// How far off the ground is that makes it.
	DistanceM float64 `json:"distance_m" round:"1"`
	// How high it is.
	ElevationM float64 `json:"elevation_m" round:"1"`
	// False where not all of the ground on the bearing is known: it may stand
	// higher.
	Known bool `json:"known"`
	// The ground stands on posts that were void and have been filled.
	Filled bool `json:"filled,omitempty"`
	// How much of the elevation is what stands on the ground.
	CoverM float64 `json:"cover_m,omitempty" round:"1"`
	// The angle of the bare ground, over cover only.
	BareAngleDeg *float64 `json:"bare_ground_angle_deg,omitempty" round:"3"`
}

// Peak is a summit or a place of the user's that breaks the skyline.
type Peak struct {
	// What it is called.
	Name string `json:"name,omitempty"`
	// Latitude on WGS 84, north positive.
	Lat float64 `json:"lat"`
	// Longitude on WGS 84, east positive.
	Lon float64 `json:"lon"`
	Horizon
	// How far it stands above the saddle to higher ground; null where it is no
	// summit of the data, or only the least is known.
	ProminenceM float64 `json:"prominence_m" round:"1"`
	// The least that can be, where the data ends before the saddle.
	ProminenceAtLeastM float64 `json:"prominence_at_least_m,omitempty" round:"1"`
}

// SkylineAssumptions go with a skyline.
type SkylineAssumptions struct {
	// The eye above the ground.
	EyeM float64 `json:"eye_m"`
	// The refraction coefficient, as R/r.
	Refraction float64 `json:"refraction_k"`
}

// FilledSkyline counts the bearings whose skyline stands on filled posts.
type FilledSkyline struct {
	// How many do.
	Bearings int `json:"bearings"`
	// Of how many, a step apart.
	Of int `json:"of_bearings"`
	// How far apart those are.
	StepDeg float64 `json:"step_deg" round:"6"`
}

// CoverSkyline is what cover changes of a skyline, against that of the bare
// ground.
type CoverSkyline struct {
	// How many bearings were compared, a step apart.
	Of int `json:"of_bearings"`
	// How far apart they are.
	StepDeg float64 `json:"step_deg" round:"6"`
	// On how many of them what stands on the ground makes the skyline.
	Tops int `json:"made_by_cover_bearings"`
	// On how many it stands higher by a tenth of a degree or more.
	Raised int `json:"raised_bearings"`
	// On how many it is no longer known to the end.
	NotKnown int `json:"no_longer_known_bearings"`
	// The most by which it stands higher.
	MostDeg float64 `json:"most_raised_deg" round:"2"`
	// On which true bearing that is.
	MostTrueDeg float64 `json:"most_raised_true_deg" round:"2"`
}

// SkylineAnswer is the horizon round a place, and the summits on it.
type SkylineAnswer struct {
	// The place.
	From Spot `json:"from"`
	// How high the eye is.
	EyeElevationM float64 `json:"eye_elevation_m" round:"2"`
	// Magnetic north there; null where the model has no answer.
	Declination *MagneticDeclination `json:"declination"`
	// How far was looked; null for as far as the data goes.
	RadiusM float64 `json:"radius_m" round:"3"`
	// How far off the summits listed stand at most; left out where all are.
	PeaksWithinM *float64 `json:"peaks_within_m,omitempty" round:"3"`
	// The step between the bearings of horizon.
	StepDeg float64 `json:"step_deg" round:"6"`
	// Where the skyline is highest.
	Highest *Horizon `json:"highest"`
	// Where it is lowest.
	Lowest *Horizon `json:"lowest"`
	// On how many bearings it stands on filled ground; left out where none is
	// filled.
	Filled *FilledSkyline `json:"filled,omitempty"`
	// What the cover changes of it.
	Cover *CoverSkyline `json:"cover,omitempty"`
	// The cover it is over.
	OverCover *CoverUsed `json:"over_cover,omitempty"`
	// Tops on the skyline: the user's own first, then summits by prominence.
	Peaks []Peak `json:"peaks"`
	// The skyline on each bearing.
	Horizon []Horizon `json:"horizon"`
	// What it assumes.
	Assumptions SkylineAssumptions `json:"assumptions"`
	// The data the answer rests on.
	ElevationData ElevationData `json:"elevation_data"`
	// The files written.
	Written []string `json:"written"`
	// What is doubtful about the answer, or about what was written.
	Warnings []string `json:"warnings"`
	// What always holds.
	Cautions []string `json:"cautions"`

	// Every is the skyline each 15 degrees, for text.
	Every []Horizon `json:"-"`

	found, bare *visibility.Horizon // every policy.SkylineStep or finer; bare with cover only
	field       magnetic.Field
}

var _ = register[SkylineAnswer]("skyline")

// Full is the skyline as the library gives it, every tenth of a degree or finer.
func (a *SkylineAnswer) Full() *visibility.Horizon { return a.found }

// Skyline answers a SkylineRequest.
func Skyline(ctx context.Context, g *Ground, r SkylineRequest) (*SkylineAnswer, error) {
	over, err := r.Cover.open(ctx, g)
	if err != nil {
		return nil, err
	}
	if over != nil {
		defer over.close()
	}
	observer, err := r.Sighting.standing(g.posts(ctx), r.From)
	if err != nil {
		return nil, err
	}
	perPost := int64(inSightPostBytes)
	if over != nil { // which may raise any summit
		perPost = r.Cover.memory(horizonPostBytes)
	}
	g, bare, far, err := g.readBehind(ctx, observer.Place, r.Radius, r.Sighting.behind(r.From, over != nil), perPost)
	if err != nil {
		return nil, err
	}
	a := &SkylineAnswer{RadiusM: nan, StepDeg: r.Step, Assumptions: SkylineAssumptions{r.Sighting.Eye, r.Sighting.Refraction}, Cautions: cautions}
	grid := bare
	if over != nil {
		var layer *dem.CoverLayer
		if layer, a.OverCover, err = over.lay(ctx, bare); err != nil {
			return nil, err
		}
		if grid, err = layer.Grid(ctx, over.clearing(observer.Place)); err != nil {
			return nil, err
		}
	}
	spacing, err := gridSpacing(grid)
	if err != nil {
		return nil, err
	}
	// the bearings asked for are among finer ones
	share := int(math.Ceil(r.Step/policy.SkylineStep - 1e-9))
	step := r.Step / float64(share)
	options := visibility.SkylineOptions{Refraction: r.Sighting.Refraction, Radius: far, Step: geodesy.Degrees(step), Progress: progress(ctx, "looking round")}
	if a.found, err = visibility.Skyline(ctx, grid, observer, options); err != nil {
		return nil, err
	}
	own, err := dem.ElevationAt(bare, r.From.LatLon)
	if err != nil {
		return nil, err
	}
	a.From, a.EyeElevationM, a.ElevationData = spot(r.From, own), a.found.EyeElevation, g.describe(spacing, 0)
	a.point(r.From, r.Needle)
	if far > 0 {
		a.RadiusM = far
	}
	if r.Radius > 0 {
		a.PeaksWithinM = &r.Radius
	}
	if over != nil {
		if a.bare, err = visibility.Skyline(ctx, bare, observer, options); err != nil {
			return nil, err
		}
		a.Cover = compareSkylines(a.bare, a.found, step)
	}
	a.sample(share)
	if g.filled() != nil {
		a.Filled = &FilledSkyline{Of: len(a.found.Points), StepDeg: step}
		for _, p := range a.found.Points {
			if p.Filled {
				a.Filled.Bearings++
			}
		}
	}
	if a.Highest == nil {
		return nil, fmt.Errorf("there is no known ground round %s to make a skyline: give data that reaches farther", r.From.Label())
	}
	if err := a.findPeaks(ctx, g, r, bare, grid, spacing); err != nil {
		return nil, err
	}
	return a, ctx.Err()
}

// point says where magnetic north is, for magnetic bearings.
func (a *SkylineAnswer) point(from Place, n Needle) {
	field, err := n.at(from.LatLon, a.found.GroundElevation)
	a.field, a.Declination = field, declination(field, err, n)
	switch {
	case err != nil:
		a.Warnings = append(a.Warnings, fmt.Sprintf("magnetic bearings not known: %v", err))
	case field.Zone == magnetic.Caution:
		a.Warnings = append(a.Warnings, WeakField)
	}
}

// sample fills in the figures: one bearing in share for JSON, one in fifteen
// degrees for text, the highest and lowest of all.
func (a *SkylineAnswer) sample(share int) {
	points := a.found.Points
	highest, lowest := -1, -1
	for i, p := range points {
		if i%share == 0 {
			h := a.horizon(p)
			if a.bare != nil && !math.IsNaN(float64(a.bare.Points[i].Angle)) {
				angle := float64(a.bare.Points[i].Angle)
				h.BareAngleDeg = &angle
			}
			a.Horizon = append(a.Horizon, h)
		}
		if math.IsNaN(float64(p.Angle)) {
			continue
		}
		if highest < 0 || p.Angle > points[highest].Angle {
			highest = i
		}
		if lowest < 0 || p.Angle < points[lowest].Angle {
			lowest = i
		}
	}
	const apart = 15 // degrees
	for b := 0.0; b < 360; b += apart {
		a.Every = append(a.Every, a.horizon(points[int(math.Round(b/360*float64(len(points))))%len(points)]))
	}
	if highest >= 0 {
		h, l := a.horizon(points[highest]), a.horizon(points[lowest])
		a.Highest, a.Lowest = &h, &l
	}
}

func (a *SkylineAnswer) horizon(p visibility.HorizonPoint) Horizon {
	h := Horizon{
		TrueDeg: float64(p.Bearing), MagneticDeg: nan, AngleDeg: float64(p.Angle), DistanceM: p.Distance,
		ElevationM: p.Elevation, Known: p.Verdict == visibility.Visible, Filled: p.Filled, CoverM: p.Cover,
	}
	if a.Declination != nil {
		h.MagneticDeg = float64(a.field.Declination.Magnetic(p.Bearing))
	}
	return h
}

func compareSkylines(bare, over *visibility.Horizon, step float64) *CoverSkyline {
	c := visibility.CompareSkylines(bare, over, geodesy.Degrees(policy.SkylineRaised))
	out := &CoverSkyline{Of: len(over.Points), StepDeg: step, Tops: c.Tops, Raised: c.Raised, NotKnown: c.NotKnown, MostDeg: float64(c.Most)}
	if Rounded(out.MostDeg, 2) > 0 {
		out.MostTrueDeg = float64(c.MostAt)
	}
	return out
}

// findPeaks lists the tops on the skyline: the user's places first, then
// summits by prominence. A place beside a summit names it. Summits are found on
// the bare ground and stand as high as the covered ground, which is the same
// where there is no cover; places stand on the bare.
func (a *SkylineAnswer) findPeaks(ctx context.Context, g *Ground, r SkylineRequest, bare, covered *dem.Grid, spacing float64) error {
	near := max(policy.SameSummit, 2*spacing)
	summits, err := a.summits(ctx, g, r, bare, covered, spacing, near)
	if err != nil {
		return err
	}
	var named, unnamed []Peak
	add := func(name string, at, top geodesy.LatLon, elevation, cover, prominence float64, atLeast bool) {
		// what is nearer than two posts is the observer's own hill
		p, ok := a.found.Peak(top, elevation, r.Sighting.Refraction, 2*spacing)
		if !ok || r.Radius > 0 && p.Distance > r.Radius {
			return
		}
		p.Cover = cover
		if column, row, err := covered.Locate(p.Place); err == nil {
			p.Filled = dem.FilledAt(covered, column, row)
		}
		// where it stands is told from the place as it was given
		own := geodesy.Inverse(r.From.LatLon, at)
		p.Bearing, p.Distance = own.Start, own.Distance
		peak := Peak{Name: name, Lat: float64(at.Lat), Lon: float64(at.Lon), Horizon: a.horizon(p), ProminenceM: prominence, ProminenceAtLeastM: nan}
		if atLeast {
			peak.ProminenceM, peak.ProminenceAtLeastM = nan, prominence
		}
		if name != "" {
			named = append(named, peak)
		} else {
			unnamed = append(unnamed, peak)
		}
	}
	names := make([]string, len(summits))
	for _, p := range r.Places {
		best, at := near, -1
		for i, s := range summits {
			if d := geodesy.Inverse(p.LatLon, s.Place).Distance; d <= best && names[i] == "" {
				best, at = d, i
			}
		}
		if at >= 0 {
			names[at] = p.Name
			continue
		}
		top, err := dem.LookingPoint(bare, p.LatLon)
		if err != nil {
			return err
		}
		if elevation, err := dem.ElevationAt(bare, top); err == nil && p.Name != "" {
			add(p.Name, p.LatLon, top, elevation, 0, nan, false)
		}
	}
	for i, s := range summits {
		elevation := s.Elevation
		if covered != bare {
			if elevation, err = dem.ElevationAt(covered, s.Place); err != nil {
				continue // what stands there is not known
			}
		}
		add(names[i], s.Place, s.Place, elevation, dem.Standing(elevation, s.Elevation), s.Prominence, s.AtLeast)
	}
	a.Peaks = append(named, unnamed...)
	return nil
}

// summits are those on the skyline, and those that a place may be a name of,
// within near metres of it; over cover, which raises tops, all there are.
func (a *SkylineAnswer) summits(ctx context.Context, g *Ground, r SkylineRequest, bare, covered *dem.Grid, spacing, near float64) ([]landform.Summit, error) {
	least := g.prominence()
	if covered != bare {
		return landform.Summits(ctx, bare, landform.SummitOptions{MinProminence: least})
	}
	on, err := a.found.SummitsOn(ctx, bare, least, r.Sighting.Refraction, 2*spacing, r.Radius)
	if err != nil {
		return nil, err
	}
	var spans []landform.Span
	for _, p := range r.Places {
		w, err := dem.WindowAround(&bare.Frame, []geodesy.LatLon{p.LatLon}, near)
		if err != nil {
			continue // where there is no data there is no summit
		}
		for row := range w.Rows {
			spans = append(spans, landform.Span{Row: w.Row + row, First: w.Column, Last: w.Column + w.Columns - 1})
		}
	}
	beside, err := landform.SummitsIn(ctx, bare, bare.Whole(), spans, least)
	if err != nil {
		return nil, err
	}
	return landform.Merged(on, beside), nil
}

// JSON writes the answer, which names the file.
func (a *SkylineAnswer) JSON(_ context.Context, path string) ([]string, error) {
	a.Written = []string{path}
	body, err := encoded(a)
	if err != nil {
		return nil, err
	}
	return a.Written, outfile.Write(outfile.File{Path: path, Body: body})
}

// CSV writes the horizon, a row a bearing; a figure that is not known is empty.
func (a *SkylineAnswer) CSV(_ context.Context, path string) ([]string, error) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	text := func(v float64, decimals int) string {
		if math.IsNaN(v) {
			return ""
		}
		return strconv.FormatFloat(Rounded(v, decimals), 'f', -1, 64)
	}
	rows := [][]string{{"true_deg", "magnetic_deg", "angle_deg", "distance_m", "elevation_m", "known"}}
	if a.Filled != nil {
		rows[0] = append(rows[0], "filled")
	}
	if a.OverCover != nil {
		rows[0] = append(rows[0], "cover_m", "bare_ground_angle_deg", "over_cover")
	}
	for _, h := range a.Horizon {
		row := []string{text(h.TrueDeg, 3), text(h.MagneticDeg, 2), text(h.AngleDeg, 3), text(h.DistanceM, 1), text(h.ElevationM, 1), strconv.FormatBool(h.Known)}
		if a.Filled != nil {
			row = append(row, strconv.FormatBool(h.Filled))
		}
		if a.OverCover != nil {
			cover, bare := nan, nan
			if !math.IsNaN(h.ElevationM) {
				cover = h.CoverM
			}
			if h.BareAngleDeg != nil {
				bare = *h.BareAngleDeg
			}
			row = append(row, text(cover, 1), text(bare, 3), a.OverCover.Name)
		}
		rows = append(rows, row)
	}
	if err := w.WriteAll(rows); err != nil {
		return nil, err
	}
	return []string{path}, outfile.Write(outfile.File{Path: path, Body: b.Bytes()})
}
