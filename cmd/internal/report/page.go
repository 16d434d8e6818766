package report

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"crowline/dem/units"
)

// Width is the terminal width text is written for.
const Width = 80

const labelWidth = 12

// Page writes a text answer: headed blocks of labelled lines, wrapped. The
// first error of its writer is kept for Err, and nothing is written after it.
type Page struct {
	// Units are those of lengths.
	Units units.System

	w     io.Writer
	err   error
	began bool
	words *Words // what is written is kept here too; nil for nowhere
}

// NewPage writes to w.
func NewPage(w io.Writer, u units.System) *Page { return &Page{Units: u, w: w} }

// Err is the first error of the writer, or nil.
func (p *Page) Err() error { return p.err }

func (p *Page) printf(format string, args ...any) {
	if p.err == nil {
		_, p.err = io.WriteString(p.w, Plain(fmt.Sprintf(format, args...)))
	}
}

// Plain is a text with a mark in place of what would steer a terminal: control
// characters, which names of files and places may have, and those that turn the
// direction of writing.
func Plain(text string) string {
	steers := func(r rune) bool {
		return r < ' ' && r != '\n' && r != '\t' || r >= 0x7f && r < 0xa0 || r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069
	}
	if strings.IndexFunc(text, steers) < 0 {
		return text
	}
	return strings.Map(func(r rune) rune {
		if steers(r) {
			return utf8.RuneError
		}
		return r
	}, text)
}

// Head begins a block.
func (p *Page) Head(title string) {
	if p.began {
		p.printf("\n")
	}
	p.began = true
	p.printf("%s\n", title)
	p.words.head(title)
}

// Line writes a label and its text, wrapped and indented.
func (p *Page) Line(label, format string, args ...any) {
	p.began = true
	text := fmt.Sprintf(format, args...)
	p.words.say(Said{Label: label, Text: text})
	for i, part := range Wrap(text, Width-labelWidth-2) {
		if i > 0 {
			label = ""
		}
		p.printf("  %-*s%s\n", labelWidth, label, part)
	}
}

// Note writes a wrapped paragraph.
func (p *Page) Note(format string, args ...any) {
	p.began = true
	text := fmt.Sprintf(format, args...)
	p.words.say(Said{Text: text})
	for _, part := range Wrap(text, Width-2) {
		p.printf("  %s\n", part)
	}
}

// row writes a line of a table as it is, indented.
func (p *Page) row(format string, args ...any) {
	p.began = true
	text := fmt.Sprintf(format, args...)
	p.words.say(Said{Text: text, Fixed: true})
	p.printf("  %s\n", text)
}

// Raw writes text as it is.
func (p *Page) Raw(text string) {
	p.began = true
	p.printf("%s", text)
}

// Written names a file that was written.
func (p *Page) Written(what string, files ...string) {
	if len(files) > 0 {
		p.printf("\n  %s %s\n", what, strings.Join(files, ", "))
	}
}

// Wrap breaks text at spaces so that no line is longer than width, words
// aside.
func Wrap(text string, width int) []string {
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
