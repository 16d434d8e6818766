package dem

// Coefficients are the line's polynomials, for callers that combine them
// before evaluating: east and north at an index are the sums of east[a]*u^a
// and north[a]*u^a, metres, with u = (index-mid)/half. The slices are the
// line's own and must not be changed.
func (l Line) Coefficients() (mid, half float64, east, north []float64) {
	return l.mid, l.half, l.east, l.north
}
