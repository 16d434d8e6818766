package cli

import (
	"context"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"crowline/cmd/internal/answer"
	"crowline/cmd/internal/report"
	"crowline/dem/fetch"
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
	dryRun  bool
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
  crowline dem get --around 46.02,7.75 --source copernicus-glo-30 --dry-run
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
	cmd.Flags().BoolVar(&o.dryRun, "dry-run", false, "fetch nothing: say how many tiles it takes, and how large they are")
	needs(cmd, []string{"around"}, "places", "radius", "dry-run")
	cmd.Flags().BoolVar(&o.list, "list", false, "show the data sets there are")
	return cmd
}

func demGetRun(ctx context.Context, o *demGetOptions) error {
	if _, err := o.output.system(); err != nil {
		return err
	}
	c, err := configOf(ctx)
	if err != nil {
		return err
	}
	if o.list {
		if o.around != "" || o.source != "" || o.folder != "" {
			return usageErrorf("--list shows the data sets and fetches nothing: leave out --around, --source and --folder")
		}
		a := answer.Sources(c.sources)
		return o.output.writeAnswer(o.streams, a, func(p *report.Page) { report.Sources(p, a) })
	}
	switch {
	case o.around == "":
		return usageErrorf("--around says where; for example --around 46.02,7.75")
	case o.source == "":
		return usageErrorf("--source says which data set; --list shows them")
	}
	r := answer.GetRequest{Radius: o.radius, Folder: o.folder, DryRun: o.dryRun}
	if r.Source, err = fetch.Find(o.source, c.sources); err != nil {
		return &flagError{err}
	}
	if r.Around, err = o.places.place(o.around); err != nil {
		return err
	}
	if r.Folder == "" {
		if r.Folder, err = usualFolder(r.Source.Name); err != nil {
			return err
		}
	}
	a, err := answer.Get(o.streams.told(ctx), r)
	if err != nil {
		return err
	}
	return o.output.writeAnswer(o.streams, a, func(p *report.Page) { report.Get(p, a) })
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
