// Package cumberland is a small piece of real ground that tests stand on: 29
// by 32 km of the Cumberland Mountains in Tennessee, from Caryville and
// La Follette in the north to Rocky Top and Norris Dam in the south-east. Only
// tests import it.
//
// # Model
//
// 403 columns by 344 rows of posts 3 arc-seconds apart (74.8 m east, 92.5 m
// north), longitude and latitude on WGS 84, whole metres above the EGM96
// geoid, no voids. Row 0 is the north row. The outer cells' edges are
// 84.41375 W, 84.07791667 W, 36.44625 N and 36.15958333 N; posts stand at
// the cells' centres, which are whole multiples of 3 arc-seconds, as SRTM's
// are.
//
// # Source
//
// jacksboro_fault_dem.npz, from the sample data of matplotlib 3.6.3 (Debian's
// python-matplotlib-data), which describes it as elevations round the
// Jacksboro fault. The heights are those of the Shuttle Radar Topography
// Mission (NASA and USGS, public domain); the file does not say which
// version, nor whether it was filled or averaged on the way. Its lakes are
// flattened to one level, as in SRTM's finished versions. No height was
// changed. The commands that made the GeoTIFF are in testdata/README.md.
//
// # Which way is north
//
// The array comes with four keys: xmin -84.41375, xmax -84.07791667, ymin
// 36.73291667, ymax 36.44625. (xmax - xmin)/403 and (ymin - ymax)/344 are
// 3 arc-seconds, so the keys are meant as cell edges, and 36.44625 is one of
// them whatever row is north. The greater latitude is not: it is 36.44625
// plus the height of the array where the height should have been taken off.
// The ground itself decides between the three readings (row 0 the north row
// below 36.73, row 0 the south row above 36.44, row 0 the north row below
// 36.44):
//
//   - Norris Dam stands at 36.2242 N, 84.0925 W. With row 0 north and
//     36.44625 its edge, the array falls from a level lake at 305 m to a
//     river near 258 m within two posts of that place. The dam's full pool is
//     1 020 feet, 311 m, lower in winter; the shuttle flew in February.
//   - Below the dam the river runs south to 236 m, the lowest ground of all:
//     the Clinch, which does. Upside down it would run north.
//   - The highest post, 1 076 m, lies at 36.198 N, 84.231 W: Cross Mountain,
//     3 534 feet (1 077 m), the highest of the Cumberland Mountains in
//     Tennessee, stands there.
//   - La Follette (36.3828, -84.1200), Jacksboro (36.3300, -84.1840),
//     Caryville (36.2990, -84.2230) and Rocky Top (36.2176, -84.1547) then
//     lie in the valley along the foot of the mountain front, at 266 to
//     335 m, and Big Creek's gap through the front lies just above
//     La Follette. Under either other reading they are not on the array at
//     all, or lie on mountainsides.
//
// Coordinates of the places and the heights of the dam's pool and of Cross
// Mountain are public knowledge (US Geographic Names Information System,
// Tennessee Valley Authority), quoted from memory.
//
// # Accuracy
//
// SRTM's goal was 16 m for 90 % of heights, 9.73 m as one standard
// deviation; it was met about twice over (Rodriguez, Morris and Belz,
// Photogrammetric Engineering and Remote Sensing 72:249, 2006). Radar saw
// treetops, not ground, in forest, and most of this is forest.
//
// # Limitations
//
// The ground has been mined and built on since February 2000, and 3
// arc-seconds hide cliffs and narrow valleys.
package cumberland
