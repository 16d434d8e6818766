// Package landform finds the shapes of the ground that are read off a map:
// summits with their prominence, saddles, ridges, spurs, valleys, draws,
// depressions and cliffs.
//
// # Model
//
// The ground is that of package dem: posts joined by straight edges. A
// summit is a post, or a level group of posts, with nothing higher joined to
// it. Ground is joined through all eight neighbours of a post. The ground
// model's own edges run along rows and columns only; a ridge that crosses
// the grid at a slant would then be a string of beads, each parted from the
// next by the drop to the posts beside the crest. Joining posts that touch
// by a corner takes the crest as at least as high as the lower of the two:
// it yields the fewest summits and the least prominence that the posts
// allow. Low ground, for depressions, is joined likewise, so that a valley
// that crosses the grid at a slant is not dammed at every post: the fewest
// and shallowest depressions that the posts allow.
//
// The prominence of a summit is the least descent that any way from it to
// higher ground must make; the lowest post of the way that descends least is
// the key saddle, and the summit that stands above that saddle on the other
// side, and whose own ground above its own key saddle holds both, is the
// parent. Of two equal summits the one with the smaller row, then the
// smaller column, counts as higher.
//
// A line, and a feature with an area (a cliff, a depression, a flat top), is
// near or passed where any part of it is, and its distance is that to its
// nearest part: see Ruler, by which all that use this package measure. Saddles
// count at their floor and hills at their top.
//
// Features are found at a scale, a distance on the ground within which a
// shape must show. The scale and the least relief are part of every answer.
//
// # Units
//
// Lengths and elevations are metres, elevations above the datum the grid
// carries, angles geodesy.Degrees, gradients rise over run.
//
// # Accuracy
//
// Prominence is exact for the posts. Against the true ground it errs by the
// elevation data's error at summit and saddle, and posts miss the very top
// of a sharp summit and the very floor of a narrow saddle, by up to half
// the spacing times the gradient. Distances along rows and columns are taken
// from the spacing at each row: good to 0.1 % within 50 km at latitudes
// below 60 degrees. Confidence is the chance that relief as measured is not
// made by elevation error alone, taking errors of posts as independent
// and normal.
//
// # Limitations
//
// Ground outside the data or in a void may be higher or lower than any that
// is known. A prominence the flood could not settle without it is given as
// "at least"; a peak on the border or beside a void is not listed, nor is a
// depression that may drain there. The posts see no cliff, step or gully
// narrower than their spacing. A grid that meets itself round the globe is
// taken to end at its first and last columns. At high latitudes a lon-lat
// grid's diagonals are far from 45 degrees, and the eight directions with
// them. Up to 2^31-1 posts; Summits holds 9 bytes a post and up to 60
// a peak besides the grid; Features some 30 bytes a post.
//
// # References
//
//   - A. Kirmse, J. de Ferranti, Calculating the prominence and isolation of
//     every mountain in the world, Progress in Physical Geography 41(6),
//     2017, doi:10.1177/0309133317738163.
//   - J. Jasiewicz, T. F. Stepinski, Geomorphons: a pattern recognition
//     approach to classification and mapping of landforms, Geomorphology
//     182:147-156, 2013, doi:10.1016/j.geomorph.2012.11.005.
//   - US Army TC 3-25.26, Map Reading and Land Navigation, 2013: terrain
//     features.
//   - J. F. O'Callaghan, D. M. Mark, The extraction of drainage networks from
//     digital elevation data, Computer Vision, Graphics, and Image Processing
//     28:323-344, 1984: contributing area.
//   - R. Barnes, C. Lehman, D. Mulla, Priority-flood, Computers & Geosciences
//     62:117-127, 2014: drainage through hollows.
package landform
