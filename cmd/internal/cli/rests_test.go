package cli

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/cmd/internal/answer"
)

// TestAnswersSayWhatTheyRestOn: the data, what was assumed and the cautions,
// with figures no finer than they are worth.
func TestAnswersSayWhatTheyRestOn(t *testing.T) {
	t.Parallel()
	for _, line := range []string{
		"drill --around A --count 8 --seed 3 --json", "contours --around A --radius 1km --json -o " + t.TempDir() + "/x.geojson",
		"leg A B --json", "sight A B --json", "viewshed A --radius 2km --json", "skyline A --radius 2km --json",
	} {
		arguments := strings.Fields(strings.ReplaceAll(strings.ReplaceAll(line, " A", " "+legFrom), " B", " "+legTo))
		a := run(t, arguments...)
		require.Equal(t, exitOK, a.code, a.err)
		var v map[string]any
		require.NoError(t, json.Unmarshal([]byte(a.out), &v))
		assert.Len(t, v["cautions"], len(answer.Cautions()), line)
		assert.Contains(t, v["elevation_data"], "warnings", line)
		if !strings.HasPrefix(line, "contours") {
			assert.Contains(t, v["assumptions"], "refraction_k", line)
		}
		assert.NotRegexp(t, `\.\d{8}`, a.out, line)
		text := run(t, strings.Fields(strings.ReplaceAll(strings.Join(arguments, " "), " --json", ""))...)
		require.Equal(t, exitOK, text.code, text.err)
		assert.Contains(t, text.out, "and cautions", line)
		assert.Contains(t, text.out, "Carry map and compass", line)
	}
}
