package cli

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/contour/sheet"
	"crowline/dem"
	"crowline/dem/geodesy"
)

// TestASheetAtTheDataEdge: a page that reaches beyond the data on one side
// shows all the data on the other (2026-11: only the far corner was read).
func TestASheetAtTheDataEdge(t *testing.T) {
	var f groundFlags
	g, err := f.openLeg(context.Background(), Streams{}, demoFrom.LatLon, demoTo.LatLon)
	require.NoError(t, err)
	defer g.Close()
	plan := sheet.Plan{Scale: 40000, Leg: &sheet.Leg{From: sheet.Place{Name: "A", At: demoFrom.LatLon}, To: sheet.Place{Name: "B", At: demoTo.LatLon}}}
	frames, err := plan.Frames()
	require.NoError(t, err)
	grid, err := g.framed(context.Background(), frames)
	require.NoError(t, err)
	for _, p := range []geodesy.LatLon{demoFrom.LatLon, demoTo.LatLon} {
		_, err := dem.ElevationAt(grid, p)
		require.NoError(t, err)
	}
	assert.Zero(t, grid.Window.Column, "the data's west edge is on the page")
}

func TestSheetFiles(t *testing.T) {
	folder := t.TempDir()
	svg := filepath.Join(folder, "s.svg")
	a := run(t, "sheet", "36.26,-84.295", "36.24,-84.28", "-o", svg, "--hidden", "--magnetic-lines", "--relief", "0.5", "--index-colour", "7A4B00")
	require.Equal(t, exitOK, a.code, a.err)
	body, err := os.ReadFile(svg)
	require.NoError(t, err)
	for _, text := range []string{"Contour interval", "Magnetic north", "Grid north", "Print at 100", "WGS 84", "follow local rules", "7a4b00"} {
		assert.Contains(t, strings.ToLower(string(body)), strings.ToLower(text))
	}
	for _, bad := range [][]string{
		{"sheet", legFrom}, {"sheet", legFrom, "-o", "x.doc"}, {"sheet", legFrom, "-o", svg, "--paper", "a9"}, {"sheet", legFrom, "-o", svg, "--north", "up"},
		{"sheet", legFrom, "-o", svg, "--index-colour", "brown"}, {"sheet", legFrom, "-o", svg, "--relief", "2"}, {"sheet", legFrom, "-o", svg, "--label-reading", "down"},
		{"sheet", legFrom, "-o", svg, "--scale", "5"},
	} {
		assert.Equal(t, exitUsage, run(t, bad...).code, "%v", bad)
	}
}

// TestASheetOfAPlain: it has no contour line, says so, and has all the rest.
func TestASheetOfAPlain(t *testing.T) {
	f := dem.Frame{Columns: 90, Rows: 90, X0: 10, Y0: 50, DX: 0.001, DY: -0.001, CRS: geodesy.WGS84}
	plain := writeGround(t, f, func(c, r float64) float64 { return 305 })
	file := filepath.Join(t.TempDir(), "plain.svg")
	a := run(t, "sheet", "49.94,10.03", "49.96,10.05", "--dem", plain, "--vertical-error", "3m", "-o", file)
	require.Equal(t, exitOK, a.code, a.err)
	drawn, err := os.ReadFile(file)
	require.NoError(t, err)
	for _, want := range []string{"no line crosses it", "Destination", "305 m"} {
		assert.Contains(t, string(drawn), want)
	}
}
