package cli

import (
	"fmt"
	"os"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
)

// placeFlags name places.
type placeFlags struct {
	file string
	crs  string

	cmd    *cobra.Command
	read   bool
	places []gdalio.Place
}

func (f *placeFlags) add(cmd *cobra.Command) {
	f.cmd = cmd
	cmd.Flags().Var((*placesValue)(f), "places", "`file` of named places: GPX, GeoJSON, KML, KMZ, shapefile or CSV; - for standard input (default: the config file's)")
	namesFiles(cmd, filesRead, "places")
	cmd.Flags().StringVar(&f.crs, "places-crs", "", "the reference system of columns easting and northing, or of a shapefile with no .prj, as EPSG:`code`")
	needs(cmd, []string{"places"}, "places-crs")
}

// options are what the flags say of a file of places.
func (f *placeFlags) options() (gdalio.PlaceOptions, error) {
	crs, err := parseCRS("--places-crs", f.crs)
	return gdalio.PlaceOptions{CRS: crs, AskCRS: "--places-crs"}, err
}

// stdinName is what errors call places that come from a pipe.
const stdinName = "standard input"

// name is what errors call the file.
func (f *placeFlags) name() string {
	if f.file == standardInput {
		return stdinName
	}
	return f.file
}

// load reads the file of places, or standard input; whoever sits at a terminal
// is told what to type.
func (f *placeFlags) load() ([]gdalio.Place, error) {
	opts, err := f.options()
	if err != nil {
		return nil, err
	}
	if f.file != standardInput {
		return gdalio.ReadPlacesWith(f.file, opts)
	}
	in := f.cmd.InOrStdin()
	if file, ok := in.(*os.File); ok && isTerminal(file) {
		fmt.Fprintln(f.cmd.ErrOrStderr(), "Type the places, one a line, under a first line name,lat,lon. Ctrl-D on a line of its own ends them.")
	}
	return gdalio.ReadPlacesFrom(in, stdinName, opts)
}

// placesValue is the flag, so that the elevation data of a command can find
// the places it was given.
type placesValue placeFlags

func (v *placesValue) String() string { return v.file }
func (v *placesValue) Type() string   { return "file" }

func (v *placesValue) Set(text string) error {
	if v.file != "" && v.file != text { // a shell's completion sets a flag twice
		return fmt.Errorf("%q is a second file of places; put them all in one", text)
	}
	v.file = text
	return nil
}

// placesOf are the places given to a command, nil where it takes none.
func placesOf(flags *pflag.FlagSet) *placeFlags {
	if flags == nil {
		return nil
	}
	if flag := flags.Lookup("places"); flag != nil {
		if v, ok := flag.Value.(*placesValue); ok {
			return (*placeFlags)(v)
		}
	}
	return nil
}

// namedPlace is a place and what it is called; Name may be "".
type namedPlace struct {
	Name string
	geodesy.LatLon
}

// all are the places of the file; of the config's where none was given.
func (f *placeFlags) all() ([]gdalio.Place, error) {
	if f.file == "" && f.cmd != nil {
		c, err := configOf(f.cmd.Context())
		if err != nil {
			return nil, err
		}
		f.file = c.Places
	}
	if f.read || f.file == "" {
		return f.places, nil
	}
	places, err := f.load()
	if err != nil {
		return nil, err
	}
	f.places, f.read = places, true
	return places, nil
}

// resolve reads a place argument: a name from the file first, then a
// coordinate.
func (f *placeFlags) resolve(text string) (namedPlace, error) {
	places, err := f.all()
	if err != nil {
		return namedPlace{}, err
	}
	var found []gdalio.Place
	for _, p := range places {
		if strings.EqualFold(p.Name, strings.TrimSpace(text)) {
			found = append(found, p)
		}
	}
	switch {
	case len(found) == 1:
		return namedPlace{found[0].Name, found[0].LatLon}, nil
	case len(found) > 1:
		return namedPlace{}, fmt.Errorf("%s has %d places called %q; give the one you mean by its coordinates", f.name(), len(found), text)
	}
	p, err := geodesy.ParsePlace(text)
	switch {
	case err == nil:
		return namedPlace{LatLon: p}, nil
	case isName(text) && f.file != "":
		return namedPlace{}, usageErrorf("there is no place %q in %s%sit has %s", text, f.name(),
			didYouMean(strings.TrimSpace(text), namesOf(places), strconv.Quote), someNames(places))
	case isName(text):
		return namedPlace{}, usageErrorf("%w; for a name, give the file that has it with --places", err)
	case f.file != "":
		return namedPlace{}, usageErrorf("%q is not a place in %s, and as coordinates: %w", text, f.name(), err)
	}
	return namedPlace{}, &flagError{err}
}

// isName reports whether a text was meant as a name and not as coordinates: it
// begins with a word, and has fewer figures than any coordinates.
func isName(text string) bool {
	letters, digits := 0, 0
	for i, r := range strings.TrimSpace(text) {
		switch {
		case unicode.IsLetter(r) && letters == i:
			letters += utf8.RuneLen(r)
		case unicode.IsDigit(r):
			digits++
		}
	}
	return letters >= 2 && digits < 4
}

// namesOf are the names of places that have one.
func namesOf(places []gdalio.Place) (names []string) {
	for _, p := range places {
		if p.Name != "" {
			names = append(names, p.Name)
		}
	}
	return names
}

// someNames are names of a file's places, as many as a line holds.
func someNames(places []gdalio.Place) string {
	const most = 6
	names := namesOf(places)
	if len(names) == 0 {
		return "no names"
	}
	if n := len(names) - most; n > 1 {
		return fmt.Sprintf("%s and %d more", strings.Join(names[:most], ", "), n)
	}
	return strings.Join(names, ", ")
}
