package cli

import (
	"context"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"crowline/dem"
	"crowline/dem/fetch"
	"crowline/dem/gdalio"
	"crowline/dem/web"
)

type demGetOptions struct {
	streams Streams
	output  outputFlags
	places  placeFlags
	around  string
	radius  float64
	source  string
	folder  string
	list    bool
}

func newDEMGetCmd(s Streams, runF func(context.Context, *demGetOptions) error) *cobra.Command {
	o := &demGetOptions{streams: s}
	if runF == nil {
		runF = demGetRun
	}
	cmd := &cobra.Command{
		Use:   "get --around PLACE --source NAME",
		Short: "Fetch the tiles of an open data set",
		Long: `Fetch the tiles of an open elevation data set that hold ground within a
radius of a place, into a folder that --dem then takes. A fetch that is broken
off goes on where it stopped; tiles that are here and whole are not fetched
again. Each tile is read through, and must lie where its name says. A file that
it did not fetch is never replaced. Beside each tile stands its SHA-256, by
which a changed file is refused later, and beside all of them the licence and
credit line.

--list shows the data sets there are. Add your own in the config file, under
"sources".`,
		Example: `  crowline dem get --list
  crowline dem get --around 46.02,7.75 --radius 20km --source copernicus-glo-30
  crowline leg 46.02,7.75 45.98,7.66 --dem elevation/copernicus-glo-30`,
		Args: exactArgs(0, "no arguments, only flags"),
		RunE: func(cmd *cobra.Command, args []string) error { return runF(cmd.Context(), o) },
	}
	o.output.add(cmd)
	o.places.add(cmd)
	cmd.Flags().StringVar(&o.around, "around", "", "`place` in the middle of the ground wanted")
	cmd.Flags().Var(newLength(10000, &o.radius).within(above(0, 1000e3)), "radius", "how far round it")
	cmd.Flags().StringVar(&o.source, "source", "", "`name` of the data set (--list shows them)")
	cmd.Flags().StringVar(&o.folder, "folder", "", "`folder` for the tiles (default: elevation/NAME)")
	namesFiles(cmd, filesKept, "folder")
	needs(cmd, []string{"around"}, "places", "radius")
	cmd.Flags().BoolVar(&o.list, "list", false, "show the data sets there are")
	return cmd
}

// tileFile is a fetched tile in JSON.
type tileFile struct {
	Path    string `json:"path"`
	Bytes   int64  `json:"bytes"`
	SHA256  string `json:"sha256"`
	Already bool   `json:"already_there"`
	Checked bool   `json:"publisher_checksum_compared"`
}

type demGetAnswer struct {
	Source       string     `json:"source"`
	Folder       string     `json:"folder"`
	Files        []tileFile `json:"files"`
	NoTile       []string   `json:"no_tile"`
	FetchedBytes int64      `json:"fetched_bytes"`
	LicenceFile  string     `json:"licence_file"`
	Attribution  string     `json:"attribution"`
}

func demGetRun(ctx context.Context, o *demGetOptions) error {
	u, err := o.output.choose()
	if err != nil {
		return err
	}
	c, err := loadConfig()
	if err != nil {
		return err
	}
	if o.list && (o.around != "" || o.source != "" || o.folder != "") {
		return usageErrorf("--list shows the data sets and fetches nothing: leave out --around, --source and --folder")
	}
	if o.list {
		return listSources(o, u, append(fetch.Sources(), c.sources...))
	}
	switch {
	case o.around == "":
		return usageErrorf("--around says where; for example --around 46.02,7.75")
	case o.source == "":
		return usageErrorf("--source says which data set; --list shows them")
	}
	source, err := fetch.Find(o.source, c.sources)
	if err != nil {
		return &flagError{err}
	}
	around, err := o.places.resolve(o.around)
	if err != nil {
		return err
	}
	if o.folder == "" {
		if o.folder, err = usualFolder(source.Name); err != nil {
			return err
		}
	}
	result, err := fetch.Get(ctx, source, around.LatLon, o.radius, fetch.Options{
		Folder: o.folder, Progress: o.streams.progress("fetching " + source.Name),
		Open: func(_ context.Context, path string) (dem.Source, error) {
			return asSource(gdalio.Open(path, gdalio.Options{}))
		},
	})
	if err != nil {
		return err
	}
	a := demGetAnswer{Source: source.Name, Folder: o.folder, Files: []tileFile{}, NoTile: []string{},
		FetchedBytes: result.Bytes, LicenceFile: result.Licence, Attribution: source.Attribution}
	for _, f := range result.Files {
		a.Files = append(a.Files, tileFile{f.Path, f.Bytes, f.SHA256, f.Already, f.Checked})
	}
	for _, t := range result.None {
		a.NoTile = append(a.NoTile, t.Name)
	}
	if o.output.json {
		return writeJSON(o.streams.Out, a)
	}
	p := &page{w: o.streams.Out}
	p.head(source.Title)
	for _, f := range a.Files {
		what := "fetched"
		if f.Already {
			what = "was here"
		}
		p.line(what, "%s, %.1f MB", f.Path, float64(f.Bytes)/1e6)
	}
	for _, name := range a.NoTile {
		p.line("no tile", "%s: the publisher has none there (sea, or beyond the data)", name)
	}
	p.line("credit", "%s", a.Attribution)
	p.line("licence", "%s", a.LicenceFile)
	writeSurface(p, source.Surface)
	p.line("use", "--dem %s", a.Folder)
	return p.err
}

// usualFolder is where tiles go that were not told where. A link on the way
// there leads out of the folder the user stands in, which only they may ask for.
func usualFolder(source string) (string, error) {
	folder := ""
	for _, name := range []string{"elevation", source} {
		folder = filepath.Join(folder, name)
		if info, err := os.Lstat(folder); err == nil && info.Mode()&os.ModeSymlink != 0 {
			return "", usageErrorf("%s is a link to elsewhere: if the tiles are to go there, say so with --folder %s", folder, folder)
		}
	}
	return folder, nil
}

// writeSurface says in a line what a data set's heights are of.
func writeSurface(p *page, s dem.Surface) {
	switch s {
	case dem.SurfaceModel:
		p.line("shows", "a surface model: treetops and roofs where there are any")
	case dem.BareEarth:
		p.line("shows", "bare earth: trees and buildings taken off")
	}
}

func listSources(o *demGetOptions, u units, sources []fetch.Source) error {
	for i := range sources {
		sources[i].URL = web.Shown(sources[i].URL) // it may hold a password
	}
	if o.output.json {
		return writeJSON(o.streams.Out, map[string]any{"sources": sources})
	}
	p := &page{w: o.streams.Out}
	for _, s := range sources {
		p.head(s.Name)
		p.line("data", "%s", s.Title)
		if s.SpacingArcSeconds > 0 {
			p.line("spacing", "%.3g arc-seconds, about %s", s.SpacingArcSeconds, u.distance(s.SpacingArcSeconds*30.9))
		}
		writeSurface(p, s.Surface)
		if s.VerticalErrorMetres > 0 {
			p.line("error", "%s, one standard deviation (%s)", u.height(s.VerticalErrorMetres), s.VerticalErrorSource)
		}
		if s.Coverage != "" {
			p.line("covers", "%s", s.Coverage)
		}
		p.line("licence", "%s", s.Licence)
	}
	return p.err
}
