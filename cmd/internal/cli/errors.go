package cli

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"crowline/cmd/internal/answer"
	"crowline/cmd/internal/report"
	"crowline/dem"
	"crowline/dem/demo"
	"crowline/dem/fetch"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
)

// flagError is wrong usage: exit code 2.
type flagError struct{ err error }

func (e *flagError) Error() string { return e.err.Error() }
func (e *flagError) Unwrap() error { return e.err }

func usageErrorf(format string, args ...any) error {
	return &flagError{fmt.Errorf(format, args...)}
}

// exitCode sorts an error into what the shell needs to know.
func exitCode(err error) int {
	var usage *flagError
	switch {
	case err == nil:
		return exitOK
	case errors.Is(err, context.Canceled):
		return exitCancel
	case errors.As(err, &usage):
		return exitUsage
	}
	return exitError
}

// asksJSON reports whether the arguments ask for JSON; they may be wrong in every
// other way.
func asksJSON(args []string) bool {
	asked := false
	for _, a := range args {
		switch a {
		case "--":
			return asked
		case "--json", "--json=true":
			asked = true
		case "--json=false":
			asked = false
		}
	}
	return asked
}

// sayError writes an error to standard error: as one line, or as one line of
// JSON.
func (s Streams) sayError(text string, code int, asJSON bool) {
	if !asJSON {
		fmt.Fprintf(s.Err, "%scrowline: %s\n", s.fresh(), text)
		return
	}
	type failure struct {
		Message  string `json:"message"`
		Kind     string `json:"kind"`
		ExitCode int    `json:"exit_code"`
	}
	kind := map[int]string{exitUsage: "usage", exitCancel: "stopped"}[code]
	if kind == "" {
		kind = "failed"
	}
	io.WriteString(s.Err, s.fresh())
	e := json.NewEncoder(s.Err)
	e.SetEscapeHTML(false)
	e.Encode(map[string]failure{"error": {text, kind, code}})
}

// demoCovers is what the demo data covers, in the words of dem.OutsideError.
// Only an error asks for it.
func demoCovers() string {
	r, err := gdalio.OpenBytes(demo.Name, demo.Bytes(), gdalio.Options{})
	if err != nil {
		return ""
	}
	defer r.Close()
	extent, err := r.Layout().Extent()
	if err != nil {
		return ""
	}
	return extent.String()
}

// oneLine is the error as one line for standard error.
func oneLine(err error) string {
	if errors.Is(err, context.Canceled) {
		return "stopped"
	}
	text := report.Error(err)
	var tooLarge *dem.TooLargeError
	if errors.As(err, &tooLarge) {
		text += ": take a smaller radius, a shorter leg or coarser data, or raise --max-memory"
	}
	var lines *answer.LinesTooLargeError
	if errors.As(err, &lines) {
		text += ": give a wider --interval or less ground, or raise --max-memory"
	}
	var outside *dem.OutsideError
	if errors.As(err, &outside) {
		if outside.Covers != "" && outside.Covers == demoCovers() {
			text = strings.Replace(text, "outside the elevation data, which covers "+outside.Covers,
				"outside the demo data (the San Gabriel Mountains, California: "+outside.Covers+")", 1)
		}
		text += ". Use your own: --dem FILE"
		if at, ok := outside.What.(geodesy.LatLon); ok {
			text += fmt.Sprintf(", or fetch it: crowline dem get --around %.4f,%.4f --radius 10km --source %s", float64(at.Lat), float64(at.Lon), fetch.Default)
		}
	}
	return text
}
