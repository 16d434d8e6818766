package cli

import (
	"context"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"crowline/cmd/internal/answer"
	"crowline/cmd/internal/report"
	paper "crowline/contour/page"
	"crowline/dem/geodesy"
	"crowline/visibility"
)

type viewshedOptions struct {
	question

	from   []string
	radius float64
	sector string
	file   string
	needed bool
}

func newViewshedCmd(s Streams, runF func(context.Context, *viewshedOptions) error) *cobra.Command {
	o := &viewshedOptions{question: question{streams: s}}
	if runF == nil {
		runF = viewshedRun
	}
	cmd := &cobra.Command{
		Use:   "viewshed FROM [FROM ...]",
		Short: "All the ground that can be seen from a place",
		Long: `Find all ground that can be seen from a place: for every post of the elevation
data the same verdict as the line of sight to it would give. With several
places: ground seen by how many of them, and by which.

The file's name says what is written:
  .tif      the verdict (0 not asked, 1 visible, 2 hidden, 3 not known); with
            --needed a second band, the height above the ground needed to be
            seen, metres, which takes the most time; with several places, how
            many see each post, in the second band which (1 for the first, 2
            for the second, 4, 8 ...) and in the third the verdict (0 not
            asked, 1 visible from one or more, 2 hidden from all, 3 not
            known); with --fill-voids one more, 1 where the post was filled
  .geojson  polygons of the ground seen
  .png .pdf .svg   an A4 map with contour lines, grid and norths, at the
            largest round scale that shows all that was looked at. The map of
            one place tells how sure it is where the data's error is known:
            clear (75 % chance to see it or more), within the error (25 to
            75 %), out of sight

` + coverHelp + `
A post with cover on it is asked at the cover's top, and the height needed
counts from there. How many posts change from the bare ground is said.`,
		Example: `  crowline viewshed 34.3297,-118.0548 --radius 8km -o seen.tif
  crowline viewshed Camp Knob --places trip.gpx --radius 5km -o seen.geojson
  crowline viewshed 34.3297,-118.0548 --sector 90,180 -o seen.png`,
		Args: rangeArgs(1, answer.MostObservers, "1 to 24 places"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.from = args
			if !hasEnding(o.file, ".tif") && !hasEnding(o.file, ".tiff") || len(o.from) > 1 {
				if err := idle(cmd, "only a .tif of the view from one place has heights needed", "needed"); err != nil {
					return err
				}
			}
			if o.file == "" || slices.ContainsFunc([]string{".tif", ".tiff", ".geojson", ".json"}, func(e string) bool { return hasEnding(o.file, e) }) {
				if err := idle(cmd, "it is for the norths of a map, -o FILE.pdf, .svg or .png", "date", "declination"); err != nil {
					return err
				}
			}
			return runF(cmd.Context(), o)
		},
	}
	o.ground.add(cmd)
	o.places.add(cmd)
	o.sight.add(cmd)
	o.output.add(cmd)
	o.cover.add(cmd)
	o.needle.add(cmd)
	addRadius(cmd, &o.radius, "how far to look")
	cmd.Flags().StringVar(&o.sector, "sector", "", "only true bearings `FROM,TO`, clockwise; 0,360 is all round")
	cmd.Flags().StringVarP(&o.file, "out", "o", "", "`FILE` to write")
	namesFiles(cmd, filesWritten, "out")
	cmd.Flags().BoolVar(&o.needed, "needed", false, "also write the height above the ground needed to be seen from one place, which takes longer")
	// the name it had when the heights came unasked
	cmd.Flags().Bool("visible-only", false, "")
	_ = cmd.Flags().MarkDeprecated("visible-only", "heights needed are left out unless --needed asks for them")
	return cmd
}

// addRadius is the flag that bounds a question.
func addRadius(cmd *cobra.Command, radius *float64, what string) {
	cmd.Flags().Var(newLength(0, radius).within(above(0, 1000e3)), "radius", what+" (default: to the edge of the data)")
	cmd.Flags().Lookup("radius").DefValue = ""
}

func parseSector(text string) (*visibility.Sector, error) {
	if text == "" {
		return nil, nil
	}
	a, b, ok := strings.Cut(text, ",")
	from, ok1 := geodesy.ParseNumber(strings.TrimSpace(a))
	to, ok2 := geodesy.ParseNumber(strings.TrimSpace(b))
	if !ok || !ok1 || !ok2 || !(from >= 0 && from <= 360 && to >= 0 && to <= 360) {
		return nil, usageErrorf("--sector %s: write two true bearings from 0 to 360, as 90,180", text)
	}
	switch turn := math.Mod(to-from, 360); {
	case turn == 0 && from != to:
		return nil, nil // all round
	case turn == 0:
		return nil, usageErrorf("--sector %s: these two are one bearing; give two bearings, or 0,360 for all round", text)
	}
	return &visibility.Sector{From: geodesy.NewTrueBearing(geodesy.Degrees(from)), To: geodesy.NewTrueBearing(geodesy.Degrees(to))}, nil
}

func viewshedRun(ctx context.Context, o *viewshedOptions) error {
	r, err := o.request()
	if err != nil {
		return err
	}
	return ask(ctx, &o.question, r, answer.Viewshed, func(ctx context.Context, g *answer.Ground, a *answer.ViewshedAnswer) error {
		if o.file != "" {
			if err := o.write(ctx, g, a); err != nil {
				return err
			}
		}
		return o.output.writeAnswer(o.streams, a, func(p *report.Page) { report.Viewshed(p, a) })
	})
}

// request is what the flags ask, and makes sure the answer can be written.
func (o *viewshedOptions) request() (r answer.ViewshedRequest, err error) {
	if _, err := o.output.system(); err != nil {
		return r, err
	}
	if _, err := o.needle.needle(o.streams); err != nil {
		return r, err
	}
	r = answer.ViewshedRequest{Sighting: o.sight.sighting(), Cover: o.cover.request(), Radius: o.radius}
	if r.Sector, err = parseSector(o.sector); err != nil {
		return r, err
	}
	if o.file != "" {
		switch strings.ToLower(filepath.Ext(o.file)) {
		case ".tif", ".tiff":
			r.HeightNeeded = o.needed
			err = checkFolder(o.file)
		case ".geojson", ".json":
			err = checkFolder(o.file)
		default:
			r.Drawn = true
			err = checkDrawingPath(o.file)
		}
		if err != nil {
			return r, err
		}
	}
	for _, text := range o.from {
		p, err := o.places.place(text)
		if err != nil {
			return r, err
		}
		r.From = append(r.From, p)
	}
	return r, asked(r.Check())
}

// write writes the file asked for, by its ending.
func (o *viewshedOptions) write(ctx context.Context, g *answer.Ground, a *answer.ViewshedAnswer) (err error) {
	if out := map[string]answer.Output{".tif": a.GeoTIFF, ".tiff": a.GeoTIFF, ".geojson": a.GeoJSON, ".json": a.GeoJSON}[strings.ToLower(filepath.Ext(o.file))]; out != nil {
		a.Written, err = out(ctx, o.file)
		return err
	}
	u, err := o.output.system()
	if err != nil {
		return err
	}
	needle, err := o.needle.needle(o.streams)
	if err != nil {
		return err
	}
	document, err := report.ViewshedMap(ctx, g, a, needle, u)
	if err != nil {
		return err
	}
	return save(document, o.file, &a.Written, &a.Warnings)
}

// save draws a document, and tells an answer the files written and what is
// doubtful about them.
func save(document *paper.Document, path string, written, warnings *[]string) (err error) {
	*warnings = append(*warnings, document.Warnings...)
	*written, err = document.Save(path, 0)
	return err
}
