//go:build !linux

package cli

import "os"

// isTerminal reports whether a file is a terminal, or another device that shows
// one character after the other.
func isTerminal(f *os.File) bool {
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}
