package cli

import (
	"context"

	"github.com/spf13/cobra"

	"crowline/cmd/internal/answer"
	"crowline/cmd/internal/report"
)

func newDEMCmd(s Streams) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "dem",
		Short: "Get and look at elevation data",
	}
	onlyGroups(cmd)
	cmd.AddCommand(newDEMGetCmd(s, nil), newDEMIndexCmd(s, nil))
	cmd.AddCommand(newDEMInfoCmd(s, nil), newDEMFeaturesCmd(s, nil))
	return cmd
}

type demInfoOptions struct {
	streams Streams
	output  outputFlags
	file    fileFlags
	paths   []string
	quick   bool
}

func newDEMInfoCmd(s Streams, runF func(context.Context, *demInfoOptions) error) *cobra.Command {
	o := &demInfoOptions{streams: s}
	if runF == nil {
		runF = demInfoRun
	}
	cmd := &cobra.Command{
		Use:   "info [FILE...]",
		Short: "Say what elevation data is",
		Long: `Say what an elevation file is: format, size, spacing, extent, coordinate
reference system and datum, unit of heights, how much of it is void, and the
range of heights with where the highest and lowest posts are. Without FILE:
the demo data. The whole file is read for the last two; --quick leaves them
out. Of an address only the header is read.

Several files, a folder or a pattern, as --dem takes them, are summed up: how
many there are, their reference systems, spacings and units, the extent and
heights of all, and which files are unlike the others, damaged or suspect.`,
		Example: `  crowline dem info tile.tif
  crowline dem info tile.tif --quick --json
  crowline dem info tiles/ more/*.tif`,
		RunE: func(cmd *cobra.Command, args []string) error {
			o.paths = args
			return runF(cmd.Context(), o)
		},
	}
	argumentsNameFiles(cmd, filesGround)
	o.output.add(cmd)
	o.file.add(cmd, "the file")
	cmd.Flags().BoolVar(&o.quick, "quick", false, "do not read the heights")
	return cmd
}

func demInfoRun(ctx context.Context, o *demInfoOptions) error {
	if _, err := o.output.system(); err != nil {
		return err
	}
	c, err := configOf(ctx)
	if err != nil {
		return err
	}
	r := answer.InfoRequest{Paths: o.paths, Remote: remoteOptions(), Quick: o.quick}
	if len(o.paths) == 0 {
		c.HeightUnit = "" // the demo data's is known
	}
	if r.File, err = o.file.options(c); err != nil {
		return err
	}
	ctx = o.streams.told(ctx)
	if r.Many() {
		a, err := answer.InfoOfMany(ctx, r)
		if err != nil {
			return err
		}
		return o.output.writeAnswer(o.streams, a, func(p *report.Page) { report.Summary(p, a) })
	}
	a, err := answer.Info(ctx, r)
	if err != nil {
		return err
	}
	return o.output.writeAnswer(o.streams, a, func(p *report.Page) { report.Info(p, a) })
}
