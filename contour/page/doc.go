// Package page is paper to draw on, and the files it goes to: PDF, SVG and PNG
// from one drawing.
//
// # Model
//
// A Document is pages; a Page is a list of lines, areas, texts and pictures,
// drawn first to last, in millimetres from its top left corner. What is added
// while a Clip is set is cut to it here, on the geometry, so that every writer
// shows the same ink in the same place. It knows nothing of ground.
//
// # Units
//
// Positions, lengths and pens are millimetres, text sizes points of 1/72 inch,
// turns degrees clockwise as the page is seen.
//
// # Accuracy
//
// SVG positions are rounded to 0.001 mm and PDF positions to 0.00035 mm. The
// same document gives the same bytes: nothing depends on the clock or the
// machine.
//
// # Limitations
//
// The typeface, Liberation Sans, has Latin, Greek and Cyrillic letters; writing
// from right to left and marks that do not combine with their letter are
// reported (GlyphError), not set.
//
// # References
//
// Okabe and Ito, Color Universal Design (2008): the hues. ISO 216 and ANSI
// Y14.1: the papers. ISO 32000-1, SVG 1.1 (W3C, 2011), PNG (W3C, 2003).
package page
