package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"crowline/cmd/internal/answer"
	"crowline/cmd/internal/report"
	"crowline/dem/outfile"
)

type sightsOptions struct {
	streams Streams
	ground  groundFlags
	places  placeFlags
	sight   sightFlags
	output  outputFlags

	file, out string
}

func newSightsCmd(s Streams, runF func(context.Context, *sightsOptions) error) *cobra.Command {
	o := &sightsOptions{streams: s}
	if runF == nil {
		runF = sightsRun
	}
	cmd := &cobra.Command{
		Use:   "sights FILE",
		Short: "Many sights at once: a table in, the same with answers out",
		Long: `Tell of every pair of places in FILE whether the second can be seen from the
first, as crowline sight does of one.

FILE is a CSV table whose first line names the columns from and to, each a place
as any command takes it, or from_lat, from_lon, to_lat and to_lon; or a GeoJSON
FeatureCollection of lines, each seen from its first place to its last. - is
standard input. The same comes out, row by row in the same order, as soon as it
is worked out. What was there stays, and these columns, or properties, are
added: verdict, clearance_m, clearance_at_m, blocked_at_m, blocker_elevation_m,
extra_height_m, extra_eye_height_m, likelihood, probability,
elevation_angle_deg, distance_m and status. crowline help json sights says what
each means. How many are seen, and what the data is worth, stands on standard
error, or with -o on standard output.

A row that cannot be answered says why in its status, and the others go on; the
status of all others is ok. A table's row has at most 64 KB.

A run that is stopped leaves whole rows on standard output. To go on with a
table: count the lines you have, and give the heading and what is left:

  n=$(wc -l < seen.csv)
  (head -n 1 pairs.csv; tail -n +$((n+1)) pairs.csv) |
    crowline sights - | tail -n +2 >> seen.csv

With -o there is no file before all rows are in it.

The sights are over bare ground as the data has it: crowline sight --cover looks
over trees.`,
		Example: `  crowline sights pairs.csv
  crowline sights lines.geojson --eye 1.7m --target-height 10m -o seen.geojson
  crowline sights pairs.csv --places trip.gpx --dem tile.tif`,
		Args: exactArgs(1, "one file of pairs of places, or - for standard input"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.file = args[0]
			return runF(cmd.Context(), o)
		},
	}
	argumentsNameFiles(cmd, filesRead)
	o.ground.add(cmd)
	o.places.add(cmd)
	o.sight.add(cmd)
	o.output.add(cmd)
	cmd.Flags().Lookup("json").Usage = "say how it ended as one JSON object, in metres and degrees"
	cmd.Flags().StringVarP(&o.out, "out", "o", "", "write to `FILE` and not to standard output")
	namesFiles(cmd, filesWritten, "out")
	return cmd
}

// standardInput is the file that stands for it.
const standardInput = "-"

func sightsRun(ctx context.Context, o *sightsOptions) error {
	if o.out != "" {
		if err := checkFolder(o.out); err != nil {
			return err
		}
	}
	if o.file == standardInput && o.places.file == standardInput {
		return usageErrorf("standard input cannot be both the pairs and --places: give a file for one of them")
	}
	place, err := o.placeOf()
	if err != nil {
		return err
	}
	r := answer.SightsRequest{
		Sighting: o.sight.sighting(), In: o.streams.In, Name: "standard input", Place: place,
		Say: func(err error) string { return oneLine(err) },
	}
	if err := asked(r.Check()); err != nil {
		return err
	}
	if o.file != standardInput {
		f, err := openInput(o.file, o.streams.Out)
		if err != nil {
			return err
		}
		defer f.Close()
		r.In, r.Name = f, o.file
	}
	if r.In == nil {
		return errors.New("there is no standard input")
	}
	ctx, g, err := o.ground.ask(ctx, o.streams, r.Reach())
	if err != nil {
		return err
	}
	defer g.Close()
	var total *answer.SightsAnswer
	if o.out == "" {
		r.Out = o.streams.Out
		total, err = answer.Sights(ctx, g, r)
	} else {
		err = outfile.Stream(o.out, func(w io.Writer) error {
			r.Out = w
			total, err = answer.Sights(ctx, g, r)
			return err
		})
	}
	if err != nil {
		return asked(err)
	}
	return o.tell(total)
}

// tell says how the batch ended: on standard error, unless the rows went to a
// file.
func (o *sightsOptions) tell(t *answer.SightsAnswer) error {
	if t.Failed > 0 && t.Failed == t.Rows {
		return report.SightsNone(t)
	}
	s := o.streams
	if s.session != nil && s.session.quiet && !o.output.json {
		return nil
	}
	fmt.Fprint(s.Err, s.fresh())
	if o.out != "" {
		t.Written = []string{o.out}
	} else {
		s.Out = s.Err
	}
	return o.output.writeAnswer(s, t, func(p *report.Page) { report.Sights(p, t) })
}

// placeOf reads places for several goroutines: names are looked up once.
func (o *sightsOptions) placeOf() (func(string) (answer.Place, error), error) {
	list, err := o.places.named()
	if err != nil {
		return nil, err
	}
	byName := map[string][]answer.Place{}
	for _, p := range list {
		byName[strings.ToLower(p.Name)] = append(byName[strings.ToLower(p.Name)], p)
	}
	return func(text string) (answer.Place, error) {
		if found := byName[strings.ToLower(strings.TrimSpace(text))]; len(found) == 1 {
			return found[0], nil
		}
		return o.places.place(text)
	}, nil
}

// openInput opens a file to be read as a stream, unless it is where the answer
// goes, by whatever way.
func openInput(path string, out io.Writer) (*os.File, error) {
	info, err := os.Stat(path)
	switch {
	case err != nil:
		return nil, fmt.Errorf("%s: no such file", path)
	case info.IsDir():
		return nil, fmt.Errorf("%s is a folder; name a file", path)
	case !info.Mode().IsRegular():
		return nil, fmt.Errorf("%s is not a plain file; to read a pipe or a device give - and < %s", path, path)
	}
	if s, ok := out.(*session); ok {
		out = s.streams.Out
	}
	if g, ok := out.(*gate); ok {
		out = g.w
	}
	if f, ok := out.(*os.File); ok {
		if to, err := f.Stat(); err == nil && os.SameFile(info, to) {
			return nil, usageErrorf("standard output goes to %s, which is read: send it to another file", path)
		}
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("%s cannot be opened", path)
	}
	return f, nil
}
