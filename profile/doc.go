// Package profile follows one straight leg over the ground: where it crosses
// the edges of the elevation model, what it climbs and drops, how steep it
// is and how long it takes on foot; and where one turning point would plainly
// save climb.
//
// # Model
//
// A leg is the geodesic of WGS 84 between two places. The ground is package
// dem's: posts joined by straight edges along rows and columns. The profile
// is the list of the geodesic's crossings with those edges and its two ends,
// never samples at a step, so nothing between posts is missed or invented.
//
// # Units
//
// Lengths are metres along the ellipsoid, elevations metres above the data's
// vertical datum, times time.Duration.
//
// # Accuracy
//
// Distances are good to a millimetre or so; elevations are as good as the
// data. Total climb depends on how finely ground is sampled and on the noise
// in it, so every climb carries its rule (a dead band, or a contour
// interval) and an error.
//
// # Limitations
//
// Legs longer than MaxLength are refused. A void breaks the profile; the
// climb across it is counted as if straight, and Leg.Unknown says how much
// of the leg that is. Slopes are averages over one post spacing: steps and
// cliffs narrower than that are not seen. A leg with ground over WalkingLimit
// along its line has no time on foot (Times.Whole): the rules are of walking.
//
// # References
//
//   - W. W. Naismith, Scottish Mountaineering Club Journal 2 (1892) p. 136.
//   - E. Langmuir, Mountaincraft and Leadership, 1984.
//   - W. Tobler, Three Presentations on Geographical Analysis and Modeling,
//     NCGIA Technical Report 93-1, 1993.
//   - DIN 33466, Wegweiser für Wanderwege, 2003.
//   - US Army TC 3-25.26, Map Reading and Land Navigation, 2013, chapter 9.
package profile
