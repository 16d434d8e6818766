package desk

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"math"
	"net/http"
	"strconv"

	"crowline/cmd/internal/answer"
	"crowline/contour"
	"crowline/dem/units"
)

// viewRadius is of ground seen while a handle moves, metres.
const viewRadius = 8000

// groundAnswer is what a page is told at opening.
type groundAnswer struct {
	Plane struct {
		Kind  string `json:"kind"`
		Name  string `json:"name"`
		Zone  int    `json:"zone"`
		South bool   `json:"south"`
	} `json:"plane"`
	Extent struct {
		XMin float64 `json:"x_min" round:"2"`
		YMin float64 `json:"y_min" round:"2"`
		XMax float64 `json:"x_max" round:"2"`
		YMax float64 `json:"y_max" round:"2"`
	} `json:"extent"`
	Outline  []float64 `json:"outline" round:"2"`
	SpacingM float64   `json:"spacing_m" round:"2"`
	Posts    struct {
		Columns int `json:"columns"`
		Rows    int `json:"rows"`
	} `json:"posts"`
	Tiles struct {
		SizePx int           `json:"size_px"`
		X0     float64       `json:"x0"`
		Y0     float64       `json:"y0"`
		Levels []levelAnswer `json:"levels"`
	} `json:"tiles"`
	ElevationData  answer.ElevationData `json:"elevation_data"`
	Cautions       []string             `json:"cautions"`
	Places         []namedAnswer        `json:"places"`
	Start          stateAnswer          `json:"start"`
	Options        optionsAnswer        `json:"options"`
	ElevationRange struct {
		Lowest  float64 `json:"lowest_m" round:"1"`
		Highest float64 `json:"highest_m" round:"1"`
	} `json:"elevation_range"`
	ViewRadiusM float64 `json:"view_radius_m"`
	Version     string  `json:"version"`
}

type levelAnswer struct {
	Level      int     `json:"level"`
	MPerPx     float64 `json:"m_per_px" round:"6"`
	Scale      float64 `json:"scale"`
	GridM      float64 `json:"grid_m"`
	Interval   string  `json:"interval"`
	IntervalM  float64 `json:"interval_m"`
	IndexEvery int     `json:"index_every"`
	Reason     string  `json:"reason"`
	Warning    string  `json:"warning"`
}

type namedAnswer struct {
	Kind string `json:"kind"`
	answer.PlottedSpot
}

type optionsAnswer struct {
	Eye        float64 `json:"eye_m"`
	Target     float64 `json:"target_m"`
	Refraction float64 `json:"refraction_k"`
	Date       string  `json:"date"`
	Units      string  `json:"units"`
	Interval   string  `json:"interval"`
	Marks      int     `json:"marks"`
}

// chartIn is the map with contours in the unit that goes with a system of units.
func (d *Desk) chartIn(u units.System) *answer.Chart {
	if u == units.US {
		return d.feet
	}
	return d.chart
}

// ground answers GET /api/ground.
func (d *Desk) ground(ctx context.Context, _ *http.Request) (*body, error) {
	c, a := d.chartIn(d.Units), &groundAnswer{Cautions: answer.Cautions(), ViewRadiusM: viewRadius, Version: d.Version, Places: []namedAnswer{}}
	a.Plane.Kind, a.Plane.Name, a.Plane.Zone, a.Plane.South = "utm", c.Name(), c.Zone, c.Chart.South
	if c.Zone == 0 {
		a.Plane.Kind = "equidistant"
	}
	a.Extent.XMin, a.Extent.YMin, a.Extent.XMax, a.Extent.YMax, a.Outline = c.West, c.South, c.East, c.North, c.Outline
	about := d.about
	a.SpacingM, a.ElevationData = about.Data.SpacingM, about.Data
	a.ElevationRange.Lowest, a.ElevationRange.Highest = about.Lowest, about.Highest
	layout := d.Ground.Layout()
	a.Posts.Columns, a.Posts.Rows = layout.Columns, layout.Rows
	a.Tiles.SizePx = answer.TilePixels
	a.Tiles.X0, a.Tiles.Y0 = c.Origin()
	for _, l := range c.Levels {
		out := levelAnswer{
			Level: l.Level, MPerPx: l.MetresPerPixel, Scale: l.Scale, GridM: l.GridInterval, Interval: l.Interval(), IntervalM: l.Choice.Interval * l.Choice.Unit.Metres(), IndexEvery: l.IndexEvery,
			Reason: l.Choice.Reason, Warning: l.Choice.Warning,
		}
		a.Tiles.Levels = append(a.Tiles.Levels, out)
	}
	for _, p := range d.Places {
		s, err := d.unjudged.Spot(ctx, p)
		if err != nil {
			continue // not on this ground
		}
		plotted, err := c.Spot(s)
		if err != nil {
			return nil, err
		}
		a.Places = append(a.Places, namedAnswer{p.Kind, plotted})
	}
	var err error
	if a.Start, err = d.told(ctx, d.Start); err != nil {
		return nil, err
	}
	a.Options = optionsAnswer{d.Sighting.Eye, d.Sighting.Target, d.Sighting.Refraction, d.Needle().Day.Format("2006-01-02"), d.Units.String(), intervalText(d.Walk.Interval), d.Marks}
	return jsonOf(a)
}

// intervalText is an interval as it is given, "" for one that is chosen.
func intervalText(i answer.Interval) string {
	if i.Value == 0 {
		return ""
	}
	return strconv.FormatFloat(i.Value, 'f', -1, 64) + map[contour.Unit]string{contour.Metre: "m", contour.Foot: "ft"}[i.Unit]
}

// tileOf reads which tile is asked for.
func tileOf(r *http.Request) (level, column, row int, err error) {
	for _, part := range []struct {
		name string
		into *int
	}{{"level", &level}, {"column", &column}, {"row", &row}} {
		if *part.into, err = whole(r, part.name); err != nil {
			return
		}
	}
	return
}

// tile answers GET /api/tile.
func (d *Desk) tile(ctx context.Context, r *http.Request) (*body, error) {
	q := answer.TileRequest{Relief: 0.5, Contours: true, Ratio: 1}
	var err error
	if q.Level, q.Column, q.Row, err = tileOf(r); err != nil {
		return nil, err
	}
	u := d.Units
	for name, values := range r.URL.Query() {
		text := values[0]
		n, err := strconv.ParseFloat(text, 64)
		switch {
		case name == "units" && len(values) == 1:
			if u, err = units.Parse(text); err != nil {
				return nil, wrong(name, "units are metric or us")
			}
		case err != nil || len(values) != 1:
			return nil, wrong(name, "%.20s is one number", name)
		case name == "relief":
			q.Relief = n / 100
		case name == "contours" && (n == 0 || n == 1):
			q.Contours = n == 1
		case name == "ratio" && (n == 1 || n == 2):
			q.Ratio = int(n)
		default:
			return nil, wrong(name, "a tile has relief from 0 to 100, contours 0 or 1, ratio 1 or 2, and units")
		}
	}
	if err := q.Check(); err != nil {
		return nil, err
	}
	document, err := d.chartIn(u).Tile(ctx, q)
	if errors.Is(err, answer.ErrNoGround) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var picture bytes.Buffer
	err = document.WritePNG(&picture, 0, q.DPI())
	return &body{"image/png", picture.Bytes()}, err
}

// elevations answers GET /api/elevations.
func (d *Desk) elevations(ctx context.Context, r *http.Request) (*body, error) {
	level, column, row, err := tileOf(r)
	if err != nil {
		return nil, err
	}
	heights, err := d.chart.Elevations(ctx, level, column, row)
	if errors.Is(err, answer.ErrNoGround) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	out := make([]byte, 0, 4*len(heights))
	for _, h := range heights {
		out = binary.LittleEndian.AppendUint32(out, math.Float32bits(h))
	}
	return &body{"application/octet-stream", out}, nil
}
