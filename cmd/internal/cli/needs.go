package cli

import (
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// needsKey is where a flag keeps what it goes with.
const needsKey = "crowline needs"

// needs says that flags do nothing unless one of others is given.
func needs(cmd *cobra.Command, others []string, flags ...string) {
	for _, name := range flags {
		f := cmd.Flags().Lookup(name)
		if f.Annotations == nil {
			f.Annotations = map[string][]string{}
		}
		f.Annotations[needsKey] = others
	}
}

// checkNeeds refuses flags that would do nothing.
func checkNeeds(cmd *cobra.Command) (err error) {
	cmd.Flags().Visit(func(f *pflag.Flag) {
		others := f.Annotations[needsKey]
		if err == nil && len(others) > 0 && !slices.ContainsFunc(others, cmd.Flags().Changed) {
			err = usageErrorf("--%s does nothing here: it goes with --%s", f.Name, strings.Join(others, " or --"))
		}
	})
	return err
}

// idle refuses flags that would do nothing in this case, and says which case
// they are for.
func idle(cmd *cobra.Command, instead string, flags ...string) error {
	for _, name := range flags {
		if cmd.Flags().Changed(name) {
			return usageErrorf("--%s does nothing here: %s", name, instead)
		}
	}
	return nil
}

// hasEnding reports whether a file's name ends so, in capitals or not.
func hasEnding(path, ending string) bool { return strings.EqualFold(filepath.Ext(path), ending) }
