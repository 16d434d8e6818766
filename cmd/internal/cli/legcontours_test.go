package cli

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/contour"
	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/testdata/cumberland"
)

// TestLegCountsTheLinesOfTheMap: what `leg` says of contour lines is the
// number of places where the leg cuts the lines traced on the same ground, on
// 500 legs that start and end anywhere. The legs are laid straight on the
// plane about their start and the lines' pieces placed on it.
func TestLegCountsTheLinesOfTheMap(t *testing.T) {
	t.Parallel()
	source, err := gdalio.OpenBytes(cumberland.Name, cumberland.Bytes(), gdalio.Options{})
	require.NoError(t, err)
	defer source.Close()
	grid, err := source.Read(context.Background(), source.Layout().Whole())
	require.NoError(t, err)
	maps := []struct {
		interval string
		levels   contour.Levels
		lines    []contour.Line
	}{
		{"20m", contour.Levels{Interval: 20}, nil},
		{"40ft", contour.Levels{Interval: 40, Unit: contour.Foot}, nil},
		{"5m", contour.Levels{Interval: 5}, nil},
	}
	for i := range maps {
		maps[i].lines, err = contour.Trace(context.Background(), grid, maps[i].levels, contour.Options{})
		require.NoError(t, err)
	}
	random := rand.New(rand.NewPCG(40, 41))
	crossed := 0
	for i := range 150 {
		m := maps[i%len(maps)]
		anywhere := func() (geodesy.LatLon, string) {
			p, err := grid.Place(random.Float64()*float64(grid.Columns-1), random.Float64()*float64(grid.Rows-1))
			require.NoError(t, err)
			text := fmt.Sprintf("%.6f,%.6f", float64(p.Lat), float64(p.Lon))
			p, err = geodesy.ParsePlace(text)
			require.NoError(t, err)
			return p, text
		}
		from, fromText := anywhere()
		to, toText := anywhere()
		answer := run(t, "leg", fromText, toText, "--marks", "0", "--interval", m.interval, "--json")
		require.Equal(t, exitOK, answer.code, answer.err)
		var leg struct {
			Covered float64 `json:"covered_m"`
			Climb   struct {
				Up      int  `json:"contours_up"`
				Down    int  `json:"contours_down"`
				AtLeast bool `json:"contours_at_least"`
			} `json:"climb"`
		}
		require.NoError(t, json.Unmarshal([]byte(answer.out), &leg))
		up, down := cutByLeg(t, grid, m.lines, from, to)
		require.Equal(t, [2]int{up, down}, [2]int{leg.Climb.Up, leg.Climb.Down}, "%s to %s at %s", fromText, toText, m.interval)
		require.False(t, leg.Climb.AtLeast)
		crossed += up + down
	}
	assert.Greater(t, crossed, 6000)
}

// cutByLeg counts the places where a leg cuts lines, up and down.
func cutByLeg(t *testing.T, grid *dem.Grid, lines []contour.Line, from, to geodesy.LatLon) (up, down int) {
	t.Helper()
	placement, err := dem.NewPlacement(&grid.Frame, geodesy.NewPlane(from), grid.Whole())
	require.NoError(t, err)
	c0, r0, err := grid.Locate(from)
	require.NoError(t, err)
	c1, r1, err := grid.Locate(to)
	require.NoError(t, err)
	g := geodesy.Inverse(from, to)
	sin, cos := geodesy.Degrees(g.Start).SinCos()
	east, north := g.Distance*sin, g.Distance*cos
	right := func(px, py, qx, qy, x, y float64) bool { return (qx-px)*(y-py)-(qy-py)*(x-px) < 0 } // of the way from p to q
	for i := range lines {
		if lines[i].Touch {
			continue
		}
		p := lines[i].Points
		for k := 1; k < len(p); k++ {
			a, b := p[k-1], p[k]
			const room = 2 // cells that a leg may bow out of its box by
			if max(a.Column, b.Column) < min(c0, c1)-room || min(a.Column, b.Column) > max(c0, c1)+room ||
				max(a.Row, b.Row) < min(r0, r1)-room || min(a.Row, b.Row) > max(r0, r1)+room {
				continue
			}
			ax, ay := placement.At(a.Column, a.Row)
			bx, by := placement.At(b.Column, b.Row)
			endsRight := right(ax, ay, bx, by, east, north)
			if right(0, 0, east, north, ax, ay) == right(0, 0, east, north, bx, by) || right(ax, ay, bx, by, 0, 0) == endsRight {
				continue
			}
			if endsRight { // higher ground is on a line's right
				up++
			} else {
				down++
			}
		}
	}
	return up, down
}

// TestLegBesideAVoid: where a leg clips a cell with a void corner a map has no
// line, so none is counted, and the answer says so.
func TestLegBesideAVoid(t *testing.T) {
	t.Parallel()
	utm, err := geodesy.NewCRS("EPSG:32617")
	require.NoError(t, err)
	frame := dem.Frame{Columns: 41, Rows: 41, X0: 500000, Y0: 4100000, DX: 10, DY: -10, CRS: utm}
	ground := func(void bool) string {
		return writeGround(t, frame, func(c, r float64) float64 {
			if void && c == 20 && r == 20 {
				return math.NaN()
			}
			return 200 + 10*(c-20.95)
		})
	}
	place := func(c, r float64) string {
		p, err := frame.Place(c, r)
		require.NoError(t, err)
		return fmt.Sprintf("%.8f,%.8f", float64(p.Lat), float64(p.Lon))
	}
	for _, void := range []bool{false, true} {
		arguments := []string{"leg", place(12, 29.9), place(30, 11.9), "--dem", ground(void), "--interval", "20m", "--marks", "0"}
		var leg struct {
			Unknown float64 `json:"unknown_m"`
			Climb   struct {
				Up      int  `json:"contours_up"`
				AtLeast bool `json:"contours_at_least"`
			} `json:"climb"`
		}
		a := run(t, append(arguments, "--json")...)
		require.Equal(t, exitOK, a.code, a.err)
		require.NoError(t, json.Unmarshal([]byte(a.out), &leg))
		assert.Zero(t, leg.Unknown) // no edge of the leg is void
		assert.Equal(t, void, leg.Climb.AtLeast)
		text := run(t, append(arguments, "--full")...)
		if void { // the line of 200 m, at column 20.95, is not drawn there
			assert.Equal(t, 8, leg.Climb.Up)
			assert.Contains(t, text.out, "at least 8 up, 0 down")
			assert.Contains(t, strings.Join(strings.Fields(text.out), " "), "beside a void of the data, where a map has no lines")
		} else {
			assert.Equal(t, 9, leg.Climb.Up)
		}
	}
}
