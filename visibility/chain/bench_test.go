package chain

import (
	"testing"

	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
)

// BenchmarkFind is the chain of the demo's leg.
func BenchmarkFind(b *testing.B) {
	g, sigma := realGround(b, "bigtujunga")
	from, err := geodesy.ParsePlace("34.3297,-118.0548")
	require.NoError(b, err)
	to, err := geodesy.ParsePlace("34.3008,-118.0514")
	require.NoError(b, err)
	b.ReportAllocs()
	for b.Loop() {
		findOn(b, g, from, to, sigma)
	}
}
