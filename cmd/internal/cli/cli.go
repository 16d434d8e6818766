// Package cli is the command line: flags, text and JSON in and out, exit
// codes. It computes nothing; each command calls the library and writes what
// it answers.
package cli

import (
	"cmp"
	"context"
	"fmt"
	"runtime/debug"
	"strings"

	"github.com/spf13/cobra"

	"crowline/cmd/internal/report"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
)

// version and commit are set by make build, with -ldflags -X.
var version, commit = "", ""

// versionText is what --version says: the version, the commit it was built of,
// and the libraries that heights and places rest on.
func versionText() string {
	v, c := version, commit
	if info, ok := debug.ReadBuildInfo(); ok {
		if v == "" && info.Main.Version != "(devel)" {
			v = info.Main.Version
		}
		for _, s := range info.Settings {
			if s.Key == "vcs.revision" && c == "" {
				c = s.Value[:min(12, len(s.Value))]
			}
		}
	}
	return fmt.Sprintf("%s\ncommit  %s\nGDAL    %s\nPROJ    %s", cmp.Or(v, "development build"), cmp.Or(c, "not known"),
		gdalio.Version(), geodesy.ProjVersion())
}

// Main runs the command line and returns the process's exit code.
func Main(ctx context.Context, args []string, streams Streams) int {
	run := &session{streams: streams}
	inside := streams
	inside.Out, inside.session = run, run
	root := newRoot(inside, args...)
	err := checkCommand(root, args)
	if err == nil {
		root.SetArgs(placesLast(root, args))
		err = root.ExecuteContext(withTyped(withConfig(ctx), args))
	}
	if ctx.Err() != nil && err != nil {
		err = whyStopped(ctx)
	}
	if err = run.end(err); err != nil {
		streams.sayError(run.plain(oneLine(err), run.flag), exitCode(err), asksJSON(args))
	}
	return exitCode(err)
}

// commandTable are the commands in the order of the help, by group.
var commandTable = []struct {
	group, name string
	make        func(Streams) *cobra.Command
}{
	{"plan", "leg", func(s Streams) *cobra.Command { return newLegCmd(s, nil) }},
	{"plan", "sight", func(s Streams) *cobra.Command { return newSightCmd(s, nil) }},
	{"plan", "sights", func(s Streams) *cobra.Command { return newSightsCmd(s, nil) }},
	{"plan", "landmarks", func(s Streams) *cobra.Command { return newLandmarksCmd(s, nil) }},
	{"plan", "viewshed", func(s Streams) *cobra.Command { return newViewshedCmd(s, nil) }},
	{"plan", "skyline", func(s Streams) *cobra.Command { return newSkylineCmd(s, nil) }},
	{"plan", "fix", func(s Streams) *cobra.Command { return newFixCmd(s, nil) }},
	{"plan", "route", func(s Streams) *cobra.Command { return newRouteCmd(s, nil) }},
	{"plan", "desk", func(s Streams) *cobra.Command { return newDeskCmd(s, nil) }},
	{"teach", "vantage", func(s Streams) *cobra.Command { return newVantageCmd(s, nil) }},
	{"teach", "walk", func(s Streams) *cobra.Command { return newWalkCmd(s, nil) }},
	{"teach", "sheet", func(s Streams) *cobra.Command { return newSheetCmd(s, nil) }},
	{"teach", "drill", func(s Streams) *cobra.Command { return newDrillCmd(s, nil) }},
	{"teach", "contours", func(s Streams) *cobra.Command { return newContoursCmd(s, nil) }},
	{"data", "dem", newDEMCmd},
	{"data", "declination", func(s Streams) *cobra.Command { return newDeclinationCmd(s, nil) }},
	{"other", "config", func(s Streams) *cobra.Command { return newConfigCmd(s, nil) }},
	{"other", "demo", newDemoCmd},
}

func inTable(name string) bool {
	for _, c := range commandTable {
		if c.name == name {
			return true
		}
	}
	return false
}

// newRoot is the program with all its commands, or where its arguments begin
// with the name of one, with that one alone: the others are not made.
func newRoot(s Streams, args ...string) *cobra.Command {
	root := &cobra.Command{
		Use:   "crowline",
		Short: "Straight legs over open ground: bearing, sight and climb",
		Long: `crowline works out, before you leave, what a straight leg off trail asks of
you: which bearing to follow (true, grid and magnetic), what can be sighted
along it and where it drops from sight, and what it climbs. It draws maps,
profiles and exercises for teaching map and compass. Everything is computed
from open elevation data, and says how far it can be trusted.

Places are LAT,LON (decimal, or degrees minutes seconds with N S E W), UTM
("16S 735000 4040000"), MGRS, or a name from a --places file.

A file that -o, --plot or --gpx names is replaced if it is there, unless the
run reads it. No other file is ever replaced. -o - writes to standard output,
in the command's own text format (-o -.svg and the like choose another); the
answer then goes to standard error. --places - reads places from standard
input.

With --json an error is JSON too, on standard error: "error" holds "message",
"kind" (usage, failed or stopped) and "exit_code".

Exit codes: 0 answered, 1 could not answer, 2 wrong usage, 130 interrupted.`,
		Example: `  crowline demo
  crowline leg 34.3297,-118.0548 34.3008,-118.0514 --dem tile.tif
  crowline dem info tile.tif`,
		Version:       versionText(),
		SilenceErrors: true,
		SilenceUsage:  true,
	}
	onlyGroups(root)
	root.RunE = func(cmd *cobra.Command, args []string) error {
		_, err := fmt.Fprint(cmd.OutOrStdout(), firstSteps)
		return err
	}
	root.PersistentFlags().BoolP("quiet", "q", false, "show no progress, and no text where a file is written")
	root.PersistentPreRunE = func(cmd *cobra.Command, args []string) error {
		if s.session != nil {
			s.session.quiet, _ = cmd.Flags().GetBool("quiet")
			if err := s.session.begin(cmd); err != nil {
				return err
			}
		}
		if err := checkNeeds(cmd); err != nil {
			return err
		}
		if err := checkGroundFlags(cmd); err != nil {
			return err
		}
		return checkFiles(cmd, args)
	}
	root.SetOut(s.Out)
	if s.In == nil {
		s.In = strings.NewReader("")
	}
	root.SetIn(s.In)
	root.SetErr(s.Err)
	root.SetVersionTemplate("crowline {{.Version}}\n")
	root.SetFlagErrorFunc(plainFlagError)
	root.SetHelpCommand(newHelpCmd())
	// flags wrapped to the page like all other text
	root.SetUsageTemplate(strings.ReplaceAll(root.UsageTemplate(), ".FlagUsages ", fmt.Sprintf(".FlagUsagesWrapped %d ", report.Width)))
	root.SetHelpCommandGroupID("other")
	root.SetCompletionCommandGroupID("other")
	root.AddGroup(
		&cobra.Group{ID: "plan", Title: "Before leaving:"},
		&cobra.Group{ID: "teach", Title: "For teaching:"},
		&cobra.Group{ID: "data", Title: "Data and constants:"},
		&cobra.Group{ID: "other", Title: "Other:"},
	)
	for _, c := range commandTable {
		if len(args) == 0 || c.name == args[0] || !inTable(args[0]) {
			cmd := c.make(s)
			cmd.GroupID = c.group
			root.AddCommand(cmd)
		}
	}
	addCompletion(root)
	if len(args) > 0 && strings.HasPrefix(args[0], cobra.ShellCompRequestCmd) {
		completeAll(root)
	}
	return root
}

// firstSteps is what crowline says when it is asked nothing.
const firstSteps = `crowline works out a straight leg off trail before you walk it: bearing, what
you can sight, climb, time. Three things to try, on the demo data built in:

  crowline demo                                   one leg, worked out in full
  crowline desk                                   the same on a map, to drag
  crowline landmarks 34.3297,-118.0548            what to sight from its camp

On your own ground, fetch data first, or give your own with --dem FILE:

  crowline dem get --around 46.02,7.75 --radius 10km --source copernicus-glo-30
  crowline leg 46.02,7.75 46.00,7.70 --dem elevation/copernicus-glo-30

crowline config keeps what you always use; crowline --help lists every command.
`

// exactArgs is cobra's check with our wording and exit code.
func exactArgs(n int, what string) cobra.PositionalArgs {
	return rangeArgs(n, n, what)
}

func rangeArgs(least, most int, what string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) < least || len(args) > most {
			more := ""
			if len(args) > most && most > 0 {
				more = "; put quotes round a place with spaces in it"
			}
			return usageErrorf("%s takes %s; got %d%s", strings.TrimPrefix(cmd.CommandPath(), "crowline "), what, len(args), more)
		}
		return nil
	}
}
