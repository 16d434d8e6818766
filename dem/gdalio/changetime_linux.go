package gdalio

import (
	"io/fs"
	"syscall"
)

// changeTime is when the file was last written or renamed, in nanoseconds:
// unlike the modification time no program sets it. 0 where the system does
// not say.
func changeTime(info fs.FileInfo) int64 {
	if s, ok := info.Sys().(*syscall.Stat_t); ok {
		return s.Ctim.Nano()
	}
	return 0
}
