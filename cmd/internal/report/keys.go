package report

import (
	"strings"

	"crowline/cmd/internal/answer"
)

// Keys writes the keys of a command's JSON: each with its unit and what it
// means.
func Keys(p *Page, command string, keys []answer.Key) {
	p.Head("crowline " + command + " --json")
	for _, k := range keys {
		var about []string
		if k.Unit != "" {
			about = append(about, k.Unit)
		}
		if k.Optional {
			about = append(about, "may be left out")
		}
		text := k.Meaning
		if len(about) > 0 {
			text += " (" + strings.Join(about, "; ") + ")"
		}
		p.printf("  %s\n", k.Path)
		for _, part := range Wrap(text, Width-6) {
			p.printf("      %s\n", part)
		}
	}
}
