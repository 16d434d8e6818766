package cli

import (
	"context"

	"github.com/spf13/cobra"

	"crowline/cmd/internal/answer"
	"crowline/cmd/internal/report"
)

type demIndexOptions struct {
	streams Streams
	output  outputFlags
	file    fileFlags
	paths   []string
}

func newDEMIndexCmd(s Streams, runF func(context.Context, *demIndexOptions) error) *cobra.Command {
	o := &demIndexOptions{streams: s}
	if runF == nil {
		runF = demIndexRun
	}
	cmd := &cobra.Command{
		Use:   "index PATH...",
		Short: "Index folders of tiles again, changed files as they now are",
		Long: `Read every tile of folders or patterns through and keep where it lies and its
SHA-256. Folders given to --dem are indexed by themselves, and files that come
or go are noticed; but a file whose content changes is refused until this
command takes it as it now is.`,
		Example: `  crowline dem index elevation/copernicus-glo-30`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usageErrorf("%s takes at least one folder or pattern", cmd.CommandPath())
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			o.paths = args
			return runF(cmd.Context(), o)
		},
	}
	argumentsNameFiles(cmd, filesGround)
	o.output.add(cmd)
	o.file.add(cmd, "the files")
	return cmd
}

func demIndexRun(ctx context.Context, o *demIndexOptions) error {
	if _, err := o.output.system(); err != nil {
		return err
	}
	c, err := configOf(ctx)
	if err != nil {
		return err
	}
	options, err := o.file.options(c)
	if err != nil {
		return err
	}
	a, err := answer.Index(o.streams.told(ctx), o.paths, options)
	if err != nil {
		return err
	}
	return o.output.writeAnswer(o.streams, a, func(p *report.Page) { report.Index(p, a) })
}
