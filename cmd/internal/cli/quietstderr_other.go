//go:build !linux

package cli

import "os"

func ownStderr() *os.File { return os.Stderr }
