package drill

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/visibility"
)

// WaterAnswer is the data of a question of kind Water.
type WaterAnswer struct {
	Mark Place `json:"mark" means:"The point."`
	// Toward is the point of the compass that the water runs to, Bearing the
	// grid bearing itself.
	Toward  string          `json:"toward" means:"The way water runs there, of the eight points of the compass."`
	Bearing geodesy.Degrees `json:"bearing_deg" means:"The grid bearing it runs on."`
	// Stream is the way down to the edge of the largest map that may be printed;
	// a smaller one cuts it.
	Stream []Place `json:"stream" means:"The way it goes on, post by post, at most to the edge of a large map."`
	// SameOf says in how many of Drawn grounds, drawn with the data's error, the
	// water keeps to this way.
	Same  int `json:"same_grounds" means:"In how many grounds drawn with the data's error it keeps to this way."`
	Drawn int `json:"drawn_grounds" means:"Of how many."`
}

const (
	// streamNear is how near to the stream a line drawn by a student is right,
	// millimetres, and how near the stream of every ground drawn with the data's
	// error is to it.
	streamNear = 3.0
	// streamGrounds are drawn with the data's error; streamMisses of them may
	// send the water elsewhere: 19 in 20.
	streamGrounds = 20
	streamMisses  = 1
	// legsOfGround is how many sight lines take as long as one ground.
	legsOfGround = 200
	// courseMM is over how much of the stream its direction is taken,
	// millimetres.
	courseMM = 6
	// courseClear is how far from a point of the compass it may lie, degrees: a
	// quarter of what parts two.
	courseClear = 11
	// leastStream is how long the way to the edge is, millimetres.
	leastStream = 22
)

var winds = []string{"north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"}

// wind is the nearest of the eight points of the compass, and how far from it a
// bearing lies, degrees.
func wind(bearing float64) (name string, off float64) {
	n := int(math.Round(bearing/45)) % 8
	off = math.Abs(bearing - 45*float64(n))
	return winds[n], min(off, 360-off)
}

// mapBox is the middle of the map that a question's figure is on, and half its
// width and height, metres.
type mapBox struct {
	centre geodesy.UTM
	e, n   float64
}

func (s *survey) mapBox(at geodesy.LatLon) (mapBox, error) {
	if s.in != nil {
		at = s.in.centre
	}
	u, err := geodesy.ToUTMZone(at, s.zone)
	return mapBox{u, s.paper(sharedWidth / 2), s.paper(sharedHeight / 2)}, err
}

// off is how far a place is from the middle, east and north, metres, and
// whether it is on the map.
func (b mapBox) off(at geodesy.LatLon) (e, n float64, on bool) {
	u, err := geodesy.ToUTMZone(at, b.centre.Zone)
	if err != nil {
		return 0, 0, false
	}
	e, n = u.Easting-b.centre.Easting, u.Northing-b.centre.Northing
	return e, n, math.Abs(e) <= b.e && math.Abs(n) <= b.n
}

// window of the grid that holds a map, with some posts more.
func (s *survey) window(b mapBox) (dem.Window, bool) {
	const more = 12 // posts: water at the window's edge runs off it
	c0, c1, r0, r1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, k := range [][2]float64{{-1, -1}, {-1, 1}, {1, -1}, {1, 1}} {
		u := b.centre
		u.Easting, u.Northing = u.Easting+k[0]*b.e, u.Northing+k[1]*b.n
		at, err := u.LatLon()
		if err != nil {
			return dem.Window{}, false
		}
		c, r, err := s.grid.Locate(at)
		if err != nil {
			return dem.Window{}, false
		}
		c0, c1, r0, r1 = min(c0, c), max(c1, c), min(r0, r), max(r1, r)
	}
	w := dem.Window{Column: int(c0) - more, Row: int(r0) - more, Columns: int(c1-c0) + 2*more, Rows: int(r1-r0) + 2*more}
	return w, w.Intersect(s.grid.Whole()) == w
}

// piece is a window of the ground with errors added, correlated along rows and
// columns as in visibility's model.
func (s *survey) piece(w dem.Window, r *rand.Rand) *dem.Grid {
	g := &dem.Grid{Frame: s.grid.Sub(w), Elevations: make([]float32, w.Columns*w.Rows), Window: w, Source: s.grid.Source}
	keep := math.Exp(-1 / (4 / math.Pi * visibility.DefaultCorrelationPosts))
	fresh := math.Sqrt(1 - keep*keep)
	before, errors := make([]float64, w.Columns), make([]float64, w.Columns)
	for row := range w.Rows {
		for c := range w.Columns {
			i := row*w.Columns + c
			g.Elevations[i] = float32(s.grid.Elevation(w.Column+c, w.Row+row))
			// Down the column a first-order chain; along the row another, of what
			// is new in it: so each post has the same error, and neighbours share it.
			e := r.NormFloat64()
			if c > 0 {
				e = keep*errors[c-1] + fresh*e
			}
			errors[c] = e
		}
		for c := range w.Columns {
			if row > 0 {
				before[c] = keep*before[c] + fresh*errors[c]
			} else {
				before[c] = errors[c]
			}
			g.Elevations[row*w.Columns+c] += float32(s.o.VerticalError * before[c])
		}
	}
	return g
}

// stream is the way water runs on a piece of ground from a post, to the edge of
// a map, and the elevations on it.
func stream(d *landform.Drainage, g *dem.Grid, column, row int, b mapBox) (way []geodesy.LatLon, at []float64, err error) {
	posts, err := d.Downstream(column, row)
	if err != nil {
		return nil, nil, err
	}
	for _, p := range posts {
		place, err := g.Place(p.Column, p.Row)
		if err != nil {
			return nil, nil, err
		}
		way = append(way, place)
		at = append(at, g.Elevation(int(p.Column), int(p.Row)))
		if _, _, on := b.off(place); !on {
			break
		}
	}
	return way, at, nil
}

// drawnStream is the same on a window of the ground with errors drawn.
func (s *survey) drawnStream(ctx context.Context, w dem.Window, r *rand.Rand, column, row int, b mapBox) (way []geodesy.LatLon, at []float64, err error) {
	g := s.piece(w, r)
	d, err := landform.Drain(ctx, g)
	if err != nil {
		return nil, nil, err
	}
	return stream(d, g, column-w.Column, row-w.Row, b)
}

// course is the grid bearing of a way from its start to where it has gone so
// far, metres, and whether it goes so far.
func (b mapBox) course(way []geodesy.LatLon, far float64) (bearing float64, ok bool) {
	e0, n0, _ := b.off(way[0])
	for _, at := range way[1:] {
		if e, n, _ := b.off(at); math.Hypot(e-e0, n-n0) >= far {
			return float64(geodesy.NewGridBearing(90 - geodesy.Atan2(n-n0, e-e0))), true
		}
	}
	return 0, false
}

// posts are the places of sure features of some kinds within the radius: of
// lines all their posts, but the first of their length and the last. On a map
// that is being filled only those on it.
func (s *survey) posts(kinds ...landform.Kind) (out []landform.Position) {
	if s.featured == nil {
		s.featured = map[landform.Kind][]landform.Position{}
		for i := range s.features {
			f := &s.features[i]
			if f.Confidence < leastConfidence {
				continue
			}
			of := []landform.Position{{Column: float64(f.Column), Row: float64(f.Row)}}
			if n := len(f.Line); n > 0 {
				of = f.Line[n/6 : n-n/6]
			}
			for _, p := range of {
				at, err := s.grid.Place(p.Column, p.Row)
				if err == nil && geodesy.Inverse(s.o.Around, at).Distance <= s.o.Radius {
					s.featured[f.Kind] = append(s.featured[f.Kind], p)
				}
			}
		}
	}
	for _, k := range kinds {
		for _, p := range s.featured[k] {
			if s.in != nil {
				at, err := s.grid.Place(p.Column, p.Row)
				if err != nil {
					continue
				}
				if e, n := s.in.plane.Forward(at); math.Abs(e) > s.paper(sharedWidth/2) || math.Abs(n) > s.paper(sharedHeight/2) {
					continue
				}
			}
			out = append(out, p)
		}
	}
	return out
}

// keepsTo reports whether no place of a way lies farther from a line than near,
// metres.
func (b mapBox) keepsTo(way, line []geodesy.LatLon, near float64) bool {
	var on [][2]float64
	for _, at := range line {
		e, n, _ := b.off(at)
		on = append(on, [2]float64{e, n})
	}
	for _, at := range way {
		e, n, _ := b.off(at)
		least := math.Inf(1)
		for i := 1; i < len(on) && least > near; i++ {
			ax, ay := on[i-1][0]-e, on[i-1][1]-n
			dx, dy := on[i][0]-on[i-1][0], on[i][1]-on[i-1][1]
			t := min(1, max(0, -(ax*dx+ay*dy)/(dx*dx+dy*dy)))
			least = min(least, math.Hypot(ax+t*dx, ay+t*dy))
		}
		if least > near {
			return false
		}
	}
	return true
}

func (s *survey) water(ctx context.Context, r *rand.Rand) (*Question, error) {
	if s.zone == 0 {
		return nil, nil
	}
	of := s.posts(landform.Valley, landform.Draw)
	if len(of) == 0 {
		return nil, nil
	}
	p := of[r.IntN(len(of))]
	column, row := int(math.Round(p.Column)), int(math.Round(p.Row))
	at, err := s.grid.Place(float64(column), float64(row))
	if err != nil || geodesy.Inverse(s.o.Around, at).Distance > s.o.Radius || geodesy.UTMZone(at) != s.zone || !s.mapped(at) || !s.measured(at, s.paper(courseMM)) {
		return nil, nil
	}
	box, err := s.mapBox(at)
	if err != nil {
		return nil, nil
	}
	w, ok := s.window(box)
	if !ok {
		return nil, nil
	}
	if _, _, on := box.off(at); !on {
		return nil, nil
	}
	if s.looked >= mostLegs {
		return nil, nil
	}
	if s.drained == nil {
		if s.drained, err = landform.Drain(ctx, s.grid); err != nil {
			return nil, err
		}
	}
	way, heights, err := stream(s.drained, s.grid, column, row, box)
	if err != nil {
		return nil, nil
	}
	bearing, ok := box.course(way, s.paper(courseMM))
	toward, aside := wind(bearing)
	if !ok || aside > courseClear {
		return nil, nil
	}
	length := 0.0
	for i := 1; i < len(way); i++ {
		length += geodesy.Inverse(way[i-1], way[i]).Distance
		if !s.measured(way[i], s.spacing) {
			return nil, nil
		}
	}
	// A pond, or ground that the data has too high: no stream can be seen there.
	lowest := math.Inf(1)
	for _, h := range heights {
		lowest = min(lowest, h)
		if h > lowest+max(readingError*s.interval(), s.o.VerticalError) {
			return nil, nil
		}
	}
	_, _, on := box.off(way[len(way)-1])
	if on || length < s.paper(leastStream) || heights[0]-lowest < 2*s.interval() {
		return nil, nil
	}
	misses := 0
	for range streamGrounds {
		s.looked += legsOfGround
		other, _, err := s.drawnStream(ctx, w, r, column, row, box)
		if err != nil {
			return nil, err
		}
		there, ok := box.course(other, s.paper(courseMM))
		name, _ := wind(there)
		if !ok || name != toward || !box.keepsTo(other, way, s.paper(streamNear)) {
			if misses++; misses > streamMisses {
				return nil, nil
			}
		}
	}
	mark := s.place("A", at)
	data := WaterAnswer{Mark: mark, Toward: toward, Bearing: geodesy.Degrees(bearing), Same: streamGrounds - misses, Drawn: streamGrounds}
	for _, p := range way {
		data.Stream = append(data.Stream, s.place("", p))
	}
	return &Question{
		Text:    "Which way does water run at A: north, north-east, east and so on? Trace the stream from A to the edge of the map. Which lines told you?",
		Reading: fmt.Sprintf("A line within %.0f mm of the stream is right. Which lines: words that say that the bends of the contours point upstream, or that the numbers fall, are right.", streamNear),
		Figure:  &Figure{Centre: mark, Marks: []Place{mark}, Traces: []Trace{{Kind: Stream, Line: smooth(way)}}},
		Answer:  capital(toward) + "; the stream is the solid line on the key's map.",
		Working: []string{
			fmt.Sprintf("The contours bend like a V along the stream, and each V points upstream. From A (%s) the water runs on a grid bearing of %s, and falls to %s in %s.", s.vertical(heights[0]), degrees(math.Round(bearing)), s.vertical(lowest), s.distance(length)),
		},
		Margin: fmt.Sprintf("in %d of %d grounds drawn with %s the water runs to the %s and keeps within %.0f mm of this line; %d are asked", data.Same, data.Drawn, s.dataError(), toward, streamNear, streamGrounds-streamMisses),
		Mistakes: []Mistake{
			{winds[(slices.Index(winds, toward)+4)%8], "took uphill for downhill: read the numbers upside down, or took the V to point downstream"},
			{"a line along a crest", "took a ridge for a valley"},
		},
		Data: data,
	}, nil
}

// smooth takes the corners off a way from post to post; its ends stay.
func smooth(way []geodesy.LatLon) []geodesy.LatLon {
	out := slices.Clone(way)
	for i := 1; i+1 < len(way); i++ {
		out[i].Lat = (way[i-1].Lat + 2*way[i].Lat + way[i+1].Lat) / 4
		out[i].Lon = (way[i-1].Lon + 2*way[i].Lon + way[i+1].Lon) / 4
	}
	return out
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return string(s[0]-'a'+'A') + s[1:]
}
