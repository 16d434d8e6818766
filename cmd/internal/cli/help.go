package cli

import (
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"crowline/cmd/internal/answer"
	"crowline/cmd/internal/report"
	figures "crowline/dem/units"
)

// newHelpCmd is the help of any command, by its name, and of the keys of JSON.
func newHelpCmd() *cobra.Command {
	return &cobra.Command{
		Use:   "help [COMMAND] | help json [COMMAND]",
		Short: "Help about any command, and about the keys of its JSON",
		Long: `Print the help of a command, the same as --help after its name.

help json lists the keys of the JSON that a command answers with under --json:
each key, its unit and what it means. Without COMMAND it lists those of all.
In a key, [] stands for each of a list.`,
		Example: `  crowline help leg
  crowline help dem info
  crowline help json leg`,
		ValidArgsFunction: completeHelp,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 && args[0] == "json" {
				return helpJSON(cmd, strings.Join(args[1:], " "))
			}
			about, rest, err := cmd.Root().Find(args)
			if err != nil || len(rest) > 0 {
				if about == nil {
					about, rest = cmd.Root(), args
				}
				return noSuchCommand(about, rest[0])
			}
			about.InitDefaultHelpFlag()
			about.InitDefaultVersionFlag()
			return about.Help()
		},
	}
}

// answersOf are the answers of a command, of which some have two: "dem info"
// and "dem info, several files". All of them for "".
func answersOf(command string) []string {
	return slices.DeleteFunc(answer.Commands(), func(name string) bool {
		rest, ok := strings.CutPrefix(name, command)
		return command != "" && (!ok || rest != "" && !strings.HasPrefix(rest, ",") && !strings.HasPrefix(rest, " --"))
	})
}

// helpJSON lists the keys of a command's JSON, or of every command's for "".
func helpJSON(cmd *cobra.Command, command string) error {
	found := answersOf(command)
	if len(found) == 0 {
		return usageErrorf("there is no JSON of %q: crowline help json lists that of every command", command)
	}
	p := report.NewPage(cmd.OutOrStdout(), figures.Metric)
	for _, name := range found {
		keys, _ := answer.KeysOf(name)
		report.Keys(p, name, keys)
	}
	return p.Err()
}

// completeHelp completes the names of commands.
func completeHelp(cmd *cobra.Command, args []string, _ string) ([]cobra.Completion, cobra.ShellCompDirective) {
	var names []cobra.Completion
	if len(args) > 0 && args[0] == "json" {
		for _, name := range answersOf(strings.Join(args[1:], " ")) {
			name, _, _ = strings.Cut(name, ",")
			if words := strings.Fields(name); len(words) > 0 && len(args) == 1 && !slices.Contains(names, words[0]) {
				names = append(names, words[0])
			}
		}
		return names, cobra.ShellCompDirectiveNoFileComp
	}
	if about, rest, err := cmd.Root().Find(args); err == nil && len(rest) == 0 {
		for _, c := range about.Commands() {
			if c.IsAvailableCommand() {
				names = append(names, cobra.CompletionWithDesc(c.Name(), c.Short))
			}
		}
		if len(args) == 0 {
			names = append(names, cobra.CompletionWithDesc("json", "The keys of a command's JSON"))
		}
	}
	return names, cobra.ShellCompDirectiveNoFileComp
}
