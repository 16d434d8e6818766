// Package desk serves one local page over package answer: point at the ground
// and see the answer. It holds HTTP and JSON and nothing else: no policy, no
// computing, no wording. Everything the page shows is what the command line
// writes.
//
// This comment is the contract between the server (this folder) and the page
// (the folder page, plain ES modules). Lengths are metres, angles degrees,
// numbers in binary answers little-endian.
//
// # Opening
//
// The server listens on 127.0.0.1 and prints http://127.0.0.1:PORT/#token=T.
// The page takes the token out of the fragment, keeps it in sessionStorage,
// and sends it with every request under /api/ in the header
//
//	Crowline-Token: T
//
// Assets need no token: GET / is page/index.html, and every other file of the
// list in assets.go is served under its own name (GET /map.js). Nothing under
// /api/ can be an img's src or a link's href, for those send no header: fetch
// it and make a blob: URL.
//
// # Headers of every answer
//
//	Content-Security-Policy: default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self';
//	  img-src 'self' blob:; frame-ancestors 'none'; base-uri 'none'; form-action 'none'
//	X-Content-Type-Options: nosniff
//	Referrer-Policy: no-referrer
//	Cross-Origin-Opener-Policy: same-origin
//	Cross-Origin-Resource-Policy: same-origin
//	Cache-Control: no-store
//
// So no inline script, no inline style element and no style attribute in
// markup; style set by script (element.style.x, an SVG attribute) is allowed.
// Keep tiles in memory yourself: nothing is cached by the browser.
//
// # Errors
//
// Any status of 400 or more has the body
//
//	{"error": {"code": "place", "field": "from", "message": "one line for people"}}
//
// message is the command line's own line, to be shown as it is. field names the
// part of the request at fault ("from", "to", "turns[2]", "at", "radius_m") or is
// left out. code is one of
//
//	request    400  the JSON is not as described here, or a number is out of range
//	token      401  no token, or another server's: this page is of a desk that was stopped
//	forbidden  403  another site's request, or another Host
//	notfound   404
//	method     405
//	superseded 409  a later turn of the same kind has come (see Latest wins)
//	large      413  the body is over 64 KiB
//	type       415  a POST that is not application/json
//	place      422  a place that cannot be read, or is outside the data
//	answer     422  the question could not be answered
//	failed     500  a fault of ours
//	busy       503  too much is waiting, or the server is stopping; ask again
//	late       504  the request's own deadline has passed
//
// # Latest wins
//
// Every POST may carry
//
//	Crowline-Page: 1 to 32 letters and digits, made at random when the page loads
//	Crowline-Turn: a whole number that grows with each request of the page
//
// Of one page and one path, one request at a time is worked on: a higher turn
// cancels the one before it, which answers 409 superseded; a lower turn than one
// already seen is refused with 409 at once. Aborting the fetch cancels its work
// as well. Without the two headers a request is worked on by itself. GETs
// (tiles, elevations) are never superseded: abort those that are no longer in
// view.
//
// # The plane
//
// The map is drawn in one plane, told by GET /api/ground under "plane": the UTM
// grid of the zone that the middle of the ground lies in, x the easting and y
// the northing in metres, so that grid lines are straight, x and y whole
// multiples. Beyond 84 N and 80 S, where there is no such grid, it is the
// azimuthal equidistant plane of the middle of the ground, x east and y north of
// it ("kind": "equidistant"), and there are no grid lines.
//
// The page does no geodesy: it sends x and y and is given x and y beside every
// lat and lon that it has to draw.
//
// # Places in requests
//
// One of
//
//	{"text": "34.3297,-118.0548"}     any form the command line reads, or a name from --places
//	{"x": 402967.5, "y": 3799217.0}   a point of the plane: a handle that was dragged
//	{"lat": 34.3297, "lon": -118.0548, "name": "Camp"}
//
// A point of the plane is taken to the nearest hundred-thousandth of a degree,
// so that the command that gives the same is short and gives exactly the same.
//
// # Places in answers
//
//	{"name": "Camp", "lat": , "lon": , "elevation_m": , "mgrs": "", "x": , "y": , "text": "34.32970,-118.05480"}
//
// name is left out where there is none. text is what to put into the field of
// the place, and into a link. elevation_m is null where it is not known.
//
// # Options
//
// Every question may have "options", each field of which may be left out; what is
// left out is as crowline desk was started:
//
//	{"eye_m": 1.6, "target_m": 0, "refraction_k": 0.13, "date": "2026-11-30", "units": "metric" | "us",
//	 "interval": "20m" | "40ft" | "", "marks": 3}
//
// # GET /api/ground
//
// Once, at opening.
//
//	{
//	 "plane": {"kind": "utm", "name": "WGS 84 / UTM zone 11N", "zone": 11, "south": false},
//	 "extent": {"x_min": , "y_min": , "x_max": , "y_max": },  the box round the data
//	 "outline": [x, y, x, y, ...],                            the data's edge, closed
//	 "spacing_m": 30.9,
//	 "posts": {"columns": , "rows": },
//	 "tiles": {
//	   "size_px": 512, "x0": , "y0": ,                        see Tiles
//	   "levels": [{"level": 5, "m_per_px": 5, "scale": 20000, "grid_m": 1000,
//	               "interval": "20 m", "interval_m": 20, "index_every": 5, "reason": "", "warning": ""}, ...]  finest first
//	 },
//	 "elevation_data": {...}, "cautions": ["", ...],          as in every answer of the command line
//	 "places": [{"kind": "hut", ... a place in answers}, ...],   those of --places that lie on the data
//	 "start": {...},                                          the State to open with
//	 "options": {...},                                        the Options as they stand
//	 "elevation_range": {"lowest_m": , "highest_m": },
//	 "view_radius_m": 8000,                                   of ground seen while dragging
//	 "version": ""
//	}
//
// interval is null fields ("interval": "", "interval_m": null) for a level with no
// lines. grid_m is the spacing of grid lines that a sheet of this scale has, 0
// where there is no grid.
//
// # Tiles
//
// A tile of a level is size_px pixels square, one pixel m_per_px metres of the
// plane. Tile (column, row) has its west edge at x0 + column*size_px*m_per_px and
// its north edge at y0 - row*size_px*m_per_px; columns and rows may be negative.
// Levels are halvings of one another.
//
// GET /api/tile/LEVEL/COLUMN/ROW?relief=50&contours=1&ratio=1&units=metric
//
// is image/png: relief (strength 0 to 100, 0 for none, 50 where it is left out),
// contour lines with the numbers of the index lines (contours=0 leaves them out),
// ground without data hatched, the data's edge. ratio=2 is the same with twice the
// pixels each way, for a fine screen. A tile with no data on it is 204 without a
// body: hatch it, or leave it paper.
//
// Grid lines, scale bar, norths and places are the page's to draw, from numbers.
//
// GET /api/elevations/LEVEL/COLUMN/ROW
//
// is 129 x 129 float32, row by row from the north west corner, at every fourth
// pixel of the tile, both edges included: elevation in metres, NaN where there is
// none. For reading out under the pointer; between them go bilinear. 204 as above.
//
// # POST /api/place
//
// Reads what was typed, and tells a point.
//
//	{"at": PLACE}
//
// answers
//
//	{"at": a place in answers, "norths": {"convergence_deg": , "declination_deg": , "grid_magnetic_deg": ,
//	  "annual_change_deg": , "model": "WMM2025", "date": ""}, "utm": "11S 402967 3799217"}
//
// Angles are positive east: convergence_deg is grid north from true north,
// declination_deg is magnetic from true, grid_magnetic_deg is magnetic from grid;
// null where not known. A place off the data is 422 place.
//
// # POST /api/quick
//
// While a handle moves: a few milliseconds. Of a route send only the legs that
// move.
//
//	{"turns": [PLACE, PLACE, ...], "options": {}}     2 to 10
//
// answers
//
//	{"legs": [{
//	  "from": , "to": ,                       places in answers
//	  "line": [x, y, x, y, ...],              the leg on the plane
//	  "distance_m": , "covered_m": , "unknown_m": ,
//	  "bearing": {...}, "climb": {...}, "sight": {...},   the objects of crowline leg --json; sight.likely is null
//	  "set": "162", "words": "162 on your compass ...",   the line "walk" of the first lines
//	  "hazards": "",                                      the line BEWARE, or ""
//	  "profile": PROFILE
//	}]}
//
// PROFILE is the drawing of crowline leg --plot in numbers:
//
//	{
//	  "distance_m": [...], "elevation_m": [...],   the ground; null elevation in a void. At most 1000 points:
//	                                               of a longer line the lowest and highest of each piece
//	  "length_m": ,                                of the line of sight
//	  "eye_m": , "target_m": ,                     elevations of eye and target
//	  "sight": [d, e, d, e, ...] | null,           the line of sight, bent by earth and air
//	  "blocked_at_m": | null, "blocker_elevation_m": | null,
//	  "hidden": [[from, to], ...], "unknown": [[from, to], ...],   ground hidden from the start, and not known
//	  "filled": [[from, to], ...], "steep": [[from, to], ...],     30 degrees or more along the line
//	  "interval": "20 m", "crossings": [[d, elevation, index], ...]   contour lines crossed; index is 1 for an index line
//	}
//
// # POST /api/leg
//
// On release: everything.
//
//	{"from": PLACE, "to": PLACE, "options": {}}
//
// answers
//
//	{
//	  "answer": {...},          what crowline leg --json writes
//	  "text": TEXT,             what crowline leg writes
//	  "command": "crowline leg ...",
//	  "profile": PROFILE,
//	  "draw": {
//	    "line": [x, y, ...],
//	    "drift": [x, y, ...],          the widening strip, a ring
//	    "steep": [[x, y, ...], ...],   parts of 30 degrees or more
//	    "hidden": [[x, y, ...], ...],  parts out of sight from the start
//	    "marks": [{"label": "1", "name": "", "words": "", "x": , "y": , "distance_m": , "true_deg": , "ray": [x, y, x, y], "behind": false}]
//	  }
//	}
//
// TEXT is
//
//	{"first": [{"label": "BEWARE", "text": ""}, {"label": "walk", ...}, {"label": "sight", ...}, {"label": "drift", ...}],
//	 "sections": [{"title": "Climb", "lines": [{"label": "ground", "text": ""}, ...]}, ...],
//	 "plain": "all of it as the command line writes it, 80 columns"}
//
// label is "" for a paragraph; a line with "fixed": true is a row of a table, whose
// spaces count. Sections are those of crowline leg --full; the last ones hold the
// data and the cautions. plain is what crowline leg writes without --full.
//
// # POST /api/route
//
//	{"turns": [PLACE, ...], "title": "", "options": {}}     3 to 100 (2 as well)
//
// answers {"answer", "text", "command", "legs": [{"profile": PROFILE, "draw": {...}}, ...]}: what crowline
// route --json writes.
//
// # POST /api/view
//
// Ground seen from a point.
//
//	{"at": PLACE, "radius_m": 8000, "steps": 2 | 3, "options": {}}     radius 0: all the ground
//
// answers application/octet-stream:
//
//	offset  0  4 bytes   "CLV1"
//	        4  uint32    columns
//	        8  uint32    rows
//	       12  uint32    1 where there are three steps, else 0
//	       16  float64   x of the west edge
//	       24  float64   y of the north edge
//	       32  float64   metres of the plane to one cell
//	       40  uint32    length of the JSON that follows
//	       44  JSON      {"at": place, "radius_m": , "words": "", "command": "crowline viewshed ...", "seen_share": }
//	  then     columns*rows bytes, row by row from the north west:
//	           0 not looked at, 1 seen, 2 hidden, 3 not known, 4 within the data's error
//
// steps 3 asks how sure it is: 1 is then seen with 75 % or more, 4 with 25 to
// 75 %, 2 with less, as on a drawn map. It is 2 steps where the error is not known.
//
// # POST /api/skyline
//
//	{"at": PLACE, "options": {}}
//
// answers
//
//	{
//	  "at": place,
//	  "strip": {"step_deg": 0.1, "angle_deg": [...], "distance_m": [...], "elevation_m": [...], "x": [...], "y": [...]},
//	           by true bearing from 0, null where no ground is known
//	  "ridges": [[bearing, angle, distance, bearing, angle, distance, ...], ...],   edges within the view, before farther ground; farthest first
//	  "things": [{"name": "", "kind": "notch", "words": "the notch 2 degrees left of ...", "true_deg": , "magnetic_deg": ,
//	              "angle_deg": , "distance_m": , "elevation_m": , "x": , "y": , "ray": [x, y, x, y]}],
//	  "text": TEXT, "command": "crowline skyline ..."
//	}
//
// # POST /api/mark
//
// One thing to sight: the ray to it, and what crowline sight says of it.
//
//	{"from": PLACE, "mark": PLACE, "options": {}}
//
// answers {"answer": what crowline sight --json writes, "text": TEXT, "command": "", "ray": [x, y, ...], "profile": PROFILE}.
//
// # POST /api/vantage
//
// Where to stand: for a class, or, with "see", to see marks, or, with the watch
// pair, to watch a leg. Radius is up to 20 km. Cover is not asked: vantage has none.
//
//	{"around": PLACE, "radius_m": 2000, "see": [PLACE], "watch_from": PLACE, "watch_to": PLACE, "options": {}}
//
// answers the stream of frames of /api/take. Its deadline is two minutes; abort the
// fetch to stop the work. The file is laid out as the answer of /api/view: cells are
// 0 not asked, 1 no tint, and from 2 on the steps of the score, from the least; at
// offset 12 stands how many steps. The JSON is
//
//	{"around": place, "radius_m": , "kind": "class" | "see" | "watch",
//	 "standpoints": [{"rank": 1, "place": place, "where": "420 m on 034", "why": "", "steep": false}],
//	 "score": "what the score means", "without": "words of cells 1", "steps": ["words of cells 2", ...],
//	 "text": TEXT, "command": "crowline vantage ..."}
//
// The sections of text are "Standpoint 1" and so on in the order of standpoints, then
// what was asked.
//
// # POST /api/take/WHAT
//
// A file to take away. WHAT and its request:
//
//	sheet    {"turns": [1 or 2 places], "scale": 25000, "paper": "A4", "format": "pdf" | "svg" | "png", "relief": 0.5, "hidden": false}
//	card     {"turns": [2 to 100], "title": "", "paper": "A4", "format": "pdf" | "svg" | "png" | "txt"}    the route card
//	profile  {"turns": [2], "format": "pdf" | "svg" | "png"}
//	drill    {"at": PLACE, "radius_m": 3000, "level": "beginner" | "intermediate" | "leader", "count": 10, "seed": 1,
//	          "paper": "A4", "scale": 25000, "part": "both" | "questions" | "key"}
//	gpx      {"turns": [2 to 100], "title": ""}
//	json     {"turns": [2 to 100]}                        the answer of leg, or of route for more than two
//
// all with "options" too. Paper is as --paper has it. The answer is a stream of frames, application/octet-stream,
// each one byte of kind, a uint32 of length, and so many bytes:
//
//	P  JSON {"label": "tracing contours", "done": 3, "total": 40}   how far the work is
//	N  JSON {"name": "leg.pdf", "type": "application/pdf", "bytes": 12345, "warnings": [""], "command": "crowline sheet ..."}
//	F  bytes of the file, in order
//	D  JSON {"bytes": 12345}                                        the file is whole
//	E  the JSON of an error                                         no file
//
// The last frame is D or E: a stream that ends without either was cut off. Its
// deadline is ten minutes; abort the fetch to stop the work. What is wrong with
// the request itself is an ordinary error with its status.
//
// # State and links
//
// A link is the state alone: no port, no token.
//
//	crowline:desk?turn=34.32970,-118.05480&turn=34.30080,-118.05140&...
//
//	turn      a place as its text or name, once for each turning point in order; none, one or many. An empty one,
//	          first or last, is a start or a destination that is left open
//	at        the chosen point of skyline and ground seen, where it is no turning point
//	mark      the chosen mark
//	seen      start, goal, at or off: from where ground seen is tinted
//	relief    0 to 100
//	contours  1 or 0
//	x, y      the middle of the map on the plane, whole metres
//	level     the level of the map
//
// Keys that are not in this list are kept out. As JSON ("start" of /api/ground, and
// the answer of POST /api/state {"link": "..."}):
//
//	{"turns": [places in answers, null for one left open], "at": place | null, "mark": place | null, "seen": "off", "relief": 50, "contours": true,
//	 "x": | null, "y": | null, "level": | null}
//
// POST /api/state also takes the same with places as in requests, as {"state":
// {...}}, and answers {"state": {...}, "link": "crowline:desk?...", "command":
// "crowline desk 'crowline:desk?...'"}.
package desk
