package sheet

import (
	"fmt"
	"math"
	"strings"

	"crowline/dem/geodesy"
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

// Sizes a sheet can be composed on, millimetres: A5 is the least that holds
// the margin's figures, A0 more than any plotter needs a page for.
const (
	minPaper = 148
	maxPaper = 1200
)

// ParsePaper reads "a4", "a3", "letter", "tabloid", or a width and a height in
// millimetres such as "250x400", which stays that way up.
func ParsePaper(s string) (Paper, error) {
	for _, p := range []Paper{A4, A3, Letter, Tabloid} {
		if strings.EqualFold(s, p.Name) {
			return p, nil
		}
	}
	w, h, ok := strings.Cut(strings.ToLower(strings.TrimSpace(s)), "x")
	if ok {
		width, ok1 := geodesy.ParseNumber(strings.TrimSpace(w))
		height, ok2 := geodesy.ParseNumber(strings.TrimSpace(h))
		if ok1 && ok2 {
			p := Paper{Name: num(width) + " x " + num(height) + " mm", Width: width, Height: height, Fixed: true}
			return p, p.validate()
		}
	}
	return Paper{}, fmt.Errorf("sheet: paper %q: use a4, a3, letter, tabloid or WIDTHxHEIGHT in millimetres, each from %d to %d", s, minPaper, maxPaper)
}

func (p Paper) validate() error {
	if lo, hi := math.Min(p.Width, p.Height), math.Max(p.Width, p.Height); !(lo >= minPaper && hi <= maxPaper) {
		return fmt.Errorf("sheet: paper of %g x %g mm: each side must be from %d to %d mm", p.Width, p.Height, minPaper, maxPaper)
	}
	return nil
}

// ways up that the paper may be used.
func (p Paper) ways() []Paper {
	if p.Fixed || p.Width == p.Height {
		return []Paper{p}
	}
	turned := p
	turned.Width, turned.Height = p.Height, p.Width
	return []Paper{p, turned}
}
