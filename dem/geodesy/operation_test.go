package geodesy

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestHowGoodTheWayFromADatumIs: a datum known by its ellipsoid alone is told,
// and what PROJ states of the way from one it knows.
func TestHowGoodTheWayFromADatumIs(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		definition  string
		x, y        float64
		least, most float64 // m
		doubt       string
	}{
		{"EPSG:4326", -84, 36, 0, 0, ""},
		{"EPSG:32617", 300000, 4000000, 0, 0, ""},
		{"EPSG:4267", -84, 36, 1, 15, ""}, // NAD27: without a grid 7 to 10 m
		{"+proj=longlat +ellps=clrk66 +type=crs", -84, 36, math.NaN(), math.NaN(), "only its ellipsoid"},
		{"+proj=longlat +ellps=GRS80 +type=crs", -84, 36, math.NaN(), math.NaN(), "off by no more than some metres"},
		{"+proj=utm +zone=17 +ellps=intl +units=m +type=crs", 300000, 4000000, math.NaN(), math.NaN(), "over a kilometre"},
	} {
		c, err := NewCRS(row.definition)
		require.NoError(t, err)
		o := c.Operation(row.x, row.y)
		if math.IsNaN(row.least) {
			assert.True(t, math.IsNaN(o.Accuracy), "%s: %+v", row.definition, o)
		} else {
			assert.True(t, o.Accuracy >= row.least && o.Accuracy <= row.most, "%s: %+v", row.definition, o)
		}
		if row.doubt == "" {
			assert.Empty(t, o.Doubt(c.Datum), row.definition)
		} else {
			assert.Contains(t, o.Doubt(c.Datum), row.doubt)
		}
	}
}
