package cli

import (
	"fmt"
	"strings"

	"crowline/contour"
)

// intervalFlag is a contour interval in the unit it was given in; a bare
// number is metres. Not set, it is chosen.
type intervalFlag struct {
	value float64
	unit  contour.Unit
	set   bool
}

func (f *intervalFlag) String() string { return "" }
func (f *intervalFlag) Type() string   { return "interval" }

func (f *intervalFlag) Set(text string) error {
	unit := contour.Metre
	number := strings.ToLower(strings.TrimSpace(text))
	if number == "auto" {
		*f = intervalFlag{}
		return nil
	}
	if rest, ok := strings.CutSuffix(number, "ft"); ok {
		unit, number = contour.Foot, rest
	}
	v, err := parseLength(number)
	if err != nil {
		return fmt.Errorf("%q is not a contour interval; write one as 20m or 40ft, or auto", text)
	}
	if err := from(contour.LeastInterval, contour.MostInterval).check(v*unit.Metres(), text, "a contour interval", plainLength); err != nil {
		return err
	}
	f.value, f.unit, f.set = v, unit, true
	return nil
}
