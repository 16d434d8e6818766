// Package fix finds a position from compass bearings: resection, one's own
// place from bearings to known marks, and intersection, an unknown point
// from bearings taken at known places.
//
// # Model
//
// Bearings are azimuths of geodesics of WGS 84 where the compass stands: at
// the unknown place in a resection, at the known places in an intersection.
// The place is the one that makes the sum of squared residuals, each divided
// by its variance, least (Gauss-Newton steps on the azimuthal plane of the
// last estimate, halved when they overshoot). It is searched for from the best
// crossings of two lines. Further evidence may be given: an altimeter reading,
// which puts the place on ground of that elevation, and one known line, a
// stream or a ridge, that the place lies on. One bearing and one of these may
// be enough (modified resection).
//
// Several places may fit about as well: ground stands at one elevation in many
// places along a bearing, a stream winds across it, and close to a mark, or
// between two, bearings fit whose lines miss each other. Places are one where what
// lies between them is itself likely. Where another has a
// likelihood of a twentieth or more of the best's, all are reported, and none
// is the fix (Fix.Ambiguous). With one bearing and an altimeter the ground is
// searched as far to either side of the bearing as its error reaches, out to 50
// km or the end of the data; each connected part of it that fits is a place,
// with the second moments of the likelihood over that part.
//
// No library we found has the last: a person with one mark in sight and an
// altimeter or a stream would be left without a place.
//
// # Units
//
// Bearings and their errors are geodesy.Degrees, lengths and elevations
// metres. Every error is one standard deviation.
//
// # Accuracy
//
// The arithmetic is good to a millimetre; the fix is as good as the compass.
// The default compass error of 2 degrees, the graduation of a baseplate
// compass (common practice), is taken as one standard deviation. The error
// ellipse is that of the linearised problem. Over 2000 simulated fixes each,
// of two and three marks 1 to 4 km off that cross well, the 39.35 % ellipse
// held the true place 38.3 to 40.7 % of the time and the 95 % one 94.4 to 95.3 %
// (TestEllipseCoversAtItsStatedRate). On the ground of testdata/cumberland, from 3000 places
// with the best three summits in sight, the 95 % ellipse held 94.8 %.
//
// Ground bends within the size of a fix, so with an altimeter or a known line
// the ellipse is that of the second moments of the likelihood over the places
// round the fix, not of the linearised problem: 93.7 % held in the same trial
// with an altimeter, where the linearised ellipse held 76 %. Of 1500 trials
// with one bearing and an altimeter on that ground all but 43 left several
// places, seven of them on average, and in 95.6 % one of theirs held the true
// place.
//
// Where lines cross at under 30 degrees, or make a long thin ellipse, they bend
// within it, and ellipses alone held 83 to 93 %. The fix then gives a Region: all
// ground with a chi-square less than 5.991 over the least, traced. It held the
// place 95 % of the time to three standard errors of 2000 fixes of each class of
// crossing, with two marks and three (TestRegionsHoldThePlace).
//
// Bearings bound a place only where two of their lines cross at more than
// 2.448 times the error of the angle between them (6.9 degrees for two bearings
// good to 2): under that, the region that holds the place 19 times in 20 has
// no far end, and the fix fails with ErrNoFix as for parallel lines. So it does
// where the region reaches farther than SearchReach, or ten times as far as the
// marks lie from each other.
//
// # Limitations
//
// Two bearings have nothing to check them: a wrong mark or a misread dial
// goes unseen. Errors are taken as normal and independent, but for
// Options.SharedError; iron near the needle is neither. Elevations of the
// ground come with the data's voids and edges, where the altimeter is of no
// help and the fix fails with dem.ErrVoid or dem.ErrOutside. Marks more than
// a quarter of the way round the Earth are refused.
//
// # References
//
//   - C. D. Ghilani, Adjustment Computations, 6th ed., 2017: least squares
//     with azimuth observations, error ellipses, testing of residuals.
//   - W. Baarda, A Testing Procedure for Use in Geodetic Networks, Netherlands
//     Geodetic Commission 2(5), 1968: standardised residuals.
//   - US Army TC 3-25.26, Map Reading and Land Navigation, 2013: resection,
//     modified resection, intersection.
package fix
