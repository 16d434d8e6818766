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
	} else if !slices.Contains(heightUnits, o.HeightUnit) {
		return o, usageErrorf("--height-unit %s: it is m, ft or ftUS", o.HeightUnit)
	}
	var err error
	o.CRS, err = parseCRS(f.crs)
	return o, err
}

// heightUnits are what heights may be in.
var heightUnits = []string{"m", "ft", "ftUS"}

var epsgCode = regexp.MustCompile(`^(?i:EPSG:)?\s*([0-9]+(?:\+[0-9]+)?)$`)

// parseCRS reads a reference system: an EPSG code, its authority named or not,
// or what else geodesy.NewCRS takes. "" is none.
func parseCRS(text string) (string, error) {
	definition := strings.TrimSpace(text)
	if definition == "" {
		return "", nil
	}
	if code := epsgCode.FindStringSubmatch(definition); code != nil {
		definition = "EPSG:" + code[1]
	}
	if _, err := geodesy.NewCRS(definition); err != nil {
		return "", usageErrorf("--crs: %w", err)
	}
	return definition, nil
}
