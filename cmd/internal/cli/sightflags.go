package cli

import (
	"context"

	"github.com/spf13/cobra"

	figures "crowline/dem/units"
	"crowline/visibility"
)

// sightFlags are what a sight line assumes.
type sightFlags struct {
	eye, target, refraction float64
}

// aboveGround bounds heights of eyes and targets: what flies higher is not
// what a sight line near the ground is for.
var aboveGround = from(0, 100e3)

func (f *sightFlags) add(cmd *cobra.Command) {
	cmd.Flags().Var(newLength(visibility.DefaultEyeAboveGround, &f.eye).within(aboveGround), "eye", "the eye above the ground")
	cmd.Flags().Var(newLength(0, &f.target).within(aboveGround), "target-height", "the target's top above the ground")
	addRefraction(cmd, &f.refraction)
}

// addRefraction adds --refraction, which all commands that look take alike.
func addRefraction(cmd *cobra.Command, target *float64) {
	cmd.Flags().Var(newNumber(visibility.DefaultRefraction, target, "a coefficient", from(-20, 20)), "refraction", "refraction coefficient `k`, as R/r: 0.13 by common practice, 0 for none")
}

// outputFlags are common to all commands that answer with figures.
type outputFlags struct {
	json  bool
	units string

	cmd *cobra.Command // whose run has the config
}

func (f *outputFlags) add(cmd *cobra.Command) {
	f.addUnits(cmd)
	cmd.Flags().BoolVar(&f.json, "json", false, "answer as one JSON object, in metres and degrees")
}

// addUnits is the flag of commands that write no JSON.
func (f *outputFlags) addUnits(cmd *cobra.Command) {
	f.cmd = cmd
	cmd.Flags().StringVar(&f.units, "units", "", "`system` of units of the text: metric or us (default: the config file's, else metric)")
}

// system is the units of the text.
func (f *outputFlags) system() (figures.System, error) {
	if f.units != "" {
		return parseUnits(f.units)
	}
	var ctx context.Context
	if f.cmd != nil {
		ctx = f.cmd.Context()
	}
	c, err := configOf(ctx)
	if err != nil || c.Units == "" {
		return figures.Metric, err
	}
	return parseUnits(c.Units)
}
