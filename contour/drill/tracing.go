package drill

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
)

// TracingAnswer is the data of a question of kind Tracing.
type TracingAnswer struct {
	// Square is its corners, north-west first and clockwise.
	Square  []Place `json:"square" means:"The corners of the square, from the north-west one on, clockwise."`
	Saddles []Place `json:"saddles" means:"The saddles in it that must be ringed."`
	// Doubtful look like saddles on the map, and the data's error can make them.
	Doubtful []Place `json:"doubtful_saddles" means:"Places that look like saddles on the map and that the data's error can make: ringed or not, both are right."`
	// Crests and Floors are the parts that lie in the square.
	Crests [][]Place `json:"crests" means:"The crests of ridges and spurs in it."`
	Floors [][]Place `json:"floors" means:"The floors of valleys and draws in it."`
}

const (
	// squareMM is the side of the square, millimetres.
	squareMM = 48
	// tracedNear is how near to a line or a saddle a student's is right,
	// millimetres.
	tracedNear = 3
	// leastTraced is how long a crest or floor is within the square, millimetres;
	// one of each, at least, is sure.
	leastTraced = 12
	// mostDoubtful places that look like saddles may lie in it.
	mostDoubtful = 3
	// legsOfSquare is how many sight lines take as long as looking a square over.
	legsOfSquare = 500
	// edgeClear is how far from the square's sides no saddle lies, millimetres:
	// nearer, nobody could say whether it is in.
	edgeClear = 2.5
	// lookMM is how far round a place the eye looks for high and low ground to
	// call it a saddle, millimetres.
	lookMM = 6
)

// crestOrFloor reports whether a line is one of high ground, and whether it is
// one of low.
func crestOrFloor(k landform.Kind) (crest, floor bool) {
	return k == landform.Ridge || k == landform.Spur, k == landform.Valley || k == landform.Draw
}

// inSquare is the longest part of a line within a square, and its length,
// metres.
func (b mapBox) inSquare(line []geodesy.LatLon) (part []geodesy.LatLon, length float64) {
	var run []geodesy.LatLon
	far := 0.0
	for _, at := range line {
		if _, _, on := b.off(at); !on {
			run, far = nil, 0
			continue
		}
		if len(run) > 0 {
			far += geodesy.Inverse(run[len(run)-1], at).Distance
		}
		run = append(run, at)
		if far > length {
			part, length = run, far
		}
	}
	return part, length
}

// saddleOnMap reports whether the contours about a place look like a saddle's:
// going round, ground an interval higher and ground an interval lower within
// look, metres, take turns twice.
func (s *survey) saddleOnMap(at geodesy.LatLon, look float64) bool {
	h, err := dem.ElevationAt(s.grid, at)
	if err != nil {
		return false
	}
	const ways = 16
	steps := int(math.Ceil(look / s.spacing))
	var signs []int
	for w := range ways {
		for k := 1; k <= steps; k++ {
			p, _ := geodesy.Direct(at, geodesy.NewTrueBearing(geodesy.Degrees(w)*360/ways), look*float64(k)/float64(steps))
			v, err := dem.ElevationAt(s.grid, p)
			if err != nil {
				break
			}
			if math.Abs(v-h) >= s.interval() {
				sign := 1
				if v < h {
					sign = -1
				}
				signs = append(signs, sign)
				break
			}
		}
	}
	turns := 0
	for i := range signs {
		if signs[i] != signs[(i+1)%len(signs)] {
			turns++
		}
	}
	return turns >= 4
}

func (s *survey) tracing(_ context.Context, r *rand.Rand) (*Question, error) {
	if s.zone == 0 {
		return nil, nil
	}
	var saddles []landform.Feature
	for _, f := range s.features {
		if f.Kind == landform.Saddle {
			saddles = append(saddles, f)
		}
	}
	of := s.posts(landform.Saddle)
	if len(of) == 0 {
		return nil, nil
	}
	// About a saddle, anywhere in the square.
	f := of[r.IntN(len(of))]
	at, err := s.grid.Place(f.Column, f.Row)
	if err != nil || geodesy.UTMZone(at) != s.zone {
		return nil, nil
	}
	u, err := geodesy.ToUTMZone(at, s.zone)
	if err != nil {
		return nil, nil
	}
	half := s.paper(squareMM / 2)
	u.Easting, u.Northing = u.Easting+(r.Float64()-0.5)*1.5*half, u.Northing+(r.Float64()-0.5)*1.5*half
	centre, err := u.LatLon()
	if err != nil || geodesy.Inverse(s.o.Around, centre).Distance > s.o.Radius || geodesy.UTMZone(centre) != s.zone || !s.mapped(centre) || !s.measured(centre, 1.5*half) {
		return nil, nil
	}
	box := mapBox{u, half, half}
	var data TracingAnswer
	var rings []geodesy.LatLon
	for _, o := range saddles {
		p, err := s.grid.Place(float64(o.Column), float64(o.Row))
		if err != nil {
			return nil, nil
		}
		e, n, _ := box.off(p)
		side := half - max(math.Abs(e), math.Abs(n)) // positive within
		switch {
		case side < -s.paper(edgeClear):
			continue
		case side < s.paper(edgeClear), o.Confidence < leastConfidence, o.Relief < s.interval():
			return nil, nil
		}
		rings = append(rings, p)
		data.Saddles = append(data.Saddles, s.place("", p))
	}
	if len(rings) == 0 || len(rings) > 4 {
		return nil, nil
	}
	var lines [2][][]geodesy.LatLon // crests, floors
	var sure [2]bool
	for i := range s.features {
		f := &s.features[i]
		crest, floor := crestOrFloor(f.Kind)
		if !crest && !floor {
			continue
		}
		var line []geodesy.LatLon
		for _, p := range f.Line {
			at, err := s.grid.Place(p.Column, p.Row)
			if err != nil {
				return nil, nil
			}
			line = append(line, at)
		}
		n := 0
		if floor {
			n = 1
		}
		if part, length := box.inSquare(line); length >= s.paper(leastTraced) {
			lines[n] = append(lines[n], part)
			sure[n] = sure[n] || f.Confidence >= leastConfidence
		}
	}
	if !sure[0] || !sure[1] {
		return nil, nil
	}
	for _, p := range rings {
		if !s.saddleOnMap(p, max(s.paper(lookMM), s.along.Scale/2)) {
			return nil, nil
		}
	}
	if s.looked >= mostLegs {
		return nil, nil
	}
	s.looked += legsOfSquare
	doubtful := s.doubtfulSaddles(box, centre, rings)
	if len(doubtful) > mostDoubtful {
		return nil, nil
	}
	corners := []Place{}
	for i, k := range [][2]float64{{-1, 1}, {1, 1}, {1, -1}, {-1, -1}} {
		v := u
		v.Easting, v.Northing = u.Easting+k[0]*half, u.Northing+k[1]*half
		at, err := v.LatLon()
		if err != nil {
			return nil, nil
		}
		p := s.place("", at)
		if i == 0 {
			p.Name = "A"
		}
		corners = append(corners, p)
	}
	figure := &Figure{Centre: s.place("", centre), Outline: corners}
	data.Square = corners
	for n, kind := range []Stroke{Crest, Stream} {
		for _, line := range lines[n] {
			figure.Traces = append(figure.Traces, Trace{Kind: kind, Line: smooth(line)})
			var places []Place
			for _, p := range line {
				places = append(places, s.place("", p))
			}
			if n == 0 {
				data.Crests = append(data.Crests, places)
			} else {
				data.Floors = append(data.Floors, places)
			}
		}
	}
	for _, p := range doubtful {
		figure.Traces = append(figure.Traces, Trace{Kind: Doubt, Line: []geodesy.LatLon{p}})
		data.Doubtful = append(data.Doubtful, s.place("", p))
	}
	var names []string
	for _, p := range rings {
		figure.Traces = append(figure.Traces, Trace{Kind: Ring, Line: []geodesy.LatLon{p}})
		e, n, _ := box.off(p)
		names = append(names, fmt.Sprintf("%.0f mm east and %.0f mm south of corner A", s.mm(e+half), s.mm(half-n)))
	}
	count := fmt.Sprintf("%d %s", len(rings), plural(len(rings), "saddle"))
	working := []string{"Saddles: " + strings.Join(names, "; ") + "."}
	if n := len(doubtful); n > 0 {
		count += fmt.Sprintf(", and up to %d more", n)
		working = append(working, fmt.Sprintf("%d more %s may be taken for a saddle on the map, but the data's error can make that: ringed thin on the key's map. Ringed or not, both are right.", n, plural(n, "place")))
	}
	return &Question{
		Text: "In the square at A, trace a crest (of a ridge or spur) in one colour and a floor (of a valley or draw) in another, and ring every saddle. How many saddles are there? Which lines told you?",
		Reading: fmt.Sprintf("A line within %d mm, and a ring about the saddle, are right; %.0f mm of a line are enough. Which lines: words that name the bends of the contours, and the hourglass at a saddle, are right.",
			tracedNear, float64(leastTraced)/2),
		Figure:  figure,
		Answer:  count + "; the lines are on the key's map, and any of each sort is right.",
		Working: append(working, "The bends of the contours point away from high ground along a crest, and to high ground along a valley floor; at a saddle two crests and two valleys meet."),
		Margin:  fmt.Sprintf("confidence of each saddle, and of one crest and one floor, %.1f or more; doubtful is where ground an interval higher on two sides and an interval lower on two lies within %d mm of a place", leastConfidence, lookMM),
		Mistakes: []Mistake{
			{"crest and floor exchanged", "read the numbers upside down: took the bends to point the other way"},
			{"a ring round a hilltop", "took closed contours for a saddle"},
		},
		Data: data,
	}, nil
}

// doubtfulSaddles are the places of a square that look like saddles on the map
// and are none of the sure ones: the middle of each patch of such posts.
func (s *survey) doubtfulSaddles(box mapBox, centre geodesy.LatLon, rings []geodesy.LatLon) (out []geodesy.LatLon) {
	c, row, dx, dy, ok := s.located(centre)
	if !ok {
		return nil
	}
	var patches [][]geodesy.LatLon
	reach := 1.1 * box.e
	for y := int(row - reach/dy); y <= int(row+reach/dy); y++ {
		for x := int(c - reach/dx); x <= int(c+reach/dx); x++ {
			p, err := s.grid.Place(float64(x), float64(y))
			if err != nil {
				continue
			}
			if _, _, on := box.off(p); !on || nearest(p, rings) <= s.paper(lookMM) || !s.saddleOnMap(p, s.paper(lookMM)) {
				continue
			}
			near := slices.IndexFunc(patches, func(patch []geodesy.LatLon) bool { return nearest(p, patch) <= s.paper(lookMM/2) })
			if near < 0 {
				patches = append(patches, nil)
				near = len(patches) - 1
			}
			patches[near] = append(patches[near], p)
		}
	}
	for _, patch := range patches {
		out = append(out, patch[len(patch)/2])
	}
	return out
}

func nearest(at geodesy.LatLon, places []geodesy.LatLon) float64 {
	least := math.Inf(1)
	for _, p := range places {
		least = min(least, geodesy.Inverse(at, p).Distance)
	}
	return least
}

func plural(n int, word string) string {
	if n == 1 {
		return word
	}
	return word + "s"
}
