package cli

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"
)

// pageWidth is the terminal width text is written for.
const pageWidth = 80

// page writes plain text answers: headed blocks of labelled lines.
type page struct {
	w     io.Writer
	err   error
	began bool
}

func (p *page) printf(format string, args ...any) {
	if p.err == nil {
		_, p.err = fmt.Fprintf(p.w, format, args...)
	}
}

// head begins a block.
func (p *page) head(title string) {
	if p.began {
		p.printf("\n")
	}
	p.began = true
	p.printf("%s\n", title)
}

const labelWidth = 12

// line writes a label and its text, wrapped and indented.
func (p *page) line(label, format string, args ...any) {
	p.began = true
	text := fmt.Sprintf(format, args...)
	for i, part := range wrap(text, pageWidth-labelWidth-2) {
		if i > 0 {
			label = ""
		}
		p.printf("  %-*s%s\n", labelWidth, label, part)
	}
}

// note writes a wrapped paragraph.
func (p *page) note(format string, args ...any) {
	p.began = true
	for _, part := range wrap(fmt.Sprintf(format, args...), pageWidth-2) {
		p.printf("  %s\n", part)
	}
}

// wrap breaks text at spaces so that no line is longer than width, words
// aside.
func wrap(text string, width int) []string {
	var lines []string
	current, length := "", 0
	for _, word := range strings.Fields(text) {
		n := utf8.RuneCountInString(word)
		if length > 0 && length+1+n > width {
			lines = append(lines, current)
			current, length = "", 0
		}
		if length > 0 {
			current += " "
			length++
		}
		current += word
		length += n
	}
	return append(lines, current)
}

func writeJSON(w interface{ Write([]byte) (int, error) }, v any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(v)
}
