package profile

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// FuzzParseRule: what is read is a rule that writes itself so.
func FuzzParseRule(f *testing.F) {
	for _, s := range []string{"naismith", "tobler", "din", "", "?", "Tobler"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if r, err := ParseRule(s); err == nil {
			assert.Equal(t, s, r.String())
			assert.Less(t, r, rules)
		}
	})
}
