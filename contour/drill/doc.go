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
//   - Grid reference: the mark stands a quarter of a tenth of its square or
//     more from where a figure would change. No error of the data enters.
//   - Slope shape: the middle half of the slope departs from the straight line
//     between its ends by 2.8 e or more, all of it to one side; the gaps between
//     contours on one half are 1.5 times those on the other; and the foot is seen,
//     or hidden, in 95 of 100 grounds drawn with the data's error.
//   - Draw profile: as for a sight, and the contours crossed can be counted as
//     for a climb.
//   - Walk time: as for a climb, one contour and half a millimetre at each end
//     being right.
//   - Water: of 20 grounds drawn with the data's error 19 or more send the water
//     to the same point of the compass and within 3 mm of the same line, to the
//     edge of the map (landform.Drain). It never rises by more than e or a
//     quarter of the interval on the way.
//   - Tracing: every saddle that must be ringed has a confidence of 0.9 or more,
//     and one crest and one floor have. What else may be taken for a saddle, with
//     ground an interval higher on two sides and lower on two within 6 mm, is
//     right ringed or not. No landform's saddle lies within 2.5 mm of the sides.
//   - Resection, intersection: the place is where the lines of the bearings given
//     cross, at 45 degrees or more. Right is within the longer semi-axis of the
//     ellipse that holds 95 of 100 plots with 0.8 degrees of error in each line
//     (package fix).
//   - Bearings are asked in figures that the answer needs no rounding of; one
//     read off the page lies within 0.35 degrees of a whole one.
//
// # Levels
//
// Beginner: says what the map shows at a point: its grid reference, the landform
// (hill, saddle, ridge, valley, depression), the elevation, which way water runs,
// a bearing and its back bearing, and which of two legs climbs least.
//
// Intermediate: reads the shape of a line: draws and tells its profile, its
// steepest slope, whether one end is seen; traces crests, floors and saddles;
// names spurs, draws and cliffs too, and plots two bearings to one place.
//
// Leader: settles what matters before walking: what hides the destination and
// where it comes into view, time and paces, where one stands by two bearings,
// and which of four legs climbs least. A back bearing is not asked: a leader knows it.
//
// # How novices learn
//
// Pointing at and tracing what the map shows helps novices more than words about
// it (Atit, Weisberg, Newcombe and Shipley 2016), so each level has
// something to trace, plot or draw. Writing down which clues were used
// helped children to place what they saw on a map (Kastens and Liben 2007): the
// kinds on shape ask which lines told. Height (elevation, climb) and shape
// (landform, slope shape, tracing) are asked apart. Maps have no shading unless
// it is asked for. What the papers say is from memory.
//
// Skills of reading contours that the kinds exercise. The first column is what
// the Topographic Map Assessment (Newcombe et al. 2015) tests, from memory and
// not word for word:
//
//	which of two points is higher       elevation, climb
//	how steep, and where steepest       slope, slope shape
//	which way water runs                water
//	can one place be seen from another  sight, draw profile, slope shape
//	which profile belongs to a line     profile, draw profile
//	which way is easiest                climb, walk time
//	what shape the ground has           landform, slope shape, tracing
//	which view belongs to a place       none yet
//
// Beyond it: grid reference; bearings, page bearing and norths; resection and
// intersection; destination.
//
// # Sheets
//
// Questions whose places lie near each other share one map, 178 by 122 mm, six
// at most, their marks 8 mm or more apart and 6 mm from each other's legs; there the points carry the number of
// the question. A question that finds no such map has a small one of its own.
// No two questions have their middles within 8 mm. Every kind is asked once
// before any is asked twice. Options.Minutes takes as many as MinutesOf the
// kinds allow. The key of a quarter of an hour is one page: all answers in a
// table, what was to be drawn on small maps, then the working, with mistakes that
// are often made and what they show.
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
//   - K. Atit, S. M. Weisberg, N. S. Newcombe, T. F. Shipley, Learning to
//     interpret topographic maps, Cognitive Research: Principles and
//     Implications 1:2, 2016.
//   - K. A. Kastens, L. S. Liben, Eliciting self-explanations improves
//     children's performance on a field-based map skills task, Cognition and
//     Instruction 25, 2007.
//   - N. S. Newcombe et al., The Topographic Map Assessment, 2015 (from memory).
//   - US Army TC 3-25.26, Map Reading and Land Navigation, 2013: terrain
//     features, elevation between contours, slope, bearings and the
//     grid-magnetic angle, profiles and line of sight.
package drill
