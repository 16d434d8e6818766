// Package workers spreads work over goroutines: many items that do not
// depend on each other, some at once.
//
// # Model
//
// Items are numbered and handed out in order. Work that puts its result at
// the item's number, and adds results up by number afterwards, gives the same
// bits at any concurrency.
//
// # Limitations
//
// Work whose results are used in order while it goes on, in little memory, is
// not for this: dem.ReadBands hands over bands of rows so, and contour.Tracer
// strips.
package workers
