package gdalio

import (
	"path/filepath"
	"regexp"
	"strings"
)

// fetchAgain is what helps most files that cannot be read.
const fetchAgain = "the file is damaged or cut short: fetch it again"

// gdalWords are what GDAL and the libraries below it say of files, in plain
// words: for those who do not know what a strip, a handle or a driver is.
// Where nothing is said of what to do, fetchAgain holds.
var gdalWords = []struct {
	said        *regexp.Regexp
	plain, todo string
}{
	{regexp.MustCompile(`(?i)not recognized as`), "it is of no known kind, or not whole", ""},
	{regexp.MustCompile(`Cannot import (\S+) due to ALLOW_(?:FILE|NETWORK)_ACCESS|address, which is not opened: (\S+)`), "its reference system is a file or an address ($1$2), which is not opened", "give it a code"},
	{regexp.MustCompile(`(?i)recursi`), "it has itself among its sources", "make it again from the files it should join"},
	{regexp.MustCompile(`([^\s:']+): No such file or directory`), "it takes its heights from $1, which is not there", "put that file in its place"},
	{regexp.MustCompile(`(?i)unable to open (\S+\.shx)`), "$1 is missing", "keep the files of a shapefile together"},
	{regexp.MustCompile(`At line (\d+), character (\d+)`), "it is not whole at line $1, character $2", ""},
	{regexp.MustCompile(`(?i)XML parsing.* line (\d+)`), "it is not whole at line $1", ""},
	{regexp.MustCompile(`(?i)read error|cannot seek|expected \d+|got \d+ bytes|short read|end of file`), "part of it is missing", ""},
	{regexp.MustCompile(`(?i)zip|lzw|inflate|lerc|lzma|zstd|jpeg|decod|compress|unpack`), "part of it cannot be unpacked", ""},
	{regexp.MustCompile(`(?i)malformed|corrupt|code-?stream`), "part of it is damaged", ""},
}

// function is the name of the part of a library that begins its message.
var function = regexp.MustCompile(`^[A-Za-z_0-9]+(\(\))?: *`)

// reason is GDAL's word on a file in plain ones, and what to do. Ours has the
// file's name already.
func reason(err error, path, name string) (plain, todo string) {
	s := strings.ReplaceAll(err.Error(), "`"+path+"' ", "")
	s = strings.ReplaceAll(s, path, filepath.Base(name))
	said := strings.ReplaceAll(s, filepath.Base(name), "it") // a name is no word of GDAL's
	for _, w := range gdalWords {
		if at := w.said.FindStringSubmatchIndex(said); at != nil {
			plain, todo = string(w.said.ExpandString(nil, w.plain, said, at)), w.todo
			if todo == "" {
				todo = fetchAgain
			}
			// what our own code says before it stays
			if before, _, found := strings.Cut(said[:at[0]], ": "); found && strings.HasPrefix(before, "not a readable") {
				plain = before + ": " + plain
			}
			return plain, todo
		}
	}
	if s = function.ReplaceAllString(s, ""); s == "" {
		s = "no reason given"
	}
	return s, fetchAgain
}

// plainReason is reason without what to do.
func plainReason(err error, path, name string) string {
	plain, _ := reason(err, path, name)
	return plain
}
