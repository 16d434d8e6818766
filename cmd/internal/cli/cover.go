package cli

import (
	"context"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/profile"
	"crowline/visibility"
)

// coverFlags say what stands on the ground.
type coverFlags struct {
	file     string
	field    string
	clearing float64
	void     coverVoid
}

// coverVoid is what a raster of cover means by a cell without a value: true for
// bare ground.
type coverVoid bool

// String is the flag's value.
func (v coverVoid) String() string {
	if v {
		return "bare"
	}
	return "unknown"
}

// Set reads one.
func (v *coverVoid) Set(text string) error {
	if text != "bare" && text != "unknown" {
		return errors.New("write bare or unknown")
	}
	*v = text == "bare"
	return nil
}

// Type is what help calls a value.
func (coverVoid) Type() string { return "bare|unknown" }

func (f *coverFlags) add(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.file, "cover", "", "what stands on the ground: a raster `file` of heights above it, or polygons with --cover-field")
	namesFiles(cmd, filesRead, "cover")
	cmd.Flags().StringVar(&f.field, "cover-field", "", "the `name` of the height in metres of polygons given with --cover")
	cmd.Flags().Var(newLength(0, &f.clearing).within(from(0, 100e3)), "clearing", "how far round eye and target nothing stands; the cell they are in never counts")
	cmd.Flags().Var(&f.void, "cover-void", "what stands where a --cover raster has no value: nothing (`bare`), as where 0 is its mark for none, or unknown")
	needs(cmd, []string{"cover"}, "cover-field", "cover-void", "clearing")
}

// cover is opened cover; close frees its file.
type cover struct {
	dem.Cover
	name    string
	radius  float64
	warning string
	within  float64 // metres: the least that the data's heights tell apart
	highest float64 // looked up so far, metres
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
	}
	return above, err
}

// warnings are what is doubtful about the cover as far as it has been looked
// up.
func (c *cover) warnings() []string {
	out := []string{}
	if c.warning != "" {
		out = append(out, c.warning)
	}
	if c.highest > tallest {
		out = append(out, fmt.Sprintf("%s stands up to %.0f m above the ground: does it hold elevations, or another unit, and not heights above the ground in metres?", c.name, c.highest))
	}
	return out
}

// open reads the cover; nil when none was given.
func (f *coverFlags) open(ctx context.Context, g *ground) (*cover, error) {
	if f.file == "" {
		return nil, nil
	}
	c := &cover{name: filepath.Base(f.file), radius: f.clearing, warning: dem.CoverWarning(g.source.Info()), within: g.deadBand(), close: func() error { return nil }}
	if f.field != "" {
		polygons, passed, err := gdalio.ReadCover(ctx, f.file, f.field, "")
		if err != nil {
			return nil, err
		}
		if passed > 0 {
			c.warning = strings.TrimSpace(fmt.Sprintf("%s; %d polygons without a height were passed over", c.warning, passed))
		}
		c.Cover, err = dem.PolygonCover(polygons)
		return c, err
	}
	raster, err := gdalio.Open(f.file, gdalio.Options{})
	switch ending := strings.ToLower(filepath.Ext(f.file)); {
	case err != nil && slices.Contains([]string{".geojson", ".json", ".gpkg", ".shp", ".fgb", ".kml", ".gml"}, ending):
		return nil, usageErrorf("--cover %s: if it holds polygons, name the attribute with their height: --cover-field", f.file)
	case err != nil:
		return nil, fmt.Errorf("--cover: %w", err)
	}
	c.close = raster.Close
	c.Cover = dem.RasterCover(dem.NewBlocks(ctx, raster, 0), dem.CoverOptions{VoidIsNothing: bool(f.void)})
	return c, nil
}

// tallest is the height above ground, metres, over which cover is doubted:
// trees grow to about 115 m (common knowledge), and towers are rare.
const tallest = 130.0

// clearing is where an eye or a mark stands in the open.
func (c *cover) clearing(p geodesy.LatLon) dem.Clearing {
	return dem.Clearing{Centre: p, Radius: c.radius}
}

// lay looks the cover up at every post of a grid.
func (c *cover) lay(ctx context.Context, s Streams, grid *dem.Grid) (*dem.CoverLayer, error) {
	layer, err := dem.LayCover(ctx, grid, c.Cover, dem.LayOptions{Progress: s.progress("laying the cover")})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", c.name, err)
	}
	c.highest = math.Max(c.highest, layer.Highest)
	return layer, nil
}

// coverHelp is what commands say whose answers are over the cover.
const coverHelp = `With --cover sight lines pass over what stands on the ground, and all answers
are so. The eye stands on bare ground in a clearing as wide as --clearing says,
and never in less than its own cell. The cover is looked up at the posts of the
elevation data: what stands between two of them is missed.`

// coverSight is a sight over what stands on the ground.
type coverSight struct {
	name    string
	depends bool         // over the bare ground the verdict is another
	leg     *profile.Leg // over the cover
	seen    visibility.Sight
}

// look is the sight from one place to another over the cover, beside that over
// the bare ground. bare is the verdict told of the latter: where that was
// visible it stays so, though rounding make another of it here.
func (c *cover) look(ctx context.Context, posts dem.Posts, to geodesy.LatLon, observer visibility.Observer, conditions visibility.Conditions, bare visibility.Verdict) (*coverSight, error) {
	covered, err := dem.NewCovered(posts, c, dem.Clearing{Centre: observer.Place, Radius: c.radius}, dem.Clearing{Centre: to, Radius: c.radius})
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
	return &coverSight{name: c.name, depends: visibility.DependsOnCover(without, s), leg: leg, seen: s}, nil
}
