// Package contour traces contour lines of a grid of elevations, chooses their
// interval, and counts those that a leg crosses.
//
// # Model
//
// The ground is the posts of a dem.Grid joined by straight edges along rows
// and columns, the same ground that legs and sight lines are computed on. A
// contour line crosses an edge where the edge is at its level, and runs
// straight through a cell from edge to edge (marching squares). So each
// point of a line lies on the ground at the line's level, and a leg crosses
// a line on an edge where its profile passes the level.
//
// One rule settles every tie: ground exactly on a level has reached it
// ("at or above"). A flat top that stands on a level is drawn round its rim,
// and the lowest ground of a region, if it stands on a level, has no line
// inside it. Where a line passes through a post, it passes through it once.
// An edge that stands on a level with lower ground on both sides bounds no
// ground; it is a Touch, a line of its own of two points, which maps leave
// out and CountAlong does not count. A lone post that only reaches a level
// has no line.
//
// Where a cell's opposite corners are above a level and the other two below,
// the saddle point of the bilinear surface through the four decides which
// pair is joined. Lines of different levels then never cross or meet. The
// same rule settles what a leg through such a cell crosses.
//
// Lines are counted cell by cell for that, and not by the levels a profile passes
// between its edges: of 500 random legs on mountains the two differed on 35 at
// 20 m and on 76 at 10 m, by up to 5 lines, and only the first is what the map shows.
//
// A cell with a void corner holds no line: lines end at voids and at the
// outermost posts. Lines run with higher ground on their right hand.
//
// A line is a depression contour when it is closed and the ground just
// inside it is lower. It follows from the direction the line runs in and the
// sign of its area, so a ring round a crater's floor is one and the ring
// round the whole hill is not.
//
// # Units
//
// Elevations are metres above the grid's vertical datum. Levels may be
// counted in metres or international feet. Points are grid columns and rows,
// until Coordinates or LonLat makes places of them. Layout and smoothing for
// print say "mm" where they mean millimetres of paper.
//
// # Accuracy
//
// A point is on the ground at its level to better than 1e-6 m, and levels
// are exact in their unit. What the ground itself is worth is the data's
// vertical error; Choose coarsens the interval to it.
//
// # Limitations
//
// CountAlong counts the drawn lines a leg crosses, without exception; a climb
// is added up from a profile's elevations at the edges. The two part where a
// leg clips the corner of a saddle cell between two edges, crossing one line
// up and down, and where it ends inside a cell, whose line is straight while
// the elevation of a single place is that of the bilinear surface.
//
// Elevations below -12 000 m or above 10 000 m, and steps of over 9000 m from
// post to post, are refused as undeclared voids. Levels are at least a
// centimetre apart. On a lon/lat grid across the antimeridian, longitudes run
// on past 180 so that lines stay in one piece. A ring that just touches the
// data's edge at a post is parted there.
//
// # Cost
//
// Tracing is linear in posts and in points of line: about 70 million posts a
// second on one core of a 2020s server at 0.19 points a post. A Tracer holds
// some strips of 32 rows and the lines still open: for 8000 x 8000 posts of
// fractal ground with 3.7 million points of line, 13 MB of strips and 0.8
// million points, 12 MB, in at most 29 MB of slices that lines share.
//
// # References
//
//   - W. E. Lorensen, H. E. Cline, Marching cubes, Computer Graphics 21(4),
//     1987, doi:10.1145/37402.37422 (the method, in space).
//   - G. M. Nielson, B. Hamann, The asymptotic decider, Proc. IEEE
//     Visualization 1991, doi:10.1109/VISUAL.1991.175782.
//   - US Army TC 3-25.26, Map Reading and Land Navigation, 2013, chapter 10:
//     index, intermediate and supplementary lines, depressions.
//   - US National Map Accuracy Standards, 1947; FGDC-STD-007.3-1998.
//   - E. Imhof, Cartographic Relief Presentation, 1965 (English 1982).
package contour
