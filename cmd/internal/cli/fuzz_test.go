package cli

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"crowline/cmd/internal/answer"
)

// FuzzFlagTexts: what is written after flags. What is taken is in range; what
// is not is refused in a line.
func FuzzFlagTexts(f *testing.F) {
	for _, s := range []string{"90,180", "0,360", "NaN,1", "36.2,-84.3,36.3,-84.2", "-90,0,90,359.9", "7A4B00", "#7A4B00", "20m", "40ft", "auto", "1e308ft", "14.5E", "3.2 w", "-3°", "3EW", "200E",
		"Church=212", "36.3,-84.2=301m", "=°", "a=360.0°t", "2GB", "25%", "010", "0x10", "1e2", "1:25 000", "2 5 000", "6ft", "-0", "1e300%", "http://a:80/b.tif:c.tif", "https:", ":", "http://:8ntf", "4km/h", "2.5mph", "1e300mph", "08:30+01:00", "07:30Z", "24:00z", "08:30-12:01", "tobler"} {
		f.Add(s)
	}
	refused := func(t *testing.T, err error) bool {
		if err != nil {
			assert.NotContains(t, oneLine(err), "\n")
		}
		return err != nil
	}
	f.Fuzz(func(t *testing.T, s string) {
		if sector, err := parseSector(s); !refused(t, err) && sector != nil {
			assert.True(t, sector.From >= 0 && sector.From < 360 && sector.To >= 0 && sector.To < 360, "%q", s)
		}
		if e, err := parseExtent(s); !refused(t, err) {
			assert.True(t, e.South < e.North && e.West >= -180 && e.West < 180 && e.East >= -180 && e.East < 180, "%q %v", s, e)
		}
		_, err := parseColour("--index-colour", s)
		refused(t, err)
		if i, err := parseInterval(s); !refused(t, err) {
			assert.True(t, i.Value > 0 || strings.EqualFold(strings.TrimSpace(s), "auto"), "%q", s)
			assert.NoError(t, i.Check(), "%q", s)
		}
		var d declinationFlag
		if err := d.Set(s); !refused(t, err) {
			assert.NoError(t, answer.Needle{Declination: d.degrees}.Check(), "%q", s)
		}
		if n, err := parseMemory(s); !refused(t, err) {
			assert.GreaterOrEqual(t, n, int64(0), "%q", s)
		}
		var o fixOptions
		if b, err := o.parseFixBearing(s); !refused(t, err) {
			assert.True(t, b.Degrees >= 0 && b.Degrees <= 360, "%q", s)
		}
		var v float64
		if err := newNumber(0, &v, "a number", above(0, 180)).Set(s); !refused(t, err) {
			assert.True(t, v > 0 && v <= 180, "%q", s)
		}
		var n int
		if err := newCount(0, &n, 1, 50).Set(s); !refused(t, err) {
			assert.True(t, n >= 1 && n <= 50, "%q", s)
		}
		if err := newScale(0, &v, from(500, 1e6)).Set(s); !refused(t, err) {
			assert.True(t, v >= 500 && v <= 1e6, "%q", s)
		}
		if err := newLength(0, &v).within(from(0, 1e3)).Set(s); !refused(t, err) {
			assert.True(t, v >= 0 && v <= 1e3, "%q", s)
		}
		if v, err := parseSpeed(s); !refused(t, err) {
			p := answer.DefaultPolicy()
			assert.True(t, v >= p.LeastSpeed && v <= p.MostSpeed, "%q", s)
		}
		if clock, zone, err := parseStart(s); !refused(t, err) {
			_, offset := time.Unix(0, 0).In(zone).Zone()
			assert.True(t, clock >= 0 && clock < 24*time.Hour && offset >= -12*3600 && offset <= 14*3600, "%q", s)
		}
		for _, p := range splitPaths(s) {
			assert.NotEmpty(t, strings.TrimRight(p, ":"), "%q", s)
		}
	})
}
