package fix

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
)

// run is a stretch of a walk in metres from here over which a place fits, and
// the least chi-square on it.
type run struct {
	points [][2]float64
	best   [2]float64
	least  float64
}

// runs of a walk of places in metres from here by their chi-squares.
func runs(places [][2]float64, chiSquare func(e, n float64) float64) (out []run) {
	open := false
	for _, q := range places {
		v := chiSquare(q[0], q[1])
		if !(v <= ambiguous) {
			open = false
			continue
		}
		if !open {
			out, open = append(out, run{least: math.Inf(1)}), true
		}
		r := &out[len(out)-1]
		r.points = append(r.points, q)
		if v < r.least {
			r.best, r.least = q, v
		}
	}
	return out
}

// stepped is a polyline in steps of about a length, metres.
func stepped(corners [][2]float64, step float64) (out [][2]float64) {
	for k := 1; k < len(corners); k++ {
		a, b := corners[k-1], corners[k]
		n := math.Ceil(math.Hypot(b[0]-a[0], b[1]-a[1]) / step)
		for i := range int(n) {
			t := float64(i) / n
			out = append(out, [2]float64{a[0] + t*(b[0]-a[0]), a[1] + t*(b[1]-a[1])})
		}
	}
	return append(out, corners[len(corners)-1])
}

// A path crosses the bearing several times, 300 m to a kilometre apart, and goes
// by the mark itself, where a bearing may be out by tens of degrees. (That
// largest error was taken for the whole path, which made one place of all.) Every
// stretch of it that fits by its own error, found here metre by metre, is a place
// of the answer, and none leads from one to another.
func TestEveryCrossingOfAPathIsAPlace(t *testing.T) {
	t.Parallel()
	const seed, trials, lineError, placeError = 3, 20, 15, 15
	random := rand.New(rand.NewPCG(seed, 1))
	severalStretches := 0
	for trial := range trials {
		mark := [2]float64{0, 2000}
		corners := [][2]float64{{-700, 1900}, {-60, 2010}, {-650, 1700}}
		n, side := 1400.0, -1.0
		for range 3 + random.IntN(3) {
			corners = append(corners, [2]float64{-side * (250 + 200*random.Float64()), n}, [2]float64{side * (250 + 200*random.Float64()), n - 100*random.Float64()})
			n -= 300 + 700*random.Float64()
		}
		line := &Line{Error: lineError}
		for _, q := range corners {
			line.Points = append(line.Points, at(here, q[0], q[1]))
		}
		place := at(here, mark[0], mark[1])
		f, err := Resect(context.Background(), []Bearing{{Name: "mark", Place: place, PlaceError: placeError, True: 0}}, Options{Line: line})
		require.NoError(t, err)

		// by hand, on the plane: degrees off, of two degrees, the mark's own and
		// the path's, as far as it turns the bearing
		along := stepped(corners, 1)
		var directions [][2]float64
		for k := range along {
			a, b := along[max(0, k-1)], along[min(len(along)-1, k+1)]
			l := math.Hypot(b[0]-a[0], b[1]-a[1])
			directions = append(directions, [2]float64{(b[0] - a[0]) / l, (b[1] - a[1]) / l})
		}
		k := -1
		stretches := runs(along, func(e, n float64) float64 {
			k++
			de, dn := mark[0]-e, mark[1]-n
			d := math.Hypot(de, dn)
			residual := math.Atan2(de, dn) * 180 / math.Pi
			across := lineError * math.Abs(directions[k][0]*de+directions[k][1]*dn) / d
			sigma := math.Hypot(math.Hypot(2, math.Atan2(placeError, d)*180/math.Pi), math.Atan2(across, d)*180/math.Pi)
			return residual * residual / (sigma * sigma)
		})
		places := append([]Candidate{f.Candidate}, f.Others...)
		if f.Further > 0 {
			continue
		}
		held := map[int][]int{}
		for i, s := range stretches {
			if s.least > 4 {
				continue // one that only just fits may be joined to none
			}
			severalStretches++
			holding := 0
			for k := range places {
				if places[k].covers(at(here, s.best[0], s.best[1])) {
					holding++
					held[k] = append(held[k], i)
				}
			}
			assert.Equal(t, 1, holding, "trial %d: the stretch from %v to %v", trial, s.points[0], s.points[len(s.points)-1])
		}
		for k, c := range places {
			require.NotNil(t, c.Region)
			assert.True(t, c.Region.Covers(c.Place))
			for _, i := range held[k][min(1, len(held[k])):] {
				// round a bend that all but fits, off the path by its error
				a, b := stretches[i-1].points, stretches[i].points
				last, first := a[len(a)-1], b[0]
				assert.Less(t, math.Hypot(last[0]-first[0], last[1]-first[1]), 5.0*lineError, "trial %d: joined over ground that does not fit", trial)
			}
		}
	}
	assert.Greater(t, severalStretches, 3*trials)
}

// Hills and hollows along a bearing: every place on it that fits the altimeter
// as well as any of the answer's, found here metre by metre, lies in the region
// of one of them; and where a region joins two, what is between fits too.
func TestEveryFoldOfTheGroundAlongABearingIsAPlace(t *testing.T) {
	t.Parallel()
	const seed, trials, altimeter, vertical = 8, 6, 6, 5
	random := rand.New(rand.NewPCG(seed, 1))
	places, joined := 0, 0
	for trial := range trials {
		a, b, c := random.Float64()*6, random.Float64()*6, random.Float64()*6
		wave := 800 + 900*random.Float64()
		grid := shaped(t, func(e, n float64) float64 {
			return 300 + 40*math.Sin(n/wave*2*math.Pi+a) + 25*math.Sin(n/730*math.Pi+e/900+b) + 10*math.Sin(n/290+e/370+c) + n/60
		})
		reading := 280 + 50*random.Float64()
		f, err := Resect(context.Background(), toTheNorth(2500), Options{Posts: grid, VerticalError: vertical, Altimeter: &Altimeter{Elevation: reading, Error: altimeter}})
		require.NoError(t, err)
		chiSquare := func(n float64) float64 {
			h, err := dem.ElevationAt(grid, at(here, 0, n))
			require.NoError(t, err)
			return (h - reading) * (h - reading) / (altimeter*altimeter + vertical*vertical)
		}
		all := append([]Candidate{f.Candidate}, f.Others...)
		places += len(all)
		for n := 2400.0; n > -5800; n -= 10 {
			in := -1
			for k := range all {
				if all[k].covers(at(here, 0, n)) {
					in = k
				}
			}
			if v := chiSquare(n); v <= f.ChiSquare+equal && f.Further == 0 {
				assert.GreaterOrEqual(t, in, 0, "trial %d: %g m north fits (%.3f) and is left out", trial, n, v)
			} else if in >= 0 && v > ambiguous+1 {
				// of the lattice, a tenth of a standard deviation; round a hole is in
				joined++
			}
		}
		least := f.ChiSquare
		for _, k := range all {
			least = min(least, k.ChiSquare)
			assert.LessOrEqual(t, k.ChiSquare, f.ChiSquare+ambiguous)
		}
		assert.LessOrEqual(t, f.ChiSquare, least+equal, "the first fits as well as any")
	}
	t.Logf("%d places of %d trials; %d steps in a region that do not fit", places, trials, joined)
	assert.Greater(t, places, 2*trials)
	assert.Less(t, joined, 5*trials)
}
