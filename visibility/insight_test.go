package visibility

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/landform"
)

// searchGround is ground to look for summits on, by its name: rough, in whole
// metres with level tops, and with voids, inside and at its rim.
func searchGround(t *testing.T, seed uint64) map[string]*dem.Grid {
	t.Helper()
	whole, torn := fractal(t, 150, seed), fractal(t, 150, seed+100)
	for i, h := range whole.Elevations {
		whole.Elevations[i] = float32(math.Round(float64(h) / 4))
	}
	random := rand.New(rand.NewPCG(seed, 3))
	holed(torn, random)
	for i := range torn.Elevations {
		if c, r := i%torn.Columns, i/torn.Columns; c+r < 40 {
			torn.Elevations[i] = float32(math.NaN())
		}
	}
	return map[string]*dem.Grid{"rough": fractal(t, 200, seed+200), "whole metres": whole, "torn": torn}
}

// TestSummitsInSightAreAllThatLandmarksShow: the marks that are seen, or not known
// to be hidden, are those of all summits of the ground, each the same in all.
func TestSummitsInSightAreAllThatLandmarksShow(t *testing.T) {
	t.Parallel()
	shown, unknown := 0, 0
	for seed := range uint64(4) {
		for name, g := range searchGround(t, seed) {
			random := rand.New(rand.NewPCG(seed, 4))
			for _, least := range []float64{0, 3, 20} {
				all, err := landform.Summits(t.Context(), g, landform.SummitOptions{MinProminence: least})
				require.NoError(t, err)
				place, err := g.Place(5+random.Float64()*140, 5+random.Float64()*140)
				require.NoError(t, err)
				o := NewObserver(place)
				if _, err := dem.ElevationAt(g, place); err != nil {
					continue
				}
				opts := DefaultLandmarkOptions()
				opts.TargetAboveGround = []float64{0, 2}[random.IntN(2)]
				if random.IntN(2) == 0 {
					opts.Radius = 700
				}
				some, err := SummitsInSight(t.Context(), g, o, InSightOptions{Conditions: opts.Conditions, MinProminence: least, Radius: opts.Radius})
				require.NoError(t, err)
				of := func(summits []landform.Summit) (out []Landmark) {
					marks, err := Landmarks(t.Context(), g, o, SummitCandidates(summits), opts)
					require.NoError(t, err)
					for _, m := range marks {
						if m.Sight.Verdict != Hidden {
							out = append(out, m)
						}
					}
					return out
				}
				want, got := of(all), of(some)
				assert.Less(t, len(some), max(len(all)/2, len(want)+5), "no search of everything")
				require.Len(t, got, len(want), "%s, seed %d, least %g", name, seed, least)
				for i, w := range want {
					require.Equal(t, w.LookedAt, got[i].LookedAt)
					require.Equal(t, w.Prominence, got[i].Prominence)
					require.Equal(t, w.ProminenceAtLeast, got[i].ProminenceAtLeast)
					require.Equal(t, w.Why, got[i].Why)
					if w.Sight.Verdict == Unknown {
						unknown++
					} else {
						shown++
					}
				}
			}
		}
	}
	assert.Greater(t, shown, 100)
	assert.Greater(t, unknown, 20)
}

// TestSummitsOnTheSkyline: they are those of all summits that Peak says are on it.
func TestSummitsOnTheSkyline(t *testing.T) {
	t.Parallel()
	found := 0
	for seed := range uint64(4) {
		for name, g := range searchGround(t, seed) {
			random := rand.New(rand.NewPCG(seed, 5))
			for _, least := range []float64{0, 3, 20} {
				all, err := landform.Summits(t.Context(), g, landform.SummitOptions{MinProminence: least})
				require.NoError(t, err)
				place, err := g.Place(5+random.Float64()*140, 5+random.Float64()*140)
				require.NoError(t, err)
				if _, err := dem.ElevationAt(g, place); err != nil {
					continue
				}
				opts := DefaultSkylineOptions()
				opts.Refraction = []float64{0.13, 0, 1.2}[random.IntN(3)]
				o := NewObserver(place)
				o.EyeAboveGround = []float64{1.6, 300}[random.IntN(2)]
				h, err := Skyline(t.Context(), g, o, opts)
				require.NoError(t, err)
				const nearest = 20.0 // m: two posts
				radius := []float64{0, 600}[random.IntN(2)]
				var want []landform.Summit
				for _, s := range all {
					if p, ok := h.Peak(s.Place, s.Elevation, opts.Refraction, nearest); ok && !(radius > 0 && p.Distance > radius) {
						want = append(want, s)
					}
				}
				got, err := h.SummitsOn(t.Context(), g, least, opts.Refraction, nearest, radius)
				require.NoError(t, err)
				require.Len(t, got, len(want), "%s, seed %d, least %g", name, seed, least)
				for i, w := range want {
					require.Equal(t, w.Post, got[i].Post)
					require.Equal(t, w.Prominence, got[i].Prominence)
					require.Equal(t, w.AtLeast, got[i].AtLeast)
				}
				found += len(want)
			}
		}
	}
	assert.Greater(t, found, 100)
}
