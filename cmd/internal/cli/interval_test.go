package cli

import (
	"encoding/json"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/cmd/internal/answer"
	"crowline/dem"
	"crowline/dem/geodesy"
)

// countedLeg is what a leg's JSON says of contours.
type countedLeg struct {
	IntervalM     float64  `json:"contour_interval_m"`
	Reason        string   `json:"contour_interval_reason"`
	Warning       string   `json:"contour_interval_warning"`
	Up            int      `json:"contours_up"`
	Down          int      `json:"contours_down"`
	Rises         int      `json:"contour_rises"`
	Falls         int      `json:"contour_falls"`
	UpErrorM      *float64 `json:"contours_up_error_m"`
	DownErrorM    *float64 `json:"contours_down_error_m"`
	UpDataErrorM  *float64 `json:"contours_up_data_error_m"`
	DownDataError *float64 `json:"contours_down_data_error_m"`
}

func countLeg(t *testing.T, arguments ...string) countedLeg {
	t.Helper()
	a := run(t, append([]string{"leg", "--json"}, arguments...)...)
	require.Equal(t, exitOK, a.code, a.err)
	var v struct {
		Climb countedLeg `json:"climb"`
	}
	require.NoError(t, json.Unmarshal([]byte(a.out), &v))
	return v.Climb
}

// TestOneIntervalForOneLeg: leg, sheet and contours have the same lines for
// the same leg, with the same reason and the same warning, and so has every
// leg of a route.
func TestOneIntervalForOneLeg(t *testing.T) {
	t.Parallel()
	utm, err := geodesy.NewCRS("EPSG:32617")
	require.NoError(t, err)
	// gentle ground with a mountainside beside it, too far off to bear on a
	// leg in the north-west, near enough to be on its sheet
	frame := dem.Frame{Columns: 400, Rows: 500, X0: 500000, Y0: 4100000, DX: 15, DY: -15, CRS: utm}
	fine := writeGround(t, frame, func(c, r float64) float64 {
		return 300 + 40*math.Sin(c/50)*math.Cos(r/60) + max(0, c-190)*16
	})
	place := func(c, r float64) string {
		p, err := frame.Place(c, r)
		require.NoError(t, err)
		return p.String()
	}
	for _, row := range []struct {
		name, from, to string
		flags          []string
		interval       float64
		warned         string
	}{
		{"posts 90 m apart", ridgeFrom, ridgeTo, nil, 50, ""},
		{"posts 90 m apart, in feet", ridgeFrom, ridgeTo, []string{"--units", "us"}, 60.96, ""},
		{"finer than the data carries", ridgeFrom, ridgeTo, []string{"--interval", "20m"}, 20, "finer than the data supports"},
		{"good data said to be better", legFrom, legTo, []string{"--vertical-error", "2m"}, 10, ""},
		{"lines that run together", ridgeFrom, ridgeTo, []string{"--interval", "2m", "--vertical-error", "0.3m"}, 2, "run together"},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			leg := countLeg(t, append([]string{row.from, row.to, "--marks", "0"}, row.flags...)...)
			assert.Equal(t, row.interval, leg.IntervalM, leg.Reason)
			if row.warned == "" {
				assert.Empty(t, leg.Warning)
			} else {
				assert.Contains(t, leg.Warning, row.warned)
			}
			folder := t.TempDir()
			a := run(t, append([]string{"sheet", row.from, row.to, "--marks", "0", "--json", "-o", filepath.Join(folder, "s.svg")}, row.flags...)...)
			require.Equal(t, exitOK, a.code, a.err)
			var s answer.SheetAnswer
			require.NoError(t, json.Unmarshal([]byte(a.out), &s))
			assert.Equal(t, leg.IntervalM, s.IntervalM)
			assert.Equal(t, leg.Reason, s.Reason)
			if leg.Warning != "" {
				assert.Contains(t, s.Warnings, leg.Warning)
			}
			for _, ending := range []string{"geojson", "svg"} { // the one as rows come, the other held
				c := contours(t, filepath.Join(folder, "l."+ending), append([]string{"--from", row.from, "--to", row.to, "--radius", "500m"}, row.flags...)...)
				assert.Equal(t, leg.IntervalM, c.IntervalM, ending)
				assert.Equal(t, leg.Reason, c.Reason, ending)
				assert.Equal(t, leg.Warning, c.Warning, ending)
			}
		})
	}
	// where the sheet's other ground is too steep for the leg's own lines they
	// are coarser, and it is said why and what to do
	from, to, folder := place(40, 80), place(100, 200), t.TempDir()
	assert.Equal(t, 1.0, countLeg(t, from, to, "--marks", "0", "--dem", fine, "--vertical-error", "0.3m").IntervalM)
	for _, arguments := range [][]string{
		{"sheet", from, to, "--marks", "0", "-o", filepath.Join(folder, "s.svg")},
		{"contours", "--from", from, "--to", to, "--radius", "2.5km", "-o", filepath.Join(folder, "s.geojson")},
	} {
		a := run(t, append(arguments, "--dem", fine, "--vertical-error", "0.3m")...)
		require.Equal(t, exitOK, a.code, a.err)
		said := strings.Join(strings.Fields(a.out), " ")
		assert.Contains(t, said, "interval 10 m: lines 1 m apart will run together")
		assert.Contains(t, said, "the leg command counts this leg at 1 m: to count the lines here give it --interval 10m")
	}
}

// TestTheDemoPrintsWhatItCounted: the sheet the demo suggests has the lines
// its leg counts.
func TestTheDemoPrintsWhatItCounted(t *testing.T) {
	onDemoGround(t)
	demo := run(t, "demo")
	require.Equal(t, exitOK, demo.code, demo.err)
	var leg, drawn []string
	for _, line := range strings.Split(demo.out, "\n") {
		switch f := strings.Fields(line); {
		case len(f) > 3 && f[0] == "crowline" && f[1] == "leg":
			leg = f[2:4]
		case len(f) > 3 && f[0] == "crowline" && f[1] == "sheet":
			drawn = f[1:]
		}
	}
	require.Len(t, leg, 2)
	require.NotEmpty(t, drawn)
	require.Equal(t, "-o", drawn[len(drawn)-2])
	drawn[len(drawn)-1] = filepath.Join(t.TempDir(), drawn[len(drawn)-1])
	a := run(t, append(drawn, "--json")...)
	require.Equal(t, exitOK, a.code, a.err)
	var s answer.SheetAnswer
	require.NoError(t, json.Unmarshal([]byte(a.out), &s))
	counted := countLeg(t, leg...)
	assert.Equal(t, counted.IntervalM, s.IntervalM)
	assert.Contains(t, run(t, append([]string{"leg", "--full"}, leg...)...).out, " at "+s.Interval)
}

// TestRouteLegsShareAnInterval, though one goes over gentle ground and the
// other up a mountain.
func TestRouteLegsShareAnInterval(t *testing.T) {
	t.Parallel()
	utm, err := geodesy.NewCRS("EPSG:32617")
	require.NoError(t, err)
	frame := dem.Frame{Columns: 700, Rows: 140, X0: 500000, Y0: 4100000, DX: 15, DY: -15, CRS: utm}
	ground := writeGround(t, frame, func(c, r float64) float64 { return 300 + 0.2*r + 3*math.Sin(c/9) + max(0, c-400)*12 })
	var turns []string
	for _, c := range []float64{40, 250, 640} {
		p, err := frame.Place(c, 70)
		require.NoError(t, err)
		turns = append(turns, p.String())
	}
	alone := countLeg(t, turns[0], turns[1], "--dem", ground, "--marks", "0")
	file := filepath.Join(t.TempDir(), "r.csv")
	require.NoError(t, replaceFile(file, []byte("name,lat,lon\nA,"+turns[0]+"\nB,"+turns[1]+"\nC,"+turns[2]+"\n")))
	a := run(t, "route", file, "--dem", ground, "--json")
	require.Equal(t, exitOK, a.code, a.err)
	var route struct {
		Legs []struct {
			Climb countedLeg `json:"climb"`
		} `json:"legs"`
	}
	require.NoError(t, json.Unmarshal([]byte(a.out), &route))
	require.Len(t, route.Legs, 2)
	assert.Equal(t, route.Legs[0].Climb.IntervalM, route.Legs[1].Climb.IntervalM)
	assert.Less(t, alone.IntervalM, route.Legs[0].Climb.IntervalM, "the gentle leg alone")
	for _, row := range []struct {
		interval string
		want     bool
	}{{"20m", true}, {"auto", false}} {
		card := filepath.Join(t.TempDir(), "card.txt")
		a = run(t, "route", file, "--dem", ground, "--vertical-error", "9m", "--interval", row.interval, "-o", card)
		require.Equal(t, exitOK, a.code, a.err)
		assert.Equal(t, row.want, strings.Contains(strings.Join(strings.Fields(a.out), " "), "finer than the data supports"))
	}
}

// TestACountSaysWhatItIsOffBy: nothing of a climb that crosses no line, nor of
// data whose error is not stated; and an interval for each rise and fall that
// does cross some, however small they are (2026-11: none for those under the
// dead band).
func TestACountSaysWhatItIsOffBy(t *testing.T) {
	t.Parallel()
	utm, err := geodesy.NewCRS("EPSG:32617")
	require.NoError(t, err)
	frame := dem.Frame{Columns: 401, Rows: 41, X0: 500000, Y0: 4100000, DX: 30, DY: -30, CRS: utm}
	place := func(c float64) string {
		p, err := frame.Place(c, 20)
		require.NoError(t, err)
		return p.String()
	}
	ask := func(ground string, more ...string) (countedLeg, string) {
		arguments := append([]string{place(20.5), place(380.5), "--dem", ground, "--marks", "0"}, more...)
		text := run(t, append([]string{"leg", "--full"}, arguments...)...)
		require.Equal(t, exitOK, text.code, text.err)
		return countLeg(t, arguments...), strings.Join(strings.Fields(text.out), " ")
	}
	flat, text := ask(writeGround(t, frame, func(c, r float64) float64 { return 12 }))
	assert.Zero(t, flat.Up+flat.Down)
	assert.Nil(t, flat.UpErrorM)
	assert.Nil(t, flat.DownErrorM)
	assert.Contains(t, text, "0 up, 0 down at 1 m rises and falls between two lines do not show")
	assert.NotContains(t, text, "off by less than")

	// eighteen waves of 18 m about 100 m, the leg starting and ending there
	waves := writeGround(t, frame, func(c, r float64) float64 { return 100 + 9*math.Sin(2*math.Pi*(c-20.5)/20) })
	counted, text := ask(waves, "--interval", "20m", "--dead-band", "30m")
	assert.Contains(t, text, "up 0 m, down 0 m") // all under the dead band
	assert.InDelta(t, 18, counted.Up, 1)
	require.NotNil(t, counted.UpErrorM)
	assert.Equal(t, 20*float64(counted.Rises), *counted.UpErrorM)
	assert.Equal(t, counted.Up, counted.Rises)
	assert.Nil(t, counted.UpDataErrorM, "the data's error is not stated")
	counted, text = ask(waves, "--interval", "20m", "--vertical-error", "3m")
	require.NotNil(t, counted.UpDataErrorM)
	const tolerance = 0.05 // m; rounded to a tenth
	assert.InDelta(t, 3*math.Sqrt(2*float64(counted.Rises)), *counted.UpDataErrorM, tolerance)
	assert.Contains(t, text, "off by less than 3")
	assert.Contains(t, text, "one standard deviation")
}
