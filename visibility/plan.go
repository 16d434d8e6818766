package visibility

import "math"

// plan chooses the strip's blocks: which range of minors the job's lines can
// meet, and which blocks stand too low to matter. It reports whether any
// post of the strip must be looked at.
func (s *sweeper) plan(a, near, far int) bool {
	blocksN, blocksAcross := s.blocks.down, s.blocks.across
	if !s.columns {
		blocksN = s.blocks.across
	}
	// minors between t = lo and t = hi over the strip's majors, in cells
	reach := s.sign*(float64(far)-s.originM) + s.cells.bow
	least := max(0, s.sign*(float64(near)-s.originM)-s.cells.bow)
	bottom := s.originN + min(s.lo*reach, s.lo*least) - s.cells.bow - 1
	top := s.originN + max(s.hi*reach, s.hi*least) + s.cells.bow + 1
	if bottom > float64(s.lastN) || top < float64(s.firstN) {
		return false
	}
	b0 := int(max(0, math.Floor((bottom-float64(s.firstN))/blockCells)))
	b1 := int(min(float64(blocksN-1), math.Floor((top-float64(s.firstN))/blockCells)))
	if b0 > b1 {
		return false
	}
	s.firstB = b0
	s.live, s.wanted, s.straddles = s.live[:0], s.wanted[:0], s.straddles[:0]
	pad := s.cells.blockBow
	needAll := s.needed != nil
	any := false
	corner := func(n int) (x0, x1, t0, t1, y0, y1 float64) {
		n = min(n, s.lastN)
		ma, na := s.position(near, n)
		mb, nb := s.position(far, n)
		return ma, mb, na / ma, nb / mb, na, nb
	}
	xa0, xa1, ta0, ta1, ya0, ya1 := corner(s.firstN + b0*blockCells)
	for b := b0; b <= b1; b++ {
		xb0, xb1, tb0, tb1, yb0, yb1 := corner(s.firstN + (b+1)*blockCells)
		xmin, xmax := min(xa0, xa1, xb0, xb1)-pad, max(xa0, xa1, xb0, xb1)+pad
		tmin, tmax := min(ta0, ta1, tb0, tb1), max(ta0, ta1, tb0, tb1)
		ymin, ymax := min(ya0, ya1, yb0, yb1)-pad, max(ya0, ya1, yb0, yb1)+pad
		xa0, xa1, ta0, ta1, ya0, ya1 = xb0, xb1, tb0, tb1, yb0, yb1

		block := b*blocksAcross + a
		if !s.columns {
			block = a*blocksAcross + b
		}
		live, straddles := true, false
		if xmin > 1 {
			tmin -= 2 * pad / xmin
			tmax += 2 * pad / xmin
			if tmax < s.lo || tmin > s.hi {
				s.add(false, false, false)
				continue
			}
			xm, ym := s.point((xmin+xmax)/2, (ymin+ymax)/2)
			hx, hy := (xmax-xmin)/2, (ymax-ymin)/2
			if !s.columns {
				hx, hy = hy, hx
			}
			if !math.IsInf(s.radius, 1) {
				d := s.cells.distance(xm, ym)
				half := s.cells.distance(hx, 0) + s.cells.distance(0, hy)
				beyond := 2 * s.cells.longest
				if d-half > s.radius+beyond {
					s.add(false, false, false)
					continue
				}
				straddles = s.clip && d+half > s.radius-beyond
			}
			if !s.blocks.voids[block] {
				c := s.cells
				drop := c.drop(xm, ym) -
					math.Abs(2*c.dropXX*xm+c.dropXY*ym)*hx - math.Abs(2*c.dropYY*ym+c.dropXY*xm)*hy -
					math.Abs(c.dropXX)*hx*hx - math.Abs(c.dropXY)*hx*hy - math.Abs(c.dropYY)*hy*hy
				u := float64(s.blocks.tops[block]) - s.eye - drop
				if u >= 0 {
					u /= xmin
				} else {
					u /= xmax
				}
				u += s.target / xmin
				live = u >= s.envelope.lowest(tmin, tmax)-2*s.slack
			}
		} else {
			straddles = true
		}
		any = any || live || needAll
		s.add(live, live || needAll, straddles)
	}
	return any
}

func (s *sweeper) add(live, wanted, straddles bool) {
	s.live, s.wanted, s.straddles = append(s.live, live), append(s.wanted, wanted), append(s.straddles, straddles)
}
