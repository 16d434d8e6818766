package answer

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// FuzzKinds: names of kinds are read whole or refused as a wrong request.
func FuzzKinds(f *testing.F) {
	for _, s := range []string{"hill", " Saddle ,cliff", "sight", "page-bearing,climb", "plain", "adjusted", "any", "lake", "", ",", "HILL\x00"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		names := strings.Split(s, ",")
		if kinds, err := ParseLandformKinds(names); err != nil {
			assert.True(t, IsWrongRequest(err))
		} else {
			assert.Len(t, kinds, len(names))
			assert.NoError(t, FeaturesRequest{Radius: 1, Kinds: kinds}.Check())
		}
		if c, err := ParseCompass(s); err == nil {
			assert.Equal(t, s, c.String())
			assert.NotEqual(t, AnyCompass, c)
		}
		if kinds, err := ParseDrillKinds(names); err != nil {
			assert.True(t, IsWrongRequest(err))
		} else {
			assert.Len(t, kinds, len(names))
		}
	})
}
