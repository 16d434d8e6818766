package cli

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"slices"
	"strings"
	"sync"

	"crowline/dem"
	"crowline/visibility"
)

// coverViewJSON is what cover changes in a viewshed, against the same over
// the bare ground.
type coverViewJSON struct {
	BareVisible    int64   `json:"bare_visible_posts"`
	BareAreaSeenM2 float64 `json:"bare_area_seen_m2"`
	// Posts with a verdict, and those of them that the cover gives another.
	Asked   int64 `json:"posts"`
	Changed int64 `json:"changed_posts"`
	// Of these: seen over the bare ground and hidden, the other way round,
	// no longer known, and not known over the bare ground.
	Lost      int64 `json:"visible_to_hidden_posts"`
	Gained    int64 `json:"hidden_to_visible_posts"`
	ToUnknown int64 `json:"to_unknown_posts"`
	Settled   int64 `json:"from_unknown_posts"`
	// TopsSeen are seen posts that are the top of something standing there.
	TopsSeen int64 `json:"tops_seen_posts"`
	// UnknownCover are posts with ground whose cover is not known.
	UnknownCover int64 `json:"unknown_cover_posts"`
}

// compare counts what cover changes: bare is the view without it, ground the
// covered grid that over looks at.
func (j *viewedJSON) compare(bare, over *visibility.Viewed, layer *dem.CoverLayer, ground *dem.Grid) {
	c := &coverViewJSON{BareVisible: bare.Summary.Visible, BareAreaSeenM2: *rounded(bare.Summary.AreaSeen, 0)}
	w := over.Window
	for i, now := range over.Verdicts {
		if now == visibility.OutOfRange {
			continue
		}
		c.Asked++
		column, row := w.Column+i%w.Columns, w.Row+i/w.Columns
		was := bare.Verdicts[i]
		if now == visibility.Visible && ground.Elevation(column, row) > layer.Ground().Elevation(column, row) {
			c.TopsSeen++
		}
		if now == visibility.Unknown {
			if h := layer.Ground().Elevation(column, row); h == h && ground.Elevation(column, row) != ground.Elevation(column, row) {
				c.UnknownCover++
			}
		}
		switch {
		case now == was:
			continue
		case now == visibility.Unknown:
			c.ToUnknown++
		case was == visibility.Unknown:
			c.Settled++
		case now == visibility.Hidden:
			c.Lost++
		default:
			c.Gained++
		}
		c.Changed++
	}
	j.Cover = c
	j.VoidPosts -= c.UnknownCover
	if f := over.Summary.Farthest; f != nil {
		h := layer.Ground().Elevation(f.Column, f.Row)
		j.Farthest.ElevationM, j.Farthest.CoverM = rounded(h, 1), *rounded(f.Elevation-h, 1)
	}
}

// text is what the cover changes, "" for no cover.
func (c *coverViewJSON) text(u units) string {
	if c == nil {
		return ""
	}
	text := fmt.Sprintf("over the bare ground %s would be seen. The cover changes the verdict of %d of %d posts", u.area(c.BareAreaSeenM2), c.Changed, c.Asked)
	var parts []string
	say := func(n int64, format string) {
		if n > 0 {
			parts = append(parts, fmt.Sprintf(format, n))
		}
	}
	say(c.Lost, "%d seen over the bare ground are hidden")
	say(c.Gained, "%d hidden come into view, the cover's top being seen")
	say(c.ToUnknown, "%d are no longer known")
	say(c.Settled, "%d not known are now")
	if len(parts) > 0 {
		text += ": " + strings.Join(parts, ", ")
	}
	if c.TopsSeen > 0 {
		text += fmt.Sprintf(". Of the posts seen %d are tops of what stands there: the ground under them need not be seen", c.TopsSeen)
	}
	return text
}

// unknownText is the part cover has in posts that are not known.
func (c *coverViewJSON) unknownText() string {
	if c == nil {
		return ""
	}
	return fmt.Sprintf(" %d whose cover is not known,", c.UnknownCover)
}

// landmarks looks at marks again over the cover, each in a clearing of its
// own, and ranks them by that; bare are their sights over the bare ground, in
// the same order.
func (c *cover) landmarks(ctx context.Context, layer *dem.CoverLayer, observer visibility.Observer, marks []visibility.Landmark, opts visibility.LandmarkOptions) (over []visibility.Landmark, bare []visibility.Sight, err error) {
	type both struct {
		over visibility.Landmark
		bare visibility.Sight
	}
	looked, failed := make([]both, len(marks)), make([]error, len(marks))
	progress := opts.Progress
	opts.Progress = nil
	next, done := make(chan int), make(chan struct{})
	var workers sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		workers.Go(func() {
			for i := range next {
				looked[i].bare = marks[i].Sight
				var posts *dem.Covered
				posts, failed[i] = layer.Covered(c.clearing(observer.Place), c.clearing(marks[i].Place))
				if failed[i] == nil {
					var one []visibility.Landmark
					one, failed[i] = visibility.Landmarks(ctx, posts, observer, []visibility.Candidate{marks[i].Candidate}, opts)
					if len(one) == 1 {
						looked[i].over = one[0]
					}
				}
				done <- struct{}{}
			}
		})
	}
	go func() {
		for i := range marks {
			next <- i
		}
		close(next)
	}()
	for i := range marks {
		<-done
		if progress != nil {
			progress(int64(i+1), int64(len(marks)))
		}
	}
	workers.Wait()
	for _, err := range failed {
		if err != nil {
			return nil, nil, err
		}
	}
	slices.SortStableFunc(looked, func(a, b both) int { return visibility.Rank(a.over, b.over) })
	for _, l := range looked {
		over, bare = append(over, l.over), append(bare, l.bare)
	}
	return over, bare, nil
}

// coverSkylineJSON is what cover changes of a skyline, against that of the
// bare ground.
type coverSkylineJSON struct {
	// Bearings a step apart, and those of them on which the skyline stands
	// higher by at least raised, or is no longer known to the end.
	Of          int     `json:"of_bearings"`
	StepDeg     float64 `json:"step_deg"`
	Raised      int     `json:"raised_bearings"`
	NotKnown    int     `json:"no_longer_known_bearings"`
	MostDeg     float64 `json:"most_raised_deg"`
	MostTrueDeg float64 `json:"most_raised_true_deg"`
}

// raised is by how much a skyline must rise to be said to, degrees: what the
// text's figures show.
const raised = 0.1

func compareSkylines(bare, over *visibility.Horizon, step float64) *coverSkylineJSON {
	j := &coverSkylineJSON{Of: len(over.Points), StepDeg: step}
	for i, p := range over.Points {
		was := bare.Points[i]
		if was.Verdict == visibility.Visible && p.Verdict != visibility.Visible {
			j.NotKnown++
		}
		d := float64(p.Angle - was.Angle)
		if math.IsNaN(d) {
			continue
		}
		if d >= raised {
			j.Raised++
		}
		if r := *rounded(d, 2); r > j.MostDeg {
			j.MostDeg, j.MostTrueDeg = r, *rounded(float64(p.Bearing), 2)
		}
	}
	return j
}

// text is what the cover changes.
func (j *coverSkylineJSON) text() string {
	text := "the cover raises its skyline nowhere by a tenth of a degree"
	if j.Raised > 0 {
		text = fmt.Sprintf("the cover raises its skyline by a tenth of a degree or more on %d of %d bearings, most by %.1f° on true %s°", j.Raised, j.Of, j.MostDeg, bearing(j.MostTrueDeg))
	}
	if j.NotKnown > 0 {
		text += fmt.Sprintf("; on %d it is no longer known", j.NotKnown)
	}
	return text
}
