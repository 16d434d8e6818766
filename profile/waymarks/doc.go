// Package waymarks finds what the ground itself tells someone who walks a
// straight leg: an attack point before the destination, what stops them beyond
// it, what runs along the line, which side to aim off to, and what they can
// tick off on the way.
//
// # Terms
//
// As the trade uses them (common practice, and from memory US Army TC 3-25.26,
// 2013, chapter 11: handrails, catching features, attack points, deliberate
// offset):
//
//   - attack point: a plain landform near the line and short of the
//     destination, from which the rest is short;
//   - catching feature: what tells that one has gone too far;
//   - handrail: a ridge or valley that runs along the line;
//   - aiming off: walking to one side of a destination on a line of the ground,
//     on purpose, so that the way to turn on meeting that line is known;
//   - tick-off: something that is felt or seen underfoot on the way.
//
// # Model
//
// The ground is a grid, its landforms those of package landform, found on the
// same grid. Where one may come out is drift.Walk: to either side of the line
// by its half width, and short or beyond by its pacing. So what is to stop or
// turn a walker is looked for on lanes, parallel to the leg, from one edge of
// the drift to the other, and is offered only where every lane has it: a valley
// that one edge of the strip misses stops nobody there. Along each lane ground
// is read with package landform's Along: the crests and floors that the lane
// crosses, and where it tops or bottoms out itself.
//
// Nothing is offered whose relief is under the least relief asked for or three
// standard deviations of the data, whichever is more.
//
// # Units
//
// Lengths are metres, elevations metres above the data's vertical datum, angles
// geodesy.Degrees. Distances along the leg are from its start, those aside to
// the right positive. A side or a turn is Left or Right.
//
// # Accuracy
//
// Places along a lane are good to a post or two, aside of the leg to a tenth of
// a metre within 20 km. Finer than the posts nothing is known: a stream, a wall
// or a path is no part of this ground, and often the better handrail.
//
// # Limitations
//
// Ground that is not known is not used: a lane that meets a void or the end of
// the data before it has told what it was asked for tells nothing, and nothing
// is offered. Landforms are as certain as package landform has them.
package waymarks
