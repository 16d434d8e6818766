package cli

import (
	"github.com/spf13/cobra"

	"crowline/cmd/internal/answer"
	"crowline/profile/drift"
)

// walkFlags are how a leg's climb and paces are counted.
type walkFlags struct {
	interval intervalFlag
	deadBand float64 // metres; the data's own where negative
	pace     float64

	compassError float64 // degrees, one standard deviation
	paceError    float64 // per cent, one standard deviation
}

func (f *walkFlags) add(cmd *cobra.Command) {
	f.interval.add(cmd, "contour `interval` of the map in your hand, as 20m or 40ft (default: the config file's, else what 1:25 000 maps usually have)")
	cmd.Flags().Var(newLength(-1, &f.deadBand).within(from(0, 10e3)), "dead-band", "leave out rises and falls smaller than this (default: the data's vertical error, or 10m where that is unknown)")
	cmd.Flags().Lookup("dead-band").DefValue = ""
	cmd.Flags().Var(newNumber(answer.DefaultWalk().DoublePaces, &f.pace, "a number of double paces in 100 m", from(20, 500)), "pace", "your double `paces` in 100 m, counted on such ground")
}

// addErrors adds how well the walker keeps a bearing and counts paces.
func (f *walkFlags) addErrors(cmd *cobra.Command) {
	cmd.Flags().Var(newNumber(float64(drift.DefaultCompass), &f.compassError, "an error in degrees", from(0, 30)), "compass-error", "how well you keep a bearing, one standard deviation in `degrees`, for the drift")
	cmd.Flags().Var(newNumber(100*drift.DefaultPacing, &f.paceError, "an error in per cent", from(0, 50)), "pace-error", "how well you pace a distance, one standard deviation in `percent` of it, for the drift")
}
