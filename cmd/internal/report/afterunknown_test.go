package report

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"crowline/cmd/internal/answer"
	"crowline/dem/units"
	"crowline/visibility"
)

// TestWhatFollowsAnUnknownIsAtTheLatest: where part of the way is not known
// before the destination comes into view, it may be seen sooner.
func TestWhatFollowsAnUnknownIsAtTheLatest(t *testing.T) {
	t.Parallel()
	const hidden, unknown, visible = visibility.Hidden, visibility.Unknown, visibility.Visible
	type stretches = []visibility.Stretch
	for _, row := range []struct {
		name            string
		walking         stretches
		text, card      string
		never, neverToo string
	}{
		{"unknown before it is seen", stretches{{From: 0, To: 1000, Verdict: hidden}, {From: 1000, To: 2910, Verdict: unknown}, {From: 2910, To: 5000, Verdict: visible}},
			"the end comes into view 2.91 km along at the latest", "The end comes into view at 2.91 km at the latest", "first comes into view", "from 2.91 km on\n"},
		{"known before it is seen", stretches{{From: 0, To: 1000, Verdict: hidden}, {From: 1000, To: 2910, Verdict: visible}, {From: 2910, To: 3000, Verdict: unknown}, {From: 3000, To: 5000, Verdict: visible}},
			"the end first comes into view 1.00 km along", "The end comes into view at 1.00 km", "km along at the latest", "from 3.00 km on\n"},
		{"never seen where it is known", stretches{{From: 0, To: 1000, Verdict: hidden}, {From: 1000, To: 5000, Verdict: unknown}},
			"not known from 1.00 km to 5.00 km", "The end is hidden from the start; for part of the way it is not known", "into view", "all the way"},
		{"never hidden where it is known", stretches{{From: 0, To: 1000, Verdict: visible}, {From: 1000, To: 2000, Verdict: unknown}, {From: 2000, To: 5000, Verdict: visible}},
			"and stays in view from 2.00 km on at the latest", "The end is in view from the start; for part of the way it is not known", "all the way", "hidden"},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			var b strings.Builder
			p := NewPage(&b, units.Metric)
			p.walking(row.walking, 5000, "the end")
			card := p.endInView(row.walking[0].Verdict, row.walking)
			text := strings.Join(strings.Fields(b.String()), " ") + "\n"
			assert.Contains(t, text, row.text)
			assert.Equal(t, row.card, card)
			for _, never := range []string{row.never, row.neverToo} {
				assert.NotContains(t, text+card, never)
			}
		})
	}
}

// TestAMarksUnknownStretchesAreTold beside those it is hidden from.
func TestAMarksUnknownStretchesAreTold(t *testing.T) {
	t.Parallel()
	kept := []visibility.Stretch{{From: 0, To: 100, Verdict: visibility.Visible}, {From: 100, To: 200, Verdict: visibility.Hidden}, {From: 200, To: 300, Verdict: visibility.Unknown}}
	assert.Equal(t, "hidden from 100 m to 200 m; not known from 200 m to the end", answer.HiddenFrom(kept, 300, units.Metric))
	assert.Equal(t, "not known from 200 m to the end", answer.HiddenFrom(append(kept[:1:1], kept[2]), 300, units.Metric))
	assert.Empty(t, answer.HiddenFrom(kept[:1], 300, units.Metric))
}
