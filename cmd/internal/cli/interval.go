package cli

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"crowline/cmd/internal/answer"
	"crowline/contour"
	figures "crowline/dem/units"
)

// intervalFlag is the contour interval of the map in hand, in the unit it was
// given in; a bare number is metres. Not given it is the config file's, else
// the usual one.
type intervalFlag struct {
	value float64
	unit  contour.Unit
	given bool // a value or auto, which sets the config file's aside

	cmd *cobra.Command // whose run has the config
}

func (f *intervalFlag) add(cmd *cobra.Command, use string) {
	f.cmd = cmd
	cmd.Flags().Var(f, "interval", use)
}

func (f *intervalFlag) String() string { return "" }
func (f *intervalFlag) Type() string   { return "interval" }

func (f *intervalFlag) Set(text string) error {
	i, err := parseInterval(text)
	if err == nil {
		f.value, f.unit, f.given = i.Value, i.Unit, true
	}
	return err
}

// parseInterval reads an interval; "auto" is none.
func parseInterval(text string) (answer.Interval, error) {
	unit := contour.Metre
	number := strings.ToLower(strings.TrimSpace(text))
	if number == "auto" {
		return answer.Interval{}, nil
	}
	if rest, ok := strings.CutSuffix(number, "ft"); ok {
		unit, number = contour.Foot, rest
	}
	v, err := parseLength(number)
	if err != nil {
		return answer.Interval{}, fmt.Errorf("%q is not a contour interval; write one as 20m or 40ft, or auto", text)
	}
	if err := from(contour.LeastInterval, contour.MostInterval).check(v*unit.Metres(), text, "a contour interval", plainLength); err != nil {
		return answer.Interval{}, err
	}
	return answer.Interval{Value: v, Unit: unit}, nil
}

// request is the interval asked for, or one to be chosen in these units.
func (f *intervalFlag) request(u figures.System) (answer.Interval, error) {
	i := answer.Interval{Value: f.value, Unit: f.unit}
	if !f.given {
		var ctx context.Context
		if f.cmd != nil {
			ctx = f.cmd.Context()
		}
		c, err := configOf(ctx)
		if err != nil {
			return i, err
		}
		if c.Interval != "" {
			if i, err = parseInterval(c.Interval); err != nil {
				return i, err
			}
		}
	}
	if i.Value == 0 && u == figures.US {
		i.Unit = contour.Foot
	}
	return i, nil
}
