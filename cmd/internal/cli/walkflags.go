package cli

import "github.com/spf13/cobra"

// defaultPace is double paces per 100 m for a walker who has not counted
// theirs. Common practice: 60 to 70 on easy ground.
const defaultPace = 65

// walkFlags are how a leg's climb and paces are counted.
type walkFlags struct {
	interval intervalFlag
	deadBand float64 // metres; the data's own where negative
	pace     float64
}

// defaultWalk is what the flags are when none is given.
func defaultWalk() walkFlags { return walkFlags{deadBand: -1, pace: defaultPace} }

func (f *walkFlags) add(cmd *cobra.Command) {
	cmd.Flags().Var(&f.interval, "interval", "contour interval for counting lines, as 20m or 40ft (default: that of a 1:25 000 sheet of the same ground)")
	cmd.Flags().Var(newLength(-1, &f.deadBand).within(from(0, 10e3)), "dead-band", "leave out rises and falls smaller than this (default: the data's vertical error, or 10m where that is unknown)")
	cmd.Flags().Lookup("dead-band").DefValue = ""
	cmd.Flags().Var(newNumber(defaultPace, &f.pace, "a number of double paces in 100 m", from(20, 500)), "pace", "your double `paces` in 100 m, counted on such ground")
}
