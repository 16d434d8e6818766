package gdalio

import (
	"fmt"
	"math"
	"strings"
)

// The range outside which no elevation lies, metres: the Challenger Deep is
// about 10 935 m below the sea and Everest 8 849 m above it, with room for
// heights above the ellipsoid and for error.
const (
	lowestElevation  = -11500
	highestElevation = 9100
)

// Lengths of the two feet, metres (NIST Handbook 44, Appendix C).
const (
	internationalFoot = 0.3048
	surveyFoot        = 1200.0 / 3937.0
)

type heightUnit struct {
	name   string
	metres float64
	stated bool
}

var (
	metre  = heightUnit{name: "metre", metres: 1, stated: true}
	foot   = heightUnit{name: "foot", metres: internationalFoot, stated: true}
	footUS = heightUnit{name: "US survey foot", metres: surveyFoot, stated: true}
)

// unitNames are the spellings met in files, in lower case.
var unitNames = map[string]heightUnit{
	"m": metre, "metre": metre, "meter": metre, "metres": metre, "meters": metre, "mtr": metre,
	"ft": foot, "foot": foot, "feet": foot, "international foot": foot, "foot (international)": foot,
	"ftus": footUS, "us-ft": footUS, "ft-us": footUS, "foot_us": footUS, "us survey foot": footUS,
	"us_survey_foot": footUS, "survey foot": footUS, "us survey feet": footUS, "us foot": footUS,
	"cm": {name: "centimetre", metres: 0.01, stated: true}, "centimetre": {name: "centimetre", metres: 0.01, stated: true},
	"centimeter": {name: "centimetre", metres: 0.01, stated: true},
	"dm":         {name: "decimetre", metres: 0.1, stated: true}, "decimetre": {name: "decimetre", metres: 0.1, stated: true},
	"decimeter": {name: "decimetre", metres: 0.1, stated: true},
	"mm":        {name: "millimetre", metres: 0.001, stated: true}, "km": {name: "kilometre", metres: 1000, stated: true},
}

// newHeightUnit takes the unit from the options, else from the band, which
// describes the stored numbers, else from the vertical CRS.
func newHeightUnit(head header, opts Options) (heightUnit, []string, error) {
	var warnings []string
	band, bandKnown := unitNames[strings.ToLower(strings.TrimSpace(head.unit))]
	if head.unit != "" && !bandKnown {
		warnings = append(warnings, fmt.Sprintf("the file gives its heights in %q, which is not a unit known here", head.unit))
	}
	vertical, verticalKnown := heightUnit{}, false
	if head.verticalCRS && head.verticalMetres > 0 {
		verticalKnown = true
		vertical = heightUnit{name: head.verticalUnit, metres: head.verticalMetres, stated: true}
		for _, u := range []heightUnit{metre, foot, footUS} {
			// The two feet differ by 2 parts in a million.
			if math.Abs(u.metres-vertical.metres) < 1e-8 {
				vertical = u
			}
		}
	}
	if head.ellipsoidal && !verticalKnown {
		vertical, verticalKnown = metre, true
	}
	said := heightUnit{name: "metre", metres: 1}
	switch {
	case bandKnown:
		said = band
		if verticalKnown && vertical.metres != band.metres {
			warnings = append(warnings, fmt.Sprintf("the band says %s and the vertical datum %s: %s taken", band.name, vertical.name, band.name))
		}
	case verticalKnown:
		said = vertical
	}
	if opts.HeightUnit == "" {
		return said, warnings, nil
	}
	var chosen heightUnit
	switch opts.HeightUnit {
	case "m":
		chosen = metre
	case "ft":
		chosen = foot
	case "ftUS":
		chosen = footUS
	default:
		return heightUnit{}, nil, fmt.Errorf("height unit %q is not m, ft or ftUS", opts.HeightUnit)
	}
	if said.stated && said.metres != chosen.metres {
		warnings = append(warnings, fmt.Sprintf("the file says its heights are in %s; taken in %s as asked", said.name, chosen.name))
	}
	return chosen, warnings, nil
}

// metres is a stored value's elevation, NaN where it is void.
func (r *Raster) metres(v float64) float32 {
	h := &r.header
	if v != v || (h.noData != nil && (v == *h.noData || (h.dataType == typeFloat32 && float32(v) == float32(*h.noData)))) {
		return float32(math.NaN())
	}
	if r.sentinel(v) {
		r.sentinels[v] = true
		return float32(math.NaN())
	}
	elevation := (v*h.scale + h.offset) * r.unit.metres
	if !(elevation >= lowestElevation && elevation <= highestElevation) {
		if r.absurd == nil {
			r.absurd = &elevation
		}
		return float32(math.NaN())
	}
	return float32(elevation)
}

// sentinel reports whether a stored value is one that programs write for "no
// data", told by the type's limits or by habit.
func (r *Raster) sentinel(v float64) bool {
	switch v {
	case -9999:
		// As centimetres or the like it could be ground.
		return r.header.scale == 1 && r.header.offset == 0
	case -32768, -32767:
		return r.header.dataType != typeInt32
	case 32767:
		return r.header.dataType == typeInt16
	case 65535:
		return r.header.dataType == typeUInt16
	case math.MinInt32, math.MaxInt32, math.MaxUint32:
		return true
	}
	return false
}

// convertWide turns stored values into metres.
func (r *Raster) convertWide(stored []float64, values []float32) {
	r.mutex.Lock()
	defer r.mutex.Unlock()
	for i, v := range stored {
		values[i] = r.metres(v)
	}
}

// convert turns stored values into metres in place. Most files hold plain
// metres in a range no rule bears on, and pass with a comparison a post.
func (r *Raster) convert(values []float32) {
	plain := r.header.scale == 1 && r.header.offset == 0 && r.unit.metres == 1
	void := math.NaN()
	if r.header.noData != nil {
		void = *r.header.noData
	}
	low, high := float32(-9000), float32(highestElevation) // above every sentinel below zero
	if plain && !(void > -9000 && void <= highestElevation) {
		for i, v := range values {
			if !(v > low && v < high) {
				values[i] = r.metres(float64(v))
			}
		}
		return
	}
	for i, v := range values {
		values[i] = r.metres(float64(v))
	}
}
