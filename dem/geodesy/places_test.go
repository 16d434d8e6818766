package geodesy

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestParsePlaceForms(t *testing.T) {
	t.Parallel()
	const (
		degreeTolerance = 1e-12 // degrees; sexagesimal parts are added in floating point
		lat             = 36 + 27.0/60 + 10.0/3600
		lon             = -(84 + 13.0/60 + 5.0/3600)
	)
	for _, text := range []string{
		`36°27'10"N 84°13'5"W`,
		`36°27'10"N, 84°13'5"W`,
		`36°27'10"N84°13'5"W`,
		`36° 27' 10" N  84° 13' 5" W`,
		"36°27′10″N 84°13′5″W",
		"36º27’10”N\u00a084º13’5”W",
		`36°27'10''N 84°13'5''W`,
		"36d27m10sN,84d13m5sW",
		"36d27m10sN 84d13m5sW",
		"36D27M10SN 84D13M5SW",
		"36d27m10N 84d13m5W",
		"36d27m10s,-84d13m5s",
		"36d27m10s -84d13m5s",
		"N36 27 10 W84 13 5",
		"n36 27 10 w84 13 5",
		"N 36 27 10, W 84 13 5",
		"36 27 10 N 84 13 5 W",
		"36 27 10.0N 84 13 5.00W",
		`N36°27'10" W84°13'5"`,
		`36°27'10",-84°13'5"`,
		`36°27'10" −84°13'5"`,
		`36°27'10";-84°13'5"`,
		"\t36°27'10\"N 84°13'5\"W\n",
	} {
		p, err := ParsePlace(text)
		require.NoError(t, err, text)
		assert.InDelta(t, lat, float64(p.Lat), degreeTolerance, text)
		assert.InDelta(t, lon, float64(p.Lon), degreeTolerance, text)
	}
	for _, c := range []struct {
		text     string
		lat, lon float64
	}{
		{"36.45278,-84.21806", 36.45278, -84.21806},
		{"36.45278, -84.21806", 36.45278, -84.21806},
		{" 36.45278 ,-84.21806 ", 36.45278, -84.21806},
		{"36.45278 -84.21806", 36.45278, -84.21806},
		{"36.45278-84.21806", 36.45278, -84.21806},
		{"+36.5,+275.75", 36.5, -84.25},
		{"36.5N 84.25W", 36.5, -84.25},
		{"36.5°N 84.25°W", 36.5, -84.25},
		{"36.5° -84.25°", 36.5, -84.25},
		{"N36.5 W84.25", 36.5, -84.25},
		{"-41.25,174.75", -41.25, 174.75},
		{"41.25S,174.75E", -41.25, 174.75},
		{"41d15mS 174d45mE", -41.25, 174.75},
		{"41 15 S 174 45 E", -41.25, 174.75},
		{"36°27.5'N 84°13.5'W", 36 + 27.5/60, -84.225},
		{"36 27.5N 84 13.5W", 36 + 27.5/60, -84.225},
		{"0,0", 0, 0}, {"-0,-0", 0, 0}, {".5,-.5", .5, -.5}, {"5.,6.", 5, 6},
		{"90,180", 90, -180}, {"-90,-180", -90, -180}, {"90N 180E", 90, -180}, {"0,359.5", 0, -0.5},
		{"89°59'59.9\"S 179°59'59.9\"W", -(89 + 59.0/60 + 59.9/3600), -(179 + 59.0/60 + 59.9/3600)},
	} {
		p, err := ParsePlace(c.text)
		require.NoError(t, err, c.text)
		assert.InDelta(t, c.lat, float64(p.Lat), degreeTolerance, c.text)
		assert.InDelta(t, c.lon, float64(p.Lon), degreeTolerance, c.text)
	}
}

func TestParsePlaceGrids(t *testing.T) {
	t.Parallel()
	const metre = 1.0
	want, err := UTM{16, true, 735000, 4040000}.LatLon()
	require.NoError(t, err)
	for _, text := range []string{
		"16S 735000 4040000", "16s 735000 4040000", "16 S 735000 4040000", "16S 735000,4040000", "16S 735000, 4040000",
		"16S 735000mE 4040000mN", "16S 735000 m E 4040000 m N", "16S 735000E 4040000N",
		"16north 735000 4040000", "16 North 735000.0 4040000.00", "16SGF3500040000", "16S GF 35000 40000", "16S GF 3500040000", "16 s g f 35000 40000",
	} {
		p, err := ParsePlace(text)
		require.NoError(t, err, text)
		assert.Less(t, Inverse(want, p).Distance, metre, text)
	}
	south, err := ParsePlace("16south 735000 4040000")
	require.NoError(t, err)
	assert.Negative(t, float64(south.Lat))
	assert.Greater(t, Inverse(want, south).Distance, 1e6)

	// The centre of the square, half a side in: GeographicLib's GeoConvert(1).
	p, err := ParsePlace("38SMB4488")
	require.NoError(t, err)
	assert.InDelta(t, 33.33424, float64(p.Lat), 5e-6)
	assert.InDelta(t, 44.40363, float64(p.Lon), 5e-6)
}

func TestParsePlaceRefuses(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ text, part, says string }{
		{"", "", "empty"},
		{"   ", "   ", "empty"},
		{"36", "36", "one half"},
		{"36,", "36,", "one half"},
		{",-84", ",-84", "one half"},
		{"N36", "N36", "one half"},
		{"hello", "hello", "not understood"},
		{"NaN,0", "NaN", "not understood"},
		{"0,Inf", "Inf", "not understood"},
		{"1e1,2", "1", "left over"},
		{"0x10,0", "x", "not understood"},
		{"36.45278,-84.21806 foo", "foo", "not understood"},
		{"36.45278,-84.21806 12", "84.21806", "decimal point"},
		{"36.45278,-84.21806,12", "36.45278,-84.21806,12", "one comma"},
		{"36,45278 84,21806", "36,45278 84,21806", "more than one comma"},
		{"36..5,84", "36..5", "decimal point"},
		{"--36,84", "--36", "no number"},
		{"36°27'10\"N 84°13'5\"W!", "!", "not understood"},
		{"36°60'N 84°13'W", "60", "less than 60"},
		{"36°27'72\"N 84°13'5\"W", "72", "less than 60"},
		{"36 27 60 N 84 13 5 W", "60", "less than 60"},
		{"36.5°27'N 84°13'W", "36.5", "only the last part"},
		{"36°27.5'10\"N 84°13'5\"W", "27.5", "only the last part"},
		{"36'27°N 84°13'W", "36'", "degrees should be"},
		{"-36°27'N 84°13'W", "-36°27'N", "sign and a letter"},
		{"N36 27N W84", "W", "many"},
		{"N36N,W84", "N", "second hemisphere letter"},
		{"36N 84N", "84N", "second latitude"},
		{"36E 84W", "84W", "second longitude"},
		{"84°13'5\"W 36°27'10\"N", "84°13'5\"W", "write the latitude first"},
		{"36.5N,-84.2", "-84.2", "both letters"},
		{"36.5,84.2W", "36.5", "both letters"},
		{"-118.2923,36.5785", "-118.2923", "write it second: 36.5785,-118.2923"},
		{"91,0", "91", "write it second"},
		{"95,100", "95", "-90 to 90"},
		{"0,360", "360", "-180 to 180"},
		{"0,-180.5", "-180.5", "-180 to 180"},
		{"0N 181E", "181E", "0 to 180"},
		{"36 27 10 84 13 5", "36 27 10 84 13 5", "hemisphere letters"},
		{"36 27 10,84 13 5", "36 27 10,84 13 5", "letters"},
		{"٣٦,٨٤", "٣", "character"},
		{"３６,８４", "３", "character"},
		{"36,84\x00", "\x00", "character"},
		{"36,\xff84", "36,\xff84", "UTF-8"},
		{strings.Repeat("9", 150) + ",0", strings.Repeat("9", 150), "-90 to 90"},
		{strings.Repeat("9", 100000), strings.Repeat("9", 100000), "too many"},

		{"0S 500000 4040000", "0", "1 to 60"},
		{"61S 500000 4040000", "61", "1 to 60"},
		{"99999999999999999999S 500000 4040000", "99999999999999999999", "1 to 60"},
		{"16I 735000 4040000", "I", "latitude band"},
		{"16O 735000 4040000", "O", "latitude band"},
		{"16A 735000 4040000", "A", "polar grid"},
		{"16Z 735000 4040000", "Z", "polar grid"},
		{"16N 735000 4040000", "4040000", "write 16S if it is north of the equator, 16F if south"},
		{"16S 735000 6000000", "6000000", "write 16U if it is north of the equator, 16H if south"},
		{"16S 4040000 735000", "4040000", "easting"},
		{"16S 73500 4040000", "73500", "easting"},
		{"16S 735000 -4040000", "-4040000", "northing"},
		{"16north 735000 9900000", "9900000", "beyond"},
		{"16south 735000 100000", "100000", "beyond"},
		{"16south 735000 10000001", "10000001", "northing"},

		{"16SIF3500040000", "IF", "I or O"},
		{"16SGO3500040000", "GO", "I or O"},
		{"16IGF3500040000", "I", "latitude band"},
		{"0SGF3500040000", "0", "1 to 60"},
		{"61SGF3500040000", "61", "1 to 60"},
		{"16SJF3500040000", "JF", "its first letter there"},
		{"16SGW3500040000", "GW", "from A to V"},
		{"16SGP3500040000", "GP", "not a 100 km square"},
		{"16SGF350004000", "350004000", "odd number"},
		{"16SGF 3500 40000", "3500 40000", "as many of each"},
		{"16SGF" + strings.Repeat("1", 18), strings.Repeat("1", 18), "more than 16"},
		{"34XAA1234512345", "34X", "31, 33, 35 and 37"},
		{"ZAB1234512345", "ZAB1234512345", "polar grid"},
		{"zab 1234 1234", "zab 1234 1234", "polar grid"},
		{"Bay", "Bay", "not understood"}, // words, though their letters are a polar square's
		{"yak", "yak", "not understood"},
		{"Abe 12", "Abe", "not understood"},
		{"Bay 1 2", "Bay", "not understood"},
		{"16AGF1234512345", "A", "polar grid"},
	} {
		p, err := ParsePlace(c.text)
		require.Error(t, err, "%q gave %v", c.text, p)
		var place *PlaceError
		require.True(t, errors.As(err, &place), "%v", err)
		assert.Equal(t, c.text, place.Text)
		assert.Equal(t, c.part, place.Part, "%v", err)
		assert.Contains(t, err.Error(), c.says)
		assert.Less(t, len(err.Error()), 600, "one line")
		assert.NotContains(t, err.Error(), "\n")
		assert.Equal(t, LatLon{}, p)
	}
}

// sameAfter formats a place, reads it back, and tells how far off it is.
func sameAfter(t *testing.T, p LatLon, text string) float64 {
	t.Helper()
	q, err := ParsePlace(text)
	require.NoError(t, err, "%v written as %s", p, text)
	return Inverse(p, q).Distance
}

const (
	stringTolerance = 0.9 // metres; half of 1e-5 degree each way is 0.79 m
	dmsTolerance    = 2.2 // metres; half of 0.1 arc-second each way is 2.19 m
	utmTolerance    = 0.8 // metres; half a metre each way, and the scale
)

func checkRoundTrips(t *testing.T, p LatLon) {
	t.Helper()
	assert.LessOrEqual(t, sameAfter(t, p, p.String()), stringTolerance, p.String())
	assert.LessOrEqual(t, sameAfter(t, p, p.DMS()), dmsTolerance, p.DMS())
	q, err := ParsePlace(p.String())
	require.NoError(t, err)
	assert.Equal(t, p.String(), q.String(), "writing twice changes nothing")
	if u, err := ToUTM(p); err == nil {
		assert.LessOrEqual(t, sameAfter(t, p, u.String()), utmTolerance, u.String())
	}
	if reference, err := MGRS(p, 10); err == nil {
		square, err := ParseMGRS(reference)
		require.NoError(t, err, "%v: %s", p, reference)
		if centre, err := square.Centre(); err == nil { // else the square straddles 84°N or 80°S
			assert.LessOrEqual(t, Inverse(p, centre).Distance, utmTolerance, reference)
		}
	}
}

func TestPlacesReadBackAsWritten(t *testing.T) {
	t.Parallel()
	for _, p := range []LatLon{
		{0, 0}, {90, 0}, {-90, 0}, {0, -180}, {0, 179.9999999}, {0, -0.0000001}, {-0.0000001, 0}, {84, 10}, {-80, -10}, {-80, 0},
		{59.999999999, 2.999999999}, {8, -84}, {-8, -84}, {-1e-9, 3}, {71.999999999, 20}, {36.99999999, 5.99999999},
	} {
		checkRoundTrips(t, p)
	}
	const seed = 5
	random := rand.New(rand.NewPCG(seed, seed))
	for range 3000 {
		checkRoundTrips(t, LatLon{Degrees(random.Float64()*180 - 90), Degrees(random.Float64()*360 - 180)})
	}
}

func TestPlaceText(t *testing.T) {
	t.Parallel()
	p := LatLon{36 + 27.0/60 + 10.0/3600, -(84 + 13.0/60 + 5.0/3600)}
	assert.Equal(t, "36.45278,-84.21806", p.String())
	assert.Equal(t, `36°27'10.0"N 84°13'05.0"W`, p.DMS())
	assert.Equal(t, `37°00'00.0"S 0°00'00.0"E`, LatLon{-36.9999999, 0}.DMS())
	assert.Equal(t, "0.00000,0.00000", LatLon{-1e-9, -1e-9}.String())
	assert.Equal(t, "0.00000,-180.00000", LatLon{0, 179.9999999}.String())
}

func TestNewLatLon(t *testing.T) {
	t.Parallel()
	p, err := NewLatLon(10, 270)
	require.NoError(t, err)
	assert.Equal(t, LatLon{10, -90}, p)
	for _, c := range [][2]Degrees{{90.1, 0}, {-90.1, 0}, {0, 360}, {0, -180.1}} {
		_, err := NewLatLon(c[0], c[1])
		require.Error(t, err, "%v", c)
		assert.Contains(t, err.Error(), "is not between")
	}
}

func FuzzParsePlace(f *testing.F) {
	for _, seed := range []string{
		"36.45278,-84.21806", `36°27'10"N 84°13'5"W`, "36d27m10sN,84d13m5sW", "N36 27 10 W84 13 5", "36°27.17′N 84°13.08′W",
		"16S 735000 4040000", "16north 735000 4040000", "16south 735000.5 4040000", "16SGF3500040000", "33XVG74594359", "16S GF 35 40", "01KAB",
		"36,45 84,2", "NaN,Inf", "-0,359.9", "36N-84W", "6NNN", "ZAB12", "84N 180W", "60XWT00000000", "-80 0", "84 0",
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		p, err := ParsePlace(text)
		if err != nil {
			var place *PlaceError
			if !errors.As(err, &place) || place.Text != text || place.Reason == "" {
				t.Fatalf("%q: error without the text or a reason: %v", text, err)
			}
			return
		}
		if !(p.Lat >= -90 && p.Lat <= 90 && p.Lon >= -180 && p.Lon < 180) {
			t.Fatalf("%q is %v: out of range", text, fmt.Sprint(float64(p.Lat), float64(p.Lon)))
		}
		checkRoundTrips(t, p)
	})
}
