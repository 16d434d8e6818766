package report

import (
	"fmt"
	"math"

	"crowline/cmd/internal/answer"
)

// over goes at the head of an answer over cover.
func (p *Page) over(c *answer.CoverUsed) {
	if c != nil {
		p.Line("over", "what stands on the ground: %s", c.Name)
	}
}

// coverUsedText says what was laid on the ground.
func (p *Page) coverUsedText(c *answer.CoverUsed) string {
	all := math.Max(1, float64(c.Standing+c.Bare+c.Unknown))
	text := fmt.Sprintf("%s, up to %s above the ground; it stands on %.0f %% of the posts read", c.Name, p.Units.Height(c.HighestM), 100*float64(c.Standing)/all)
	if c.Unknown > 0 {
		text += fmt.Sprintf(" and is not known at %d of them, %.0f %%", c.Unknown, 100*float64(c.Unknown)/all)
	}
	text += "; a row of trees between two posts is missed"
	if c.ClearingM > 0 {
		return text + fmt.Sprintf("; nothing within %s of the eye", p.Units.Distance(c.ClearingM))
	}
	return text + "; nothing in the eye's own cell"
}

// coverUsed goes among an answer's data.
func (p *Page) coverUsed(c *answer.CoverUsed) {
	if c == nil {
		return
	}
	more := ""
	if c.ClearingM == 0 {
		more = " (--clearing for more)"
	}
	p.Line("cover", "%s%s", p.coverUsedText(c), more)
	p.warnings(c.Warnings)
}
