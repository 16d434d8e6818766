// Package geodesy knows places on the Earth: how they are written, how far
// and on what bearing one lies from another, and how the map's grid lies
// under them.
//
// # Model
//
// The ellipsoid of WGS 84. Lines are geodesics, the shortest lines on it.
// Grid positions are on the Universal Transverse Mercator grid and its
// military letters (MGRS). Plane is the azimuthal equidistant plane of an
// observer, in which lines of sight are straight. CRS brings other
// coordinate reference systems to WGS 84.
//
// # Units
//
// Lengths are metres. Angles are Degrees; radians are never shown.
// Latitudes are in [-90, 90], longitudes in [-180, 180), bearings clockwise
// in [0, 360). A bearing says its north in its type, and only Convergence
// (here) and the magnetic package's declination cross from one to another.
// Convergence is positive where grid north is east of true north.
//
// # Accuracy
//
// Geodesics: 15 nm (Karney 2013); tested to 1e-6 m and, where the line is
// long enough for the last digit of a coordinate, 1e-9 degree, against the
// GeodTest set. UTM: nanometres within a zone, tested to a micrometre
// against GeographicLib; convergence to 1e-7 degree, scale to 1e-8. MGRS
// digits are cut off, never rounded; a position less than a micrometre short
// of a grid line is on it. Datum shifts in CRS are as good as the grid files
// PROJ has on the machine.
//
// # Limitations
//
// The polar grid (UPS), beyond 84°N and 80°S, is refused; latitude and
// longitude work everywhere. Geodesics between nearly antipodal places are
// one of several. At a pole a bearing is counted from the longitude given.
//
// # References
//
// C. F. F. Karney, Algorithms for geodesics, J. Geodesy 87:43-55, 2013,
// doi:10.1007/s00190-012-0578-z. J. P. Snyder, Map Projections: A Working
// Manual, USGS Professional Paper 1395, 1987. NGA.SIG.0012, The Universal
// Grids and the Transverse Mercator and Polar Stereographic Map Projections,
// 2014. NGA.STND.0037, Universal Grids and Grid Reference Systems, 2014.
package geodesy
