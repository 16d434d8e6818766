package page

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Paper is a sheet of paper, millimetres, upright: Width is the shorter side
// of a named size, and which way up it is used is chosen to suit what is drawn
// unless Fixed.
type Paper struct {
	Name          string
	Width, Height float64
	// Fixed keeps width and height as they are.
	Fixed bool
}

// Named papers: ISO 216 A4 and A3, ANSI Y14.1 A (letter) and B (tabloid).
var (
	A4      = Paper{Name: "A4", Width: 210, Height: 297}
	A3      = Paper{Name: "A3", Width: 297, Height: 420}
	Letter  = Paper{Name: "Letter", Width: 215.9, Height: 279.4}
	Tabloid = Paper{Name: "Tabloid", Width: 279.4, Height: 431.8}
)

// LeastSide and MostSide bound the sides of a page, millimetres: A5 is the least
// that holds a map's figures. A roll is as long as MostSide; a paper that is
// named is at most mostNamed, about A0, which is what plotters take.
const (
	LeastSide = 148
	MostSide  = 5000
	mostNamed = 1200
)

// Landscape is the paper with its longer side across, which it then keeps.
func (p Paper) Landscape() Paper {
	return Paper{Name: p.Name + " landscape", Width: max(p.Width, p.Height), Height: min(p.Width, p.Height), Fixed: true}
}

// Portrait is the paper with its longer side upright, which it then keeps.
func (p Paper) Portrait() Paper {
	return Paper{Name: p.Name + " portrait", Width: min(p.Width, p.Height), Height: max(p.Width, p.Height), Fixed: true}
}

// ParsePaper reads "a4", "a3", "letter" or "tabloid", with "-landscape" or
// "-portrait" behind it for paper that stays that way up, or a width and a height
// in millimetres such as "250x400", which stays so too.
func ParsePaper(s string) (Paper, error) {
	name, way, _ := strings.Cut(s, "-")
	for _, p := range []Paper{A4, A3, Letter, Tabloid} {
		switch {
		case strings.EqualFold(s, p.Name):
			return p, nil
		case !strings.EqualFold(name, p.Name):
		case strings.EqualFold(way, "landscape"):
			return p.Landscape(), nil
		case strings.EqualFold(way, "portrait"):
			return p.Portrait(), nil
		}
	}
	w, h, ok := strings.Cut(strings.ToLower(strings.TrimSpace(s)), "x")
	if ok {
		width, height := side(w), side(h)
		if !math.IsNaN(width) && !math.IsNaN(height) {
			p := Paper{Name: Number(width) + " x " + Number(height) + " mm", Width: width, Height: height, Fixed: true}
			if max(width, height) > mostNamed {
				return p, fmt.Errorf("page: paper of %g x %g mm: each side must be from %d to %d mm", width, height, LeastSide, mostNamed)
			}
			return p, p.Validate()
		}
	}
	return Paper{}, fmt.Errorf("page: paper %q: use a4, a3, letter or tabloid, with -landscape or -portrait if you like, or WIDTHxHEIGHT in millimetres, each from %d to %d", s, LeastSide, mostNamed)
}

// side reads the length of a side, written as people write numbers; NaN for
// anything else, such as 1_000.
func side(s string) float64 {
	s = strings.TrimSpace(s)
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || strings.Trim(s, "0123456789.e+-") != "" {
		return math.NaN()
	}
	return v
}

// Validate refuses paper with a side that no page is made for.
func (p Paper) Validate() error {
	if lo, hi := math.Min(p.Width, p.Height), math.Max(p.Width, p.Height); !(lo >= LeastSide && hi <= MostSide) {
		return fmt.Errorf("page: paper of %g x %g mm: each side must be from %d to %d mm", p.Width, p.Height, LeastSide, MostSide)
	}
	return nil
}

// Ways are the ways up that the paper may be used.
func (p Paper) Ways() []Paper {
	if p.Fixed || p.Width == p.Height {
		return []Paper{p}
	}
	turned := p
	turned.Width, turned.Height = p.Height, p.Width
	return []Paper{p, turned}
}
