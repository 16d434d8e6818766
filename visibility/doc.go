// Package visibility says what can be seen from where: one line of sight, a
// whole viewshed, the skyline, and the marks worth walking to.
//
// # Model
//
// The ground is the elevation posts joined by straight edges along rows and
// columns. A line of sight is a geodesic from the observer; it is tested
// exactly where it crosses those edges, never at a step. Each post is
// lowered by (1-k) d²/2R for the Earth's curve less refraction, and an edge
// is straight between its two lowered posts. A target is Hidden when an edge
// nearer than it stands above the line from the eye to the target's top by
// more than GrazingSlope, so ground that just touches the line does not
// hide; Unknown when no known ground hides it but the line crosses an edge
// with a void end or leaves the data; else Visible. Edges within
// dem.NearLimit of the eye, and an edge the observer stands on seen end on,
// do not count.
//
// Viewshed and Skyline work on the observer's azimuthal equidistant plane,
// where geodesics from the observer are straight. The plane is split into
// four wedges about the grid's own columns and rows. In a wedge with major
// coordinate x and minor y, a post has t = y/x and u = (lowered elevation
// less the eye's)/x. That perspective keeps straight lines straight, so a
// line of sight is one t, an edge a straight segment, and a post is seen
// when its u is not below the upper envelope of all edges nearer than it.
// Columns (or rows) are taken in order outward: edges nearer than a column's
// posts are merged in, in one pass over a run of them, then the posts are
// tested. An edge that the next column's edges stand over, as most do on
// ground that is seen, hides nothing that they do not and is left out. Blocks of posts that stand under the envelope's
// lowest value over the t they span are turned away whole; that, too, is
// exact. Reference walks the line to every post instead and gives the same
// answers.
//
// KeptInView turns that drawing round: from a mark, every edge of the ground
// between it and a leg is drawn on to the leg, and hides the stretch of it
// where it stands over the walker's eye.
//
// # Units
//
// Lengths are metres, angles degrees, slopes tangents, elevations above the
// vertical datum of the grid.
//
// # Accuracy
//
// Viewshed and Reference agree but for ties under 1e-9 in slope: no verdict
// in some 20 million posts of small random grids with voids, and none from
// twenty observers on each of four grids of real ground, differed. The
// parabola of curvature departs from the circle by d⁴/8R³, 5 cm at 100 km.
// What a verdict is worth is decided by the elevation data's own error and
// by what stands on the ground, not by these.
//
// # Cost
//
// On one core of a 2020s server, a viewshed takes about 7 ns a post of the
// grid from an observer who sees a fiftieth of mountain ground, 19 ns from a
// summit that sees a twelfth, 20 ns more with the heights needed
// (BenchmarkViewshed). Memory beside the grid is a byte a post, four more
// with the heights.
//
// # Limitations
//
// A grid needs two rows and two columns. The grid's columns and rows must
// not turn by more than some 40 degrees within the radius, which rules out
// radii near the distance of the pole on lon/lat grids; a radius that covers
// too much of the globe is refused. Trees, buildings and haze are not in the
// data. A line along the outermost row of a grid may bow out of the data,
// and what it meets is then Unknown.
//
// # References
//
// W. R. Franklin and C. K. Ray, Higher isn't necessarily better: visibility
// algorithms and experiments, Advances in GIS Research, 1994 (the test of
// every post, R3). H. Haverkort, L. Toma and others, on horizons that are
// merged outward: arXiv:1810.01946. J. P. Snyder, Map Projections: A
// Working Manual, USGS Professional Paper 1395, 1987, chapter 25.
package visibility
