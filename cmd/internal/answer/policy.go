package answer

import (
	"time"

	"crowline/dem/geodesy"
	"crowline/profile"
	"crowline/visibility"
)

// Policy is every figure that somebody had to decide. Each is here with its
// reason, once; what the library needs of it is handed down.
type Policy struct {
	// EyeAboveGround is the eye of someone standing, metres (common practice).
	EyeAboveGround float64
	// Refraction is the coefficient as R/r (Gauss's 0.13, common practice).
	Refraction float64
	// DoublePaces is double paces in 100 m for a walker who has not counted
	// theirs. Common practice: 60 to 70 on easy ground.
	DoublePaces float64
	// Rule is the rule for one time, where a card has room for one: the only one
	// of the three with a factor for walking off paths.
	Rule profile.Rule
	// LeastSpeed and MostSpeed bound a walker's speed on a level path, metres per
	// second: 1 and 8 km/h. Slower is no walk, faster is running, of which the
	// rules are not.
	LeastSpeed, MostSpeed profile.Speed
	// Rest is how much of each hour goes in rests, where times of arrival are told
	// (common practice).
	Rest time.Duration
	// SunEarlier is how long before it sets the sun must leave the ground for it to
	// be said: less is within what real air and posts are worth.
	SunEarlier time.Duration
	// SunSkyline is how far off the ground must be known for the sun's leaving it
	// not to be said with a doubt, metres: beyond that a ridge 500 m higher
	// stands 3 degrees up, a quarter of an hour of sun.
	SunSkyline float64
	// MapScale is the scale of the map whose lines a leg counts, and of a sheet
	// unless another is asked for: the commonest for walking (common practice).
	// Its interval is contour.UsualInterval's, so that all legs on one data set
	// are counted alike.
	MapScale float64
	// LandformScale is the distance, metres, over which landforms are told, or
	// LandformPosts post spacings where those are wider: what a walker sees
	// around them, and enough posts to tell a form from noise.
	LandformScale float64
	LandformPosts float64
	// LandformRelief is the least rise of a landform, metres, or LandformErrors
	// standard deviations of the data. It is the commonest contour interval:
	// less may not show on a map. Two heights differ by three deviations through
	// their errors alone once in 30 times; each landform's confidence says how
	// it fares.
	LandformRelief, LandformErrors float64
	// PostsAcross is how many posts across a landform's scale are enough: of
	// finer data every second, third ... post is taken, which costs less and
	// shows the same forms. Cliffs are no wider than the least relief at any
	// scale, and posts are taken as close as that, up to MostPostsAcross: beyond
	// those cliffs are looked for by themselves.
	PostsAcross, MostPostsAcross float64
	// DrawnPost is the least distance between posts that a map shows, metres of
	// paper: the least that is drawn apart (common practice).
	DrawnPost float64
	// HiddenPosts is of how many posts hidden summits are listed unasked, where that
	// is usual: a few seconds' work on two cores.
	HiddenPosts float64
	// Prominence is how far a summit must stand above its saddle to be a mark,
	// metres, or twice the data's error: less is not told from a wiggle.
	Prominence float64
	// MarkMargin is how far beyond a leg marks are looked for, metres: half the
	// leg again, and not under this. A mark beyond the end still leads there.
	MarkMargin float64
	// HeldShare and HeldBytes bound ground that is held in memory for many
	// questions: one part in so many of what a question may take, so that the
	// questions have room, and so many bytes, which is 16 000 posts square.
	HeldShare, HeldBytes int64

	// LinePointBytes is about what a point of a contour line takes on a drawn map:
	// the line, the page's path and its file, each grown by doubling; and
	// StreamedPointBytes of one written as it is traced (41 to 50 were measured).
	LinePointBytes, StreamedPointBytes int64
	// LineBytesLeast is what lines may take whatever the limit: the program itself
	// takes more, and no page so small is worth refusing.
	LineBytesLeast int64
	// PixelsPerPost is how many pixels of a map on a screen one post may take, at
	// the closest: closer, nothing more is to be seen.
	PixelsPerPost float64
	// PointedDecimals of a degree is how exactly one points at a map: a metre, half
	// a pixel at the closest that a map of 30 m posts is looked at.
	PointedDecimals int
	// LookBehind is how far ground is looked at that may rise behind what was
	// asked for within a radius, metres, and LookBehindRemote that of data at an
	// address, where every tile costs a download: ground farther off is lost in
	// haze on most days (common practice). LookBehindPosts bounds both in post
	// spacings: of posts a metre apart ground 10 km off is enough to read.
	LookBehind, LookBehindRemote float64
	LookBehindPosts              float64
	// HighestGround is higher than any of the Earth, metres (8 849): where even that
	// would stay under the skyline, beyond those bounds, data on this machine is not
	// looked through for ground that rises over it.
	HighestGround float64
	// MarkFar is how far off a mark of a chain may stand, metres: what is seen in
	// ordinary air (common practice). Ground is read as far as that, but no
	// farther than twice a leg's reach.
	MarkFar float64
	// MarkSector is how far to either side of the line the ground is read for
	// them, degrees: what they are told from stands there too.
	MarkSector float64
	// MarkPosts is the most posts read for them: of finer data every second, third
	// ... post is taken, which shows the same tops at the distances of marks.
	MarkPosts int
	// PlainWithin is how far before and beyond a place the ground must lie level
	// for the place to be on plain ground, metres, and PlainRelief how level,
	// metres, or the data's error: some three times a person's height.
	PlainWithin, PlainRelief float64
	// SightSamples and LegSamples are the most draws of a likelihood: half a per
	// cent for a sight asked for, one per cent for one of several in an answer.
	// Where SightStandardError is reached sooner, as it is of all but even
	// chances, the draws end.
	SightSamples, LegSamples int
	SightStandardError       float64
	// ViewSamples are the draws of a whole view's likelihood: a post seen in a
	// quarter of all grounds then comes out within 4 in 100 of it, one standard
	// deviation. Of more than ViewPostsDrawn posts over all draws fewer are made,
	// but not under ViewSamplesLeast: within 8 in 100, and 8 s on two busy cores
	// for 12 million posts.
	ViewSamples, ViewSamplesLeast int
	ViewPostsDrawn                float64
	// TallestCover is the height above ground, metres, over which cover is
	// doubted: trees grow to about 115 m (common knowledge), towers are rare.
	TallestCover float64
	// MostKnown is how many places of known elevation the data's unit is held
	// against: enough for a middle one, and few enough to read.
	MostKnown int
	// MGRSDigits gives references to 10 m, about what a hand-held receiver and
	// a map can agree on.
	MGRSDigits int
	// LeastTold is the shortest stretch of a leg that is told by itself, metres:
	// a walker does not notice less.
	LeastTold float64
	// CardPassed is how many landforms a route card names on a leg: what fits.
	CardPassed int
	// CardSightings is how many sightings of a leg it names: likewise.
	CardSightings int
	// MostLegs bounds a route: nobody walks more turning points in a day, and a
	// recorded track has thousands of points and no legs.
	MostLegs int
	// SkylineStep is the greatest angle between the bearings of a skyline's
	// drawing and of the search for its highest point, degrees: a fifth of a
	// millimetre on the strip.
	SkylineStep float64
	// SkylineRaised is by how much a skyline must rise to be said to, degrees:
	// what the text's figures show.
	SkylineRaised float64
	// SameSummit is how near a place stands to a summit of the data to be its
	// name, metres, where posts are not farther apart than half of it.
	SameSummit float64
	// OneMark is how near two marks are one to a walker who sights them, metres:
	// their bearings would not check each other.
	OneMark float64
	// GoalKnownFrom is how far off a destination is known for what it is,
	// metres: a camp, a cairn or a party in the open (own judgement; the data
	// does not know what stands there).
	GoalKnownFrom float64
	// VisualRange is how far things are sighted in ordinary air, metres, where
	// no other is given (common practice: 20 km is clear, not very clear, air).
	VisualRange float64
	// NotchSaddle is how far round a notch the ground is looked over for the saddle
	// it is, metres: the hills on both sides make it one.
	NotchSaddle float64
	// OnTheWay is how far along a bearing something better to sight is looked for,
	// metres, OnTheWayEvery how far apart the places are: an hour off paths, and
	// as near as a walker looks up again. PlainlyBetter is how many times as good
	// it must be: by less nobody would change marks.
	// InView is how many things in view are told of, all round: a fix takes three,
	// and nobody reads a longer list.
	InView int
	// SureEnough is how likely a thing is to be seen that is proposed before all
	// that are less so: three times in four.
	SureEnough float64
	// OnTheWayStep is the angle between bearings looked along there, degrees: a
	// post of 30 m at 9 km.
	OnTheWay, OnTheWayEvery, PlainlyBetter float64
	OnTheWayStep                           geodesy.Degrees
	// WaymarksUpTo is the longest leg, metres, whose attack point, catching
	// feature and the like are looked for: one longer is not walked on one
	// bearing.
	WaymarksUpTo float64
	// SetsKept is how many sets of marks of each size are proposed for a fix: a
	// choice, where the best of them cannot be told on the ground.
	SetsKept int
	// WalkOn is how far, metres, from a fix the true place may lie, 19 times in 20,
	// for the fix to be walked on: LandformScale, what a walker sees around them,
	// so that the ground at hand tells where in it they stand.
	WalkOn float64
	// ViewRelief is the strength of relief on a map of views: enough to read the
	// ground by, and lighter than any tint of ground out of sight.
	ViewRelief float64
	// ViewSparser is how many times smaller the scale is whose usual interval
	// such a map has: the tint between the lines is to be read too.
	ViewSparser float64
	// VantageMarksTo is how far off marks for a class count, metres: on a map that a
	// class holds (1:25 000, 0.4 m across), and through most air (own judgement).
	VantageMarksTo float64
	// VantageMarks is the most marks that are looked from: more than anyone points
	// at from one place.
	VantageMarks int
	// VantageLeast is the least angle, degrees, that a summit rises over its saddle
	// by to count as a mark, and VantageCliff a cliff's height: what stands out to
	// the eye (package scene).
	VantageLeast, VantageCliff float64
	// VantageNear is how far off marks are near, metres: a class can match them
	// with every fold of the map (own judgement).
	VantageNear float64
	// VantageFix is the fix, metres, that halves the worth of a standpoint: a fix
	// that still tells one spur of the map from the next (own judgement).
	VantageFix float64
	// VantageApart is how far apart standpoints are told, metres: a choice, and not
	// one hilltop ten times.
	VantageApart float64
	// VantageLooked is how many of the best posts are looked from anew, VantageTold
	// how many are told, and VantageSure how many times as many are tested for
	// doubtful marks. VantageDraw is the standard error of their likelihoods.
	VantageLooked, VantageTold, VantageSure int
	VantageDraw                             float64
	// VantageSpare is ground read beyond what is asked about, metres.
	VantageSpare float64
	// GroupSlope and GroupWidth: a group stands on ground no steeper, degrees, over
	// so many metres (common practice: a dozen people in a ring take 6 to 8 m, and
	// need room to turn). GroupCliff is how near a cliff may be, metres.
	GroupSlope, GroupWidth, GroupCliff float64
	// LoneSlope and LoneWidth are the same for one who waits, or looks for a mark:
	// ground to sit down on.
	LoneSlope, LoneWidth float64
	// WalkerSeen is how much of a walker must be seen for them to be watched, metres
	// above the ground that the rest of them may be behind: from the hips up.
	WalkerSeen float64
	// Of a walk for a class: WalkSlope is the steepest ground at a point, degrees,
	// and WalkEasySlope what is no steeper is as good as level (a group stands on
	// GroupSlope). WalkSure is how sure a landform must be. WalkAlone is how far
	// off another of its kind must be, metres: nearer, one is taken for the other.
	// A leg is WalkLeast to WalkMost metres: shorter teaches nothing, longer is not
	// kept by novices (own judgement).
	// WalkScale, WalkRelief and WalkErrors are LandformScale and so on for its
	// points, which are judged by who stands there.
	WalkScale, WalkRelief, WalkErrors float64
	// WalkCatch is how far beyond a point, metres, it must be told at the latest
	// that one has gone too far: what a class that missed it walks back (own
	// judgement). WalkFalls is the steepest that ground may fall away beside a point, degrees.
	WalkCatch, WalkFalls                                               float64
	WalkSlope, WalkEasySlope, WalkSure, WalkAlone, WalkLeast, WalkMost float64
	// WalkCandidates points are looked at, WalkWays legs from each, and no more than
	// WalkLegsTried legs worked out in full. WalkAlike is what a third point of one
	// kind in a row counts for, as metres of way.
	WalkCandidates, WalkWays, WalkLegsTried int
	WalkAlike                               float64
}

// DefaultPolicy is the policy of every answer.
func DefaultPolicy() Policy { return policy }

var policy = Policy{
	EyeAboveGround: 1.6, Refraction: 0.13, DoublePaces: 65, MapScale: 25000,
	Rule: profile.ByTobler, LeastSpeed: 1000.0 / 3600, MostSpeed: 8000.0 / 3600,
	Rest: 10 * time.Minute, SunEarlier: 10 * time.Minute, SunSkyline: 10e3,
	LandformScale: 500, LandformPosts: 6, LandformRelief: 20, LandformErrors: 3, PostsAcross: 15, MostPostsAcross: 50, DrawnPost: 0.2e-3, Prominence: 20, MarkMargin: 5000,
	HeldShare: 4, HeldBytes: 1 << 30, LinePointBytes: 256, StreamedPointBytes: 64, LineBytesLeast: 32 << 20, PixelsPerPost: 16, PointedDecimals: 5,
	LookBehind: 100e3, LookBehindRemote: 20e3, LookBehindPosts: 10e3, HighestGround: 10e3, HiddenPosts: 20e6,
	MarkFar: 20000, MarkSector: 25, MarkPosts: 2e6, PlainWithin: 250, PlainRelief: 5,
	SightSamples: visibility.DefaultSamples, SightStandardError: 0.005, LegSamples: 2000, ViewSamples: 100, ViewSamplesLeast: 20, ViewPostsDrawn: 200e6, TallestCover: 130, MostKnown: 15, MGRSDigits: 8, LeastTold: 10, CardPassed: 3, CardSightings: 3, MostLegs: 100,
	SkylineStep: 0.1, SkylineRaised: 0.1, SameSummit: 150, OneMark: 100, SetsKept: 3, WalkOn: 500,
	GoalKnownFrom: 100, WaymarksUpTo: 20e3, VisualRange: 20e3, NotchSaddle: 2000, InView: 12, SureEnough: 0.75, OnTheWay: 3000, OnTheWayEvery: 100, PlainlyBetter: 1.5, OnTheWayStep: 0.2,
	ViewRelief: 0.4, ViewSparser: 2,
	VantageMarksTo: 10e3, VantageMarks: 100, VantageLeast: 0.25, VantageCliff: 1, VantageNear: 2000, VantageFix: 100, VantageApart: 250,
	VantageLooked: 50, VantageTold: 10, VantageSure: 2, VantageDraw: 0.02, VantageSpare: 500,
	GroupSlope: 10, GroupWidth: 20, GroupCliff: 50, LoneSlope: 20, LoneWidth: 4, WalkerSeen: 1,
	WalkScale: 250, WalkRelief: 10, WalkErrors: 2, WalkCatch: 500, WalkFalls: 25, WalkSlope: 15, WalkEasySlope: 10, WalkSure: 0.6, WalkAlone: 120, WalkLeast: 200, WalkMost: 1200, WalkCandidates: 28, WalkWays: 6, WalkLegsTried: 120, WalkAlike: 500,
}
