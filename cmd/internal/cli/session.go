package cli

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"crowline/dem/outfile"
)

// session is what one run is told of its terminal as a whole: where its answer
// goes, and whether it says how far it is.
type session struct {
	streams Streams // the process's own
	quiet   bool

	folder  string // where a file for standard output is made, "" for none
	file    string // its path
	flag    string // by which it was asked for
	answer  bytes.Buffer
	divert  bool // the answer's text is kept in answer
	discard bool // the answer's text is left out
}

// Write takes the answer to where it goes.
func (s *session) Write(b []byte) (int, error) {
	switch {
	case s.discard:
		return len(b), nil
	case s.divert:
		return s.answer.Write(b)
	}
	return s.streams.Out.Write(b)
}

// standardOutput is how a user names it in place of a file: alone, or with an
// ending that chooses another format than the command's own.
const standardOutput = "-"

// textFormats are the endings of what may go to standard output: formats that a
// terminal shows and other programs read from a pipe.
var textFormats = []string{".geojson", ".json", ".gpx", ".kml", ".svg", ".dxf", ".csv", ".txt"}

// formatOf is the ending of what a command's flag writes to standard output.
var formatOf = map[string]string{
	"leg --plot": ".svg", "sight --plot": ".svg", "skyline --out": ".csv", "viewshed --out": ".geojson", "fix --out": ".svg",
	"route --out": ".txt", "route --gpx": ".gpx", "vantage --out": ".geojson", "sheet --out": ".svg", "walk --out": ".svg", "drill --out": ".txt",
	"sights --out": ".csv", "contours --out": ".geojson", "features --out": ".geojson",
}

// writesOnly are commands whose work is files, and whose text only says so.
var writesOnly = []string{"crowline dem get", "crowline dem index"}

// begin reads what the flags of a command say of where its answer goes. A file
// for standard output is made in a folder of its own and copied when it is whole.
func (s *session) begin(cmd *cobra.Command) (err error) {
	json := cmd.Flags().Lookup("json")
	asJSON := json != nil && json.Value.String() == "true"
	files := 0
	cmd.Flags().Visit(func(f *pflag.Flag) {
		path := f.Value.String()
		if err != nil || roleOf(f) != filesWritten || path == "" {
			return
		}
		files++
		if path != standardOutput && !strings.HasPrefix(path, standardOutput+".") {
			return
		}
		name := "--" + f.Name
		if f.Shorthand != "" {
			name = "-" + f.Shorthand
		}
		ending := strings.TrimPrefix(path, standardOutput)
		if cmd.Name() == "sights" && ending != "" {
			err = usageErrorf("%s %s: the rows come out as they went in, a table or GeoJSON; write %s -", name, path, name)
			return
		}
		if ending == "" {
			ending = formatOf[cmd.Name()+" --"+f.Name]
		}
		switch {
		case asJSON:
			err = usageErrorf("%s %s: --json has standard output already; name a file, or leave out --json", name, path)
		case !slices.Contains(textFormats, strings.ToLower(ending)):
			err = usageErrorf("%s %s: %s is no text, and would spoil a terminal; name a file (./%s if it is called so)", name, path, ending, path)
		case cmd.Name() == "sights" && path == standardOutput: // where it streams to anyway
			err = f.Value.Set("")
		case s.folder != "":
			err = usageErrorf("%s %s: standard output has %s already; name a file for one of them", name, path, s.flag)
		default:
			s.flag = name + " " + path
			if s.folder, err = outfile.Begin(func() (string, error) { return os.MkdirTemp("", "crowline-") }); err == nil {
				s.file = filepath.Join(s.folder, "out"+strings.ToLower(ending))
				err = f.Value.Set(s.file)
			}
		}
	})
	s.divert = s.folder != ""
	s.discard = s.quiet && !asJSON && (files > 0 || slices.Contains(writesOnly, cmd.CommandPath()) && !cmd.Flags().Changed("list"))
	return err
}

// plain puts the user's words for standard output in the place of the file that
// is made for it.
func (s *session) plain(text, words string) string {
	if s.folder == "" {
		return text
	}
	return strings.ReplaceAll(text, s.file, words)
}

// end puts the file made for standard output there, and the answer's text on
// standard error, if the run went well.
func (s *session) end(err error) error {
	if s.folder == "" {
		return err
	}
	defer outfile.Done(s.folder)
	if err != nil {
		return err
	}
	list, err := os.ReadDir(s.folder)
	if err != nil {
		return err
	}
	if len(list) != 1 {
		return usageErrorf("%s: it takes %d files in this format, and standard output holds one; name a file", s.flag, len(list))
	}
	f, err := os.Open(s.file)
	if err != nil {
		return err
	}
	defer f.Close()
	if _, err := io.Copy(s.streams.Out, f); err != nil {
		return outfile.Error("standard output", err)
	}
	_, err = io.WriteString(s.streams.Err, s.plain(s.answer.String(), "standard output"))
	return err
}
