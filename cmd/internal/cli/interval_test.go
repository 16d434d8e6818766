package cli

import (
	"encoding/json"
	"math"
	"os"
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
}

// TestOneIntervalForOneDataSet: legs long and short, over hills and up a
// mountainside, a route and its card, sheets, contours and drills have one
// interval on one data set and scale, whatever ground they are about (2026-11:
// one mountain gave 10, 20, 20 and 25 m).
func TestOneIntervalForOneDataSet(t *testing.T) {
	t.Parallel()
	utm, err := geodesy.NewCRS("EPSG:32617")
	require.NoError(t, err)
	frame := dem.Frame{Columns: 420, Rows: 300, X0: 500000, Y0: 4100000, DX: 15, DY: -15, CRS: utm}
	ground := writeGround(t, frame, func(c, r float64) float64 {
		return 300 + 150*math.Sin(c/25)*math.Cos(r/30) + max(0, c-260)*27
	})
	place := func(c, r float64) string {
		p, err := frame.Place(c, r)
		require.NoError(t, err)
		return p.String()
	}
	hills, near, far, middle := place(100.3, 150), place(160.3, 150), place(330.3, 155), place(200, 150)
	folder := t.TempDir()
	file := filepath.Join(folder, "r.csv")
	require.NoError(t, replaceFile(file, []byte("name,lat,lon\nA,"+hills+"\nB,"+near+"\nC,"+far+"\n")))
	for _, row := range []struct {
		name, sigma string
		flags       []string
		metres      float64
		told        string
	}{
		{"good data", "0.8m", nil, 10, "10 m"},
		{"coarse data", "9.7m", nil, 50, "50 m"},
		{"in feet", "0.8m", []string{"--units", "us"}, 12.192, "40 ft"},
		{"coarse, in feet", "9.7m", []string{"--units", "us"}, 60.96, "200 ft"},
		{"the map in hand", "0.8m", []string{"--units", "us", "--interval", "20ft"}, 6.096, "20 ft"},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			folder := t.TempDir()
			flags := append([]string{"--dem", ground, "--vertical-error", row.sigma}, row.flags...)
			ask := func(into any, arguments ...string) {
				t.Helper()
				a := run(t, append(append(arguments, "--json"), flags...)...)
				require.Equal(t, exitOK, a.code, a.err)
				require.NoError(t, json.Unmarshal([]byte(a.out), into))
			}
			for _, ends := range [][2]string{{hills, near}, {hills, far}, {far, near}} {
				got := countLeg(t, append([]string{ends[0], ends[1], "--marks", "0"}, flags...)...)
				assert.InDelta(t, row.metres, got.IntervalM, 1e-9, got.Reason)
				assert.NotContains(t, got.Warning, "run together", "a leg is on no page")
			}
			var route struct {
				Legs []struct {
					Climb countedLeg `json:"climb"`
				} `json:"legs"`
			}
			card := filepath.Join(folder, "card.svg")
			ask(&route, "route", file, "-o", card)
			require.Len(t, route.Legs, 2)
			for _, l := range route.Legs {
				assert.InDelta(t, row.metres, l.Climb.IntervalM, 1e-9)
			}
			drawn, err := os.ReadFile(card)
			require.NoError(t, err)
			assert.Contains(t, strings.ReplaceAll(string(drawn), "\u00a0", " "), "lines at "+row.told)
			for _, about := range [][]string{{far}, {hills, near}} {
				var s struct {
					IntervalM float64  `json:"interval_m"`
					Warnings  []string `json:"warnings"`
				}
				ask(&s, append(append([]string{"sheet"}, about...), "--marks", "0", "-o", filepath.Join(folder, "s.svg"))...)
				assert.InDelta(t, row.metres, s.IntervalM, 1e-9)
				if row.metres == 10 && len(about) == 1 && about[0] == far {
					assert.Contains(t, strings.Join(s.Warnings, "\n"), "run together", "27 m up in 15, where lines need 6.25 m")
				}
			}
			for _, about := range [][]string{{"--around", far}, {"--from", hills, "--to", far}} {
				for _, ending := range []string{"geojson", "svg"} { // the one as rows come, the other held
					var c struct {
						IntervalM float64 `json:"interval_m"`
						Assumed   bool    `json:"scale_assumed"`
					}
					ask(&c, append(append([]string{"contours"}, about...), "--radius", "1km", "-o", filepath.Join(folder, "l."+ending))...)
					assert.InDelta(t, row.metres, c.IntervalM, 1e-9)
					assert.True(t, c.Assumed)
				}
			}
			for _, about := range []string{hills, middle} {
				var d struct {
					IntervalM float64 `json:"contour_interval_m"`
				}
				ask(&d, "drill", "--around", about, "--radius", "2km", "--count", "1", "--kinds", "page-bearing,landform,back-bearing,climb")
				assert.InDelta(t, row.metres, d.IntervalM, 1e-9)
			}
		})
	}
}

// TestASheetAtAnotherScaleSaysWhatLegCounts and what to do about it.
func TestASheetAtAnotherScaleSaysWhatLegCounts(t *testing.T) {
	t.Parallel()
	a := run(t, "sheet", legFrom, legTo, "--marks", "0", "--scale", "50000", "--vertical-error", "1m", "-o", filepath.Join(t.TempDir(), "s.svg"))
	require.Equal(t, exitOK, a.code, a.err)
	said := strings.Join(strings.Fields(a.out), " ")
	assert.Contains(t, said, "20 m, as maps at 1:50000 usually have")
	assert.Contains(t, said, "leg and route count lines 10 m apart: to count the lines of this map give them --interval 20m")
}

// TestContoursSayWhichScaleTheyAssume where none is given.
func TestContoursSayWhichScaleTheyAssume(t *testing.T) {
	t.Parallel()
	file := filepath.Join(t.TempDir(), "l.geojson")
	for _, row := range []struct {
		scale []string
		said  bool
	}{{nil, true}, {[]string{"--scale", "25000"}, false}} {
		a := run(t, append([]string{"contours", "--around", legFrom, "--radius", "1km", "-o", file}, row.scale...)...)
		require.Equal(t, exitOK, a.code, a.err)
		assert.Equal(t, row.said, strings.Contains(a.out, "1:25000 is assumed"), a.out)
	}
}

// TestTheConfigHoldsTheIntervalOfTheMap: it counts where --interval does not
// say, and auto sets it aside.
func TestTheConfigHoldsTheIntervalOfTheMap(t *testing.T) {
	file := filepath.Join(t.TempDir(), "config.json")
	require.NoError(t, replaceFile(file, []byte(`{"interval": "40ft"}`)))
	t.Setenv(configVariable, file)
	const foot = 0.3048
	assert.InDelta(t, 40*foot, countLeg(t, legFrom, legTo, "--marks", "0", "--vertical-error", "1m").IntervalM, 1e-9)
	assert.InDelta(t, 15, countLeg(t, legFrom, legTo, "--marks", "0", "--vertical-error", "1m", "--interval", "15m").IntervalM, 1e-9)
	assert.InDelta(t, 10, countLeg(t, legFrom, legTo, "--marks", "0", "--vertical-error", "1m", "--interval", "auto").IntervalM, 1e-9)
	a := run(t, "drill", "--around", legFrom, "--count", "1")
	assert.Equal(t, exitUsage, a.code)
	assert.Contains(t, a.err, "interval of 40 ft")
	for _, bad := range []string{`{"interval": "wide"}`, `{"interval": 40}`, `{"interval": "1e300m"}`} {
		require.NoError(t, replaceFile(file, []byte(bad)))
		a := run(t, "leg", legFrom, legTo)
		assert.NotEqual(t, exitOK, a.code, bad)
		assert.Contains(t, a.err, "interval", bad)
		assert.Equal(t, 1, strings.Count(a.err, "\n"), a.err)
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
	assert.Contains(t, text, "0 up, 0 down at 10 m rises and falls between two lines do not show")
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
