package dem

import (
	"math"

	"crowline/dem/geodesy"
)

// rowPlacer gives two coordinates of the posts of a frame, row by row, by
// polynomials fitted to squares of posts as the rows come to them. Where no
// polynomial is good enough (near a pole, across the antimeridian, a datum
// shift from a coarse table) there is none. From one goroutine at a time.
type rowPlacer struct {
	frame *Frame
	exact exactly // of columns and rows of the frame
	// A fit stops growing at tolerance, and is refused over limit: in the unit
	// of the coordinates.
	tolerance, limit float64

	band  int      // the squares fitted are in rows band*placerSide and on
	fits  []square // of that band
	begun bool
}

// square is a run of columns in a band, and the fit of it, nil for none.
type square struct {
	from, to int
	fit      *polynomial
}

// placerSide is the side of a square, posts: its fit costs some hundred exact
// placements where it would take a quarter of a million, and is of a low
// degree.
const placerSide = 512

// along gives the squares that a row runs through.
func (p *rowPlacer) along(row int) []square {
	band := row / placerSide
	if p.begun && band == p.band {
		return p.fits
	}
	p.begun, p.band, p.fits = true, band, p.fits[:0]
	for from := 0; from < p.frame.Columns; from += placerSide {
		s := square{from: from, to: min(from+placerSide, p.frame.Columns)}
		w := Window{Column: from, Row: band * placerSide, Columns: s.to - from, Rows: min(placerSide, p.frame.Rows-band*placerSide)}
		// some place in the square may have no such coordinates: an error
		if fit, err := fitPolynomial(w, p.tolerance, p.exact); err == nil && fit.errorBound <= p.limit {
			s.fit = &fit
		}
		p.fits = append(p.fits, s)
	}
	return p.fits
}

// placeTolerance and placeLimit are the errors of the places of posts, in
// degrees: a micrometre, and a tenth of a millimetre.
const (
	placeTolerance = 1e-11
	placeLimit     = 1e-9
)

// newPlacesOf gives longitude and latitude on WGS 84, degrees.
func newPlacesOf(f *Frame) *rowPlacer {
	return &rowPlacer{frame: f, exact: f.lonLat, tolerance: placeTolerance, limit: placeLimit}
}

// lonLat are the longitudes and latitudes of columns and rows, degrees.
func (f *Frame) lonLat(columns, rows []float64) (lon, lat []float64, err error) {
	lon, lat = make([]float64, len(columns)), make([]float64, len(columns))
	for i := range columns {
		lon[i], lat[i] = f.X0+columns[i]*f.DX, f.Y0+rows[i]*f.DY
	}
	return lon, lat, f.CRS.ToWGS84(lon, lat)
}

// cellTolerance and cellLimit are the errors of where posts lie among the
// cells of a cover, in cells.
const (
	cellTolerance = 5e-8
	cellLimit     = placementLimit
)

// newCellsOf gives the column and row of a cover's frame at which the posts of
// a ground's lie, but for a whole turn of longitude.
func newCellsOf(ground, cover *Frame) *rowPlacer {
	return &rowPlacer{frame: ground, tolerance: cellTolerance, limit: cellLimit, exact: func(columns, rows []float64) (x, y []float64, err error) {
		if x, y, err = ground.lonLat(columns, rows); err != nil {
			return nil, nil, err
		}
		for i := range x {
			x[i] = halfTurned(x[i])
		}
		if err := cover.CRS.FromWGS84(x, y); err != nil {
			return nil, nil, err
		}
		for i := range x {
			x[i], y[i] = (x[i]-cover.X0)/cover.DX, (y[i]-cover.Y0)/cover.DY
		}
		return x, y, nil
	}}
}

// halfTurned is a longitude in [-180, 180).
func halfTurned(lon float64) float64 {
	if lon >= -180 && lon < 180 {
		return lon
	}
	if r := math.Remainder(lon, 360); r != 180 {
		return r
	}
	return -180
}

// latLon is a place from a longitude and latitude.
func latLon(lon, lat float64) geodesy.LatLon {
	return geodesy.LatLon{Lat: geodesy.Degrees(lat), Lon: geodesy.Degrees(halfTurned(lon))}
}

// newCoverRows gives a function that looks cover up at the posts of a row of
// a ground's frame, one value a column.
func newCoverRows(ground *Frame, cover Cover) func(row int, above []float64) error {
	if raster, ok := cover.(rasterCover); ok {
		return (&rasterRows{ground: ground, raster: raster, cells: newCellsOf(ground, raster.posts.Layout())}).look
	}
	return (&placeRows{ground: ground, cover: cover, placer: newPlacesOf(ground), places: make([]geodesy.LatLon, ground.Columns)}).look
}

// placeRows looks up any cover at places.
type placeRows struct {
	ground *Frame
	cover  Cover
	placer *rowPlacer
	places []geodesy.LatLon
}

func (p *placeRows) look(row int, above []float64) error {
	for _, s := range p.squares(row) {
		if s.fit == nil {
			columns := make([]float64, s.to-s.from)
			for i := range columns {
				columns[i] = float64(s.from + i)
			}
			places, err := p.ground.placesOf(row, columns)
			if err != nil {
				return err
			}
			copy(p.places[s.from:], places)
			continue
		}
		line := s.fit.row(row)
		for i := s.from; i < s.to; i++ {
			p.places[i] = latLon(line.At(float64(i)))
		}
	}
	found, err := p.cover.AboveGround(p.places)
	copy(above, found)
	return err
}

// squares are those of a row; longitude and latitude themselves need no fit.
func (p *placeRows) squares(row int) []square {
	if p.ground.CRS == geodesy.WGS84 {
		return []square{{to: p.ground.Columns}}
	}
	return p.placer.along(row)
}

// placesOf are the places of columns of a row.
func (f *Frame) placesOf(row int, columns []float64) ([]geodesy.LatLon, error) {
	rows, places := make([]float64, len(columns)), make([]geodesy.LatLon, len(columns))
	for i := range rows {
		rows[i] = float64(row)
	}
	lon, lat, err := f.lonLat(columns, rows)
	if err != nil {
		return nil, err
	}
	for i := range places {
		places[i] = latLon(lon[i], lat[i])
	}
	return places, nil
}

// rasterRows looks up a raster by column and row.
type rasterRows struct {
	ground *Frame
	raster rasterCover
	cells  *rowPlacer
	// doubtful are the columns of a row that lie too near the edge of a cell
	// for the fit to say which they are in.
	doubtful []float64
}

// doubt is how much worse than the check found it a fit may be between the
// places checked.
const doubt = 8

func (p *rasterRows) look(row int, above []float64) error {
	f := p.raster.posts.Layout()
	p.doubtful = p.doubtful[:0]
	for _, s := range p.cells.along(row) {
		if s.fit == nil {
			for i := s.from; i < s.to; i++ {
				p.doubtful = append(p.doubtful, float64(i))
			}
			continue
		}
		line, within := s.fit.row(row), doubt*s.fit.errorBound
		for i := s.from; i < s.to; i++ {
			c, r := line.At(float64(i))
			if f.CRS.Geographic {
				c = f.wholeTurn(c)
			}
			c, right := cell(c)
			r, down := cell(r)
			if right <= within || right >= 1-within || down <= within || down >= 1-within {
				p.doubtful = append(p.doubtful, float64(i))
				continue
			}
			above[i] = p.raster.at(c, r)
		}
	}
	if err := p.raster.posts.Err(); err != nil || len(p.doubtful) == 0 {
		return err
	}
	places, err := p.ground.placesOf(row, p.doubtful)
	if err != nil {
		return err
	}
	found, err := p.raster.AboveGround(places)
	if err != nil {
		return err
	}
	for k, column := range p.doubtful {
		above[int(column)] = found[k]
	}
	return nil
}
