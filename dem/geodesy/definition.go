package geodesy

import (
	"errors"
	"fmt"
	"regexp"
	"strings"
)

// Files that a definition may name, for datum shifts and geoids: in a PROJ
// string ("+nadgrids=conus"), also where WKT quotes one, in WKT, and in
// PROJ's JSON.
var namedFiles = []*regexp.Regexp{
	regexp.MustCompile(`(?i)(?:grids|init|file|catalog)\s*=\s*([^\s"']+)`),
	regexp.MustCompile(`(?i)PROJ4_GRIDS"\s*,\s*"([^"]*)"`),
	regexp.MustCompile(`(?i)PARAMETERFILE\s*[\[(]\s*"[^"]*"\s*,\s*"([^"]*)"`),
	regexp.MustCompile(`"value"\s*:\s*"([^"]*)"`),
}

// CheckDefinition refuses a definition of a reference system that is none of
// a code, WKT, a PROJ string or PROJ's JSON, or that names a file in a folder
// of somebody's choice, or an address: only grids that PROJ has are used.
func CheckDefinition(definition string) error {
	isCode := codePattern.MatchString(definition)
	if !isCode && !definitionPattern.MatchString(definition) {
		return errors.New("write a code, as EPSG:32617, WKT or a PROJ string")
	}
	if isCode {
		// PROJ reads a code out of these addresses, and asks none.
		if strings.Contains(definition, "/") && !crsAddress.MatchString(definition) {
			return errors.New("it is an address or a file's name; write a code, as EPSG:32617, WKT or a PROJ string")
		}
		return nil
	}
	for _, pattern := range namedFiles {
		for _, found := range pattern.FindAllStringSubmatch(definition, -1) {
			for _, name := range strings.Split(found[1], ",") {
				if strings.ContainsAny(name, `/\`) || strings.Contains(name, "..") {
					return fmt.Errorf("it names a file or an address, %q: only grids that PROJ has are used; write a code, as EPSG:32617", name)
				}
			}
		}
	}
	return nil
}

var crsAddress = regexp.MustCompile(`^https?://(www\.)?opengis\.net/def/crs/[A-Za-z0-9./_-]+$`)
