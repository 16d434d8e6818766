package cli

import (
	"crowline/dem"
)

// filledWords is what text calls ground that --fill-voids made.
const filledWords = "filled in from the rim of a void"

// filled is the source's record of filled posts, nil without --fill-voids.
func (g *ground) filled() *dem.Filled { return dem.FilledIn(g.source) }
