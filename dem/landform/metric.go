package landform

import (
	"math"

	"crowline/dem"
)

// metric is the distance in metres between neighbouring posts: along each
// row, and from each row to the next, at the grid's middle column.
type metric struct {
	alongRow, alongColumn []float64
}

// The spacing is measured at rows metricStep metres apart, or at metricRows of
// them where the grid is larger than so many steps; between them it is
// interpolated. Spacing varies as the cosine of latitude; over 0.05 degrees, some
// metricStep, what that loses is below 1e-7 of it, and below 2e-6 over 0.2.
const (
	metricStep = 5e3
	metricRows = 100
)

func newMetric(f *dem.Frame) (metric, error) {
	m := metric{make([]float64, f.Rows), make([]float64, f.Rows)}
	middle := float64(f.Columns-1) / 2
	// spacing looks one post on, which must still be on the globe
	measure := func(row int) (float64, float64, error) {
		return f.Spacing(middle, math.Max(0, math.Min(float64(row), float64(f.Rows-2))))
	}
	_, apart, err := measure(f.Rows / 2)
	if err != nil {
		return metric{}, err
	}
	step := max(1, (f.Rows-1)/metricRows, int(math.Min(metricStep/apart, float64(f.Rows-1))))
	for row := 0; ; {
		along, across, err := measure(row)
		if err != nil {
			return metric{}, err
		}
		m.alongRow[row], m.alongColumn[row] = along, across
		if row > 0 {
			before := row - min(step, row)
			if row == f.Rows-1 && (f.Rows-1)%step != 0 {
				before = row - (f.Rows-1)%step
			}
			for r := before + 1; r < row; r++ {
				s := float64(r-before) / float64(row-before)
				m.alongRow[r] = dem.Lerp(m.alongRow[before], along, s)
				m.alongColumn[r] = dem.Lerp(m.alongColumn[before], across, s)
			}
		}
		if row >= f.Rows-1 {
			return m, nil
		}
		row = min(row+step, f.Rows-1)
	}
}

// at is the spacing round a row, which may lie outside or between rows.
func (m metric) at(row float64) (alongRow, alongColumn float64) {
	r := int(math.Round(math.Max(0, math.Min(row, float64(len(m.alongRow)-1)))))
	return m.alongRow[r], m.alongColumn[r]
}

// distance between two positions, metres.
func (m metric) distance(a, b Position) float64 {
	x, y := m.at((a.Row + b.Row) / 2)
	return math.Hypot((a.Column-b.Column)*x, (a.Row-b.Row)*y)
}

// spacing is the mean distance between neighbouring posts at mid-grid.
func (m metric) spacing() float64 {
	x, y := m.at(float64(len(m.alongRow)-1) / 2)
	return (x + y) / 2
}

// area is the ground a post stands for in a row, square metres.
func (m metric) area(row int) float64 { return m.alongRow[row] * m.alongColumn[row] }
