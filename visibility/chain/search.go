package chain

import (
	"cmp"
	"context"
	"math"
)

// cost of a way, in the order in which it counts: see the package's comment.
type cost [7]int

func (a cost) plus(b cost) cost {
	for i := range a {
		a[i] += b[i]
	}
	return a
}

func (a cost) compare(b cost) int {
	for i := range a {
		if c := cmp.Compare(a[i], b[i]); c != 0 {
			return c
		}
	}
	return 0
}

// option is a mark that may be chosen at a place.
type option struct {
	at   int
	last int    // the place, by its number, up to which it may serve
	ends []bool // of the places at+1 to last, those where it may be left; nil for all
	// losses are how often it is lost on the way to each of them; nil for never.
	losses []int
	// distance to it, metres, where it is chosen.
	distance float64
	// fixed is what it costs, however far it is followed; goal: following it costs
	// nothing more.
	fixed cost
	goal  bool
	// checked: it has been looked at whether it is seen.
	checked bool

	mark Mark
}

// mayEnd reports whether the option may be left at a place.
func (o *option) mayEnd(j int) bool {
	return j > o.at && j <= o.last && (o.ends == nil || o.ends[j-o.at-1])
}

// problem is what is searched: places along a line, metres from its start, and the
// options at each.
type problem struct {
	at      []float64
	options [][]*option
	// allowed is how long a stretch on the compass may be before a mark at a
	// distance, and atEnd the distance from which the goal is recognised in the end.
	allowed func(distance float64) float64
	atEnd   float64
}

// move is a stretch on the compass, which may be none, and then a mark, or none if
// that is the end: from, begin and to are places.
type move struct {
	begin, to int
	option    *option
}

// compass is what a stretch on the compass costs.
func (p *problem) compass(i, k int, distance float64) (c cost) {
	length := p.at[k] - p.at[i]
	if over := length - p.allowed(distance); over > 0 {
		c[0] = int(math.Round(over / every))
	}
	c[4] = int(math.Round(length / every))
	return c
}

// along is what following an option costs up to a place.
func (p *problem) along(o *option, to int) cost {
	c := o.fixed
	if o.losses != nil && !o.goal {
		c[3] += o.losses[to-o.at-1]
	}
	if !o.goal {
		c[6] = int(math.Round((p.at[to] - p.at[o.at]) / every))
	}
	return c
}

// least finds the way of least cost, from its end back. Of equal ones, at each
// place, that which takes to a mark first, follows it farthest, and has the first
// of the marks.
func (p *problem) least(ctx context.Context) ([]move, cost, error) {
	n := len(p.at) - 1
	best, moves := make([]cost, n+1), make([]move, n+1)
	type tail struct {
		c  cost
		to int
	}
	tails := make(map[*option]tail)
	for i := n - 1; i >= 0; i-- {
		if ctx.Err() != nil {
			return nil, cost{}, ctx.Err()
		}
		for _, o := range p.options[i] {
			t := tail{to: -1}
			for j := o.last; j > i; j-- {
				if !o.mayEnd(j) {
					continue
				}
				if c := p.along(o, j).plus(best[j]); t.to < 0 || c.compare(t.c) < 0 {
					t = tail{c, j}
				}
			}
			tails[o] = t
		}
		best[i], moves[i] = p.compass(i, n, p.atEnd), move{begin: n, to: n}
		for k := n - 1; k >= i; k-- {
			for m := len(p.options[k]) - 1; m >= 0; m-- {
				o := p.options[k][m]
				t := tails[o]
				if t.to < 0 {
					continue
				}
				if c := p.compass(i, k, o.distance).plus(t.c); c.compare(best[i]) <= 0 {
					best[i], moves[i] = c, move{k, t.to, o}
				}
			}
		}
	}
	var way []move
	for i := 0; i < n; i = moves[i].to {
		way = append(way, moves[i])
	}
	return way, best[0], nil
}
