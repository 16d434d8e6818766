// Package sun says where the sun stands, when it rises and sets, when civil
// twilight begins and ends, and when the sun leaves a place that hills stand
// round.
//
// # Model
//
// NOAA's published solar equations, those of its solar calculator and
// spreadsheet (from memory, held to published values by the tests). They are
// the low-accuracy sun of Meeus, Astronomical Algorithms, chapter 25, with
// nutation and aberration by its one short term. The sun rises and sets when
// its centre stands 50 arc-minutes below the level, 34 for refraction and 16
// for its half width, as in published tables; civil twilight begins and ends
// at 6 degrees. The times are found by solving for them with the sun's place
// at that very moment, not at noon.
//
// A day is the one round the solar noon nearest to 12:00 on the date's own
// clock. Its sunset may be after midnight, as it is in a northern summer; its
// sunrise before it. Where the sun does not cross the level before noon, or
// after it, that is the answer, a value and no error.
//
// # Units
//
// Angles are degrees, bearings true. Times are to a second or so in the zone of
// the date that was given.
//
// # Accuracy
//
// The sun's place is good to 0.01 degrees between 1950 and 2050, and 0.02 from
// 1900 to 2100. Times agree with those of the US Naval Observatory's tables to
// their minute, and with JPL's ephemeris to 10 seconds, up to 65 degrees of
// latitude, 20 where the sun goes less than half a degree deeper; at 78 degrees to
// a minute and a half where it skims the level.
// Real air bends light by more or less than the tables say, a minute or two
// below 65 degrees.
//
// # Limitations
//
// The level is that of the place: someone high above a plain sees the sun
// longer (LastSun knows, from their skyline). Trees are not in the skyline of
// bare ground. The time scale is taken as UTC: the 69 seconds to the equations'
// own move the sun by less than an arc-second in 20.
//
// # References
//
//   - NOAA Global Monitoring Laboratory, Solar Calculation Details,
//     https://gml.noaa.gov/grad/solcalc/calcdetails.html.
//   - J. Meeus, Astronomical Algorithms, 2nd edition, 1998, chapters 22, 25, 28.
//   - US Naval Observatory, Rise, Set, and Twilight Definitions.
//   - G. G. Bennett, The calculation of astronomical refraction in marine
//     navigation, Journal of Navigation 35:255, 1982, for the size of what NOAA's
//     refraction leaves out.
package sun
