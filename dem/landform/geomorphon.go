package landform

import (
	"fmt"
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// Form is one of the ten commonest geomorphons of Jasiewicz & Stepinski
// 2013, figure 4, or FormUnknown where a void or the border is too near.
type Form uint8

const (
	FormUnknown Form = iota
	FormFlat
	FormPeak
	FormRidge
	FormShoulder
	FormSpur
	FormSlope
	FormHollow
	FormFootslope
	FormValley
	FormPit
)

var formNames = [...]string{"unknown", "flat", "peak", "ridge", "shoulder", "spur", "slope", "hollow", "footslope", "valley", "pit"}

// String is the form's name in the paper.
func (f Form) String() string {
	if int(f) < len(formNames) {
		return formNames[f]
	}
	return fmt.Sprintf("Form(%d)", uint8(f))
}

// Raised tells forms that stand above the ground to their sides: peak, ridge
// and spur.
func (f Form) Raised() bool { return f == FormPeak || f == FormRidge || f == FormSpur }

// Sunken tells forms that lie below the ground to their sides: pit, valley
// and hollow.
func (f Form) Sunken() bool { return f == FormPit || f == FormValley || f == FormHollow }

// forms is the paper's table, by how many of the eight directions are lower
// (row) and how many are higher (column).
var forms = [9][9]Form{
	{FormFlat, FormFlat, FormFlat, FormFootslope, FormFootslope, FormValley, FormValley, FormValley, FormPit},
	{FormFlat, FormFlat, FormFootslope, FormFootslope, FormFootslope, FormValley, FormValley, FormValley},
	{FormFlat, FormShoulder, FormSlope, FormSlope, FormHollow, FormHollow, FormValley},
	{FormShoulder, FormShoulder, FormSlope, FormSlope, FormSlope, FormHollow},
	{FormShoulder, FormShoulder, FormSpur, FormSlope, FormSlope},
	{FormRidge, FormRidge, FormSpur, FormSpur},
	{FormRidge, FormRidge, FormRidge},
	{FormRidge, FormRidge},
	{FormPeak},
}

// Surroundings says, for the eight directions of the grid in turn (row
// before, then round by the next column), whether the ground that way is
// higher (+1), lower (-1) or level (0): whether the steepest rise in sight
// within the search radius or the steepest fall is the greater, or neither
// by the flat angle.
type Surroundings [8]int8

// directions of Surroundings, as steps in column and row.
var directions = [8][2]int{{0, -1}, {1, -1}, {1, 0}, {1, 1}, {0, 1}, {-1, 1}, {-1, 0}, {-1, -1}}

// Count is how many directions are higher and how many lower.
func (s Surroundings) Count() (higher, lower int) {
	for _, v := range s {
		switch v {
		case 1:
			higher++
		case -1:
			lower++
		}
	}
	return higher, lower
}

// Form is the geomorphon.
func (s Surroundings) Form() Form {
	higher, lower := s.Count()
	return forms[lower][higher]
}

// Saddle: high ground in two opposite directions, low ground in two others
// opposite each other (TC 3-25.26), and going round no more than two of
// each.
func (s Surroundings) Saddle() bool {
	high, low := false, false
	for i := range 4 {
		high = high || s[i] == 1 && s[i+4] == 1
		low = low || s[i] == -1 && s[i+4] == -1
	}
	changes, last := 0, int8(0)
	for i := range 16 { // twice round, to start from a direction that is not level
		v := s[i&7]
		if v == 0 {
			continue
		}
		if i >= 8 && v != last {
			changes++
		}
		last = v
	}
	return high && low && changes == 4
}

// ClassifyOptions is the scale of a classification.
type ClassifyOptions struct {
	// Radius is how far each post looks, metres. Default 500.
	Radius float64
	// Skip is how near ground is left out of account, metres, so that the
	// error of neighbouring posts does not make steep ground of level. Less
	// than Radius. Default 0.
	Skip float64
	// FlatAngle is the least difference of the steepest rise and the steepest
	// fall in a direction that counts. Default 1 degree.
	FlatAngle geodesy.Degrees
}

func (o *ClassifyOptions) validate(m metric) error {
	if o.Radius == 0 {
		o.Radius = 500
	}
	if o.FlatAngle == 0 {
		o.FlatAngle = 1
	}
	if !(o.Radius >= 2*m.spacing()) || math.IsInf(o.Radius, 0) {
		return fmt.Errorf("landform: a scale of %g m is under twice the spacing of the posts (%.3g m); take %.0f m or more",
			o.Radius, m.spacing(), math.Ceil(2*m.spacing()))
	}
	if !(o.Skip >= 0 && o.Skip < o.Radius) {
		return fmt.Errorf("landform: ground nearer than %g m cannot be left out of a search of %g m", o.Skip, o.Radius)
	}
	if !(o.FlatAngle > 0 && o.FlatAngle < 90) {
		return fmt.Errorf("landform: a flat angle of %g degrees is not between 0 and 90", float64(o.FlatAngle))
	}
	return nil
}

const unknownPattern = math.MaxUint16

// look is what the posts of one row have in common.
type look struct {
	g    *dem.Grid
	o    ClassifyOptions
	row  int
	flat float64    // radians
	step [8]float64 // metres from post to post in each direction
}

func newLook(g *dem.Grid, m metric, o ClassifyOptions, row int) look {
	l := look{g: g, o: o, row: row, flat: float64(o.FlatAngle) * math.Pi / 180}
	x, y := m.at(float64(row))
	for i, d := range directions {
		l.step[i] = math.Hypot(float64(d[0])*x, float64(d[1])*y)
	}
	return l
}

// pattern of one post.
func (l *look) pattern(column int) uint16 {
	g := l.g
	h := g.Elevations[l.row*g.Columns+column]
	if isVoid(h) {
		return unknownPattern
	}
	pattern, power := uint16(0), uint16(1)
	for i, d := range directions {
		rise, fall := math.Inf(-1), math.Inf(1)
		for k := 1; ; k++ {
			c, r, distance := column+k*d[0], l.row+k*d[1], float64(k)*l.step[i]
			if distance > l.o.Radius && k > 1 || uint(c) >= uint(g.Columns) || uint(r) >= uint(g.Rows) {
				break
			}
			q := g.Elevations[r*g.Columns+c]
			if isVoid(q) {
				break
			}
			if distance < l.o.Skip {
				continue
			}
			gradient := (float64(q) - float64(h)) / distance
			rise, fall = max(rise, gradient), min(fall, gradient)
		}
		if math.IsInf(rise, 0) {
			return unknownPattern
		}
		// nadir angle less zenith angle, the paper's eq. 1
		digit := uint16(1)
		if difference := math.Atan(rise) + math.Atan(fall); difference > l.flat {
			digit = 2
		} else if difference < -l.flat {
			digit = 0
		}
		pattern += digit * power
		power *= 3
	}
	return pattern
}

// surroundings undoes a pattern.
func surroundings(pattern uint16) (s Surroundings, known bool) {
	if pattern == unknownPattern {
		return s, false
	}
	for i := range s {
		s[i] = int8(pattern%3) - 1
		pattern /= 3
	}
	return s, true
}
