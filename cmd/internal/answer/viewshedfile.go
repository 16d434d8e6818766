package answer

import (
	"context"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/outfile"
	"crowline/visibility"
)

// GeoTIFF writes the answer's bands, and a last one of filled posts where voids
// were to be filled. What the bands are over is in their descriptions.
func (a *ViewshedAnswer) GeoTIFF(ctx context.Context, path string) ([]string, error) {
	say, from := func(s string) string { return s }, "the ground"
	if a.OverCover != nil {
		say = func(s string) string { return s + "; " + a.OverCover.Words() }
		from = "the ground or the top of what stands on it"
	}
	frame, window := a.frame()
	var bands []gdalio.Band
	if c := a.combined; c != nil {
		which := make([]float32, len(c.Which))
		for i, w := range c.Which {
			which[i] = float32(w)
		}
		verdicts := make([]byte, len(c.Count))
		for i, v := range c.Verdicts(a.views) {
			verdicts[i] = byte(v)
		}
		bands = []gdalio.Band{
			{Name: "seen by", Description: say("how many of the places see the post"), Bytes: c.Count},
			{Name: "which", Description: say("sum of 1 for the first place, 2 for the second, 4, 8 and so on"), Float32: which},
			{Name: gdalio.VerdictBand, Description: say("0 not asked, 1 visible from at least one place, 2 hidden from all, 3 not known, and not seen from any"), Bytes: verdicts},
		}
	} else {
		v := a.views[0]
		bands = []gdalio.Band{{Name: gdalio.VerdictBand, Description: say("0 not asked, 1 visible, 2 hidden, 3 not known"), Bytes: v.Codes()}}
		if v.HeightNeeded != nil {
			bands = append(bands, gdalio.Band{Name: "height needed", Description: say("metres above " + from + " for a target to be just seen; NaN where not asked or not known"), Float32: v.HeightNeeded})
		}
	}
	if a.filled {
		bands = append(bands, filledBand(a.grid, window))
	}
	return []string{path}, gdalio.WriteGeoTIFF(ctx, path, frame, bands)
}

// frame is where the posts of the views stand, all together.
func (a *ViewshedAnswer) frame() (*dem.Frame, dem.Window) {
	if c := a.combined; c != nil {
		return &c.Frame, c.Window
	}
	return &a.views[0].Frame, a.views[0].Window
}

// filledBand is 1 at the filled posts of a window of a grid, 0 elsewhere.
func filledBand(grid *dem.Grid, w dem.Window) gdalio.Band {
	band := make([]byte, w.Columns*w.Rows)
	for i := range band {
		if grid.IsFilled(w.Column+i%w.Columns, w.Row+i/w.Columns) {
			band[i] = 1
		}
	}
	return gdalio.Band{Name: "filled", Description: "1 where the post was void and has been filled in, 0 elsewhere", Bytes: band}
}

// GeoJSON writes polygons of the ground seen and of that not known from each
// place, of what is seen from how many, and of what was filled.
func (a *ViewshedAnswer) GeoJSON(ctx context.Context, path string) ([]string, error) {
	collection := geojson.NewFeatureCollection()
	collection.ExtraMembers = geojson.Properties{}
	members := map[string]any{"assumptions": a.Assumptions, "elevation_data": a.ElevationData}
	if a.OverCover != nil {
		members["over_cover"] = a.OverCover
	}
	for key, v := range members {
		text, err := encoded(v)
		if err != nil {
			return nil, err
		}
		collection.ExtraMembers[key] = text
	}
	add := func(outline orb.MultiPolygon, properties geojson.Properties) {
		if len(outline) > 0 {
			f := geojson.NewFeature(gdalio.Parted(outline))
			f.Properties = properties
			collection.Append(f)
		}
	}
	// every feature that depends on it says what it is over
	over := func(p geojson.Properties) geojson.Properties {
		if a.OverCover != nil {
			p["over_cover"] = a.OverCover.Name
		}
		return p
	}
	for i, v := range a.views {
		from := a.Views[i].From
		for _, verdict := range []visibility.Verdict{visibility.Visible, visibility.Unknown} {
			outline, err := v.Polygons(ctx, verdict)
			if err != nil {
				return nil, err
			}
			p := over(geojson.Properties{"verdict": verdict.String(), "from_lat": Rounded(from.Lat, decimalsOf("lat")), "from_lon": Rounded(from.Lon, decimalsOf("lon"))})
			if from.Name != "" {
				p["from"] = from.Name
			}
			add(outline, p)
		}
	}
	frame, window := a.frame()
	for n := 1; n < len(a.SeenBy); n++ {
		outline, err := visibility.Outlines(ctx, frame, func(i int) bool { return int(a.combined.Count[i]) == n })
		if err != nil {
			return nil, err
		}
		add(outline, over(geojson.Properties{"seen_by": n}))
	}
	if a.grid.Filled != nil {
		outline, err := visibility.Outlines(ctx, frame, func(i int) bool { return a.grid.IsFilled(window.Column+i%window.Columns, window.Row+i/window.Columns) })
		if err != nil {
			return nil, err
		}
		add(outline, geojson.Properties{"filled": true})
	}
	body, err := collection.MarshalJSON()
	if err != nil {
		return nil, err
	}
	return []string{path}, outfile.Write(outfile.File{Path: path, Body: body})
}
