package geodesy

import (
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestMGRSPublished(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		source string
		p      LatLon
		want   string
		digits int
	}{
		// NGA's MGRS libraries, their own tests.
		{"NGA", LatLon{63.98863, 29.06757}, "35VPL0115697387", 10},
		{"NGA", LatLon{12.40, 53.51}, "39PYP7290672069", 10},
		{"NGA", LatLon{21.309444, -157.916861}, "4QFJ1234056781", 10},
		{"NGA", LatLon{72, 9}, "33XTV9336399233", 10},
		// GeographicLib's GeoConvert(1).
		{"GeographicLib", LatLon{33.3, 44.4}, "38SMB4484", 4},
		{"GeographicLib", LatLon{33.3, 44.4}, "38SMB", 0},
	} {
		got, err := MGRS(c.p, c.digits)
		require.NoError(t, err)
		assert.Equal(t, c.want, got, "%s: %v", c.source, c.p)
	}
	for _, c := range []struct {
		u      UTM
		digits int
		want   string
	}{
		// NGA: digits are cut off, never rounded.
		{UTM{33, true, 474596.26, 8643594.54}, 10, "33XVG7459643594"},
		{UTM{33, true, 474590, 8643590}, 8, "33XVG74594359"},
		// GeographicLib's GeoConvert(1): to the millimetre.
		{UTM{38, true, 444140.6, 3684706.3}, 16, "38SMB4414060084706300"},
		// A micrometre and less under a line of the grid is rounding.
		{UTM{33, true, 474595.9999999, 8643594}, 10, "33XVG7459643594"},
		{UTM{33, true, 474595.999, 8643594}, 10, "33XVG7459543594"},
	} {
		got, err := c.u.MGRS(c.digits)
		require.NoError(t, err)
		assert.Equal(t, c.want, got)
	}
	square, err := ParseMGRS("33XVG74594359")
	require.NoError(t, err)
	assert.Equal(t, MGRSSquare{UTM{33, true, 474590, 8643590}, 10}, square)
	square, err = ParseMGRS("38SMB4488")
	require.NoError(t, err)
	centre, err := square.Centre()
	require.NoError(t, err)
	assert.InDelta(t, 33.33424, float64(centre.Lat), 5e-6)
	assert.InDelta(t, 44.40363, float64(centre.Lon), 5e-6)
}

func TestMGRSNorwayAndSvalbard(t *testing.T) {
	t.Parallel()
	// Squares NGA's tests name: in the widened zones.
	for _, text := range []string{"32VJH", "32VKS", "33XTV"} {
		square, err := ParseMGRS(text)
		require.NoError(t, err, text)
		assert.Equal(t, squareSide, square.Side)
	}
	for _, c := range []struct{ text, says string }{
		{"31VFH", "not a 100 km square"}, // east of 3°E, where zone 32 begins
		{"32XMF", "31, 33, 35 and 37"},
		{"36XVG", "31, 33, 35 and 37"},
	} {
		_, err := ParseMGRS(c.text)
		require.Error(t, err, c.text)
		assert.Contains(t, err.Error(), c.says)
	}
}

func TestMGRSSquareOfEveryPlaceIsAccepted(t *testing.T) {
	t.Parallel()
	const seed = 13
	random := rand.New(rand.NewPCG(seed, seed))
	for range 5000 {
		p := LatLon{Degrees(random.Float64()*164 - 80), Degrees(random.Float64()*360 - 180)}
		digits := 2 * random.IntN(9)
		text, err := MGRS(p, digits)
		require.NoError(t, err, "seed %d: %v", seed, p)
		square, err := ParseMGRS(text)
		require.NoError(t, err, "seed %d: %v", seed, p)
		u, err := ToUTM(p)
		require.NoError(t, err)
		// The place is inside its square.
		const nudge = 2e-6 // metres; twice the tolerance of cutting
		assert.True(t, u.Easting >= square.Corner.Easting-nudge && u.Easting < square.Corner.Easting+square.Side+nudge, "%s %v", text, u)
		assert.True(t, u.Northing >= square.Corner.Northing-nudge && u.Northing < square.Corner.Northing+square.Side+nudge, "%s %v", text, u)
		// Shorter references begin as longer ones do.
		if digits == 10 {
			short, err := MGRS(p, 8)
			require.NoError(t, err)
			start := len(text) - 10 // of the digits
			assert.Equal(t, text[:start+4]+text[start+5:start+9], short)
		}
		// With spaces and in small letters it is the same.
		half := digits / 2
		start := len(text) - digits
		spaced := strings.ToLower(strings.TrimSpace(text[:start-2] + " " + text[start-2:start] + " " + text[start:start+half] + " " + text[start+half:]))
		again, err := ParseMGRS(spaced)
		require.NoError(t, err, spaced)
		assert.Equal(t, square, again)
	}
}

func TestMGRSOfCornerAndCentre(t *testing.T) {
	t.Parallel()
	// A corner projected to the Earth and back lands on its own square,
	// though the projection returns it a nanometre to either side.
	const seed = 17
	random := rand.New(rand.NewPCG(seed, seed))
	for range 3000 {
		p := LatLon{Degrees(random.Float64()*150 - 75), Degrees(CentralMeridian(1+random.IntN(60))) + Degrees(random.Float64()*4-2)}
		if UTMZone(p) != UTMZone(LatLon{0, p.Lon}) { // Norway and Svalbard are tested above
			continue
		}
		text, err := MGRS(p, 10)
		require.NoError(t, err)
		square, err := ParseMGRS(text)
		require.NoError(t, err)
		corner, err := square.Corner.LatLon()
		require.NoError(t, err)
		centre, err := square.Centre()
		require.NoError(t, err)
		if latitudeBand(corner.Lat) != latitudeBand(centre.Lat) {
			continue // cut by a band's edge
		}
		for _, q := range []LatLon{corner, centre} {
			again, err := MGRS(q, 10)
			require.NoError(t, err)
			assert.Equal(t, text, again, "seed %d: %v", seed, q)
		}
		u, err := ToUTM(corner)
		require.NoError(t, err)
		again, err := u.MGRS(10)
		require.NoError(t, err)
		assert.Equal(t, text, again)
	}
}

func TestMGRSEdges(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		p    LatLon
		want string
	}{
		{LatLon{0, 3}, "31NEA0000000000"},
		{LatLon{-1e-12, 3}, "31MEV0000099999"}, // closer to the equator than the grid can say
		{LatLon{84, 3}, "31XEP0000028093"},
	} {
		got, err := MGRS(c.p, 10)
		require.NoError(t, err)
		assert.Equal(t, c.want, got[:len(c.want)])
		_, err = ParseMGRS(got)
		require.NoError(t, err, got)
	}
	for _, digits := range []int{-2, 1, 3, 18} {
		_, err := MGRS(LatLon{}, digits)
		require.Error(t, err)
		assert.Contains(t, err.Error(), "even number of digits")
	}
	_, err := MGRS(LatLon{85, 0}, 10)
	require.Error(t, err)
	_, err = UTM{31, true, 99000, 100}.MGRS(10)
	require.Error(t, err)
	assert.Contains(t, err.Error(), "no MGRS square")
	_, err = UTM{31, false, 500000, 10000100}.MGRS(10)
	require.Error(t, err)
	_, err = ParseMGRS("36.5,-84.2")
	require.Error(t, err)
	assert.Contains(t, err.Error(), "not an MGRS grid reference")
}

func TestMGRSAgreesWithGeoConvert(t *testing.T) {
	t.Parallel()
	places, input := placesOnUTM(500, 23)
	for i, want := range ask(t, input, "GeoConvert", "-m", "-p", "0") {
		got, err := MGRS(places[i], 10)
		require.NoError(t, err)
		assert.Equal(t, strings.TrimPrefix(want, "0"), got, "%v", places[i])
	}
}

func FuzzParseMGRS(f *testing.F) {
	for _, seed := range []string{"33XVG74594359", "38SMB", "4QFJ1234056781", "16S GF 35000 40000", "32VKS", "60MZE99999999"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		square, err := ParseMGRS(text)
		if err != nil {
			return
		}
		// A whole number of sides from the grid's lines, inside its 100 km
		// square, and the same when written again.
		if square.Side <= 0 || square.Side > squareSide || square.Corner.Easting < squareSide || square.Corner.Easting >= 9*squareSide {
			t.Fatalf("%q is %v", text, square)
		}
		digits := 0
		for side := square.Side; side < squareSide*0.9; side *= 10 {
			digits += 2
		}
		inside := square.Corner
		inside.Easting += square.Side / 2
		inside.Northing += square.Side / 2
		if p, err := inside.LatLon(); err != nil || (p.Lat >= 0) != inside.North {
			return // the square straddles the grid's edge
		}
		again, err := inside.MGRS(digits)
		if err != nil {
			t.Fatalf("%q: %v", text, err)
		}
		clean, err := tidy(text)
		if err != nil {
			t.Fatal(err)
		}
		if band := mgrsPattern.FindStringSubmatch(strings.ToUpper(clean))[2]; !strings.Contains(again[:3], band) {
			return // the square lies across a band's edge, its centre in the other band
		}
		same, err := ParseMGRS(again)
		if err != nil || same != square {
			t.Fatalf("%q is %v, written %q is %v: %v", text, square, again, same, err)
		}
	})
}
