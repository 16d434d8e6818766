package cli

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestDrillText: as many answers as questions, 80 columns, the same text for
// the same seed and another for another.
func TestDrillText(t *testing.T) {
	t.Parallel()
	arguments := []string{"drill", "--around", legFrom, "--count", "6"}
	a := run(t, arguments...)
	require.Equal(t, exitOK, a.code, a.err)
	for _, line := range strings.Split(a.out, "\n") {
		assert.LessOrEqual(t, utf8.RuneCountInString(line), 80, line)
	}
	questions, key, ok := strings.Cut(a.out, "Answers:")
	require.True(t, ok)
	for _, part := range []string{questions, key} {
		assert.Contains(t, part, "\n6. ")
		assert.NotContains(t, part, "\n7. ")
	}
	assert.Equal(t, a.out, run(t, arguments...).out)
	assert.NotEqual(t, a.out, run(t, append(arguments, "--seed", "2")...).out)
	only := run(t, append(arguments, "--part", "questions")...)
	assert.NotContains(t, only.out, "Answers:")
}

func TestDrillFiles(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	for _, name := range []string{"d.pdf", "d.txt"} {
		path := filepath.Join(folder, name)
		a := run(t, "drill", "--around", legFrom, "--count", "4", "--kinds", "sight,climb", "-o", path, "--json")
		require.Equal(t, exitOK, a.code, a.err)
		var set struct {
			Questions []struct{ Kind, Text, Answer string }
		}
		require.NoError(t, json.Unmarshal([]byte(a.out), &set))
		require.Len(t, set.Questions, 4)
		for _, q := range set.Questions {
			assert.Contains(t, []string{"sight", "climb"}, q.Kind)
			assert.NotEmpty(t, q.Text)
			assert.NotEmpty(t, q.Answer)
		}
		body, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Greater(t, len(body), 500)
	}
}

func TestDrillRefusals(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		arguments []string
		code      int
		says      string
	}{
		{[]string{"drill"}, exitUsage, "--around"},
		{[]string{"drill", "--around", legFrom, "--level", "expert"}, exitUsage, "--level expert: give beginner"},
		{[]string{"drill", "--around", legFrom, "--count", "0"}, exitUsage, "--count"},
		{[]string{"drill", "--around", legFrom, "--count", "51"}, exitUsage, "1 to 50"},
		{[]string{"drill", "--around", legFrom, "--minutes", "20"}, exitUsage, "--minutes 20: give 15, 30 or 45"},
		{[]string{"drill", "--around", legFrom, "--minutes", "15", "--count", "5"}, exitUsage, "leave out --count"},
		{[]string{"drill", "--around", legFrom, "--kinds", "riddle"}, exitUsage, "kinds are"},
		{[]string{"drill", "--around", legFrom, "--radius", "10"}, exitUsage, "--radius"},
		{[]string{"drill", "--around", legFrom, "-o", "x.doc"}, exitUsage, ".pdf"},
		{[]string{"drill", "--around", "10,10"}, exitError, "outside"},
	} {
		a := run(t, row.arguments...)
		assert.Equal(t, row.code, a.code, "%v: %s", row.arguments, a.err)
		assert.Contains(t, a.err, row.says)
		assert.Empty(t, a.out)
	}
}

// TestDrillQuestionsAloneTellNoAnswer: --part questions --json wrote the key,
// and the elevation of every mark.
func TestDrillQuestionsAloneTellNoAnswer(t *testing.T) {
	t.Parallel()
	a := run(t, "drill", "--around", legFrom, "--count", "3", "--kinds", "elevation", "--part", "questions", "--json")
	require.Equal(t, exitOK, a.code, a.err)
	var set struct{ Questions []map[string]any }
	require.NoError(t, json.Unmarshal([]byte(a.out), &set))
	require.Len(t, set.Questions, 3)
	for _, q := range set.Questions {
		for _, key := range []string{"answer", "working", "margin", "data"} {
			assert.NotContains(t, q, key)
		}
		mark := q["figure"].(map[string]any)["marks"].([]any)[0].(map[string]any)
		assert.Nil(t, mark["elevation_m"])
		assert.NotNil(t, mark["lat"])
	}
}
