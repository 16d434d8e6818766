// Package sheet draws what is printed: a contour sheet true to scale, a leg's
// profile, a map of seen ground, a skyline and a route card, on the pages of
// package page.
//
// # Model
//
// A Plan says what to draw; Compose lays it out and returns a document of
// pages. The sheet draws what it is handed: contour lines, marks, hidden
// ground, declination and profile are computed elsewhere.
//
// The map lies on the UTM grid of the zone its centre belongs to (grid north
// up), or on the azimuthal equidistant plane of its centre (true north up).
// Either is scaled so that ground distance on WGS 84 is at the stated scale at
// the sheet's centre: a kilometre measures 40.00 mm at 1:25 000, and grid
// lines a kilometre of the grid apart stand 40.00 mm divided by the zone's
// point scale factor apart. Angles on paper are true at the centre: a
// protractor laid on a grid line reads grid bearings, or laid on the edge of a
// sheet with true north up, true ones.
//
// A leg too long for one page is split along its length into pages that share
// 20 mm of it, each projected about its own centre.
//
// Where the ground has no posts or a void the map is hatched: blank paper is
// never left to be taken for level ground. Names that the typeface cannot show
// are replaced by coordinates, and said in the document's Warnings.
//
// A View lays what is seen from some places over the map: each post judged is a
// square of one tint, where it stands. A map may choose its scale for the paper
// (Plan.FitScale) or the paper for its scale (Plan.FitPaper). A SkylineDrawing is
// bearing against elevation angle, to stated scales.
//
// # Units
//
// Positions and lengths on paper are millimetres, text sizes points of 1/72
// inch, turns degrees clockwise as the page is seen. Distances and elevations
// in a Plan are metres, angles geodesy.Degrees, polygons longitude and latitude
// on WGS 84. What is printed follows Plan.Units.
//
// # Accuracy
//
// Tests measure a kilometre at 1:25 000 back from both files: within 0.01 % from SVG
// at six places from 60°S to 78°N in four directions, within 0.1 % from PDF as
// poppler reads it. Over a sheet the projection's scale departs from that at
// its centre: 10 km from the centre by less than 0.01 % on the grid, even at a
// zone's edge, and by less than 0.0001 % on the plane. Relief shading and
// hatching are placed through a mesh with knots a centimetre apart, within
// 0.01 mm at 1:25 000. What a printer does to paper is checked with the 100 mm
// line in the margin.
//
// The same plan gives the same document: nothing depends on the clock, the
// machine or the number of its processors.
//
// # Limitations
//
// Beyond 84°N and 80°S there is no UTM grid and sheets must have true north up. A
// sheet over the edge of a UTM zone keeps its centre's
// zone and says so. Scales run from 1:500 to 1:10 000 000, paper sides from 148
// to 5000 mm; a sheet with a profile needs about 170 x 240 mm.
//
// # References
//
// US Army TC 3-25.26, Map Reading and Land Navigation (2013): contour kinds, the north diagram and
// what belongs in a margin. Horn, "Hill shading and the reflectance map", Proc.
// IEEE 69:14-47 (1981). NGA.SIG.0012, The Universal Grids (2014).
package sheet
