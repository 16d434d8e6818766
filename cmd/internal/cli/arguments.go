package cli

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// placesLast is a command line whose places with a minus sign in front, as
// -41.3,174.7, are not taken for flags: they and all that is no flag go behind
// "--". Other command lines are as they were.
func placesLast(root *cobra.Command, arguments []string) []string {
	if !slices.ContainsFunc(arguments, startsNegative) {
		return arguments
	}
	command, rest, err := root.Find(arguments)
	if err != nil || command == root {
		return arguments
	}
	var flags, others []string
	for i := 0; i < len(rest); i++ {
		switch a := rest[i]; {
		case a == "--":
			others = append(others, rest[i+1:]...)
			i = len(rest)
		case len(a) < 2 || a[0] != '-' || startsNegative(a):
			others = append(others, a)
		default:
			flags = append(flags, a)
			if !takesNext(command.Flags(), a) {
				continue
			}
			if i++; i == len(rest) { // its value is missing: "--" is not it
				return append(strings.Fields(command.CommandPath())[1:], flags...)
			}
			flags = append(flags, rest[i])
		}
	}
	out := append(strings.Fields(command.CommandPath())[1:], flags...)
	return append(append(out, "--"), others...)
}

// startsNegative reports whether an argument begins as a number below zero
// does; no flag does.
func startsNegative(a string) bool {
	a, minus := strings.CutPrefix(a, "-")
	a = strings.TrimPrefix(a, ".")
	return minus && a != "" && a[0] >= '0' && a[0] <= '9'
}

// takesNext reports whether the argument after a flag is its value.
func takesNext(flags *pflag.FlagSet, flag string) bool {
	var f *pflag.Flag
	if name, long := strings.CutPrefix(flag, "--"); long {
		f = flags.Lookup(name) // none where the value follows an equals sign
	} else if len(flag) == 2 {
		f = flags.ShorthandLookup(flag[1:])
	}
	return f != nil && f.NoOptDefVal == ""
}

// plainFlagError says in the user's words what the flag library found wrong.
func plainFlagError(cmd *cobra.Command, err error) error {
	var unknown *pflag.NotExistError
	var valueless *pflag.ValueRequiredError
	var invalid *pflag.InvalidValueError
	path := cmd.CommandPath()
	switch {
	case errors.As(err, &unknown):
		name, word := "--"+unknown.GetSpecifiedName(), unknown.GetSpecifiedName()
		if all := unknown.GetSpecifiedShortnames(); all != "" {
			name, word = "-"+word, all // -json is five short flags to the library
		}
		return usageErrorf("there is no flag %s%s%s --help lists them", name,
			didYouMean(word, flagNames(cmd), func(name string) string { return "--" + name }), path)
	case errors.As(err, &valueless):
		return usageErrorf("--%s needs a value; %s --help says which", valueless.GetFlag().Name, path)
	case errors.As(err, &invalid):
		name, value := invalid.GetFlag().Name, invalid.GetValue()
		if invalid.GetFlag().Value.Type() == "bool" {
			return usageErrorf("--%s %s: it takes no value", name, value)
		}
		return usageErrorf("--%s: %w", name, errors.Unwrap(invalid))
	}
	return &flagError{fmt.Errorf("%w; %s --help lists the flags", err, path)}
}

// noSuchCommand refuses a word where a command's name should be.
func noSuchCommand(parent *cobra.Command, word string) error {
	return usageErrorf("there is no command %q%s%s --help lists them", word,
		didYouMean(word, commandNames(parent), func(name string) string { return strings.TrimSpace(parent.CommandPath() + " " + name) }), parent.CommandPath())
}

// loadCompletion is how a shell reads its completion script, now and always.
var loadCompletion = map[string][2]string{
	"bash":       {"source <(crowline completion bash)", "crowline completion bash > /etc/bash_completion.d/crowline"},
	"zsh":        {"source <(crowline completion zsh)", `crowline completion zsh > "${fpath[1]}/_crowline"`},
	"fish":       {"crowline completion fish | source", "crowline completion fish > ~/.config/fish/completions/crowline.fish"},
	"powershell": {"crowline completion powershell | Out-String | Invoke-Expression", "put that line into your profile"},
}

// addCompletion adds the library's completion commands, with our words.
func addCompletion(root *cobra.Command) {
	root.InitDefaultCompletionCmd()
	for _, c := range root.Commands() {
		if c.Name() != "completion" {
			continue
		}
		c.Short = "Print the script that completes commands in a shell"
		c.Long = "Print the script by which a shell completes crowline's commands and flags."
		onlyGroups(c)
		for _, shell := range c.Commands() {
			name, load := shell.Name(), loadCompletion[shell.Name()]
			shell.Short = "The completion script for " + name
			shell.Long = fmt.Sprintf("Print the script by which %s completes crowline's commands and flags.\n\nFor this session:\n\n  %s\n\nFor every session:\n\n  %s", name, load[0], load[1])
			if name == "bash" {
				shell.Long += "\n\nIt needs the package bash-completion."
			}
			shell.Args = exactArgs(0, "no arguments")
		}
	}
}

// onlyGroups makes a command one that only holds others: alone it prints its
// help, and what it does not hold is refused.
func onlyGroups(cmd *cobra.Command) {
	cmd.Args = func(cmd *cobra.Command, args []string) error {
		if len(args) > 0 {
			return noSuchCommand(cmd, args[0])
		}
		return nil
	}
	cmd.RunE = func(cmd *cobra.Command, args []string) error { return cmd.Help() }
}
