package visibility

import "fmt"

// Verdict is the answer for one target seen from one observer. The zero
// value means that nothing was asked, so a fresh block of verdicts claims
// nothing.
type Verdict uint8

const (
	// OutOfRange: beyond the radius or outside the sector: not asked.
	OutOfRange Verdict = iota
	// Visible: no ground between stands above the sight line. Ground that
	// just touches the line (grazing) does not hide.
	Visible
	// Hidden: known ground between stands above the sight line.
	Hidden
	// Unknown: the known ground does not hide the target, but part of the
	// ground between, or under the target, is not known: the line meets a
	// void or leaves the data.
	Unknown
)

// String is "out of range", "visible", "hidden" or "unknown".
func (v Verdict) String() string {
	switch v {
	case OutOfRange:
		return "out of range"
	case Visible:
		return "visible"
	case Hidden:
		return "hidden"
	case Unknown:
		return "unknown"
	}
	return fmt.Sprintf("Verdict(%d)", uint8(v))
}

// MarshalText writes the word String gives, for JSON.
func (v Verdict) MarshalText() ([]byte, error) {
	if v > Unknown {
		return nil, fmt.Errorf("visibility: no such verdict: %d", uint8(v))
	}
	return []byte(v.String()), nil
}
