package cli

import (
	"regexp"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
)

// fileFlags say what a file of elevations leaves out.
type fileFlags struct{ crs, heightUnit string }

// add adds the flags for "the file" or "the files".
func (f *fileFlags) add(cmd *cobra.Command, files string) {
	names := "names"
	if strings.HasSuffix(files, "s") {
		names = "name"
	}
	cmd.Flags().StringVar(&f.crs, "crs", "", "the data's coordinate reference system, if "+files+" "+names+" none, as EPSG:`code`")
	cmd.Flags().StringVar(&f.heightUnit, "height-unit", "", "the `unit` of the data's heights, if "+files+" "+names+" none or the wrong one: m, ft or ftUS")
}

// options checks the flags and turns them into the library's.
func (f *fileFlags) options(c config) (gdalio.Options, error) {
	o := gdalio.Options{HeightUnit: f.heightUnit}
	if o.HeightUnit == "" {
		o.HeightUnit = c.HeightUnit
	} else if err := checkHeightUnit(o.HeightUnit); err != nil {
		return o, err
	}
	var err error
	o.CRS, err = parseCRS("--crs", f.crs)
	return o, err
}

// checkGroundFlags refuses wrong values of the flags that say how elevation
// data is read, before any file is.
func checkGroundFlags(cmd *cobra.Command) error {
	for _, flag := range []struct {
		name  string
		check func(text string) error
	}{
		{"height-unit", checkHeightUnit}, {"max-memory", checkMaxMemory},
		{"crs", func(text string) error { _, err := parseCRS("--crs", text); return err }},
		{"places-crs", func(text string) error { _, err := parseCRS("--places-crs", text); return err }},
	} {
		if f := cmd.Flags().Lookup(flag.name); f != nil && f.Changed {
			if err := flag.check(f.Value.String()); err != nil {
				return err
			}
		}
	}
	return nil
}

func checkHeightUnit(text string) error {
	if text != "" && !slices.Contains(heightUnits, text) {
		return usageErrorf("--height-unit %s: give m, ft or ftUS", text)
	}
	return nil
}

func checkMaxMemory(text string) error {
	if text == "" { // the default
		return nil
	}
	if _, err := parseMemory(text); err != nil {
		return usageErrorf("--max-memory: %w", err)
	}
	return nil
}

// heightUnits are what heights may be in.
var heightUnits = []string{"m", "ft", "ftUS"}

var epsgCode = regexp.MustCompile(`^(?i:EPSG:)?\s*([0-9]+(?:\+[0-9]+)?)$`)

// parseCRS reads a reference system: an EPSG code, its authority named or not,
// or what else geodesy.NewCRS takes. "" is none. flag names it in errors.
func parseCRS(flag, text string) (string, error) {
	definition := strings.TrimSpace(text)
	if definition == "" {
		return "", nil
	}
	if code := epsgCode.FindStringSubmatch(definition); code != nil {
		definition = "EPSG:" + code[1]
	}
	if _, err := geodesy.NewCRS(definition); err != nil {
		return "", usageErrorf("%s: %w", flag, err)
	}
	return definition, nil
}
