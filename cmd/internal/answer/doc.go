// Package answer puts a question to the library and says what came of it: one
// Request in, one Answer out, for the command line, the local page and a Go
// program alike.
//
// For each question there is a request type with Check, which refuses what
// makes no sense before any data is opened; an answer type; and one function
// that takes a context, the opened Ground and the request. All policy is in
// Policy. Nothing here knows flags, units of display, or a terminal; text for
// people is made of an answer by package report.
//
// An answer's figures are as they were computed. Encode writes an answer as
// JSON and is the one place that rounds: by the field's round tag, the number
// of decimals, or by its key's ending where it has none. A figure that is not
// a number is null. The comment on each field is what "crowline help json"
// prints of its key, so every field has one.
//
// What is to be written to a file is handed back as an Output: the front end
// names the path.
package answer
