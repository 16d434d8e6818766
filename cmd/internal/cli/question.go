package cli

import (
	"time"

	"github.com/spf13/cobra"

	"crowline/visibility"
)

// question is what commands that look over ground are asked alike.
type question struct {
	streams Streams
	ground  groundFlags
	places  placeFlags
	sight   sightFlags
	output  outputFlags
	date    dateFlag
	cover   coverFlags
}

func (q *question) add(cmd *cobra.Command) {
	q.ground.add(cmd)
	q.places.add(cmd)
	q.sight.add(cmd)
	q.output.add(cmd)
	q.date.add(cmd)
	q.cover.add(cmd)
}

// read checks the flags that need no data.
func (q *question) read() (u units, conditions visibility.Conditions, day time.Time, err error) {
	if u, err = q.output.choose(); err != nil {
		return u, conditions, day, err
	}
	day, err = q.date.day(q.streams)
	return u, q.sight.conditions(), day, err
}
