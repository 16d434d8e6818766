// Package drill makes map-reading exercises on real ground, each with its
// answer computed, the working a teacher can show, and how clear the answer
// is of the data's error.
//
// # Model
//
// Questions are drawn at random, from a seed, about a place, and answered
// from the ground model of package dem and the contour lines of package
// contour: what a student reads off the printed lines and what is computed
// are one thing. A question is kept only when no error of the data, and no
// slip of a ruler, could change its answer. With e the standard deviation of
// an elevation and two posts' errors taken as independent, 2.8 e is two
// standard deviations of their difference:
//
//   - Landform: the feature's confidence is 0.9 or more and no other kind of
//     feature is within 0.3 of landform's scale of the mark (lines not
//     counted where a summit, saddle, hollow or cliff is asked for: they run
//     through these).
//   - Elevation: by the quarter rule of TC 3-25.26. The point stands 8 % of
//     the gap and 0.3 mm or more from either quarter, the gap is 3 mm of
//     paper or more, the point is 0.5 mm or more from any line,
//     and the rule comes within 0.4 interval of the true elevation.
//   - Profile: every wrong profile departs from the true one by 2.8 e and by
//     half an interval or more, root mean square.
//   - Sight: the figure is how far the line passes over the ground that rises
//     nearest to it and falls away again, or how far the ground stands above
//     it, of the whole line. No other such ground comes
//     nearer, however close to an end, nor stands above the line. It is two
//     posts and 6 mm of paper or more from both ends. The figure is 2.8 e or
//     more, and six times that (or half the interval) at most. In 95 of 100
//     grounds drawn with the data's error (visibility.Probability) the answer
//     is the same, and so it is on every profile drawn from the contours with
//     its ends and tops read a quarter of the interval too high or too low,
//     whose figures are a quarter of the interval or more and within three
//     quarters of it of the true one.
//   - Climb: the least climb is two contour lines or more below the next, and
//     three of its standard deviations (profile.Climb). No contour is within
//     0.8 mm of a leg's end, and no leg turns within a twentieth of the
//     interval of a contour, so there is no doubt what to count.
//   - Slope: over three intervals the two ends' error is under 15 % of the
//     rise, the run is 4 mm of paper or more, and it is a fifth shorter than
//     any other that shares no more than one interval with it.
//   - Destination: hidden by 2.8 e or more at the start, by one stretch of
//     ground over the line, highest over it within a post of where it stands
//     highest against the eye; no other rise comes within 2.8 e of the line
//     (parted from the one by a dip of 2.8 e or of a quarter interval). It comes into view once, no
//     more than two posts beyond the ground that hid it at the start, and
//     raising or lowering the destination by 2.8 e, or drawing the profile
//     from the contours as for a sight, moves the place by no more than an
//     eighth of the leg.
//   - Bearings are asked in figures that the answer needs no rounding of; one
//     read off the page lies within 0.35 degrees of a whole one.
//
// # Levels
//
// Beginner: says what the map shows at a point: the landform (hill, saddle,
// ridge, valley, depression), the elevation, a bearing and its back bearing,
// and which of two legs climbs least.
//
// Intermediate: reads the shape of a line: its profile, its steepest slope,
// which of three legs climbs least, whether one end is seen from the other;
// names spurs, draws and cliffs too, and turns a bearing to another north.
//
// Leader: settles what matters before walking: what hides the destination and
// where it comes into view, sight, slope, and which of four legs climbs least.
// A back bearing is not asked: a leader knows it.
//
// # Sheets
//
// Questions whose places lie near each other share one map, 178 by 122 mm, six
// at most, their marks 8 mm or more apart and 6 mm from each other's legs; there the points carry the number of
// the question. A question that finds no such map has a small one of its own.
// No two questions have their middles within 8 mm. Every kind is asked once
// before any is asked twice. Options.Minutes takes as many as MinutesOf the
// kinds allow.
//
// # Units
//
// Lengths and elevations are metres, angles geodesy.Degrees; texts follow
// Options.Units.
//
// # Accuracy
//
// The same options, grid and seed give the same set and the same bytes of
// PDF. Tests answer the questions again by other ways: contours counted where
// the legs cut the drawn lines, sight by the per-post test of
// visibility.Reference, bearings from the letters' places on the page.
//
// # Limitations
//
// Trees, buildings and whatever else the data does not show are not asked
// about. Ground with voids is left out. Ground too flat or too uniform for a
// kind of question yields none of it, and Set.Notes says so. Within 6
// degrees of the poles there is no grid and no questions of grid bearings.
//
// # References
//
//   - US Army TC 3-25.26, Map Reading and Land Navigation, 2013: terrain
//     features, elevation between contours, slope, bearings and the
//     grid-magnetic angle, profiles and line of sight.
package drill
