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
	regexp.MustCompile(`(?i)(?:grids|(?:^|\+)(?:init|file|catalog))\s*=\s*([^\s"'&<]+)`),
	regexp.MustCompile(`(?i)PROJ4_GRIDS(?:\\?"|&quot;)\s*,\s*(?:\\?"|&quot;)([^"&\\]*)`),
	regexp.MustCompile(`(?i)PARAMETERFILE\s*[\[(]\s*(?:\\?"|&quot;)[^"&\\]*(?:\\?"|&quot;)\s*,\s*(?:\\?"|&quot;)([^"&\\]*)`),
}

var namedInJSON = []*regexp.Regexp{regexp.MustCompile(`"value"\s*:\s*"([^"]*)"`)}

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
	if strings.HasPrefix(strings.TrimSpace(definition), "{") {
		if err := checkNames(definition, namedInJSON); err != nil {
			return err
		}
	}
	return CheckGrids(definition)
}

// CheckGrids refuses text with a definition in it that names a grid in a
// folder of somebody's choice, or at an address: PROJ looks into it as soon
// as the definition is read.
func CheckGrids(text string) error { return checkNames(text, namedFiles) }

func checkNames(text string, patterns []*regexp.Regexp) error {
	for _, pattern := range patterns {
		for _, found := range pattern.FindAllStringSubmatch(text, -1) {
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
