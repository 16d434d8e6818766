package cli

import (
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"crowline/cmd/internal/answer"
	"crowline/contour/drill"
	"crowline/dem/fetch"
)

// placeFileEndings are those of files of places.
var placeFileEndings = []string{"gpx", "geojson", "json", "kml", "kmz", "csv", "tsv", "txt", "shp", "zip"}

// placeFlagNames are the flags whose value is a place.
var placeFlagNames = []string{"around", "from", "to", "see", "watch", "watch-to"}

// placeArguments are the commands whose arguments are places, and how many they
// take.
var placeArguments = map[string]int{
	"leg": 2, "sight": 2, "landmarks": 1, "viewshed": answer.MostObservers, "skyline": 1, "sheet": 2, "declination": 1, "desk": 2,
}

// fileArguments are the commands whose arguments are files.
var fileArguments = []string{"crowline dem info", "crowline dem index", "crowline route", "crowline sights"}

// flagValues are the values of flags that have few, or some that are usual, in
// the order in which they are shown.
var flagValues = map[string][]string{
	"units": {"metric", "us"}, "height-unit": heightUnits, "north": {"grid", "true"}, "label-reading": {"uphill", "reader"},
	"paper": {"a4", "a3", "letter", "tabloid", "a4-landscape", "a3-landscape", "letter-landscape", "tabloid-landscape"}, "compass": {"plain", "adjusted"}, "rule": {"naismith", "tobler", "din"},
	"part": {"both", "questions", "key"}, "minutes": {"15", "30", "45"}, "cover-void": {"bare", "unknown"},
	"interval": {"auto", "5m", "10m", "20m", "50m", "20ft", "40ft", "80ft"}, "max-memory": {"25%", "50%", "2GB"},
}

// completeAll has a shell complete every flag and argument of every command.
func completeAll(root *cobra.Command) {
	for _, cmd := range root.Commands() {
		completeAll(cmd)
	}
	cmd := root
	cmd.Flags().VisitAll(func(f *pflag.Flag) {
		_, f.Usage = pflag.UnquoteUsage(f) // a shell shows it as it stands
		if complete := completionOf(cmd, f); complete != nil {
			_ = cmd.RegisterFlagCompletionFunc(f.Name, complete) // once a flag
		}
	})
	if cmd.ValidArgsFunction != nil || len(cmd.ValidArgs) > 0 || cmd.HasSubCommands() {
		return
	}
	most, takesPlaces := placeArguments[cmd.Name()]
	switch {
	case slices.Contains(fileArguments, cmd.CommandPath()):
	case takesPlaces:
		cmd.ValidArgsFunction = func(cmd *cobra.Command, args []string, typed string) ([]cobra.Completion, cobra.ShellCompDirective) {
			if len(args) >= most {
				return nil, cobra.ShellCompDirectiveNoFileComp
			}
			return placeNames(cmd, typed, ""), cobra.ShellCompDirectiveNoFileComp
		}
	default:
		cmd.ValidArgsFunction = cobra.NoFileCompletions
	}
}

// completionOf is what completes a flag's value; nil leaves the shell to offer
// files.
func completionOf(cmd *cobra.Command, f *pflag.Flag) cobra.CompletionFunc {
	values := flagValues[f.Name]
	switch {
	case f.NoOptDefVal != "":
		return nil
	case f.Name == "places":
		return func(*cobra.Command, []string, string) ([]cobra.Completion, cobra.ShellCompDirective) {
			return placeFileEndings, cobra.ShellCompDirectiveFilterFileExt
		}
	case f.Name == "folder":
		return func(*cobra.Command, []string, string) ([]cobra.Completion, cobra.ShellCompDirective) {
			return nil, cobra.ShellCompDirectiveFilterDirs
		}
	case roleOf(f) != "":
		return nil
	case slices.Contains(placeFlagNames, f.Name):
		return func(cmd *cobra.Command, _ []string, typed string) ([]cobra.Completion, cobra.ShellCompDirective) {
			return placeNames(cmd, typed, ""), cobra.ShellCompDirectiveNoFileComp
		}
	case f.Name == "bearing" && cmd.Name() == "fix":
		return func(cmd *cobra.Command, _ []string, typed string) ([]cobra.Completion, cobra.ShellCompDirective) {
			return placeNames(cmd, typed, "="), cobra.ShellCompDirectiveNoFileComp | cobra.ShellCompDirectiveNoSpace
		}
	case f.Name == "source":
		return completeSources
	case f.Name == "kinds":
		return completeKinds
	case f.Name == "level":
		for _, l := range drill.Levels {
			values = append(values, string(l))
		}
	}
	return func(_ *cobra.Command, _ []string, typed string) ([]cobra.Completion, cobra.ShellCompDirective) {
		return beginning(values, typed), cobra.ShellCompDirectiveNoFileComp | cobra.ShellCompDirectiveKeepOrder
	}
}

// beginning are the words that begin as typed, in capitals or not.
func beginning(words []string, typed string) (found []cobra.Completion) {
	for _, w := range words {
		if len(w) >= len(typed) && strings.EqualFold(w[:len(typed)], typed) {
			found = append(found, w)
		}
	}
	return found
}

// placeNames are the names of the places that the command line has given so far,
// or the config file: one each, and none of several lines. Nothing is read from
// standard input for them, and what cannot be read gives none.
func placeNames(cmd *cobra.Command, typed, after string) []cobra.Completion {
	f := placesOf(cmd.Flags())
	if f == nil || f.file == standardInput {
		return nil
	}
	places, err := f.all()
	if err != nil {
		return nil
	}
	var names []string
	for _, name := range namesOf(places) {
		if !strings.ContainsAny(name, "\n\r\t") && !slices.Contains(names, name+after) {
			names = append(names, name+after)
		}
	}
	slices.Sort(names)
	return beginning(names, typed)
}

// completeSources completes the names of data sets, the user's own among them.
func completeSources(cmd *cobra.Command, _ []string, typed string) ([]cobra.Completion, cobra.ShellCompDirective) {
	c, _ := configOf(cmd.Context())
	var names []string
	for _, s := range slices.Concat(fetch.Sources(), c.sources) {
		names = append(names, s.Name)
	}
	return beginning(names, typed), cobra.ShellCompDirectiveNoFileComp
}

// completeKinds completes the last of a list with commas between.
func completeKinds(cmd *cobra.Command, _ []string, typed string) ([]cobra.Completion, cobra.ShellCompDirective) {
	var kinds []string
	if cmd.Name() == "drill" {
		kinds = answer.DrillKinds()
	} else {
		for _, k := range answer.LandformKinds() {
			kinds = append(kinds, string(k))
		}
	}
	before := typed[:strings.LastIndex(typed, ",")+1]
	given := strings.Split(before, ",")
	var found []cobra.Completion
	for _, k := range kinds {
		if !slices.Contains(given, k) && strings.HasPrefix(k, typed[len(before):]) {
			found = append(found, before+k)
		}
	}
	return found, cobra.ShellCompDirectiveNoFileComp
}
