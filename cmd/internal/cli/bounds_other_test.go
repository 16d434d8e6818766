//go:build !linux

package cli

func asProgram() {}
