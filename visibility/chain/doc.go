// Package chain plans the sightings of a leg: which mark ahead to walk on,
// how far, and which next, from the start to the destination.
//
// A mark is a point of the leg's own line that stands up from the ground
// around it, or the destination, or a landmark the caller gives. The walker
// chooses one in view, walks to it, and chooses the next. Where nothing ahead
// will do, the walk is on the compass, with a mark to sight back to if there
// is one. Find gives the plan with the least ground on the compass, then the
// fewest sightings, then the marks that are easiest to know by eye.
//
// The chain is worked out in the plane through the leg, where ground and sight
// lines are straight. Lengths are metres, angles degrees, elevations above the
// data's vertical datum.
package chain
