//go:build unix

package fetch

import (
	"os"
	"syscall"
)

// noFollow has a file opened only where its name is no link.
const noFollow = syscall.O_NOFOLLOW

// names is how many names a file has.
func names(info os.FileInfo) uint64 {
	if s, ok := info.Sys().(*syscall.Stat_t); ok {
		return uint64(s.Nlink)
	}
	return 1
}
