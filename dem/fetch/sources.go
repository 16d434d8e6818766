package fetch

import (
	"encoding/json"
	"fmt"
	"net/url"
	"regexp"
	"slices"
	"strings"

	"crowline/dem"
)

// Corner is the corner of a tile its name is made from.
type Corner string

const (
	SouthWest Corner = "south-west"
	NorthWest Corner = "north-west"
)

// Default is the source proposed where a user names none: it covers the Earth.
const Default = "copernicus-glo-30"

// Source is an open elevation data set: where its tiles are and what must be
// known of it.
type Source struct {
	// Name is what a user types: lower case, digits and hyphens.
	Name string `json:"name" means:"What --source takes."`
	// Title is the data set's full name.
	Title string `json:"title" means:"The data set's full name."`
	// URL is a tile's address, with the corner's latitude and longitude put
	// in: {NS} or {ns} for the letter, {lat} for two digits of degrees; {EW}
	// or {ew}, and {lon} for three digits.
	URL string `json:"url" means:"A tile's address, with the corner's latitude and longitude to be put in."`
	// Degrees is the side of a tile, a whole number; default when zero: 1.
	Degrees int `json:"degrees,omitempty" means:"The side of a tile in degrees; left out for 1."`
	// Corner names a tile; default when "": the south-west corner.
	Corner Corner `json:"corner,omitempty" means:"The corner that names a tile; left out for the south-west one."`
	// Checksum says how the publisher gives checksums: "" not at all,
	// "etag-md5" where the entity tag is the file's MD5 (as object stores
	// have it for files stored in one piece), or what to put after the
	// address to get a file that begins with the hexadecimal MD5, SHA-1 or
	// SHA-256, such as ".sha256".
	Checksum string `json:"checksum,omitempty" means:"How the publisher gives checksums."`
	// SpacingArcSeconds is between posts, along a meridian.
	SpacingArcSeconds float64 `json:"spacing_arc_seconds,omitempty" means:"How far apart posts are, along a meridian."`
	// Surface says whether treetops and roofs or the bare earth.
	Surface dem.Surface `json:"surface,omitempty" means:"'surface' (treetops and roofs) or 'bare earth'."`
	// VerticalDatum is what elevations stand on.
	VerticalDatum string `json:"vertical_datum,omitempty" means:"What elevations stand on."`
	// VerticalErrorMetres is one standard deviation of an elevation, 0 when
	// not stated, and VerticalErrorSource where the figure comes from.
	VerticalErrorMetres float64 `json:"vertical_error_m,omitempty" means:"One standard deviation of an elevation; left out where none is stated."`
	VerticalErrorSource string  `json:"vertical_error_source,omitempty" means:"Where that figure comes from."`
	// Licence says what may be done with the data, Attribution what must be
	// written beside what is made from it.
	Licence     string `json:"licence" means:"What may be done with the data."`
	Attribution string `json:"attribution" means:"What must be written beside what is made from it."`
	// Coverage says in words where there is data.
	Coverage string `json:"coverage,omitempty" means:"Where there is data."`
}

// The sources built in. Addresses, tile names and licences are from memory of
// the publishers' documentation, read at no server; accuracies are those of
// gdalio's table of products, with their sources.
var builtIn = []Source{
	{
		Name: Default, Title: "Copernicus DEM GLO-30",
		URL:      "https://copernicus-dem-30m.s3.amazonaws.com/Copernicus_DSM_COG_10_{NS}{lat}_00_{EW}{lon}_00_DEM/Copernicus_DSM_COG_10_{NS}{lat}_00_{EW}{lon}_00_DEM.tif",
		Checksum: "etag-md5", SpacingArcSeconds: 1,
		Surface: dem.SurfaceModel, VerticalDatum: "EGM2008 geoid",
		VerticalErrorMetres: 2.43, VerticalErrorSource: "Copernicus GLO-30 product handbook, under 4 m for 90 % of heights",
		Licence:     "free of charge for any use with the credit line below, under the licence for Copernicus DEM instance COP-DEM-GLO-30-F, global 30 m, full, free and open",
		Attribution: "Copernicus DEM, (c) DLR e.V. 2010-2014 and (c) Airbus Defence and Space GmbH 2014-2018, provided under COPERNICUS by the European Union and ESA; all rights reserved",
		Coverage:    "land of the whole globe, a few countries left out",
	},
	{
		Name: "copernicus-glo-90", Title: "Copernicus DEM GLO-90",
		URL:      "https://copernicus-dem-90m.s3.amazonaws.com/Copernicus_DSM_COG_30_{NS}{lat}_00_{EW}{lon}_00_DEM/Copernicus_DSM_COG_30_{NS}{lat}_00_{EW}{lon}_00_DEM.tif",
		Checksum: "etag-md5", SpacingArcSeconds: 3,
		Surface: dem.SurfaceModel, VerticalDatum: "EGM2008 geoid",
		Licence:     "free of charge for any use with the credit line below, under the licence for Copernicus DEM instance COP-DEM-GLO-90-F, global 90 m, full, free and open",
		Attribution: "Copernicus DEM, (c) DLR e.V. 2010-2014 and (c) Airbus Defence and Space GmbH 2014-2018, provided under COPERNICUS by the European Union and ESA; all rights reserved",
		Coverage:    "land of the whole globe",
	},
	{
		Name: "usgs-3dep-13", Title: "USGS 3D Elevation Program, 1/3 arc-second",
		URL:    "https://prd-tnm.s3.amazonaws.com/StagedProducts/Elevation/13/TIFF/current/{ns}{lat}{ew}{lon}/USGS_13_{ns}{lat}{ew}{lon}.tif",
		Corner: NorthWest, Checksum: "etag-md5", SpacingArcSeconds: 1.0 / 3,
		Surface: dem.BareEarth, VerticalDatum: "NAVD88",
		VerticalErrorMetres: 0.82, VerticalErrorSource: "USGS 3DEP assessment of 2022, 0.82 m root mean square",
		Licence: "public domain", Attribution: "USGS 3D Elevation Program, public domain",
		Coverage: "the conterminous United States, Hawaii and parts of Alaska",
	},
	{
		Name: "usgs-3dep-1", Title: "USGS 3D Elevation Program, 1 arc-second",
		URL:    "https://prd-tnm.s3.amazonaws.com/StagedProducts/Elevation/1/TIFF/current/{ns}{lat}{ew}{lon}/USGS_1_{ns}{lat}{ew}{lon}.tif",
		Corner: NorthWest, Checksum: "etag-md5", SpacingArcSeconds: 1,
		Surface: dem.BareEarth, VerticalDatum: "NAVD88",
		Licence: "public domain", Attribution: "USGS 3D Elevation Program, public domain",
		Coverage: "the United States, and parts of Canada and Mexico",
	},
}

// Sources is the sources built in, by name.
func Sources() []Source { return slices.Clone(builtIn) }

var (
	nameForm    = regexp.MustCompile(`^[a-z0-9][a-z0-9-]*$`)
	placeholder = regexp.MustCompile(`\{[^}]*\}`)
)

// Validate says what is wrong with a source, with its name.
func (s Source) Validate() error {
	if !nameForm.MatchString(s.Name) {
		return fmt.Errorf("data source %q: a name is lower-case letters, digits and hyphens", s.Name)
	}
	wrong := func(format string, args ...any) error {
		return fmt.Errorf("data source %s: %s", s.Name, fmt.Sprintf(format, args...))
	}
	u, err := url.Parse(s.URL)
	if err != nil || (u.Scheme != "https" && u.Scheme != "http") || u.Host == "" {
		return wrong("its url is not an http or https address")
	}
	seen := map[string]bool{}
	for _, p := range placeholder.FindAllString(s.URL, -1) {
		if !slices.Contains([]string{"{NS}", "{ns}", "{EW}", "{ew}", "{lat}", "{lon}"}, p) {
			return wrong("its url has %s, which is none of {NS} {ns} {lat} {EW} {ew} {lon}", p)
		}
		seen[strings.ToLower(p)] = true
	}
	for _, p := range []string{"{ns}", "{lat}", "{ew}", "{lon}"} {
		if !seen[p] {
			return wrong("its url lacks %s, so its tiles cannot be told apart", p)
		}
	}
	if strings.Contains(u.Host, "{") || strings.Contains(u.Host, "%7B") {
		return wrong("its url changes its server from tile to tile")
	}
	if s.Degrees < 0 || s.Degrees > 90 {
		return wrong("tiles of %d degrees are not possible; degrees is from 1 to 90", s.Degrees)
	}
	const widest, worst = 3600, 1000 // arc-seconds and metres: no elevation data is so coarse or so wrong
	if !(s.SpacingArcSeconds >= 0 && s.SpacingArcSeconds <= widest) {
		return wrong("its spacing_arc_seconds is %g, not from 0 to %d", s.SpacingArcSeconds, widest)
	}
	if !(s.VerticalErrorMetres >= 0 && s.VerticalErrorMetres <= worst) {
		return wrong("its vertical_error_m is %g, not from 0 to %d", s.VerticalErrorMetres, worst)
	}
	if s.Corner != "" && s.Corner != SouthWest && s.Corner != NorthWest {
		return wrong("its corner is %q, not %q or %q", s.Corner, SouthWest, NorthWest)
	}
	if s.Licence == "" || s.Attribution == "" {
		return wrong("it states no licence or no attribution; write them down before fetching")
	}
	if s.Surface != dem.SurfaceUnknown && s.Surface != dem.SurfaceModel && s.Surface != dem.BareEarth {
		return wrong("its surface is %q, not %q or %q", s.Surface, dem.SurfaceModel, dem.BareEarth)
	}
	return nil
}

// ParseSources reads a JSON list of sources, as a user's configuration has
// it. A field that is not known is an error.
func ParseSources(data []byte) ([]Source, error) {
	decoder := json.NewDecoder(strings.NewReader(string(data)))
	decoder.DisallowUnknownFields()
	var sources []Source
	if err := decoder.Decode(&sources); err != nil {
		return nil, fmt.Errorf("data sources: %w", err)
	}
	for _, s := range sources {
		if err := s.Validate(); err != nil {
			return nil, err
		}
	}
	return sources, nil
}

// Find is the source of a name, the user's own first, or an error that lists
// the names there are.
func Find(name string, own []Source) (Source, error) {
	var names []string
	for _, s := range slices.Concat(own, builtIn) {
		if s.Name == name {
			return s, nil
		}
		if !slices.Contains(names, s.Name) {
			names = append(names, s.Name)
		}
	}
	return Source{}, fmt.Errorf("there is no data source %q; there are %s", name, strings.Join(names, ", "))
}
