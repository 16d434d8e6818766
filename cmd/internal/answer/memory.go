package answer

// What a question takes for each post it reads at once, bytes, the post's own
// four among them. Measured on fractal ground of 14 and 61 million posts: the
// most a process held, less the 58 MB of one that reads none. Where garbage
// makes it vary the larger is taken.
const (
	viewshedPostBytes     = 6  // and
	viewPostBytes         = 7  // for each observer
	inSightPostBytes      = 8  // where summits are looked for that are in sight
	horizonPostBytes      = 16 // where all are
	overCoverPostBytes    = 16 // more, where cover is laid as well
	landformPostBytes     = 56
	drillPostBytes        = 60
	heldContoursPostBytes = 45
	sheetPostBytes        = 20
	hiddenPostBytes       = 6  // more, where a sheet tints hidden ground
	likelyPostBytes       = 24 // more, where a view is told by how sure it is, and
	likelyViewBytes       = 2  // for each view after the first
)
