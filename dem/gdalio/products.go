package gdalio

import (
	"math"
	"regexp"
	"strings"

	"crowline/dem"
)

// product is an open data set that a file can be known to come from.
type product struct {
	name string
	// file matches the publisher's own file name; description, the TIFF
	// image description.
	file, description *regexp.Regexp
	// projected is set where the description is so much the data set's own
	// that it is believed on a grid of metres too.
	projected bool
	// spacing is the latitude spacing that goes with the figures,
	// arc-seconds.
	spacing     float64
	surface     dem.Surface
	error       float64 // one standard deviation, metres; 0 where none is cited
	errorSource string
	datum       string
	attribution string
}

// products is matched conservatively: by the publisher's own naming and the
// spacing together. A bare N36W085.hgt is left unknown, for many data sets
// are handed out under such names.
//
// 1.6449 standard deviations hold 90 % of normal errors.
var products = []product{
	{
		name:        "SRTM", // as dem/demo describes itself; it lies on a UTM grid
		description: regexp.MustCompile(`^SRTM 1 arc-second, North America: `),
		projected:   true,
		surface:     dem.SurfaceModel,
		error:       5.47,
		errorSource: "measured for SRTM in North America, 9.0 m for 90 % of heights: Rodriguez, Morris and Belz 2006",
		datum:       "EGM96 geoid",
		attribution: "SRTM, NASA and USGS, public domain",
	},
	{
		name:        "SRTM",
		file:        regexp.MustCompile(`(?i)^(.*\.SRTMGL[13]\.hgt.*|[ns]\d\d_[ew]\d{3}_[13]arc_v[123]\.tiff?|srtm_\d\d_\d\d\.tiff?)$`),
		description: regexp.MustCompile(`^SRTM [13] arc-second`),
		surface:     dem.SurfaceModel,
		error:       9.73,
		errorSource: "SRTM's stated goal, 16 m for 90 % of heights (met about twice over: Rodriguez, Morris and Belz 2006)",
		datum:       "EGM96 geoid",
		attribution: "SRTM, NASA and USGS, public domain",
	},
	{
		name:        "Copernicus GLO-30",
		file:        regexp.MustCompile(`^Copernicus_DSM_(COG_)?10_[NS]\d\d_00_[EW]\d{3}_00(_DEM)?\.(tif|dt2)$`),
		spacing:     1,
		surface:     dem.SurfaceModel,
		error:       2.43,
		errorSource: "Copernicus GLO-30 product handbook, under 4 m for 90 % of heights",
		datum:       "EGM2008 geoid",
		attribution: "Copernicus DEM, (c) DLR e.V. 2010-2014 and (c) Airbus Defence and Space GmbH 2014-2018, provided under COPERNICUS by the European Union and ESA",
	},
	{
		name:        "Copernicus GLO-90", // no figure of its own is cited here
		file:        regexp.MustCompile(`^Copernicus_DSM_(COG_)?30_[NS]\d\d_00_[EW]\d{3}_00(_DEM)?\.(tif|dt2)$`),
		spacing:     3,
		surface:     dem.SurfaceModel,
		datum:       "EGM2008 geoid",
		attribution: "Copernicus DEM, (c) DLR e.V. 2010-2014 and (c) Airbus Defence and Space GmbH 2014-2018, provided under COPERNICUS by the European Union and ESA",
	},
	{
		name:        "USGS 3DEP 1 arc-second", // nor here
		file:        regexp.MustCompile(`^USGS_1_[ns]\d\d[ew]\d{3}(_\d{8})?\.tiff?$`),
		spacing:     1,
		surface:     dem.BareEarth,
		datum:       "NAVD88",
		attribution: "USGS 3D Elevation Program, public domain",
	},
	{
		name:        "USGS 3DEP 1/3 arc-second",
		file:        regexp.MustCompile(`^USGS_13_[ns]\d\d[ew]\d{3}(_\d{8})?\.tiff?$`),
		spacing:     1.0 / 3,
		surface:     dem.BareEarth,
		error:       0.82,
		errorSource: "USGS 3DEP assessment of 2022, 0.82 m root mean square",
		datum:       "NAVD88",
		attribution: "USGS 3D Elevation Program, public domain",
	},
}

// recognise fills in what a known data set's publisher says and the file
// leaves out. All of the table's data are in metres.
func recognise(info *dem.Info, head header, f *dem.Frame) {
	for _, p := range products {
		byDescription := p.description != nil && p.description.MatchString(head.description)
		byName := p.file != nil && p.file.MatchString(info.Name)
		if !byDescription && !byName {
			continue
		}
		if !f.CRS.Geographic && !p.projected {
			continue
		}
		if !byDescription && !spacingFits(p, head) {
			continue
		}
		if info.VerticalUnitStated && info.VerticalUnit != "metre" {
			continue // a converted copy: its own words stand
		}
		info.VerticalUnitStated = true
		info.Surface = p.surface
		info.VerticalError, info.VerticalErrorSource = p.error, p.errorSource
		info.Attribution = p.attribution
		if info.VerticalDatum == "" {
			info.VerticalDatum = p.datum
		}
		if !strings.Contains(info.Name, p.name) {
			info.Name += " (" + p.name + ")"
		}
		return
	}
}

func spacingFits(p product, head header) bool {
	seconds := math.Abs(head.geotransform[5]) * 3600
	near := func(s float64) bool { return math.Abs(seconds-s) < 1e-4*s }
	if p.spacing != 0 {
		return near(p.spacing)
	}
	return near(1) || near(3) // SRTM
}
