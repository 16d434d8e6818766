package cli

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"regexp"
	"runtime"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"crowline/cmd/internal/answer"
	"crowline/cmd/internal/desk"
	"crowline/dem"
)

type deskOptions struct {
	question

	walk   walkFlags
	marks  int
	noOpen bool
	port   int
	cmd    *cobra.Command
	args   []string
}

func newDeskCmd(s Streams, runF func(context.Context, *deskOptions) error) *cobra.Command {
	o := &deskOptions{question: question{streams: s}}
	if runF == nil {
		runF = deskRun
	}
	cmd := &cobra.Command{
		Use:   "desk [FROM [TO]] | desk LINK",
		Short: "Point at a map in your browser and see the answers",
		Long: `Show the ground as a map in your browser. Pick a start, drag a line to where you
want to go, and see at once what the leg asks of you: the bearing, the climb,
what you can sight and where it is lost. What the page says is what the other
commands say, and it shows the command that gives the same.

The page is served from this machine to this machine alone, on 127.0.0.1, and
needs no network. The address holds a secret word, so that no other site can
ask: open the address as it is printed. Ctrl-C stops the desk.

With no places, on the demo data, it opens on the demo's leg. A LINK, as the
page gives it ("crowline:desk?..."), opens what it held.

The browser has to run on the same machine. In a container this works only on
the host's own network (with Docker: --network host); else run crowline outside
it.`,
		Example: `  crowline desk
  crowline desk 34.3297,-118.0548 34.3008,-118.0514 --no-open
  crowline desk Camp --places trip.gpx --dem tile.tif`,
		Args: rangeArgs(0, 2, "a start and a destination, or a link"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.cmd, o.args = cmd, args
			return runF(cmd.Context(), o)
		},
	}
	o.ground.add(cmd)
	o.places.add(cmd)
	o.sight.add(cmd)
	o.output.addUnits(cmd)
	o.needle.addCompass(cmd)
	o.needle.add(cmd)
	o.cover.add(cmd)
	o.walk.add(cmd)
	o.walk.addErrors(cmd)
	cmd.Flags().Var(newCount(3, &o.marks, 0, mostMarks), "marks", "the `number` of marks to walk on to list")
	cmd.Flags().BoolVar(&o.noOpen, "no-open", false, "print the address, and open no browser")
	cmd.Flags().Var(newCount(0, &o.port, 0, 65535), "port", "the `port` to listen on (default: any that is free)")
	cmd.Flags().Lookup("port").DefValue = ""
	return cmd
}

func deskRun(ctx context.Context, o *deskOptions) error {
	u, err := o.output.system()
	if err != nil {
		return err
	}
	c := desk.Config{
		Sighting: o.sight.sighting(), Cover: o.cover.request(), Marks: o.marks, Units: u, Version: versionText(),
		Front: desk.Front{Place: o.places.place, Interval: readInterval, Day: readDay, Command: o.command},
	}
	if c.Walk, err = o.walk.request(u); err != nil {
		return err
	}
	needle, err := o.needle.needle(o.streams)
	if err != nil {
		return err
	}
	for _, check := range []interface{ Check() error }{c.Sighting, c.Cover, c.Walk, needle} {
		if err := check.Check(); err != nil {
			return asked(err)
		}
	}
	c.Needle = func() answer.Needle { // a desk may stand open over midnight
		needle.Day, _ = o.needle.day(o.streams) // it was read above
		return needle
	}
	if c.Places, err = o.places.named(); err != nil {
		return err
	}
	if c.Start, err = o.start(ctx); err != nil {
		return err
	}
	listener, err := desk.Listen(o.port)
	if err != nil {
		return fmt.Errorf("cannot listen on 127.0.0.1: %w; leave out --port to take one that is free", err)
	}
	defer listener.Close()
	ctx, g, err := o.open(ctx, answer.Reach{})
	if err != nil {
		return err
	}
	if err := g.Hold(ctx); err != nil {
		return err
	}
	// a page that opens on other ground than was asked for helps nobody; a link may
	// hold a place that this data has not
	if len(o.args) > 0 && !desk.IsLink(o.args[0]) {
		for _, turn := range c.Start.Turns {
			if _, err := g.Spot(ctx, turn.Place); errors.Is(err, dem.ErrOutside) {
				return err
			}
		}
	}
	c.Ground = g
	d, err := desk.New(ctx, c)
	if err != nil {
		return err
	}
	address := d.Address(listener)
	fmt.Fprintf(o.streams.Out, "The desk is at %s\nCtrl-C stops it.\n", address)
	if !o.noOpen {
		openInBrowser(address)
	}
	stopped, err := d.Serve(ctx, listener)
	if stopped {
		g.Close()
	}
	return err
}

// start is what the page opens with: a link's state, the places given, or on the
// demo data the demo's leg.
func (o *deskOptions) start(ctx context.Context) (desk.State, error) {
	if len(o.args) == 1 && desk.IsLink(o.args[0]) {
		s, err := desk.ParseLink(o.args[0], o.places.place)
		if err != nil {
			return s, &flagError{err}
		}
		return s, nil
	}
	s := desk.DefaultState()
	for _, text := range o.args {
		p, err := o.places.place(text)
		if err != nil {
			return s, err
		}
		s.Turns = append(s.Turns, desk.Typed{Place: p, Text: strings.TrimSpace(text)})
	}
	data, err := o.ground.data(ctx)
	if err == nil && len(o.args) == 0 && len(data.Paths) == 0 {
		for _, p := range []answer.Place{demoFrom, demoTo} {
			s.Turns = append(s.Turns, desk.Typed{Place: p, Text: p.LatLon.String()})
		}
	}
	return s, err
}

// readInterval and readDay read what is typed on the page as flags are read.
func readInterval(text string) (answer.Interval, error) {
	var f intervalFlag
	err := f.Set(text)
	return answer.Interval{Value: f.value, Unit: f.unit}, err
}

func readDay(text string) (time.Time, error) {
	t, err := time.Parse("2006-01-02", text)
	if err != nil {
		return t, fmt.Errorf("%s: write a date as YYYY-MM-DD", text)
	}
	return t, nil
}

// command writes a command line that gives the same: flags are those it needs, and
// of those the desk was started with the ones that the command knows.
func (o *deskOptions) command(name string, arguments []string, flags []desk.Flag) string {
	words := append([]string{"crowline"}, strings.Fields(name)...)
	words = append(words, arguments...)
	typed := typedIn(o.cmd.Context())
	about := typed.command(name)
	given := map[string]bool{}
	var repeated []desk.Flag
	add := func(name, value string) {
		given[name] = true
		words = append(words, "--"+name)
		if value != "" {
			words = append(words, value)
		}
	}
	for _, f := range flags {
		switch {
		case f.Value == desk.Dropped:
			given[f.Name] = true
		case len(f.Name) == 1:
			words = append(words, "-"+f.Name, f.Value)
		case about.Flags().Lookup(f.Name) != nil:
			add(f.Name, f.Value)
		}
	}
	started := newDeskCmd(Streams{}, nil).Flags()
	err := started.ParseAll(typed.arguments, func(f *pflag.Flag, value string) error {
		if !given[f.Name] && about.Flags().Lookup(f.Name) != nil {
			if f.NoOptDefVal != "" && value == "true" {
				value = ""
			}
			repeated = append(repeated, desk.Flag{Name: f.Name, Value: value})
		}
		return nil
	})
	if err != nil {
		panic(err) // the desk was started with them
	}
	for _, f := range repeated {
		add(f.Name, f.Value)
	}
	for i, w := range words {
		words[i] = quoted(w)
	}
	return strings.Join(words, " ")
}

// typed is the command line as it was typed, and command makes any other command: a
// run has made its own alone.
type typed struct {
	arguments []string
	command   func(name string) *cobra.Command
}

type typedKey struct{}

func withTyped(ctx context.Context, arguments []string) context.Context {
	return context.WithValue(ctx, typedKey{}, typed{arguments, func(name string) *cobra.Command {
		about, _, err := newRoot(Streams{}, name).Find([]string{name})
		if err != nil || about.Name() != name {
			panic(fmt.Sprintf("there is no command %q: %v", name, err))
		}
		return about
	}})
}

func typedIn(ctx context.Context) typed { return ctx.Value(typedKey{}).(typed) }

var plainWord = regexp.MustCompile(`^[0-9A-Za-z_./,:@%+=-]+$`)

// quoted is a word as a shell takes it for one.
func quoted(word string) string {
	switch {
	case plainWord.MatchString(word):
		return word
	case !strings.ContainsAny(word, "\"$`\\!"):
		return `"` + word + `"`
	}
	return "'" + strings.ReplaceAll(word, "'", `'\''`) + "'"
}

// openInBrowser opens an address where the system has a program for that. The
// address is printed, so that nothing is lost where it has none.
func openInBrowser(address string) {
	name := "xdg-open"
	switch {
	case runtime.GOOS == "darwin":
		name = "open"
	case os.Getenv("DISPLAY") == "" && os.Getenv("WAYLAND_DISPLAY") == "":
		return // nothing to show it on: a terminal's own browser would take the terminal
	}
	program, err := exec.LookPath(name)
	if err != nil {
		return
	}
	cmd := exec.Command(program, address)
	if cmd.Start() == nil {
		go func() { _ = cmd.Wait() }()
	}
}
