package cli

import (
	"os"
	"runtime/debug"
	"syscall"
)

// ownStderr is the process's standard error for us alone: libraries in C that
// write to it (libgeotiff, of the keys of a damaged file) write to nowhere. What Go
// says of a crash still comes.
func ownStderr() *os.File {
	fd, err := syscall.Dup(2)
	if err != nil {
		return os.Stderr
	}
	syscall.CloseOnExec(fd)
	own := os.NewFile(uintptr(fd), "stderr")
	nowhere, err := os.OpenFile(os.DevNull, os.O_WRONLY, 0)
	if err != nil || debug.SetCrashOutput(own, debug.CrashOptions{}) != nil {
		return own
	}
	defer nowhere.Close()
	_ = syscall.Dup3(int(nowhere.Fd()), 2, 0)
	return own
}
