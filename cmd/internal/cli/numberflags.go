package cli

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"crowline/dem/geodesy"
)

// numberFlag is a flag that is a number with no unit to write after it, within
// bounds.
type numberFlag struct {
	value *float64
	what  string // what the number is, with its article
	bounds
}

func newNumber(value float64, target *float64, what string, b bounds) *numberFlag {
	*target = value
	return &numberFlag{target, what, b}
}

// plainNumber writes a bound.
func plainNumber(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func (f *numberFlag) String() string {
	if f.value == nil || math.IsNaN(*f.value) {
		return ""
	}
	return plainNumber(*f.value)
}

func (f *numberFlag) Type() string { return "number" }

func (f *numberFlag) Set(text string) error {
	v, ok := geodesy.ParseNumber(strings.TrimSpace(text))
	if !ok { // no bounds hold it
		v = math.NaN()
	}
	if err := f.check(v, text, f.what, plainNumber); err != nil {
		return err
	}
	*f.value = v
	return nil
}

// What text lists of a kind, and what a leg is drawn or walked with: more is
// no help to anyone.
const (
	mostInList = 100_000
	mostMarks  = 100
)

// countFlag is a flag that is a whole number, within bounds.
type countFlag struct {
	value       *int
	least, most int
}

func newCount(value int, target *int, least, most int) *countFlag {
	*target = value
	return &countFlag{target, least, most}
}

func (f *countFlag) String() string {
	if f.value == nil {
		return ""
	}
	return strconv.Itoa(*f.value)
}

func (f *countFlag) Type() string { return "whole number" }

func (f *countFlag) Set(text string) error {
	// base ten: neither 0x10 nor, as 8, 010
	v, err := strconv.ParseInt(strings.TrimSpace(text), 10, 64)
	if err != nil || v < int64(f.least) || v > int64(f.most) {
		return fmt.Errorf("%q is not a whole number from %d to %d", text, f.least, f.most)
	}
	*f.value = int(v)
	return nil
}

// seedFlag is a whole number that only sets one answer apart from another.
type seedFlag struct{ value *uint64 }

func newSeed(value uint64, target *uint64) *seedFlag {
	*target = value
	return &seedFlag{target}
}

func (f *seedFlag) String() string {
	if f.value == nil {
		return ""
	}
	return strconv.FormatUint(*f.value, 10)
}

func (f *seedFlag) Type() string { return "whole number" }

func (f *seedFlag) Set(text string) error {
	v, err := strconv.ParseUint(strings.TrimSpace(text), 10, 64)
	if err != nil {
		return fmt.Errorf("%q is not a whole number from 0 to %d", text, uint64(math.MaxUint64))
	}
	*f.value = v
	return nil
}
