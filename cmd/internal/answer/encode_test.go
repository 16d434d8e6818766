package answer

import (
	"bytes"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/visibility"
)

func TestEncodeRoundsOnce(t *testing.T) {
	t.Parallel()
	type inner struct {
		Lat float64 `json:"lat"`
		Lon float64 `json:"lon"`
	}
	type whole struct {
		inner
		A       float64            `json:"a_m"`
		B       float64            `json:"b_m" round:"1"`
		Missing float64            `json:"missing_m"`
		Left    float64            `json:"left_m,omitempty"`
		LeftLow float64            `json:"left_low_m,omitempty" round:"1"`
		LeftNaN float64            `json:"left_nan_m,omitempty"`
		None    *inner             `json:"none"`
		List    []float64          `json:"list" round:"0"`
		Nil     []string           `json:"nil"`
		Pair    [2]float64         `json:"pair_deg"`
		Verdict visibility.Verdict `json:"verdict"`
		For     time.Duration      `json:"for_s" round:"1"`
		Text    string             `json:"text"`
		Not     float64
		Hidden  int `json:"-"`
	}
	var b bytes.Buffer
	require.NoError(t, Encode(&b, &whole{
		inner: inner{36.123456789, -0.00000001}, A: 1.005001, B: 2.25, Missing: math.NaN(), LeftNaN: math.NaN(), LeftLow: 0.04,
		List: []float64{1.5, math.Inf(1)}, Pair: [2]float64{0, 12.345}, Verdict: visibility.Hidden, For: 1500 * time.Millisecond, Text: "a < b",
	}))
	assert.Equal(t, `{
  "lat": 36.1234568,
  "lon": 0,
  "a_m": 1.01,
  "b_m": 2.3,
  "missing_m": null,
  "none": null,
  "list": [
    2,
    null
  ],
  "nil": [],
  "pair_deg": [
    0,
    12.35
  ],
  "verdict": "hidden",
  "for_s": 1.5,
  "text": "a < b"
}
`, b.String())
	assert.Error(t, Encode(&b, make(chan int)))
}

// TestOuterKeysHideInnerOnes: a struct that is embedded in another says nothing
// that the other says itself, in JSON and in the list of keys.
func TestOuterKeysHideInnerOnes(t *testing.T) {
	t.Parallel()
	type Inner struct {
		Data string  `json:"data" means:"inner"`
		Far  float64 `json:"far_m" means:"far"`
	}
	type outer struct {
		*Inner
		Data []int `json:"data" means:"outer"`
	}
	var b strings.Builder
	require.NoError(t, Encode(&b, outer{&Inner{"name", 1.23456}, []int{7}}))
	assert.Equal(t, `{"far_m":1.23,"data":[7]}`, strings.Join(strings.Fields(b.String()), ""))
	b.Reset()
	require.NoError(t, Encode(&b, outer{Data: []int{7}}))
	assert.Equal(t, `{"data":[7]}`, strings.Join(strings.Fields(b.String()), ""))
	assert.Equal(t, []Key{{Path: "far_m", Unit: "metres", Meaning: "far"}, {Path: "data", Meaning: "outer"}}, keysOf(reflect.TypeFor[outer](), "", nil, nil))
}

// TestRoundedIsNeverLost: 2026-11, what is larger than its decimals was no
// number once rounded.
func TestRoundedIsNeverLost(t *testing.T) {
	t.Parallel()
	for _, v := range []float64{1e305, -1e305, math.MaxFloat64, 1e17, 0, 1e-305} {
		assert.InEpsilon(t, 1+v, 1+Rounded(v, 4), 1e-12)
	}
	assert.Equal(t, 1.2346, Rounded(1.23456, 4))
}
