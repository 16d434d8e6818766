package report

import (
	"bytes"
	"io"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/cmd/internal/answer"
	"crowline/dem/geodesy"
	"crowline/dem/units"
)

// TestAFixWithNeitherRegionNorEllipse: a region too wide to be traced leaves
// neither, and the answer says so.
func TestAFixWithNeitherRegionNorEllipse(t *testing.T) {
	t.Parallel()
	p := NewPage(io.Discard, units.Metric)
	text := p.fixDoubt(&answer.FixAnswer{CrossingDeg: 4, Bearings: make([]answer.FixResidual, 2)})
	assert.Equal(t, "The two lines cross at 4°, and too much ground fits to say how far it reaches. Take another bearing, well across these.", text)
}

// TestAFixSaysHowSureASightIs: 2026-12-01. "HIDDEN by the data: it would have to
// stand under 0.1 m higher" was said of a mark seen in one case of three, by
// heights good to 5.5 m.
func TestAFixSaysHowSureASightIs(t *testing.T) {
	t.Parallel()
	g, err := answer.Open(t.Context(), answer.Data{}, answer.Reach{})
	require.NoError(t, err)
	t.Cleanup(func() { _ = g.Close() })
	r := answer.FixRequest{Sighting: answer.DefaultSighting(), Needle: answer.Needle{Day: time.Date(2026, 12, 1, 0, 0, 0, 0, time.UTC)}, CompassError: 2, MarkError: 15}
	from := geodesy.LatLon{Lat: 34.3297, Lon: -118.0548}
	for _, at := range []geodesy.LatLon{{Lat: 34.3277, Lon: -118.0574}, {Lat: 34.3115, Lon: -118.0533}, {Lat: 34.30616, Lon: -118.00722}} {
		r.Bearings = append(r.Bearings, answer.FixBearing{Mark: answer.PlaceAt(at), Degrees: float64(geodesy.Inverse(from, at).Start)})
	}
	a, err := answer.Fix(t.Context(), g, r)
	require.NoError(t, err)
	var b bytes.Buffer
	p := NewPage(&b, units.Metric)
	Fix(p, a)
	require.NoError(t, p.Err())
	assert.NotContains(t, b.String(), "HIDDEN")
	assert.Regexp(t, `probably (hidden|visible), \d\d % chance to see it`, b.String())
}
