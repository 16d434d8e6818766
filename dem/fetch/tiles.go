package fetch

import (
	"errors"
	"fmt"
	"math"
	"path"
	"strings"

	"crowline/dem/geodesy"
)

// Tile is one tile of a source: the square from its south-west corner.
type Tile struct {
	// South and West are whole degrees, West in [-180, 180).
	South, West int
	// URL is its address and Name the file's name.
	URL, Name string
}

// reach is added to a radius, metres: to interpolate at the edge of a tile
// takes its neighbour's outermost posts.
const reach = 200

// Tiles lists the tiles that hold ground within radius metres of a place, or
// posts that ground at their edge is interpolated from, from north to south
// and west to east.
func (s Source) Tiles(around geodesy.LatLon, radius float64) ([]Tile, error) {
	if err := s.Validate(); err != nil {
		return nil, err
	}
	const most = 1e6 // m: more than any sight line, and than anyone wants to fetch
	if !(radius >= 0 && radius <= most) {
		return nil, fmt.Errorf("a radius of %v m is not between 0 and %v m", radius, most)
	}
	side := max(s.Degrees, 1)
	if 360%side != 0 {
		return nil, errors.New("tiles must divide the circle")
	}
	radius += reach
	// no degree of latitude is shorter than 110.5 km
	first := floorTo(math.Max(-90, float64(around.Lat)-radius/110500), side)
	last := math.Min(90, float64(around.Lat)+radius/110500)
	seen := map[[2]int]bool{}
	var tiles []Tile
	for south := floorTo(last, side); south >= first; south -= side {
		if south >= 90 {
			continue
		}
		for west := -180; west < 180; west += side {
			if seen[[2]int{south, west}] || distanceTo(around, south, west, side) > radius {
				continue
			}
			seen[[2]int{south, west}] = true
			tiles = append(tiles, Tile{South: south, West: west, URL: s.address(s.URL, south, west), Name: s.fileName(south, west)})
		}
	}
	return tiles, nil
}

func floorTo(v float64, side int) int { return int(math.Floor(v/float64(side))) * side }

// distanceTo is the distance, metres, from a place to the nearest point of a
// square of degrees, never more than the true one. On a parallel distance
// grows with the difference in longitude, so the nearest point is on the
// nearest meridian; where on it is found by halving.
func distanceTo(p geodesy.LatLon, south, west, side int) float64 {
	east := math.Remainder(float64(p.Lon)-float64(west), 360)
	if east < 0 {
		east += 360
	}
	lon := float64(p.Lon)
	if east > float64(side) {
		lon = float64(west + side)
		if east > float64(side)+(360-float64(side))/2 {
			lon = float64(west)
		}
	}
	at := func(lat float64) float64 {
		return geodesy.Inverse(p, geodesy.LatLon{Lat: geodesy.Degrees(lat), Lon: geodesy.Degrees(math.Remainder(lon, 360))}).Distance
	}
	low, high := float64(south), float64(south+side)
	for range 40 {
		a, b := low+(high-low)/3, high-(high-low)/3
		if at(a) <= at(b) {
			high = b
		} else {
			low = a
		}
	}
	return min(at(low), at(high))
}

// fileName is the name at the end of the address, made safe for any disk.
// Where the name alone does not tell tiles apart, the corner is put before it.
func (s Source) fileName(south, west int) string {
	last := path.Base(strings.Split(s.URL, "?")[0])
	lower := strings.ToLower(last)
	for _, p := range []string{"{ns}", "{lat}", "{ew}", "{lon}"} {
		if !strings.Contains(lower, p) {
			last = "{NS}{lat}{EW}{lon}_" + last
			break
		}
	}
	return strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '.', r == '_', r == '-':
			return r
		}
		return '_'
	}, s.address(last, south, west))
}

// address puts a tile's corner into a pattern.
func (s Source) address(pattern string, south, west int) string {
	lat := south
	if s.Corner == NorthWest {
		lat += max(s.Degrees, 1)
	}
	letter := func(negative bool, plus, minus string) string {
		if negative {
			return minus
		}
		return plus
	}
	abs := func(v int) int { return max(v, -v) }
	ns, ew := letter(lat < 0, "N", "S"), letter(west < 0, "E", "W")
	return strings.NewReplacer(
		"{NS}", ns, "{ns}", strings.ToLower(ns), "{EW}", ew, "{ew}", strings.ToLower(ew),
		"{lat}", fmt.Sprintf("%02d", abs(lat)), "{lon}", fmt.Sprintf("%03d", abs(west)),
	).Replace(pattern)
}
