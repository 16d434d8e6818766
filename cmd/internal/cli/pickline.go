package cli

import (
	"fmt"
	"strconv"
	"strings"

	"crowline/dem/gdalio"
)

// mostListed are the lines that a complaint lists.
const mostListed = 6

// pickLine picks the one line meant of a file's: by its name, or by its number
// in the list, which tells apart what has no name or shares one. Without either
// there must be one. flag is what picks.
func pickLine(path string, lines []gdalio.Line, name, flag string) (*gdalio.Line, error) {
	name = strings.TrimSpace(name)
	var found []int
	for i, l := range lines {
		if name == "" || strings.EqualFold(l.Name, name) {
			found = append(found, i)
		}
	}
	if n, err := strconv.Atoi(name); len(found) == 0 && err == nil && n >= 1 && n <= len(lines) {
		found = []int{n - 1}
	}
	if len(found) == 1 {
		return &lines[found[0]], nil
	}
	listed := found
	if len(found) == 0 {
		for i := range lines {
			listed = append(listed, i)
		}
	}
	var list []string
	for _, i := range listed[:min(len(listed), mostListed)] {
		list = append(list, fmt.Sprintf("no. %d, %s", i+1, lineLabel(lines[i])))
	}
	if more := len(listed) - len(list); more > 0 {
		list = append(list, fmt.Sprintf("%d more", more))
	}
	all := strings.Join(list, "; ")
	switch {
	case len(found) == 0:
		return nil, usageErrorf("%s holds no line called %q; it holds %s", path, name, all)
	case name == "":
		return nil, usageErrorf("%s holds %d lines: %s. Say which with %s, by name or number", path, len(found), all, flag)
	}
	return nil, usageErrorf("%s holds %d lines called %q: %s. Say which with %s and its number", path, len(found), name, all, flag)
}

// lineLabel tells a line from others of its file.
func lineLabel(l gdalio.Line) string {
	kind := "line"
	if l.Route {
		kind = "route"
	}
	name := "without a name"
	if l.Name != "" {
		name = strconv.Quote(l.Name)
	}
	return fmt.Sprintf("%s %s of %s", kind, name, counted(len(l.Points), "point"))
}

// counted writes a number of things.
func counted(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}
