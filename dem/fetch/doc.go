// Package fetch gets the tiles of a named open elevation data set from its
// publisher's server into a folder.
//
// # Model
//
// A [Source] cuts the globe into squares of whole degrees of longitude and
// latitude and names each tile's file by a corner. [Get] works out which
// tiles hold ground within a radius of a place, asks the server how large
// each is, and fetches those that are not in the folder yet. A tile is
// fetched into NAME.part and given its name only when it is whole; a fetch
// that was broken off goes on where it stopped. Beside each tile stands
// NAME.sha256, by which crowline refuses a file that has changed since, and
// beside all of them the data's licence and credit line. A file that Get did
// not fetch is never replaced, nor one that has changed since it was fetched,
// and nothing is written through a link.
//
// Fetching needs no terminal and no GDAL, and so is a library that can be
// tested whole: the requests are package web's, and a tile is opened by the
// function in [Options].
//
// # Units
//
// Distances are metres, tile corners whole degrees, sizes bytes. Times are
// those of [Options].
//
// # Accuracy
//
// Bytes are the publisher's: the length the server tells when asked and the one
// it tells when sending must be that of what came, and where the publisher
// gives a checksum it must match. With [Options].Open a tile is also read
// through, and must lie where its name says. The vertical error a Source
// states is the publisher's figure for the whole data set, not for a tile.
//
// # Limitations
//
// The addresses of the sources built in are written from memory of their
// publishers' documentation and have been tried only against a server of the
// same layout. Checksums guard against damage on the way and on disk, not
// against a publisher's server that lies. A tile that a server says it does
// not have (status 404) is taken as sea or as beyond the data set.
//
// # References
//
// RFC 9110, HTTP Semantics, 2022, sections 13.1.5 (If-Range), 14 (range
// requests) and 15.
package fetch
