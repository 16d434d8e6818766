package dem

import "fmt"

// OutsideError tells what lies outside the elevation data. It is ErrOutside.
type OutsideError struct {
	// What lies outside: a geodesy.LatLon or an Extent.
	What fmt.Stringer
	// Covers is what the data covers, in words; empty where that is not known.
	Covers string
}

func (e *OutsideError) Error() string {
	text := fmt.Sprintf("%s is %v", e.What, ErrOutside)
	if e.Covers != "" {
		text += ", which covers " + e.Covers
	}
	return text
}

// Is reports whether target is ErrOutside.
func (e *OutsideError) Is(target error) bool { return target == ErrOutside }

// notOn says that something is not on a frame, and where the frame is.
func notOn(what fmt.Stringer, f *Frame) error {
	e := &OutsideError{What: what}
	if extent, err := f.Extent(); err == nil {
		e.Covers = extent.String()
	}
	return e
}
