package sheet

import (
	"bytes"
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"crowline/contour"
)

// BenchmarkSheet is a whole A4 sheet on the built-in ground: contours traced
// over all its posts, composed, written as PDF.
func BenchmarkSheet(b *testing.B) {
	plan := demoPlan(b)
	grid := demoGround(b)
	b.ReportAllocs()
	for b.Loop() {
		lines, err := contour.Trace(context.Background(), grid, plan.Contours.Levels, contour.Options{})
		require.NoError(b, err)
		plan.Contours.Lines = lines
		d, err := Compose(context.Background(), plan)
		require.NoError(b, err)
		var out bytes.Buffer
		require.NoError(b, d.WritePDF(&out))
		b.ReportMetric(float64(out.Len()), "bytes")
	}
}
