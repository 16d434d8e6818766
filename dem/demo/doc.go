// Package demo holds a small piece of real ground: 19 by 19 km of the San
// Gabriel Mountains in California, about the headwaters of Big Tujunga Creek.
//
// # Model
//
// 640 columns by 640 rows of posts 30 m apart on UTM zone 11N (WGS 84), whole
// metres above the EGM96 geoid, no voids, from 640 to 2 295 m. Row 0 is the
// north row. The outer cells' edges are 393 023.655 and 412 223.655 m east,
// 3 788 657.828 and 3 807 857.828 m north; posts stand at the cells' centres.
//
// # Source
//
// bigtujunga_srtm30.tif of the example elevation data of a toolbox for
// geomorphology (github.com/TopoToolbox/DEMs, commit a8221934): the heights of
// the Shuttle Radar Topography Mission at 1 arc-second (NASA and USGS, public
// domain), brought to a grid of 30 m by that project. This is a crop of it; no
// height was changed. The commands that cut it are in testdata/README.md.
//
// # Accuracy
//
// Rodriguez, Morris and Belz (Photogrammetric Engineering and Remote Sensing
// 72:249, 2006) measured an absolute error of 9.0 m for 90 % of SRTM's heights
// in North America (quoted from memory): 5.47 m as one standard deviation. The
// goal was 16 m. Steep ground does worse than gentle ground. Pacifico Mountain
// (7 124 feet, 2 171 m), Strawberry Peak (6 164 feet, 1 879 m) and other tops
// stand within 50 m of their places on the map and within twice that deviation
// of their heights (public knowledge, US Geographic Names Information System,
// quoted from memory).
//
// # Limitations
//
// It is for trying the program out. Radar saw treetops, not ground, where
// there are trees. The ground has burnt, slid and been built on since February
// 2000, and posts 30 m apart hide cliffs and narrow canyons.
package demo
