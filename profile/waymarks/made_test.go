package waymarks_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/profile/drift"
	"crowline/profile/waymarks"
)

// ground is an elevation by metres east and north of the destination, with the
// leg coming from the south.
type ground func(x, y float64) float64

const post = 30.0 // m

// made is a leg over made ground: 2 km north to the origin, on the compass
// alone unless walk says otherwise; ground and leg turned, and mirrored.
type made struct {
	of       ground
	from, to [2]float64
	turned   float64 // degrees, clockwise
	mirrored bool
	noise    float64 // m
	walk     *drift.Walk
	seenFrom float64
}

// half is the half width of the drift at the end of made's leg, and half its
// pacing's there, metres.
var (
	errors2km = drift.DefaultErrors()
	half      = errors2km.OnCompass(2000)
	paced     = 1.959964 * 0.05 * 2000
)

func (m made) request(t testing.TB) waymarks.Request {
	t.Helper()
	crs, err := geodesy.NewCRS("EPSG:32617") // on its central meridian, where north is north
	require.NoError(t, err)
	const side = 241
	g := &dem.Grid{Frame: dem.Frame{Columns: side, Rows: side, X0: 500000 - post*(side/2), Y0: 4040000 + post*(side/2), DX: post, DY: -post, CRS: crs},
		Window: dem.Window{Columns: side, Rows: side}, Elevations: make([]float32, side*side)}
	random := rand.New(rand.NewPCG(uint64(m.turned), uint64(10*m.noise)))
	sin, cos := geodesy.Degrees(m.turned).SinCos()
	flip := 1.0
	if m.mirrored {
		flip = -1
	}
	for i := range g.Elevations {
		x, y := post*float64(i%side-side/2), -post*float64(i/side-side/2)
		g.Elevations[i] = float32(m.of(flip*(x*cos-y*sin), x*sin+y*cos) + m.noise*random.NormFloat64())
	}
	g.Source.VerticalError = max(m.noise, 0.5)
	place := func(p [2]float64) geodesy.LatLon {
		x, y := flip*p[0], p[1]
		x, y = x*cos+y*sin, y*cos-x*sin
		at, err := g.Place((500000+x-g.X0)/post, (4040000+y-g.Y0)/-post)
		require.NoError(t, err)
		return at
	}
	if m.from == m.to {
		m.from = [2]float64{0, -2000}
	}
	from, to := place(m.from), place(m.to)
	walk := m.walk
	if walk == nil {
		walk, err = drift.Along(errors2km, []drift.Stretch{{To: geodesy.Inverse(from, to).Distance, Kind: drift.Compass}})
		require.NoError(t, err)
	}
	o, err := landform.FeatureOptions{Scale: 500, MinRelief: 20}.Resolve(g)
	require.NoError(t, err)
	features, err := landform.Features(context.Background(), g, o)
	require.NoError(t, err)
	return waymarks.Request{From: from, To: to, Grid: g, Features: features, Forms: landform.AlongOptions{Scale: o.Scale, MinRelief: o.MinRelief},
		VerticalError: m.noise, Walk: walk, SeenFrom: m.seenFrom,
		Count: func(d float64) (float64, time.Duration) { return d * 0.65, time.Duration(d) * time.Second }}
}

func (m made) find(t testing.TB) *waymarks.Waymarks {
	t.Helper()
	w, err := waymarks.Find(context.Background(), m.request(t))
	require.NoError(t, err)
	return w
}

// everyWay looks at a made leg as it is, turned, mirrored and with noise.
func everyWay(t *testing.T, m made, check func(t *testing.T, w *waymarks.Waymarks, sign waymarks.Side)) {
	t.Helper()
	for i, turned := range []float64{0, 0, 37, 37, 200, 200} {
		m := m
		m.turned, m.mirrored, m.noise = turned, i%2 == 1, []float64{0, 2, 2, 0, 0, 2}[i]
		t.Run(fmt.Sprintf("turned %g mirrored %t noise %g", turned, m.mirrored, m.noise), func(t *testing.T) {
			t.Parallel()
			sign := waymarks.Right
			if m.mirrored {
				sign = waymarks.Left
			}
			check(t, m.find(t), sign)
		})
	}
}

// twoPosts is how nearly places are found on made ground, metres: lines run
// from post to post, and noise moves them by one.
const twoPosts = 2*post + 10

// TestAStraightSlopeTellsNothing: nothing is made up.
func TestAStraightSlopeTellsNothing(t *testing.T) {
	t.Parallel()
	everyWay(t, made{of: func(_, y float64) float64 { return 500 + 0.2*y }}, func(t *testing.T, w *waymarks.Waymarks, _ waymarks.Side) {
		assert.Equal(t, &waymarks.Waymarks{}, w)
	})
	everyWay(t, made{of: func(x, y float64) float64 { return 500 + 0.2*x - 0.1*y }}, func(t *testing.T, w *waymarks.Waymarks, _ waymarks.Side) {
		assert.Equal(t, &waymarks.Waymarks{}, w)
	})
}

// TestAValleyAcrossTheEndCatches: its floor 600 m beyond the destination, the
// leg running down to it.
func TestAValleyAcrossTheEndCatches(t *testing.T) {
	t.Parallel()
	everyWay(t, made{of: func(x, y float64) float64 { return 500 + 0.25*math.Abs(y-600) + 0.02*x }}, func(t *testing.T, w *waymarks.Waymarks, _ waymarks.Side) {
		require.NotNil(t, w.Catch)
		assert.Equal(t, waymarks.Floor, w.Catch.Shape)
		assert.Equal(t, "valley floor", w.Catch.Name)
		assert.InDelta(t, 600, w.Catch.Beyond, twoPosts)
		assert.InDelta(t, 600, w.Catch.Latest, twoPosts)
		assert.InDelta(t, 500, w.Catch.Elevation, 15)
		assert.True(t, w.Catch.Alone)
		assert.Nil(t, w.AimOff)
		assert.Nil(t, w.Attack)
		assert.Empty(t, w.Handrails)
		assert.Empty(t, w.Ticks)
	})
}

// One that leans is met later at one edge of the drift.
func TestALeaningValleyCatchesLaterAtOneEdge(t *testing.T) {
	t.Parallel()
	tan := math.Tan(30 * math.Pi / 180)
	everyWay(t, made{of: func(x, y float64) float64 { return 500 + 0.3*math.Abs(y-600-tan*x) + 0.02*x }}, func(t *testing.T, w *waymarks.Waymarks, _ waymarks.Side) {
		require.NotNil(t, w.Catch)
		assert.Equal(t, waymarks.Floor, w.Catch.Shape)
		assert.InDelta(t, 600, w.Catch.Beyond, twoPosts)
		assert.InDelta(t, 600+half*tan, w.Catch.Latest, twoPosts)
	})
}

// A valley that ends within the drift stops nobody on the other side of it.
func TestAValleyThatEndsWithinTheDriftDoesNotCatch(t *testing.T) {
	t.Parallel()
	of := func(x, y float64) float64 {
		// west of the line it fills up to a plain slope
		deep := math.Max(0, math.Min(1, (x+60)/60))
		return 500 - 0.1*y - deep*math.Max(0, 80-0.35*math.Abs(y-600))
	}
	everyWay(t, made{of: of}, func(t *testing.T, w *waymarks.Waymarks, _ waymarks.Side) {
		if w.Catch != nil {
			assert.NotEqual(t, waymarks.Floor, w.Catch.Shape)
		}
	})
}

// Two valleys, one 150 m short of the destination: within the pacing the two
// could be taken for each other unless the second lies beyond it.
func TestALikeValleyShortOfTheDestination(t *testing.T) {
	t.Parallel()
	corrugated := func(second float64) ground {
		return func(x, y float64) float64 {
			return 500 + 0.02*x - math.Max(0, 60-0.35*math.Abs(y+150)) - math.Max(0, 60-0.35*math.Abs(y-second))
		}
	}
	w := made{of: corrugated(700)}.find(t)
	require.NotNil(t, w.Catch)
	assert.False(t, w.Catch.Alone && w.Catch.Shape == waymarks.Floor)
	if w.Catch.Shape == waymarks.Floor {
		assert.InDelta(t, 700, w.Catch.Beyond, twoPosts)
		assert.Greater(t, w.Catch.Beyond, paced)
	}
	// nearer than the pacing's error nothing tells them apart
	near := made{of: corrugated(170)}.find(t)
	if near.Catch != nil {
		assert.NotEqual(t, waymarks.Floor, near.Catch.Shape)
	}
}

// Beyond a destination on level ground the ground falls away: that tells,
// however near, for it has not fallen before.
func TestGroundThatFallsAwayCatches(t *testing.T) {
	t.Parallel()
	everyWay(t, made{of: func(_, y float64) float64 { return 500 - 0.3*math.Max(0, y-100) }}, func(t *testing.T, w *waymarks.Waymarks, _ waymarks.Side) {
		require.NotNil(t, w.Catch)
		assert.Equal(t, waymarks.Falls, w.Catch.Shape)
		assert.Equal(t, 20.0, w.Catch.Change)
		assert.InDelta(t, 100+20/0.3, w.Catch.Beyond, twoPosts)
		assert.True(t, w.Catch.Alone)
	})
}

// TestADestinationOnAValleyFloor: aim off to the upper side, turn downhill; and
// the far side rising tells that one is past it.
func TestADestinationOnAValleyFloor(t *testing.T) {
	t.Parallel()
	valley := func(x, y float64) float64 { return 500 + 0.3*math.Abs(y) + 0.06*x }
	everyWay(t, made{of: valley}, func(t *testing.T, w *waymarks.Waymarks, sign waymarks.Side) {
		require.NotNil(t, w.AimOff)
		a := *w.AimOff
		assert.Equal(t, waymarks.Floor, a.On)
		assert.Equal(t, sign*waymarks.Right, a.Side, "the valley comes from the right")
		assert.Equal(t, sign*waymarks.Left, a.Turn)
		assert.InDelta(t, half, a.Aside, 0.5)
		assert.InDelta(t, 2*half, a.Within, 1)
		assert.InDelta(t, float64(errors2km.AimOff()), float64(a.Angle), 0.01)
		assert.Zero(t, a.Since)
		assert.InDelta(t, -0.06*2*half, a.Climb, 12)
		require.NotNil(t, w.Catch)
		assert.Equal(t, waymarks.Rises, w.Catch.Shape)
	})
	// seen from farther than one may be off, nobody needs it
	assert.Nil(t, made{of: valley, seenFrom: half + 1}.find(t).AimOff)
	assert.NotNil(t, made{of: valley, seenFrom: half - 1}.find(t).AimOff)
	// 200 m short of the floor is not on it
	assert.Nil(t, made{of: func(x, y float64) float64 { return valley(x, y-200) }}.find(t).AimOff)
	// a valley that runs on along the leg is no line to aim off to
	assert.Nil(t, made{of: func(x, y float64) float64 { return 500 + 0.3*math.Abs(x) - 0.06*y }}.find(t).AimOff)
}

// A floor that goes on to the left alone is aimed at on the left, uphill or not.
func TestAimOffToWhereTheLineGoes(t *testing.T) {
	t.Parallel()
	of := func(x, y float64) float64 {
		deep := math.Max(0, math.Min(1, (200-x)/80)) // fills up from 120 to 200 m to the right
		return 500 + 0.05*x - deep*math.Max(0, 120-0.35*math.Abs(y))
	}
	everyWay(t, made{of: of}, func(t *testing.T, w *waymarks.Waymarks, sign waymarks.Side) {
		require.NotNil(t, w.AimOff)
		assert.Equal(t, sign*waymarks.Left, w.AimOff.Side)
		assert.Equal(t, sign*waymarks.Right, w.AimOff.Turn)
	})
}

// The foot of a slope is a line to aim off to as well: down a face to where
// the plain begins.
func TestADestinationAtTheFootOfASlope(t *testing.T) {
	t.Parallel()
	everyWay(t, made{of: func(_, y float64) float64 { return 500 + 0.33*math.Max(0, -y) }}, func(t *testing.T, w *waymarks.Waymarks, _ waymarks.Side) {
		require.NotNil(t, w.AimOff)
		assert.Equal(t, waymarks.Eases, w.AimOff.On)
		assert.Equal(t, "foot of the slope", w.AimOff.Name)
	})
}

// TestARidgeBeside: 90 m to the right all along, and nothing else.
func TestARidgeBeside(t *testing.T) {
	t.Parallel()
	everyWay(t, made{of: func(x, y float64) float64 { return 800 - 0.3*math.Abs(x-90) + 0.03*y }}, func(t *testing.T, w *waymarks.Waymarks, sign waymarks.Side) {
		require.Len(t, w.Handrails, 1)
		h := w.Handrails[0]
		assert.Contains(t, []landform.Kind{landform.Ridge, landform.Spur}, h.Kind)
		assert.Equal(t, sign*waymarks.Right, h.Side)
		assert.InDelta(t, 90, h.Nearest, twoPosts)
		assert.InDelta(t, 90, h.Farthest, twoPosts)
		assert.InDelta(t, 0, h.From, twoPosts)
		assert.InDelta(t, 2000, h.To, twoPosts)
		assert.Nil(t, w.AimOff)
		assert.Nil(t, w.Catch)
		assert.Empty(t, w.Ticks)
	})
	// 250 m off it is none
	assert.Empty(t, made{of: func(x, y float64) float64 { return 800 - 0.3*math.Abs(x-250) + 0.03*y }}.find(t).Handrails)
	// and one that crosses square is none
	assert.Empty(t, made{of: func(x, y float64) float64 { return 800 - 0.3*math.Abs(y+900) + 0.03*x }}.find(t).Handrails)
	// under the feet it is neither left nor right
	on := made{of: func(x, y float64) float64 { return 800 - 0.3*math.Abs(x) + 0.03*y }}.find(t).Handrails
	require.Len(t, on, 1)
	assert.Equal(t, waymarks.Ahead, on[0].Side)
}

// TestASaddleBeforeTheDestination: between two hills, 300 m short of it and 60
// m to the left of the line.
func TestASaddleBeforeTheDestination(t *testing.T) {
	t.Parallel()
	hill := func(x, y float64) float64 { return 300 * math.Exp(-(x*x+y*y)/(2*350*350)) }
	of := func(x, y float64) float64 { return 500 + hill(x+660, y+300) + hill(x-540, y+300) }
	everyWay(t, made{of: of}, func(t *testing.T, w *waymarks.Waymarks, sign waymarks.Side) {
		require.NotNil(t, w.Attack)
		a := *w.Attack
		assert.Equal(t, landform.Saddle, a.Kind)
		assert.InDelta(t, 1700, a.Along, twoPosts)
		assert.InDelta(t, float64(sign)*-60, a.Aside, twoPosts)
		assert.InDelta(t, math.Hypot(300, 60), a.Distance, twoPosts)
		require.NotEmpty(t, w.Ticks)
		found := false
		for _, tick := range w.Ticks {
			found = found || math.Abs(tick.Distance-1700) < twoPosts && tick.Shape == waymarks.Crest
			assert.InDelta(t, tick.Distance*0.65, tick.Paces, 1e-9)
			assert.Equal(t, time.Duration(tick.Distance)*time.Second, tick.Time)
		}
		assert.True(t, found, "%+v", w.Ticks)
	})
	straight := made{of: of}.find(t)
	assert.InDelta(t, float64(geodesy.NewTrueBearing(geodesy.Atan2(60, 300))), float64(straight.Attack.Bearing), 12)
	// the same bearing and distance lead from the place to the destination
	r := made{of: of}.request(t)
	there, _ := geodesy.Direct(straight.Attack.Place, straight.Attack.Bearing, straight.Attack.Distance)
	assert.InDelta(t, 0, geodesy.Inverse(there, r.To).Distance, 0.01)
	// a destination 1.3 km past it has none
	assert.Nil(t, made{of: of, from: [2]float64{0, -1000}, to: [2]float64{0, 1000}}.find(t).Attack)
}

// Two saddles side by side, nearer to each other than one may be off, are none;
// one alone is.
func TestSaddlesThatCouldBeTakenForEachOther(t *testing.T) {
	t.Parallel()
	hills := func(at ...float64) ground {
		return func(x, y float64) float64 {
			h := 500.0
			for _, c := range at {
				h += 200 * math.Exp(-((x-c)*(x-c)+(y+400)*(y+400))/(2*100*100))
			}
			return h
		}
	}
	leg := func(of ground) *waymarks.Waymarks {
		return made{of: of, from: [2]float64{100, -3500}, to: [2]float64{100, 0}}.find(t)
	}
	one := leg(hills(0, 280))
	require.NotNil(t, one.Attack)
	assert.Equal(t, landform.Saddle, one.Attack.Kind)
	assert.InDelta(t, 40, one.Attack.Aside, twoPosts)
	if two := leg(hills(-280, 0, 280)); two.Attack != nil {
		assert.NotEqual(t, landform.Saddle, two.Attack.Kind)
	}
}

// A swell so broad that it is no ridge is no line to aim off to, though the leg
// tops out on it.
func TestABroadSwellIsNoLine(t *testing.T) {
	t.Parallel()
	everyWay(t, made{of: func(x, y float64) float64 { return 500 - 1e-4*y*y + 0.01*x }}, func(t *testing.T, w *waymarks.Waymarks, _ waymarks.Side) {
		assert.Nil(t, w.AimOff)
	})
}

// A line that is crossed says how far one has come, and no more: it is an
// attack point for someone who has kept to the line by a mark.
func TestALineToAttackFrom(t *testing.T) {
	t.Parallel()
	valley := func(x, y float64) float64 { return 500 + 0.3*math.Abs(y+300) + 0.03*x }
	walk, err := drift.Along(errors2km, []drift.Stretch{{To: 1950, Kind: drift.Sighted, MarkError: 10}, {From: 1950, To: 2000, Kind: drift.Compass}})
	require.NoError(t, err)
	everyWay(t, made{of: valley, walk: walk, seenFrom: 60}, func(t *testing.T, w *waymarks.Waymarks, _ waymarks.Side) {
		require.NotNil(t, w.Attack)
		assert.Equal(t, "valley floor", w.Attack.Name)
		assert.Equal(t, -1, w.Attack.Feature)
		assert.InDelta(t, 300, w.Attack.Distance, twoPosts)
	})
	assert.Nil(t, made{of: valley, seenFrom: 60}.find(t).Attack, "on the compass alone one may meet it anywhere")
}

// TestWhereTwoValleysMeet: a side valley from the right runs into the main one
// 400 m before the destination.
func TestWhereTwoValleysMeet(t *testing.T) {
	t.Parallel()
	of := func(x, y float64) float64 {
		trunk := 500 - 0.03*y + 0.35*math.Abs(x-50)
		if x < 50 {
			return trunk
		}
		side := 500 + 0.03*400 + 0.07*(x-50) + 0.35*math.Abs(y+400)
		return math.Min(trunk, side)
	}
	everyWay(t, made{of: of}, func(t *testing.T, w *waymarks.Waymarks, sign waymarks.Side) {
		require.NotNil(t, w.Attack)
		assert.Equal(t, "where two valleys meet", w.Attack.Name)
		const wide = 2 * twoPosts // the two floors run together before they meet
		assert.InDelta(t, 1600, w.Attack.Along, wide)
		assert.InDelta(t, float64(sign)*50, w.Attack.Aside, wide)
		require.NotEmpty(t, w.Handrails)
		assert.Equal(t, landform.Valley, w.Handrails[0].Kind)
	})
}

// TestTicksOfAWalkOverRidgeAndValley: up from the plain to a ridge, down to a
// valley, up again: foot, crest and floor, each met throughout the drift.
func TestTicksOfAWalkOverRidgeAndValley(t *testing.T) {
	t.Parallel()
	of := func(x, y float64) float64 {
		switch d := y + 2000; {
		case d < 500:
			return 500 + 0.01*x
		case d < 1000:
			return 500 + 0.4*(d-500) + 0.01*x
		default:
			return 700 - 0.4*(d-1000) + 0.8*math.Max(0, d-1500) + 0.01*x
		}
	}
	everyWay(t, made{of: of}, func(t *testing.T, w *waymarks.Waymarks, _ waymarks.Side) {
		require.Len(t, w.Ticks, 3)
		for i, want := range []struct {
			shape waymarks.Shape
			at    float64
		}{{waymarks.Steepens, 500}, {waymarks.Crest, 1000}, {waymarks.Floor, 1500}} {
			assert.Equal(t, want.shape, w.Ticks[i].Shape)
			assert.InDelta(t, want.at, w.Ticks[i].Distance, twoPosts)
			assert.True(t, w.Ticks[i].Throughout)
		}
		assert.Equal(t, "foot of the climb", w.Ticks[0].Name)
	})
}

// There are at most eight, in order, and those left out are the least.
func TestAtMostEightTicks(t *testing.T) {
	t.Parallel()
	w := made{of: func(x, y float64) float64 { return 500 + 60*math.Cos(2*math.Pi*(y+2800)/620) + 0.01*x },
		from: [2]float64{0, -2900}, to: [2]float64{0, 2900}}.find(t)
	assert.Len(t, w.Ticks, 8)
	for i := 1; i < len(w.Ticks); i++ {
		assert.Greater(t, w.Ticks[i].Distance, w.Ticks[i-1].Distance)
	}
}

// Relief under three standard deviations of the data is nothing to go by.
func TestWhatTheDataDoesNotCarryIsNotOffered(t *testing.T) {
	t.Parallel()
	r := made{of: func(x, y float64) float64 { return 500 + 0.25*math.Abs(y-600) + 0.02*x }}.request(t)
	// 50 m deep within half a scale
	r.VerticalError = 30
	w, err := waymarks.Find(context.Background(), r)
	require.NoError(t, err)
	if w.Catch != nil {
		assert.NotEqual(t, "valley floor", w.Catch.Name)
	}
	assert.Nil(t, w.AimOff)
}

// A lane that leaves the data or meets a void tells nothing.
func TestUnknownGroundTellsNothing(t *testing.T) {
	t.Parallel()
	r := made{of: func(x, y float64) float64 { return 500 + 0.25*math.Abs(y-600) + 0.02*x }}.request(t)
	for i := range r.Grid.Elevations {
		column, row := i%r.Grid.Columns, i/r.Grid.Columns
		if column >= 122 && column <= 124 && row == 120-10 { // 90 m right, 300 m beyond
			r.Grid.Elevations[i] = float32(math.NaN())
		}
	}
	w, err := waymarks.Find(context.Background(), r)
	require.NoError(t, err)
	assert.Nil(t, w.Catch)
}

func TestRequestsThatMakeNoSense(t *testing.T) {
	t.Parallel()
	plain := made{of: func(_, y float64) float64 { return 500 + 0.2*y }}
	for says, spoil := range map[string]func(*waymarks.Request){
		"same place":  func(r *waymarks.Request) { r.To = r.From },
		"no walk":     func(r *waymarks.Request) { r.Walk = nil },
		"the walk is": func(r *waymarks.Request) { r.To, _ = geodesy.Direct(r.To, 0, 50) },
		"a scale of":  func(r *waymarks.Request) { r.Forms.Scale = 0 },
		"a vertical":  func(r *waymarks.Request) { r.VerticalError = math.NaN() },
	} {
		r := plain.request(t)
		spoil(&r)
		_, err := waymarks.Find(context.Background(), r)
		assert.ErrorContains(t, err, says)
	}
	r := plain.request(t)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := waymarks.Find(ctx, r)
	assert.ErrorIs(t, err, context.Canceled)
}

// A side with a cliff or with ground over 30 degrees between the leg and the far
// edge of the drift is not aimed at, and where both have it neither is. Which side
// was the safer used not to be looked at: the valley comes from the right, and all
// of these said to aim there.
func TestNobodyIsAimedAtSteepGround(t *testing.T) {
	t.Parallel()
	valley := func(x, y float64) float64 { return 500 + 0.3*math.Abs(y) + 0.06*x }
	bank := func(at, rise, width float64) ground { // across the way, from a distance to the right on
		return func(x, y float64) float64 {
			if y > -200 || y < -900 {
				return valley(x, y)
			}
			return valley(x, y) + rise*math.Max(0, math.Min(1, (x-at)/width))*math.Min(1, (-200-y)/100)*math.Min(1, (y+900)/100)
		}
	}
	for name, of := range map[string]ground{
		"a steep bank": bank(100, 100, 120),
		"a cliff":      bank(90, 90, 31),
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			everyWay(t, made{of: of}, func(t *testing.T, w *waymarks.Waymarks, sign waymarks.Side) {
				require.NotNil(t, w.AimOff)
				assert.Equal(t, sign*waymarks.Left, w.AimOff.Side)
			})
			both := func(x, y float64) float64 { return of(math.Abs(x), y) + valley(x, y) - valley(math.Abs(x), y) }
			assert.Nil(t, made{of: both}.find(t).AimOff)
			// beyond the far edge of the drift it is no matter
			assert.Equal(t, waymarks.Right, made{of: func(x, y float64) float64 { return of(x-2*half-200, y) + valley(x, y) - valley(x-2*half-200, y) }}.find(t).AimOff.Side)
		})
	}
}

// A lake on the leg is not ticked off as the bottom of a depression, nor attacked
// from; a dry hollow is.
func TestALakeIsNoHollow(t *testing.T) {
	t.Parallel()
	hollow := func(level float64) ground {
		return func(x, y float64) float64 {
			return math.Max(level, 560-60*math.Max(0, 1-math.Hypot(x, y+700)/500)) + 0.001*(x+y)*boolean(level == 0)
		}
	}
	named := func(w *waymarks.Waymarks) (names []string) {
		for _, k := range w.Ticks {
			names = append(names, k.Name)
		}
		if w.Attack != nil {
			names = append(names, w.Attack.Name)
		}
		return names
	}
	assert.Contains(t, named(made{of: hollow(0)}.find(t)), "bottom of a depression")
	lake := named(made{of: hollow(530)}.find(t))
	assert.NotContains(t, lake, "bottom of a depression")
	for _, name := range lake {
		assert.NotContains(t, name, "water")
		assert.NotContains(t, name, "low point")
	}
}

func boolean(b bool) float64 {
	if b {
		return 1
	}
	return 0
}
