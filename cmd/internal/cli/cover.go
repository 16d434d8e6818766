package cli

import (
	"errors"

	"github.com/spf13/cobra"
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

// coverHelp is what commands say whose answers are over the cover.
const coverHelp = `With --cover sight lines pass over what stands on the ground, and all answers
are so. The eye stands on bare ground in a clearing as wide as --clearing says,
and never in less than its own cell. The cover is looked up at the posts of the
elevation data: what stands between two of them is missed.`
