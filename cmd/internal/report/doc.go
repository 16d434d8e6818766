// Package report writes an Answer as text for a terminal of 80 columns, and
// nothing else: it computes nothing, and takes its figures from the answer, not
// from its JSON. Lengths, angles and durations are written by package units; a
// sighting, a slope and a warning are worded in one function each.
package report
