package landform

import "fmt"

// Lengths writes the lengths in a feature's Reason, given in metres: Distance
// along the ground, Height up and down. A nil field writes whole metres.
type Lengths struct {
	Distance, Height func(metres float64) string
}

func wholeMetres(v float64) string { return fmt.Sprintf("%.0f m", v) }

// far writes a distance along the ground, up a difference of heights.
func (f *finder) far(metres float64) string {
	if write := f.o.Lengths.Distance; write != nil {
		return write(metres)
	}
	return wholeMetres(metres)
}

func (f *finder) up(metres float64) string {
	if write := f.o.Lengths.Height; write != nil {
		return write(metres)
	}
	return wholeMetres(metres)
}
