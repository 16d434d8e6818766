package cli

import (
	"context"
	"errors"
	"fmt"

	"crowline/cmd/internal/report"
	"crowline/dem"
)

// flagError is wrong usage: exit code 2.
type flagError struct{ err error }

func (e *flagError) Error() string { return e.err.Error() }
func (e *flagError) Unwrap() error { return e.err }

func usageErrorf(format string, args ...any) error {
	return &flagError{fmt.Errorf(format, args...)}
}

// exitCode sorts an error into what the shell needs to know.
func exitCode(err error) int {
	var usage *flagError
	switch {
	case err == nil:
		return exitOK
	case errors.Is(err, context.Canceled):
		return exitCancel
	case errors.As(err, &usage):
		return exitUsage
	}
	return exitError
}

// oneLine is the error as one line for standard error.
func oneLine(err error) string {
	if errors.Is(err, context.Canceled) {
		return "stopped"
	}
	text := report.Error(err)
	var tooLarge *dem.TooLargeError
	if errors.As(err, &tooLarge) {
		text += ": take a smaller radius, a shorter leg or coarser data, or raise --max-memory"
	}
	return text
}
