package contour

import (
	"math"
	"slices"

	"crowline/dem"
)

// Steepness is how gradients (rise over run, 1 is 45 degrees) are spread
// over ground.
type Steepness struct {
	// Median, and the gradient that nineteen parts in twenty do not exceed.
	Median, Steep float64
	// Cells the figures come from; void cells are left out.
	Cells int
}

// enoughCells is about how many cells a Steepness is taken from, spread
// evenly: its gradients are then good to a hundredth of themselves.
const enoughCells = 100_000

// MeasureSteepness takes the gradient of the bilinear surface at cell
// centres, of at most about a hundred thousand cells spread evenly. The
// error is a place the frame cannot transform.
func MeasureSteepness(g *dem.Grid) (Steepness, error) {
	s := NewSteepnessSampler(&g.Frame)
	if err := s.Add(0, g.Elevations); err != nil {
		return Steepness{}, err
	}
	return s.Steepness(), nil
}

// SteepnessSampler gathers a Steepness from rows as they come; given all
// rows it is MeasureSteepness's.
type SteepnessSampler struct {
	frame     *dem.Frame
	stride    int
	gradients []float64

	last    []float32 // the row given last, kept if the next one is wanted with it
	lastRow int
}

// NewSteepnessSampler samples a grid whose posts stand on f.
func NewSteepnessSampler(f *dem.Frame) *SteepnessSampler {
	stride := max(1, int(math.Sqrt(float64(f.Columns)*float64(f.Rows)/enoughCells)))
	return &SteepnessSampler{frame: f, stride: stride, lastRow: -1}
}

// Add takes whole rows from the given one down, in metres, NaN where void.
// Rows may be left out, but come in order. It keeps no hold on the slice.
func (s *SteepnessSampler) Add(row int, posts []float32) error {
	n := s.frame.Columns
	rows := len(posts) / n
	if rows == 0 {
		return nil
	}
	if s.lastRow == row-1 && s.wanted(s.lastRow) {
		if err := s.sample(s.lastRow, s.last, posts[:n]); err != nil {
			return err
		}
	}
	for r := range rows - 1 {
		if s.wanted(row + r) {
			if err := s.sample(row+r, posts[r*n:(r+1)*n], posts[(r+1)*n:(r+2)*n]); err != nil {
				return err
			}
		}
	}
	if s.lastRow = row + rows - 1; s.wanted(s.lastRow) {
		s.last = append(s.last[:0], posts[(rows-1)*n:]...)
	}
	return nil
}

// wanted reports whether the cells below a row are sampled.
func (s *SteepnessSampler) wanted(row int) bool {
	return row >= 0 && row%s.stride == s.stride/2 && row+1 < s.frame.Rows
}

func (s *SteepnessSampler) sample(row int, top, bottom []float32) error {
	dx, dy, err := s.frame.Spacing(float64(s.frame.Columns-1)/2, float64(row))
	if err != nil {
		return err
	}
	for c := s.stride / 2; c+1 < s.frame.Columns; c += s.stride {
		steep := gradient(float64(top[c]), float64(top[c+1]), float64(bottom[c]), float64(bottom[c+1]), dx, dy)
		if !math.IsNaN(steep) {
			s.gradients = append(s.gradients, steep)
		}
	}
	return nil
}

// Steepness of what has been added. No Cells if all was void.
func (s *SteepnessSampler) Steepness() Steepness {
	if len(s.gradients) == 0 {
		return Steepness{}
	}
	slices.Sort(s.gradients)
	at := func(share float64) float64 { return s.gradients[int(share*float64(len(s.gradients)-1))] }
	return Steepness{Median: at(0.5), Steep: at(0.95), Cells: len(s.gradients)}
}

// gradient of the bilinear surface at the centre of a cell with corners a, b
// above d, e; dx and dy are its sides in metres. NaN when a corner is void.
func gradient(a, b, d, e, dx, dy float64) float64 {
	return math.Hypot((b+e-a-d)/(2*dx), (d+e-a-b)/(2*dy))
}

// cellGradient is gradient for a grid's cell; NaN outside too.
func cellGradient(g *dem.Grid, c, r int, dx, dy float64) float64 {
	return gradient(g.Elevation(c, r), g.Elevation(c+1, r), g.Elevation(c, r+1), g.Elevation(c+1, r+1), dx, dy)
}
