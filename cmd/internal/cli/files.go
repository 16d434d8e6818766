package cli

import "crowline/dem/outfile"

// replaceFile writes a file beside its place and renames it there, so that a
// run that fails or is stopped leaves no part of one.
func replaceFile(path string, body []byte) error {
	return outfile.Write(outfile.File{Path: path, Body: body})
}
