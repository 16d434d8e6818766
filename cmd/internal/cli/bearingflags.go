package cli

import (
	"math"

	"github.com/spf13/cobra"

	"crowline/cmd/internal/answer"
)

// bearingFlags give a direction by hand.
type bearingFlags struct {
	bearing  float64
	magnetic bool
}

func (f *bearingFlags) add(cmd *cobra.Command, use string) {
	cmd.Flags().Var(newNumber(math.NaN(), &f.bearing, "a bearing in degrees", from(0, 360)), "bearing", use)
	cmd.Flags().BoolVar(&f.magnetic, "magnetic", false, "the bearing given is magnetic, not true")
	needs(cmd, []string{"bearing"}, "magnetic")
}

// set reports whether a bearing was given.
func (f *bearingFlags) set(cmd *cobra.Command) bool { return cmd.Flags().Changed("bearing") }

// heading is the direction the flags give.
func (f *bearingFlags) heading() answer.Heading {
	return answer.Heading{Deg: f.bearing, Magnetic: f.magnetic}
}
