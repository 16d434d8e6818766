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
			Key       []struct{ Answer string }
		}
		require.NoError(t, json.Unmarshal([]byte(a.out), &set))
		require.Len(t, set.Questions, 4)
		require.Len(t, set.Key, 4)
		for i, q := range set.Questions {
			assert.Equal(t, set.Key[i].Answer, q.Answer)
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

// TestDrillJSONHasQuestionsAndKeyApart: one object held a question and its answer,
// so that a program that shows the questions had to know what to leave out.
func TestDrillJSONHasQuestionsAndKeyApart(t *testing.T) {
	t.Parallel()
	type part struct {
		Asked, Key []map[string]any
	}
	for _, level := range []string{"beginner", "intermediate", "leader"} {
		a := run(t, "drill", "--around", legFrom, "--minutes", "45", "--level", level, "--copies", "2", "--json")
		require.Equal(t, exitOK, a.code, a.err)
		var all struct {
			part
			Copies []part
		}
		require.NoError(t, json.Unmarshal([]byte(a.out), &all))
		require.Len(t, all.Copies, 2)
		for _, p := range append(all.Copies, all.part) {
			require.NotEmpty(t, p.Asked)
			require.Len(t, p.Key, len(p.Asked))
			for i, q := range p.Asked {
				key := p.Key[i]
				assert.Equal(t, key["number"], q["number"])
				assert.NotContains(t, key, "text")
				for name := range q {
					assert.Contains(t, []string{"number", "kind", "text", "minutes", "points", "reading", "figure"}, name)
				}
				body, err := json.Marshal(q)
				require.NoError(t, err)
				assert.NotRegexp(t, `"elevation_m":[^n\[]`, string(body), "a place's elevation is told")
				told := append([]any{key["answer"], key["margin"]}, key["working"].([]any)...)
				for _, m := range key["mistakes"].([]any) {
					told = append(told, m.(map[string]any)["shows"])
				}
				for _, text := range told {
					if len(text.(string)) > 6 { // "231°." may be a bearing that is asked about
						assert.NotContains(t, string(body), text)
					}
				}
			}
		}
	}
}
