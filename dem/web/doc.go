// Package web asks servers for files, and believes them as little as it can.
//
// # Model
//
// [Do] makes one request. Its answer must begin in time, may not stop or
// trickle, and is never unpacked on the way. A [File] is a file of which parts
// are asked for: each answer must be the part that was asked for, of the file
// that was opened, and no more of it is read than that. A file that changes
// meanwhile is refused from then on.
//
// GDAL's own reading of addresses is not used: it does not notice a file that
// changes between two blocks (an ascent was 90 m off), nor bound what a server
// sends (24 GB).
//
// # Units
//
// Sizes and places in a file are bytes, times those of [Limits].
//
// # Limitations
//
// A file whose server gives neither an entity tag nor a date is told from a
// later one by its length alone ([File.Validated]).
//
// # References
//
// RFC 9110, HTTP Semantics, 2022, sections 8.8 (validators), 13.1.5
// (If-Range), 14 (range requests) and 15.
package web
