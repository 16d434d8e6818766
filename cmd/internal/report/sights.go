package report

import (
	"fmt"

	"crowline/cmd/internal/answer"
)

// Sights writes how a batch of sights ended: what stands in none of its rows.
func Sights(p *Page, a *answer.SightsAnswer) {
	p.Head("Sights")
	p.Line("answered", "%d: %d visible, %d hidden, %d not known", a.Rows-a.Failed, a.Visible, a.Hidden, a.Unknown)
	if a.Failed > 0 {
		p.Line("NO ANSWER", "%d of %d rows: their status says why; the first: %s", a.Failed, a.Rows, a.FirstFailure)
	}
	for _, path := range a.Written {
		p.Line("written", "%s", path)
	}
	p.foot(a.ElevationData, a.Assumptions)
}

// SightsNone is the error of a batch of which no row has an answer.
func SightsNone(a *answer.SightsAnswer) error {
	return fmt.Errorf("none of %d rows has an answer; the first: %s", a.Rows, a.FirstFailure)
}
