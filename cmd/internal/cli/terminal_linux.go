package cli

import (
	"os"

	"golang.org/x/sys/unix"
)

// isTerminal reports whether a file is a terminal, and not another device such as
// /dev/null.
func isTerminal(f *os.File) bool {
	_, err := unix.IoctlGetTermios(int(f.Fd()), unix.TCGETS)
	return err == nil
}
