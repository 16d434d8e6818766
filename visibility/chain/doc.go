// Package chain plans the sightings of a leg: what to sight from the start, how
// far that leads, and what to sight next, until the destination.
//
// # Marks
//
// A mark is something that can be recognised (package scene): a top, a notch,
// the end of a ridge or a spur, a cliff, water, a place of the user's; or the
// leg's own destination, the goal, from where it is in sight. It stands ahead,
// no farther off the line than Options.Within, and is told from the line: "a finger
// left of your line". It is left, at the latest, where it stands so far off the
// line. The bound is 15 degrees, a fist and a half at arm's length: on two real
// grounds twice as much was left to the compass with 10, and beyond a fist and a half
// a hand tells an angle worse than a compass. Where marks ahead do not lead all the
// way, one behind may, no farther off the line back: its bearing is kept, walking
// from it.
//
// A mark is in sight from where it is chosen. It may be lost on the way, for 500 m
// at most and never where the line is hazardous, if it comes back; or, with
// Options.Throughout, not at all. A mark but the goal leads 400 m or more. Where the error of the data is known it is
// likely to be seen: 75 % or more.
//
// # Cost
//
// The walker stands at whole hundreds of metres along the line, and at its end.
// There a mark may be left, and the goal be sighted; every 200 m another mark may be
// chosen. Of all ways from start to end the plan is the
// first in this order:
//
//  1. the least length on the compass alone beyond what is allowed, in whole
//     100 m. Allowed is a stretch over which the walker, with the compass read to
//     2 degrees (one standard deviation), strays 19 times in 20 by no more than half
//     the distance at which the next mark is recognised; and no more than 500 m,
//     as where a mark is lost: by drift alone two kilometres on the compass would
//     be as good as a mark, and they are not as easy to walk;
//  2. the fewest marks behind;
//  3. the fewest sightings. That of the goal is not counted: one wants to see it;
//  4. the marks that show most plainly: by what they stand out by, in four
//     classes, summed, and one class more for one that has to be picked out of
//     several, for steep ground, and for each time it is lost. The goal is as
//     plain as any, and its losses count for nothing;
//  5. the least length on the compass in all, in whole 100 m;
//  6. the least angle off the line, in whole degrees, summed;
//  7. the least length walked on anything but the goal.
//
// The search is exact. It takes every mark to be seen as far as it can serve, finds
// the least way, and looks at the marks on it; where one is lost or not likely to be
// seen that is kept, and the search is made again, until all marks on the least way
// have been looked at. No other way can then be less.
//
// # Cost in time
//
// One look over the sector ahead for each 200 m from which the goal cannot be followed
// to the end, one more back where those ahead do not lead all the way, one all round
// for each mark of the plan, and some milliseconds for each mark looked at.
//
// Lengths are metres, angles degrees, elevations above the data's vertical datum.
package chain
