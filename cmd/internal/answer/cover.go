package answer

import (
	"context"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/profile"
	"crowline/visibility"
)

// Cover says what stands on the ground.
type Cover struct {
	// File is a raster of heights above the ground, or polygons whose attribute
	// Field is their height in metres; "" is none.
	File, Field string
	// Clearing is the radius round eye and target, metres, within which nothing
	// stands; the cell they are in never counts.
	Clearing float64
	// VoidIsBare: nothing stands where a raster has no value, and beyond it.
	// Default: what stands there is not known.
	VoidIsBare bool
}

// Check refuses what makes no sense.
func (c Cover) Check() error {
	switch {
	case !(c.Clearing >= 0 && c.Clearing <= 100e3):
		return wrongf("a clearing of %g m: give one from 0 to 100 km", c.Clearing)
	case c.File == "" && (c.Field != "" || c.Clearing > 0):
		return wrongf("a field or a clearing goes with cover, and there is none: give the file of it")
	}
	return nil
}

// memory adds what laying cover takes to the bytes a question takes for a post.
func (c Cover) memory(perPost int64) int64 {
	if c.File != "" {
		return perPost + overCoverPostBytes
	}
	return perPost
}

// cover is opened cover; close frees its file.
type cover struct {
	dem.Cover
	name    string
	radius  float64
	warning string
	highest float64 // looked up so far, metres
	asked   int64   // places looked up so far
	unknown int64   // of these, those of which it is not known
	close   func() error
}

// AboveGround is the cover's, and keeps the highest it has given. From one
// goroutine at a time.
func (c *cover) AboveGround(places []geodesy.LatLon) ([]float64, error) {
	above, err := c.Cover.AboveGround(places)
	for _, h := range above {
		if h > c.highest { // never true of what is not known
			c.highest = h
		}
		if h != h {
			c.unknown++
		}
	}
	c.asked += int64(len(above))
	return above, err
}

// warnings are what is doubtful about the cover as far as it has been looked
// up.
func (c *cover) warnings() []string {
	out := []string{}
	if c.warning != "" {
		out = append(out, c.warning)
	}
	if c.highest > policy.TallestCover {
		out = append(out, fmt.Sprintf("%s stands up to %.0f m above the ground: does it hold elevations, or another unit, and not heights above the ground in metres?", c.name, c.highest))
	}
	if c.unknown > c.asked/2 {
		out = append(out, fmt.Sprintf("%s says nothing of %.0f %% of the ground looked at: does it lie elsewhere, or has it no value where nothing stands? If so, --cover-void bare takes such ground as bare", c.name, 100*float64(c.unknown)/float64(c.asked)))
	}
	return out
}

// ErrCoverField says that cover which cannot be read as a raster may be
// polygons, whose height attribute has not been named.
var ErrCoverField = errors.New("if it holds polygons, name the attribute with their height")

// open reads the cover; nil when there is none.
func (c Cover) open(ctx context.Context, g *Ground) (*cover, error) {
	if c.File == "" {
		return nil, nil
	}
	out := &cover{name: filepath.Base(c.File), radius: c.Clearing, warning: dem.CoverWarning(g.source.Info()), close: func() error { return nil }}
	if c.Field != "" {
		polygons, passed, err := gdalio.ReadCover(ctx, c.File, c.Field, "")
		if err != nil {
			return nil, err
		}
		if passed > 0 {
			out.warning = strings.TrimSpace(fmt.Sprintf("%s; %d polygons without a height were passed over", out.warning, passed))
		}
		out.Cover, err = dem.PolygonCover(polygons)
		return out, err
	}
	raster, err := gdalio.Open(c.File, gdalio.Options{})
	switch ending := strings.ToLower(filepath.Ext(c.File)); {
	case err != nil && slices.Contains([]string{".geojson", ".json", ".gpkg", ".shp", ".fgb", ".kml", ".gml"}, ending):
		return nil, wrongRequest{fmt.Errorf("cover %s: %w", c.File, ErrCoverField)}
	case err != nil:
		return nil, fmt.Errorf("cover: %w", err)
	}
	out.close = raster.Close
	out.Cover = dem.RasterCover(dem.NewBlocks(ctx, raster, 0), dem.CoverOptions{VoidIsNothing: c.VoidIsBare})
	return out, nil
}

// clearing is where an eye or a mark stands in the open.
func (c *cover) clearing(p geodesy.LatLon) dem.Clearing {
	return dem.Clearing{Centre: p, Radius: c.radius}
}

// CoverUsed is the cover an answer is over: in such an answer all but what says
// otherwise is so.
type CoverUsed struct {
	// The cover's file.
	Name string `json:"name"`
	// Radius round the eye with nothing on the ground.
	ClearingM float64 `json:"clearing_m"`
	// The highest that stands on the ground looked at.
	HighestM float64 `json:"highest_m" round:"1"`
	// Posts of the ground read on which something stands.
	Standing int64 `json:"covered_posts"`
	// Posts on which nothing stands.
	Bare int64 `json:"bare_posts"`
	// Posts of which it is not known.
	Unknown int64 `json:"unknown_posts"`
	// What is doubtful about the cover.
	Warnings []string `json:"warnings"`
}

// Words name the ground of an answer; "" is the bare ground.
func (c *CoverUsed) Words() string {
	if c == nil {
		return ""
	}
	return "over what stands on the ground: " + c.Name
}

// lay looks the cover up at every post of a grid.
func (c *cover) lay(ctx context.Context, grid *dem.Grid) (*dem.CoverLayer, *CoverUsed, error) {
	layer, err := dem.LayCover(ctx, grid, c.Cover, dem.LayOptions{Progress: progress(ctx, "laying the cover")})
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %w", c.name, err)
	}
	c.highest = math.Max(c.highest, layer.Highest)
	c.asked, c.unknown = c.asked+layer.Standing+layer.Bare+layer.Unknown, c.unknown+layer.Unknown
	used := &CoverUsed{
		Name: c.name, ClearingM: c.radius, HighestM: layer.Highest,
		Standing: layer.Standing, Bare: layer.Bare, Unknown: layer.Unknown, Warnings: c.warnings(),
	}
	if layer.Standing == 0 {
		used.Warnings = append(used.Warnings, fmt.Sprintf("%s has nothing standing on the ground looked at", c.name))
	}
	return layer, used, nil
}

// CoverSight is a sight over what stands on the ground.
type CoverSight struct {
	// The cover's file.
	Name string `json:"name"`
	// The sight over it.
	Sight SightLine `json:"sight"`
	// Over the bare ground the verdict is another.
	Depends bool `json:"depends_on_cover"`
	// Radius round eye and target with nothing on the ground.
	Clearing float64 `json:"clearing_m"`
	// What is doubtful about the cover.
	Warning string `json:"warning,omitempty"`

	leg *profile.Leg
}

// Over names the cover, "" for no cover at all.
func (c *CoverSight) Over() string {
	if c == nil {
		return ""
	}
	return c.Name
}

// look is the sight from one looking point to another over the cover, beside
// that over the bare ground. bare is the verdict told of the latter: where that was
// visible it stays so, though rounding make another of it here.
func (c *cover) look(ctx context.Context, posts dem.Posts, to geodesy.LatLon, observer visibility.Observer, conditions visibility.Conditions, bare visibility.Verdict) (*CoverSight, error) {
	covered, err := dem.NewCovered(posts, c, c.clearing(observer.Place), c.clearing(to))
	if err != nil {
		return nil, err
	}
	leg, err := profile.Trace(ctx, covered, observer.Place, to)
	if err != nil {
		return nil, err
	}
	s, err := visibility.Along(leg, observer, conditions)
	if err != nil {
		return nil, err
	}
	if err := covered.Err(); err != nil {
		return nil, fmt.Errorf("%s: %w", c.name, err)
	}
	without, err := visibility.Along(leg.Bare(), observer, conditions) // eye and target stand on bare ground
	if err != nil {
		return nil, err
	}
	if bare == visibility.Visible {
		without.Verdict = bare
	}
	out := &CoverSight{
		Name: c.name, Sight: sightLine(s, nil), Depends: visibility.DependsOnCover(without, s),
		Clearing: c.radius, Warning: strings.Join(c.warnings(), "; "), leg: leg,
	}
	return out, nil
}

// CoverAlong is the cover that a line on a bearing is laid over.
type CoverAlong struct {
	// The cover's file.
	Name string `json:"name"`
	// Radius round the eye with nothing on the ground.
	ClearingM float64 `json:"clearing_m"`
	// What is doubtful about the cover.
	Warnings []string `json:"warnings"`

	leg *profile.Leg // the line
}

// Over names the cover, "" for no cover at all.
func (c *CoverAlong) Over() string {
	if c == nil {
		return ""
	}
	return c.Name
}

// along lays a line on a bearing over the cover, and says what is seen of it.
func (c *cover) along(ctx context.Context, posts dem.Posts, observer visibility.Observer, conditions visibility.Conditions, b geodesy.TrueBearing, radius, far float64) (*GroundSeen, *CoverAlong, error) {
	covered, err := dem.NewCovered(posts, c, c.clearing(observer.Place))
	if err != nil {
		return nil, nil, err
	}
	leg, err := traceBearing(ctx, covered, observer.Place, b, radius)
	if err == nil {
		err = covered.Err()
	}
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %w", c.name, err)
	}
	ground, err := seenAlong(ctx, covered, observer, conditions, b, radius, far)
	return ground, &CoverAlong{Name: c.name, ClearingM: c.radius, Warnings: c.warnings(), leg: leg}, err
}
