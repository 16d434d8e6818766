package dem

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
)

// TestLocateAcrossTheAntimeridian: every post is found again, the last
// column too, where a whole turn's rounding may put it a hair outside.
func TestLocateAcrossTheAntimeridian(t *testing.T) {
	t.Parallel()
	for _, x0 := range []float64{179.99, -180.01, 359.9} {
		for columns := 20; columns < 60; columns++ {
			f := Frame{Columns: columns, Rows: 3, X0: x0, Y0: 10, DX: 3.0 / 3600, DY: -3.0 / 3600, CRS: geodesy.WGS84}
			for _, c := range []int{0, 13, columns - 1} {
				p, err := f.Place(float64(c), 1)
				require.NoError(t, err)
				column, row, err := f.Locate(p)
				require.NoError(t, err)
				assert.Equal(t, [2]float64{float64(c), 1}, [2]float64{column, row})
			}
		}
	}
}
