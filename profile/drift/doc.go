// Package drift says how far off a straight line one may come out who walks
// it by compass, or from mark to mark, and how far along it pacing may be out.
//
// # Model
//
// A leg is walked in stretches. On a Compass stretch the walker keeps one
// bearing: it is wrong by an angle that stays the same to the end of the
// stretch, and another on the next stretch, where a bearing is taken anew. The
// declination's error is one angle that is common to all stretches. On a
// Sighted stretch the walker goes straight from where they are to a mark; the
// drift gathered before shrinks on the way, and on reaching the mark it is
// the mark's own error, however large it was.
//
// Each error is normal, told by one standard deviation. All half widths are
// for 19 times in 20: 1.96 standard deviations.
//
// For one stretch on the compass the half width is d tan(1.96 s), exactly: d
// its length, s the two angles' standard deviation together. Over several,
// the tangent is taken of the mean angle: of simulated walks with compass
// errors up to 4 degrees, 94.4 to 95.6 in 100 are inside.
//
// Along the line, pacing is out by a share of the distance since the last
// place that was known, the same share all the way: a pace counted too long
// is too long throughout.
//
// # Units
//
// Lengths are metres, angles degrees.
//
// # Limitations
//
// Sidestepping, going round trees, and contouring below the line on a slope
// are not in it: all of them make drift larger, the last one always to the same
// side. Nor is a compass held near iron or rock that draws the needle.
//
// # References
//
//   - A baseplate compass is graduated in 2 degrees, and is read and followed to
//     about that (common practice).
//   - Pacing is out by 5 to 10 % of the distance (common practice; DefaultPacing
//     says how that is read here).
//   - Drift, aiming off, attack points: US Army TC 3-25.26, Map Reading and Land
//     Navigation, 2013, chapters 9 and 11 (from memory: deliberate offset,
//     attack point, pacing).
package drift
