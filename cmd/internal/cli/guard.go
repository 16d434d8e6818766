package cli

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	paper "crowline/contour/page"
	"crowline/dem/gdalio"
	"crowline/dem/outfile"
)

// roleKey is where a flag, or a command for its arguments, keeps what the files
// it names are to it. Every flag that names a file has one.
const roleKey = "crowline files"

// Roles of files.
const (
	filesWritten = "written"
	filesRead    = "read"
	filesGround  = "ground" // read as elevation data is
	filesKept    = "kept"   // a folder that dem/fetch writes in, and guards itself
)

// namesFiles sets the role of the files that flags name.
func namesFiles(cmd *cobra.Command, role string, flags ...string) {
	for _, name := range flags {
		f := cmd.Flags().Lookup(name)
		if f.Annotations == nil {
			f.Annotations = map[string][]string{}
		}
		f.Annotations[roleKey] = []string{role}
	}
}

// argumentsNameFiles sets the role of the files that a command's arguments name.
func argumentsNameFiles(cmd *cobra.Command, role string) {
	if cmd.Annotations == nil {
		cmd.Annotations = map[string]string{}
	}
	cmd.Annotations[roleKey] = role
}

// output is a file that a run writes.
type output struct {
	path string
	// by is what the user wrote to have it; where path is not what they named,
	// it goes with that.
	by   string
	spot outfile.Spot
}

// checkFiles refuses a run that would write over a file it reads, or twice to
// one file, or over one beside an output that nobody named. Every command passes
// through it before anything of it is read or computed. Files are told by what
// they are on the disk, not by how their paths are spelled.
func checkFiles(cmd *cobra.Command, args []string) error {
	outputs, err := outputsOf(cmd)
	if err != nil || len(outputs) == 0 {
		return err
	}
	for i, a := range outputs {
		for _, b := range outputs[:i] {
			if a.spot.Same(b.spot) {
				return usageErrorf("%s and %s are one file: name another for one of them", b.text(), a.text())
			}
		}
	}
	inputs, err := inputsOf(cmd, args)
	if err != nil {
		return err
	}
	for _, in := range inputs {
		spot := outfile.Look(in.Path)
		for _, out := range outputs {
			if !out.spot.Same(spot) || in.Listed && gdalio.IsVerdicts(out.path) {
				continue
			}
			return usageErrorf("%s would write over %s, which this run reads: name another file", out.text(), in.text())
		}
	}
	// what is beside an output and is no input of this run may be dear as well
	var failed error
	cmd.Flags().Visit(func(f *pflag.Flag) {
		if path := f.Value.String(); failed == nil && roleOf(f) == filesWritten && path != "" {
			failed = gdalio.CheckWritable(path)
		}
	})
	return failed
}

func roleOf(f *pflag.Flag) string {
	if role := f.Annotations[roleKey]; len(role) > 0 {
		return role[0]
	}
	return ""
}

// text names an output as the user knows it.
func (o output) text() string {
	if strings.HasSuffix(o.by, " "+o.path) {
		return o.by
	}
	return fmt.Sprintf("%s, with its %s,", o.by, o.path)
}

// outputsOf are the files a run would write: those named, those that formats
// add to them, and pages after the first where files of their names are there.
func outputsOf(cmd *cobra.Command) (outputs []output, err error) {
	cmd.Flags().Visit(func(f *pflag.Flag) {
		path := f.Value.String()
		if roleOf(f) != filesWritten || path == "" {
			return
		}
		by := "--" + f.Name + " " + path
		if f.Shorthand != "" {
			by = "-" + f.Shorthand + " " + path
		}
		for _, p := range append([]string{path}, append(gdalio.SideFiles(path), pagesThere(path)...)...) {
			outputs = append(outputs, output{path: p, by: by, spot: outfile.Look(p)})
		}
	})
	return outputs, nil
}

var pageNumber = regexp.MustCompile(`^-[0-9]+$`)

// pagesThere are files that have the names of a drawing's further pages.
func pagesThere(path string) (pages []string) {
	ending := filepath.Ext(path)
	if !paper.ManyFiles(path) {
		return nil
	}
	list, err := os.ReadDir(filepath.Dir(path))
	if err != nil {
		return nil
	}
	stem := strings.TrimSuffix(filepath.Base(path), ending)
	for _, f := range list {
		rest, ok := strings.CutPrefix(f.Name(), stem)
		if rest, fits := strings.CutSuffix(rest, ending); ok && fits && pageNumber.MatchString(rest) {
			pages = append(pages, filepath.Join(filepath.Dir(path), f.Name()))
		}
	}
	return pages
}

// input is a file that a run reads, and how the user gave it.
type input struct {
	gdalio.Read
	by string
}

func (in input) text() string {
	if in.Of == "" {
		return fmt.Sprintf("%s (%s)", in.Path, in.by)
	}
	return fmt.Sprintf("%s (of %s, %s)", in.Path, in.Of, in.by)
}

// inputsOf are the files a run would read.
func inputsOf(cmd *cobra.Command, args []string) (inputs []input, err error) {
	c, err := configOf(cmd.Context())
	if err != nil {
		return nil, err
	}
	if c.path != "" {
		inputs = append(inputs, input{gdalio.Read{Path: c.path}, "the config file"})
	}
	add := func(paths []string, by string) {
		var options gdalio.ManyOptions
		crs, unit := cmd.Flags().Lookup("crs"), cmd.Flags().Lookup("height-unit")
		if crs != nil && unit != nil { // an index is of these too
			file := fileFlags{crs: crs.Value.String(), heightUnit: unit.Value.String()}
			options.Options, _ = file.options(c) // what is wrong with them, the command says
		}
		for _, r := range gdalio.Reads(paths, options) {
			inputs = append(inputs, input{r, by})
		}
	}
	if role := cmd.Annotations[roleKey]; role == filesRead || role == filesGround {
		add(slices.DeleteFunc(slices.Clone(args), func(a string) bool { return a == standardInput }), "the file given")
	}
	if flag := cmd.Flags().Lookup("places"); flag != nil && flag.Value.String() == "" && c.Places != "" {
		add([]string{c.Places}, c.path)
	}
	cmd.Flags().VisitAll(func(f *pflag.Flag) {
		switch role := roleOf(f); {
		case role == filesGround:
			paths, by := f.Value.(pflag.SliceValue).GetSlice(), "--"+f.Name
			if len(paths) == 0 {
				paths, by = c.defaultDEM()
			}
			add(paths, by)
		case role == filesRead && f.Value.String() != "" && f.Value.String() != standardInput:
			add([]string{f.Value.String()}, "--"+f.Name)
		}
	})
	return inputs, nil
}
