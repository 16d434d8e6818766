package cli

import (
	"github.com/spf13/cobra"
)

// question is what commands that look over ground are asked alike.
type question struct {
	streams Streams
	ground  groundFlags
	places  placeFlags
	sight   sightFlags
	output  outputFlags
	needle  needleFlags
	cover   coverFlags
}

func (q *question) add(cmd *cobra.Command) {
	q.ground.add(cmd)
	q.places.add(cmd)
	q.sight.add(cmd)
	q.output.add(cmd)
	q.needle.add(cmd)
	q.cover.add(cmd)
}
