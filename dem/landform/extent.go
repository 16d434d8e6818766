package landform

import "slices"

// longestPart is the most posts along a row that one part of a feature spans:
// parts are taken to be straight, and a row of a geographic grid is not (at 45
// degrees a part of 16 posts of 90 m bows by 4 cm).
const longestPart = 16

// covered cuts the ground that posts cover into convex parts: in every cell,
// the ground between those of its corners that are among them. Posts that
// touch, by a side or a corner, are joined. It puts the posts in order.
func covered(posts []int32, columns int) [][]Position {
	slices.Sort(posts)
	posts = slices.Compact(posts)
	type run struct{ row, first, last int }
	var runs []run
	for _, p := range posts {
		column, row := int(p)%columns, int(p)/columns
		if n := len(runs); n > 0 && runs[n-1].row == row && runs[n-1].last == column-1 {
			runs[n-1].last = column
			continue
		}
		runs = append(runs, run{row, column, column})
	}
	var parts [][]Position
	add := func(corners ...Position) { parts = append(parts, corners) }
	// band adds the ground between two rows, from one slanting side to another
	band := func(row, left, right, leftBelow, rightBelow int) {
		for {
			to, toBelow := min(right, left+longestPart), min(rightBelow, leftBelow+longestPart)
			corners := []Position{{float64(left), float64(row)}}
			for _, q := range []Position{{float64(to), float64(row)}, {float64(toBelow), float64(row + 1)}, {float64(leftBelow), float64(row + 1)}} {
				if !slices.Contains(corners, q) {
					corners = append(corners, q)
				}
			}
			add(corners...)
			if to == right && toBelow == rightBelow {
				return
			}
			left, leftBelow = to, toBelow
		}
	}
	below := 0
	for _, a := range runs {
		for below < len(runs) && runs[below].row <= a.row {
			below++
		}
		for j := below; j < len(runs) && runs[j].row == a.row+1; j++ {
			b := runs[j]
			if b.first > a.last+1 || a.first > b.last+1 {
				continue
			}
			band(a.row, max(a.first, b.first-1), min(a.last, b.last+1), max(b.first, a.first-1), min(b.last, a.last+1))
		}
		// the row itself, which the bands above and below it need not reach along
		for first := a.first; ; first += longestPart {
			last := min(a.last, first+longestPart)
			if first < last {
				add(Position{float64(first), float64(a.row)}, Position{float64(last), float64(a.row)})
			} else if first == a.first { // a row of one post
				add(Position{float64(first), float64(a.row)})
			}
			if last == a.last {
				break
			}
		}
	}
	return parts
}

// eachPart visits the parts a feature is made of, convex, with one to four
// corners: the pieces of its line, the ground it covers, or its own post.
func (f *Feature) eachPart(visit func(corners []Position)) {
	switch {
	case len(f.Line) > 1:
		for i := 1; i < len(f.Line); i++ {
			visit(f.Line[i-1 : i+1])
		}
	case len(f.Parts) > 0:
		for _, p := range f.Parts {
			visit(p)
		}
	default:
		visit([]Position{{float64(f.Column), float64(f.Row)}})
	}
}
