package report

import (
	"slices"
	"strings"
	"unicode/utf8"
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
	return Plain(bounded(strings.Join(plain, ": ")))
}

// An error is one line that a person reads: of what others wrote (names, paths,
// arguments) the ends are told, and of the whole no more than a few lines of a
// terminal hold. Our own longest sentence, of ground outside the data and how to
// fetch it, has some 330.
const (
	longestLine = 200 // characters, from which on what others wrote is cut
	longestWord = 60
	mostOfLine  = 400
)

// bounded cuts the middle out of long words of a line that is too long, and then
// out of the line.
func bounded(line string) string {
	if utf8.RuneCountInString(line) <= longestLine {
		return line
	}
	words := strings.Split(line, " ")
	for i, w := range words {
		words[i] = middleCut(w, longestWord)
	}
	return middleCut(strings.Join(words, " "), mostOfLine)
}

// middleCut is a text of at most so many characters: its two ends.
func middleCut(text string, most int) string {
	r := []rune(text)
	if len(r) <= most {
		return text
	}
	head := (most - 1) / 2
	return string(r[:head]) + "…" + string(r[len(r)-(most-1-head):])
}
