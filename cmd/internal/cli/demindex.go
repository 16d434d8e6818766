package cli

import (
	"context"

	"github.com/spf13/cobra"

	"crowline/dem/gdalio"
)

type demIndexOptions struct {
	streams    Streams
	output     outputFlags
	paths      []string
	crs        string
	heightUnit string
}

func newDEMIndexCmd(s Streams, runF func(context.Context, *demIndexOptions) error) *cobra.Command {
	o := &demIndexOptions{streams: s}
	if runF == nil {
		runF = demIndexRun
	}
	cmd := &cobra.Command{
		Use:   "index PATH...",
		Short: "Index folders of tiles again, changed files as they now are",
		Long: `Read every tile of folders or globs through and keep where it lies and its
SHA-256. Folders given to --dem are indexed by themselves, and files that come
or go are noticed; but a file whose content changes is refused until this
command takes it as it now is.`,
		Example: `  crowline dem index elevation/copernicus-glo-30`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usageErrorf("%s takes at least one folder or glob", cmd.CommandPath())
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			o.paths = args
			return runF(cmd.Context(), o)
		},
	}
	o.output.add(cmd)
	cmd.Flags().StringVar(&o.crs, "crs", "", "the data's coordinate reference system, if the files name none, as EPSG:`code`")
	cmd.Flags().StringVar(&o.heightUnit, "height-unit", "", "the unit of the data's heights, if the files name none or the wrong one: m, ft or ftUS")
	return cmd
}

func demIndexRun(ctx context.Context, o *demIndexOptions) error {
	tiles, warnings, err := gdalio.IndexMany(ctx, o.paths, gdalio.ManyOptions{
		Options:  gdalio.Options{CRS: o.crs, HeightUnit: o.heightUnit},
		Progress: o.streams.progress("indexing"),
	})
	if err != nil {
		return err
	}
	if warnings == nil {
		warnings = []string{}
	}
	if o.output.json {
		return writeJSON(o.streams.Out, map[string]any{"tiles": tiles, "warnings": warnings})
	}
	p := &page{w: o.streams.Out}
	p.line("indexed", "%d tiles", tiles)
	for _, w := range warnings {
		p.line("warning", "%s", w)
	}
	return p.err
}
