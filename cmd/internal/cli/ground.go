package cli

import (
	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// groundFlags choose the elevation data.
type groundFlags struct {
	dem           []string
	demo          bool // the demo data, whatever the user's own is
	file          fileFlags
	verticalError float64
	fillVoids     bool
	maxMemory     string

	flags *pflag.FlagSet // of the command, for its --places
}

func (f *groundFlags) add(cmd *cobra.Command) {
	f.flags = cmd.Flags()
	cmd.Flags().StringArrayVar(&f.dem, "dem", nil, "elevation data: a `file`, folder, pattern or address; may be repeated (default: CROWLINE_DEM, the config file, or the demo data)")
	namesFiles(cmd, filesGround, "dem")
	f.file.add(cmd, "the file")
	cmd.Flags().Var(newLength(0, &f.verticalError).within(from(0.001, 1000)), "vertical-error", "one standard deviation of the data's heights (default: what is published for the data, where known)")
	cmd.Flags().Lookup("vertical-error").DefValue = "" // the text says it
	cmd.Flags().BoolVar(&f.fillVoids, "fill-voids", false, "fill small voids inside the data, and count what was filled")
	cmd.Flags().StringVar(&f.maxMemory, "max-memory", "", "the most memory a question may take, a `size` as 2GB or 25% (default: half the machine's)")
}
