package answer

import (
	"math"

	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
)

// Place is where something is, and what it is called.
type Place struct {
	// Name may be "".
	Name string
	geodesy.LatLon
	// Elevation is what the place's source says, metres; NaN where nothing.
	Elevation float64
	// Kind is what stands there ("mast", "hut"), or "".
	Kind string
}

// PlaceAt is a place without a name.
func PlaceAt(p geodesy.LatLon) Place { return Place{LatLon: p, Elevation: math.NaN()} }

// PlacesOf are the places of a file.
func PlacesOf(list []gdalio.Place) []Place {
	out := make([]Place, len(list))
	for i, p := range list {
		out[i] = PlaceAt(p.LatLon)
		out[i].Name, out[i].Kind = p.Name, p.Kind
		if p.Elevation != nil {
			out[i].Elevation = *p.Elevation
		}
	}
	return out
}

// Label is what the place is called: its name or its coordinates.
func (p Place) Label() string {
	if p.Name != "" {
		return p.Name
	}
	return p.LatLon.String()
}

// Spot is a place as an answer has it.
type Spot struct {
	// What it is called.
	Name string `json:"name,omitempty"`
	// Latitude on WGS 84, north positive.
	Lat float64 `json:"lat"`
	// Longitude on WGS 84, east positive.
	Lon float64 `json:"lon"`
	// The ground there, above the data's zero; null where it is not known.
	ElevationM float64 `json:"elevation_m" round:"1"`
	// The MGRS reference, to 10 m.
	MGRS string `json:"mgrs,omitempty"`
}

func spot(p Place, elevation float64) Spot {
	out := Spot{Name: p.Name, Lat: float64(p.Lat), Lon: float64(p.Lon), ElevationM: elevation}
	if text, err := geodesy.MGRS(p.LatLon, policy.MGRSDigits); err == nil {
		out.MGRS = text
	}
	return out
}

// Label is what the place is called: its name or its coordinates.
func (s Spot) Label() string { return Place{Name: s.Name, LatLon: s.LatLon()}.Label() }

// LatLon is where the spot is.
func (s Spot) LatLon() geodesy.LatLon {
	return geodesy.LatLon{Lat: geodesy.Degrees(s.Lat), Lon: geodesy.Degrees(s.Lon)}
}
