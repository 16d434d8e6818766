// Package magnetic evaluates the World Magnetic Model: how far a compass
// needle points from true north, where, when, and how surely.
//
// # Model
//
// The World Magnetic Model 2025 of NOAA and the British Geological Survey:
// the field of the Earth's core, in spherical harmonics to degree and order
// 12, changing evenly with time from its epoch 2025.0. It leaves out
// magnetic rocks, power lines, cars, knives and phones, and magnetic storms.
//
// # Units
//
// Fields are nanotesla, angles geodesy.Degrees, heights metres above the
// WGS 84 ellipsoid. Elevation above sea level will do: a hundred metres
// change declination by less than 0.002 degree within 60 degrees of the
// equator. Declination, convergence and the grid-magnetic angle are positive
// east.
//
// # Accuracy
//
// The sums agree with NOAA's 100 test values to 0.01 nT and with the printed
// hundredth of a degree. How well the model knows the Earth is Field's
// DeclinationSigma: the square root of 0.26² + (5417/H)², degrees, H in nT,
// one standard deviation; about 0.4 degree in middle latitudes. Local rocks
// can turn a needle by several degrees more.
//
// # Limitations
//
// Valid from 2025.0 to 2030.0; other dates are refused. Near the magnetic
// poles the horizontal field is weak and a compass is of little use: see
// Zone. At a geographic pole declination is counted from the meridian of the
// longitude given. Heights from 1 km below the ellipsoid to 850 km above it.
//
// # References
//
// Chulliat and others, The US/UK World Magnetic Model for 2025-2030:
// Technical Report, NOAA NCEI, 2025. US Army TC 3-25.26, Map Reading and
// Land Navigation, 2013 (the declination diagram).
package magnetic
