package landform

import (
	"fmt"
	"math"
)

// Lengths writes the lengths of a Sentence, given in metres: Distance along the
// ground, Height up and down. A nil field writes whole metres.
type Lengths struct {
	Distance, Height func(metres float64) string
}

// Sentence is text whose lengths are yet to be written, so that one answer can
// be read in metres and in feet. The zero value is "". It is plain data.
type Sentence struct {
	format string
	args   []any
}

// Far and Up are metres within a Sentence, along the ground and up and down;
// each stands at a %s of its format.
type (
	Far float64
	Up  float64
)

// Say is a sentence: a format as fmt has it, and its arguments, of which Far and
// Up are written when the sentence is.
func Say(format string, args ...any) Sentence { return Sentence{format, args} }

// Text is the sentence with its lengths written.
func (s Sentence) Text(l Lengths) string {
	args := make([]any, len(s.args))
	for i, a := range s.args {
		switch v := a.(type) {
		case Far:
			a = write(l.Distance, float64(v))
		case Up:
			a = write(l.Height, float64(v))
		}
		args[i] = a
	}
	return fmt.Sprintf(s.format, args...)
}

func write(with func(metres float64) string, metres float64) string {
	if with != nil {
		return with(metres)
	}
	return fmt.Sprintf("%.0f m", math.Round(metres))
}
