package cli

import (
	"fmt"
	"io"
	"os"
	"strings"
	"time"
)

// Streams is where a command reads and writes; Now is its clock.
type Streams struct {
	// In holds what "-" in place of a file to read stands for; nil is empty.
	In       io.Reader
	Out, Err io.Writer
	// ErrIsTerminal allows progress on Err.
	ErrIsTerminal bool
	Now           func() time.Time

	session *session // of the run, nil for none
}

// SystemStreams are the process's own.
func SystemStreams() Streams {
	errs := ownStderr()
	return Streams{
		In: os.Stdin, Out: os.Stdout, Err: errs, Now: time.Now,
		ErrIsTerminal: isTerminal(errs) && os.Getenv("TERM") != "dumb",
	}
}

// fresh begins a line on standard error, over a progress line that was left
// there: on a terminal, back to its first column and clear to its end
// (ECMA-48, 8.3.41).
func (s Streams) fresh() string {
	if s.ErrIsTerminal {
		return "\r\x1b[K"
	}
	return ""
}

// showsProgress reports whether anybody looks at how far a run is.
func (s Streams) showsProgress() bool {
	return s.ErrIsTerminal && (s.session == nil || !s.session.quiet)
}

// progress returns a callback that draws "label 40 %" on a terminal's
// standard error and clears it when done; nil when nobody is looking.
func (s Streams) progress(label string) func(done, total int64) {
	if !s.showsProgress() {
		return nil
	}
	last := int64(-1)
	return func(done, total int64) {
		if total <= 0 {
			return
		}
		percent := done * 100 / total
		if percent == last {
			return
		}
		last = percent
		fmt.Fprintf(s.Err, "\r%s %3d %%", label, percent)
		if done >= total {
			fmt.Fprintf(s.Err, "\r%s\r", strings.Repeat(" ", len(label)+6))
		}
	}
}
