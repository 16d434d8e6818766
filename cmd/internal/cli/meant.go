package cli

import (
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// meant is the name that a misspelt word most likely stands for, "" where none
// is near: one that holds the word, or is a slip of the finger away for every
// three letters, in capitals or not.
func meant(word string, names []string) string {
	w := strings.ToLower(strings.ReplaceAll(word, "_", "-"))
	best, least := "", 1+max(1, len(w)/3)
	for _, name := range names {
		d := slips(w, strings.ToLower(name))
		if len(w) >= 3 && strings.Contains(strings.ToLower(name), w) {
			d = min(d, 1)
		}
		if d < least && d < len(w) {
			best, least = name, d
		}
	}
	return best
}

// slips counts the letters to put in, leave out, change or swap with the next to
// make b of a: the optimal string alignment distance (Damerau 1964). Words longer
// than any name are far from all of them.
func slips(a, b string) int {
	const longest = 64
	x, y := []rune(a), []rune(b)
	if len(x) > longest || len(y) > longest {
		return longest
	}
	before, last, now := make([]int, len(y)+1), make([]int, len(y)+1), make([]int, len(y)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(x); i++ {
		now[0] = i
		for j := 1; j <= len(y); j++ {
			change := last[j-1]
			if x[i-1] != y[j-1] {
				change++
			}
			now[j] = min(change, last[j]+1, now[j-1]+1)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				now[j] = min(now[j], before[j-2]+1)
			}
		}
		before, last, now = last, now, before
	}
	return last[len(y)]
}

// didYouMean ends a sentence about a word with the one most likely meant.
func didYouMean(word string, names []string, write func(name string) string) string {
	if name := meant(word, names); name != "" {
		return ": did you mean " + write(name) + "? "
	}
	return "; "
}

// commandNames are the commands that another holds.
func commandNames(parent *cobra.Command) (names []string) {
	for _, c := range parent.Commands() {
		if c.IsAvailableCommand() || c.Name() == "help" {
			names = append(names, c.Name())
		}
	}
	return names
}

// flagNames are the flags of a command that its help lists, by length as typed.
func flagNames(cmd *cobra.Command) (names []string) {
	for _, flags := range []*pflag.FlagSet{cmd.Flags(), cmd.InheritedFlags()} {
		flags.VisitAll(func(f *pflag.Flag) {
			if !f.Hidden && !slices.Contains(names, f.Name) {
				names = append(names, f.Name)
			}
		})
	}
	return names
}

// checkCommand refuses a word that is no command where one should be, also where
// --help is asked for beside it: cobra would print the help of what holds it and
// call that a success.
func checkCommand(root *cobra.Command, arguments []string) error {
	if len(arguments) > 0 && strings.HasPrefix(arguments[0], cobra.ShellCompRequestCmd) {
		return nil
	}
	root.InitDefaultHelpCmd()
	command, rest, err := root.Find(arguments)
	if err != nil || !command.HasAvailableSubCommands() && command.Name() != "help" {
		return nil // what is wrong is said when it is run
	}
	words := slices.DeleteFunc(slices.Clone(rest), func(a string) bool { return strings.HasPrefix(a, "-") })
	switch {
	case len(words) == 0:
		return nil
	case command.Name() != "help":
		return noSuchCommand(command, words[0])
	case words[0] == "json":
		return nil
	}
	if about, rest, err := root.Find(words); err != nil || len(rest) > 0 {
		if about == nil {
			about, rest = root, words
		}
		return noSuchCommand(about, rest[0])
	}
	return nil
}
