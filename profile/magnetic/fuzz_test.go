package magnetic

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// FuzzParse: coefficients with one line changed. What is read has every
// term, and errors are one line.
func FuzzParse(f *testing.F) {
	lines := strings.Split(strings.TrimSpace(wmm2025), "\n")
	f.Add(0, "2025.0 WMM-2025 11/13/2024")
	f.Add(3, "  2  0  -2532.4 0.0 -11.9 0.0")
	f.Add(4, "2 1 NaN 1e999 0 0")
	f.Add(len(lines)-1, "99999999")
	f.Fuzz(func(t *testing.T, at int, line string) {
		changed := append([]string(nil), lines...)
		changed[uint(at)%uint(len(changed))] = line
		m, err := parse(strings.Join(changed, "\n"))
		if err != nil {
			assert.NotContains(t, err.Error(), "\n")
			return
		}
		assert.Len(t, m.terms, maximumDegree*(maximumDegree+3)/2)
	})
}
