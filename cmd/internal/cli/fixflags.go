package cli

import (
	"github.com/spf13/cobra"

	"crowline/visibility/fix"
)

// addMarkError adds --mark-error, which fix and landmarks take alike.
func addMarkError(cmd *cobra.Command, target *float64, use string) {
	cmd.Flags().Var(newLength(fix.DefaultPlaceError, target).within(from(0, 10e3)), "mark-error", use)
}

// addCompassError adds --compass-error, which fix and landmarks take alike. No
// compass is read to less than a hundredth of a degree.
func addCompassError(cmd *cobra.Command, target *float64, value float64, use string) {
	cmd.Flags().Var(newNumber(value, target, "an error in degrees", from(0.01, 45)), "compass-error", use)
}
