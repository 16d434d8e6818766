//go:build unix

package fetch

import (
	"os"
	"syscall"
)

// tryLock takes a file for this run alone; false when another run has it.
// The lock goes with the file's closing.
func tryLock(f *os.File) bool {
	return syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB) == nil
}
