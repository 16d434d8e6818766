package drill

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"crowline/dem/geodesy"
)

// GridReferenceAnswer is the data of a question of kind GridReference.
type GridReferenceAnswer struct {
	Mark Place `json:"mark" means:"The point whose grid reference is asked for."`
	// Four and Six figures of Mark, Plot of Plotted; Easting and Northing are
	// Mark's on the grid of Zone, metres.
	Four     string  `json:"four_figures" means:"Its grid reference in four figures."`
	Six      string  `json:"six_figures" means:"Its grid reference in six figures."`
	Zone     int     `json:"utm_zone" means:"The zone of the grid."`
	Easting  float64 `json:"easting_m" means:"Its easting on that grid."`
	Northing float64 `json:"northing_m" means:"Its northing on that grid."`
	Plot     string  `json:"plot" means:"The grid reference given, whose place is to be marked."`
	Plotted  Place   `json:"plotted" means:"The middle of the 100 m square that it names."`
}

const (
	// kilometreMost is the scale up to which the grid's lines are a kilometre
	// apart, and kilometreLeast that from which they are no closer; both are of
	// the drawn grid (package sheet).
	kilometreLeast = 16700
	kilometreMost  = 100000
	// tenthClear is how far from the edges of its tenth of a square a place
	// stands, of the tenth: a slip of less changes no figure.
	tenthClear = 0.25
	// plotReach is how far from the mark the place to plot lies at most, east
	// and north, millimetres, and plotApart how far at least.
	plotReach = 34
	plotApart = 16
)

// kilometreGrid reports whether maps of the set have grid lines a kilometre
// apart.
func (s *survey) kilometreGrid() bool {
	return s.o.Scale >= kilometreLeast && s.o.Scale <= kilometreMost
}

// figures of a place on the grid: the square's, and with the tenths.
func figures(u geodesy.UTM) (four, six string) {
	e, n := int(math.Floor(u.Easting/100)), int(math.Floor(u.Northing/100))
	return fmt.Sprintf("%02d %02d", e/10%100, n/10%100), fmt.Sprintf("%03d %03d", e%1000, n%1000)
}

func (s *survey) gridReference(_ context.Context, r *rand.Rand) (*Question, error) {
	if s.zone == 0 || !s.kilometreGrid() {
		return nil, nil
	}
	at := s.anywhere(r)
	u, err := geodesy.ToUTMZone(at, s.zone)
	if err != nil {
		return nil, nil
	}
	plot := u
	// The mark goes to where its tenth is plain, the cross to the middle of one.
	within := func(v float64) float64 {
		return (math.Floor(v/100) + tenthClear + (1-2*tenthClear)*r.Float64()) * 100
	}
	middle := func(v float64) float64 {
		reach := s.paper(plotReach)
		return (math.Floor((v+(2*r.Float64()-1)*reach)/100) + 0.5) * 100
	}
	u.Easting, u.Northing = within(u.Easting), within(u.Northing)
	plot.Easting, plot.Northing = middle(plot.Easting), middle(plot.Northing)
	if math.Hypot(plot.Easting-u.Easting, plot.Northing-u.Northing) < s.paper(plotApart) {
		return nil, nil
	}
	four, six := figures(u)
	plotFour, plotSix := figures(plot)
	// Read north first, a reference must not name a place as good, and a
	// square's tenths told from the square.
	if six[:3] == six[4:] || plotSix[:3] == plotSix[4:] || plotFour == four {
		return nil, nil
	}
	if at, err = u.LatLon(); err != nil {
		return nil, err
	}
	cross, err := plot.LatLon()
	if err != nil {
		return nil, err
	}
	if geodesy.Inverse(s.o.Around, at).Distance > s.o.Radius || geodesy.Inverse(s.o.Around, cross).Distance > s.o.Radius ||
		geodesy.UTMZone(at) != s.zone || geodesy.UTMZone(cross) != s.zone {
		return nil, nil
	}
	centre := geodesy.Waypoints(at, cross, 2)[1]
	if geodesy.UTMZone(centre) != s.zone || !s.mapped(centre) {
		return nil, nil
	}
	mark, plotted := s.place("A", at), s.place("", cross)
	return &Question{
		Text: fmt.Sprintf("Write the grid reference of A in four figures and in six. Then mark with a cross the place at grid reference %s: the middle of the small square that it names.", plotSix),
		Reading: "Along first, then up: the number of the grid line to the left, then of the line below. The third figure and the last are tenths of the square, read by eye. " +
			"Six figures one tenth out, and a cross 2 mm out, are right.",
		Figure: &Figure{Centre: s.place("", centre), Marks: []Place{mark}, Within: []geodesy.LatLon{cross},
			Traces: []Trace{{Kind: Cross, Line: []geodesy.LatLon{cross}}}},
		Answer: fmt.Sprintf("%s; %s. The cross: %.1f mm %s and %.1f mm %s of A.", four, six,
			math.Abs(plot.Easting-u.Easting)*1000/s.o.Scale, side(plot.Easting-u.Easting, "east", "west"),
			math.Abs(plot.Northing-u.Northing)*1000/s.o.Scale, side(plot.Northing-u.Northing, "north", "south")),
		Working: []string{
			fmt.Sprintf("A: line %s to its left and %s tenths on, line %s below and %s tenths up.", six[:2], six[2:3], six[4:6], six[6:]),
			fmt.Sprintf("The cross: line %s and %s tenths on, line %s and %s tenths up, and half a tenth more for the middle.", plotSix[:2], plotSix[2:3], plotSix[4:6], plotSix[6:]),
		},
		Margin: fmt.Sprintf("A stands a quarter of a tenth or more, %.1f mm, from where a figure would change; no error of the data enters", s.mm(100*tenthClear)),
		Mistakes: []Mistake{
			{six[4:] + " " + six[:3], "read up before along"},
			{fmt.Sprintf("%02d %02d", (number2(four[:2])+1)%100, (number2(four[3:])+1)%100), "took the lines to the right and above, or the nearest, not those to the left and below"},
		},
		Data: GridReferenceAnswer{Mark: mark, Four: four, Six: six, Zone: s.zone, Easting: u.Easting, Northing: u.Northing, Plot: plotSix, Plotted: plotted},
	}, nil
}

// number2 is the number that two figures write.
func number2(figures string) int { return int(figures[0]-'0')*10 + int(figures[1]-'0') }

func side(v float64, positive, negative string) string {
	if v < 0 {
		return negative
	}
	return positive
}

// mm is a length on the ground, metres, as millimetres on the map.
func (s *survey) mm(metres float64) float64 { return metres * 1000 / s.o.Scale }
