package contour

import "math"

// cross adds the nodes of one edge, from a post p of rank a to q of rank b,
// and gives the first one's number. Node n belongs to the nth level above
// the lower post.
func (w *worker) cross(p, q float32, a, b int32, column, row float64, alongRow bool) int32 {
	first := int32(len(w.nodes))
	low, high := a>>1, b>>1
	if low > high {
		low, high = high, low
	}
	p64, q64 := float64(p), float64(q)
	if math.Abs(q64-p64) > steepestEdge {
		w.refuse(p64, q64, column, row, alongRow)
		return first
	}
	for j := low + 1; j <= high; j++ {
		at := crossingPoint(column, row, alongRow, w.elevation(j), p64, q64)
		w.nodes = append(w.nodes, node{at, none, none})
		w.numbers = append(w.numbers, j)
	}
	return first
}

// crossingPoint is where a level crosses the edge from a post of elevation p
// at a column and row to the next along the row, or else down the column, of
// elevation q.
func crossingPoint(column, row float64, alongRow bool, level, p, q float64) Position {
	t := (level - p) / (q - p)
	if alongRow {
		return Position{column + t, row}
	}
	return Position{column, row + t}
}

// refuse notes that one of an edge's posts, the one farther from sea level,
// cannot be ground.
func (w *worker) refuse(p, q, column, row float64, alongRow bool) {
	if w.refused != nil {
		return
	}
	e := &ImplausibleError{Column: int(column), Row: int(row), Elevation: p}
	if math.Abs(q) > math.Abs(p) {
		e.Elevation = q
		if alongRow {
			e.Column++
		} else {
			e.Row++
		}
	}
	w.refused = e
}

// touched adds the two nodes of an edge whose posts both stand on a level
// with lower ground on both sides. The line would run out along it and
// back; instead each end turns round its own post and the edge stands apart.
func (w *worker) touched(rank int32, column, row int, alongRow, keep bool) int32 {
	first := int32(len(w.nodes))
	p := Position{float64(column), float64(row)}
	q := p
	if alongRow {
		q.Column++
	} else {
		q.Row++
	}
	w.nodes = append(w.nodes, node{p, none, none}, node{q, none, none})
	w.numbers = append(w.numbers, rank>>1, rank>>1)
	if keep {
		w.touches = append(w.touches, touch{rank >> 1, int32(column), int32(row), alongRow})
	}
	return first
}

// lower reports whether two posts of a cell both stand below a rank.
func lower(a, b, rank int32) bool { return a != void && b != void && a < rank && b < rank }

// crossRow adds the nodes on the edges along a row.
func (w *worker) crossRow(r int, posts []float32, up, here, down []int32, base []int32, keep bool) {
	a := here[0]
	for c := 0; c+1 < len(here); c++ {
		b := here[c+1]
		if a == b {
			if a&1 == 0 && a != void {
				base[c] = none
				if up != nil && down != nil && lower(up[c], up[c+1], a) && lower(down[c], down[c+1], a) {
					base[c] = w.touched(a, c, r, true, keep)
				}
			}
			continue
		}
		if a != void && b != void && a>>1 != b>>1 {
			base[c] = w.cross(posts[c], posts[c+1], a, b, float64(c), float64(r), true)
		}
		a = b
	}
}

// cells joins the nodes of the cells between two rows.
func (w *worker) cells(r int, topPosts, bottomPosts []float32, top, bottom []int32, topBase, bottomBase []int32) {
	n := len(top)
	bottom, topBase, bottomBase = bottom[:n], topBase[:n], bottomBase[:n]
	topPosts, bottomPosts = topPosts[:n], bottomPosts[:n]
	tl, bl := top[0], bottom[0]
	left := int32(none)
	if tl != bl && tl != void && bl != void {
		left = w.cross(topPosts[0], bottomPosts[0], tl, bl, 0, float64(r), false)
	}
	for c := 1; c < n; c++ {
		tr, br := top[c], bottom[c]
		if tl == tr && bl == br && tl == bl {
			left = none
			continue
		}
		right := int32(none)
		if tr != br {
			if tr != void && br != void {
				right = w.cross(topPosts[c], bottomPosts[c], tr, br, float64(c), float64(r), false)
			}
		} else if tr&1 == 0 && tr != void && c+1 < n && lower(tl, bl, tr) && lower(top[c+1], bottom[c+1], tr) {
			right = w.touched(tr, c, r, false, true)
		}
		if tl != void && tr != void && bl != void && br != void {
			lowest, highest := min(tl, tr, bl, br)>>1, max(tl, tr, bl, br)>>1
			if lowest != highest && w.refused == nil {
				k := cell{tl: tl, tr: tr, br: br, bl: bl, top: topBase[c-1], bottom: bottomBase[c-1], left: left, right: right}
				for j := lowest + 1; j <= highest; j++ {
					w.join(&k, j, c-1, topPosts, bottomPosts)
				}
			}
		}
		tl, bl, left = tr, br, right
	}
}

// cell is the ranks of a cell's corners and the first nodes of its edges.
type cell struct {
	tl, tr, br, bl           int32
	top, bottom, left, right int32
}

// on is the node of level j on an edge whose posts have ranks a and b.
func on(first, a, b, j int32) int32 { return first + j - min(a>>1, b>>1) - 1 }

func (w *worker) link(from, to int32) {
	w.nodes[from].next = to
	w.nodes[to].prev = from
}

// join draws level j through a cell. Corners at or above the level are
// counted 8 (top left), 4 (top right), 2 (bottom right), 1 (bottom left);
// lines run with those corners on the right.
func (w *worker) join(k *cell, j int32, column int, topPosts, bottomPosts []float32) {
	mask := 0
	if k.tl>>1 >= j {
		mask |= 8
	}
	if k.tr>>1 >= j {
		mask |= 4
	}
	if k.br>>1 >= j {
		mask |= 2
	}
	if k.bl>>1 >= j {
		mask |= 1
	}
	t := on(k.top, k.tl, k.tr, j)
	b := on(k.bottom, k.bl, k.br, j)
	l := on(k.left, k.tl, k.bl, j)
	r := on(k.right, k.tr, k.br, j)
	exact := 2 * j // rank of a post that stands on the level
	switch mask {
	case 8:
		w.link(t, l)
	case 4:
		w.link(r, t)
	case 2:
		w.link(b, r)
	case 1:
		w.link(l, b)
	case 7:
		w.link(l, t)
	case 11:
		w.link(t, r)
	case 13:
		w.link(r, b)
	case 14:
		w.link(b, l)
	case 12:
		if k.tl == exact && k.tr == exact && k.top >= 0 {
			w.link(r, k.top+1)
			w.link(k.top, l)
		} else {
			w.link(r, l)
		}
	case 3:
		if k.bl == exact && k.br == exact && k.bottom >= 0 {
			w.link(l, k.bottom)
			w.link(k.bottom+1, r)
		} else {
			w.link(l, r)
		}
	case 9:
		if k.tl == exact && k.bl == exact && k.left >= 0 {
			w.link(t, k.left)
			w.link(k.left+1, b)
		} else {
			w.link(t, b)
		}
	case 6:
		if k.tr == exact && k.br == exact && k.right >= 0 {
			w.link(b, k.right+1)
			w.link(k.right, t)
		} else {
			w.link(b, t)
		}
	case 10: // top left and bottom right
		if joined(w.elevation(j), topPosts[column], bottomPosts[column+1], topPosts[column+1], bottomPosts[column]) {
			w.link(t, r)
			w.link(b, l)
		} else {
			w.link(t, l)
			w.link(b, r)
		}
	case 5: // top right and bottom left
		if joined(w.elevation(j), topPosts[column+1], bottomPosts[column], topPosts[column], bottomPosts[column+1]) {
			w.link(l, t)
			w.link(r, b)
		} else {
			w.link(r, t)
			w.link(l, b)
		}
	}
}

// joined reports whether the two high corners of a saddle cell are joined
// by ground at or above the level: whether the saddle point of the bilinear
// surface through the four corners, (ac-bd)/(a+c-b-d), reaches it (the
// asymptotic decider of Nielson and Hamann, 1991). Written as a product of
// differences that are all of one sign, it is monotone in the level even
// after rounding, so of two levels the lower is never parted where the
// higher is joined, and their lines cannot cross.
func joined(level float64, high1, high2, low1, low2 float32) bool {
	return (float64(high1)-level)*(float64(high2)-level) >= (level-float64(low1))*(level-float64(low2))
}
