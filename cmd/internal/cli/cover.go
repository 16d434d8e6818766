package cli

import (
	"context"
	"fmt"
	"path/filepath"
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
}

func (f *coverFlags) add(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.file, "cover", "", "what stands on the ground: a raster `file` of heights above it, or polygons with --cover-field")
	cmd.Flags().StringVar(&f.field, "cover-field", "", "the `name` of the height in metres of polygons given with --cover")
	cmd.Flags().Var(newLength(0, &f.clearing), "clearing", "how far round eye and target nothing stands; the cell they are in never counts")
}

// cover is opened cover; close frees its file.
type cover struct {
	dem.Cover
	name    string
	radius  float64
	warning string
	close   func() error
}

// open reads the cover; nil when none was given.
func (f *coverFlags) open(ctx context.Context, g *ground) (*cover, error) {
	if f.file == "" {
		if f.field != "" {
			return nil, usageErrorf("--cover-field goes with --cover")
		}
		return nil, nil
	}
	if !(f.clearing >= 0) {
		return nil, usageErrorf("--clearing %g: it is a distance from 0 up", f.clearing)
	}
	c := &cover{name: filepath.Base(f.file), radius: f.clearing, warning: dem.CoverWarning(g.source.Info()), close: func() error { return nil }}
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
	if err != nil {
		return nil, err
	}
	c.close = raster.Close
	c.Cover = dem.RasterCover(dem.NewBlocks(ctx, raster, 0), dem.CoverOptions{})
	return c, nil
}

// coverJSON is a sight over what stands on the ground.
type coverJSON struct {
	Name     string    `json:"name"`
	Sight    sightJSON `json:"sight"`
	Depends  bool      `json:"depends_on_cover"`
	Clearing float64   `json:"clearing_m"`
	Warning  string    `json:"warning,omitempty"`
}

// look is the sight from one place to another over the cover, beside the
// verdict over the bare ground.
func (c *cover) look(ctx context.Context, posts dem.Posts, to geodesy.LatLon, observer visibility.Observer, conditions visibility.Conditions, bare visibility.Verdict) (*coverJSON, error) {
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
	return &coverJSON{Name: c.name, Sight: describeSight(s, nil), Depends: s.Verdict != bare, Clearing: c.radius, Warning: c.warning}, nil
}

// write says what the cover changes.
func (j *coverJSON) write(p *page, u units, bare visibility.Verdict) {
	text := fmt.Sprintf("with what stands on the ground (%s) it is %s", j.Name, j.Sight.Verdict)
	if j.Depends {
		text += fmt.Sprintf(", not %s: this sight depends on it", bare)
	} else {
		text += " too"
	}
	if j.Sight.BlockedAtM != nil && j.Depends {
		text += fmt.Sprintf("; the line is stopped %s away", u.distance(*j.Sight.BlockedAtM))
	}
	p.line("over cover", "%s", text)
	if j.Warning != "" {
		p.line("warning", "%s", j.Warning)
	}
}
