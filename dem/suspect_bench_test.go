package dem

import "testing"

// BenchmarkSuspects searches a million posts of rough ground.
func BenchmarkSuspects(b *testing.B) {
	g := rough(lonLatFrame(1000, 1000), 7)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := SuspectsOf(g); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.N)*float64(len(g.Elevations))/b.Elapsed().Seconds(), "posts/s")
}
