package report

import (
	"slices"
	"strings"
)

// packages are the names that the library's errors begin with, for a Go program
// to know them by. Nobody who reads a terminal wants to know which package it
// was.
var packages = []string{"answer", "contour", "dem", "drift", "drill", "fix", "landform", "page", "profile", "scene", "sheet", "sun", "vantage", "visibility", "waymarks"}

// Error is an error as one line for people, without the names of packages.
func Error(err error) string {
	parts := strings.Split(strings.Join(strings.Fields(noMagnetic(err)), " "), ": ")
	plain := slices.DeleteFunc(slices.Clone(parts), func(part string) bool { return slices.Contains(packages, part) })
	if len(plain) == 0 {
		plain = parts
	}
	return strings.Join(plain, ": ")
}
