package drill

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/contour/page"
)

// TestACopyIsTheSheetOfItsSeed: each copy is what Make gives for its own seed, and
// no two ask the same.
func TestACopyIsTheSheetOfItsSeed(t *testing.T) {
	t.Parallel()
	grid, err := demoGrid()
	require.NoError(t, err)
	o := demoOptions(Intermediate, 3)
	set, err := Make(t.Context(), grid, o)
	require.NoError(t, err)
	copies, err := set.Copies(t.Context(), 4)
	require.NoError(t, err)
	require.Len(t, copies, 4)
	told := map[string]bool{}
	for i, got := range copies {
		assert.Equal(t, string(rune('A'+i)), got.Copy)
		assert.Equal(t, o.Seed+uint64(i), got.Seed)
		alone := o
		alone.Seed = got.Seed
		want, err := Make(t.Context(), grid, alone)
		require.NoError(t, err)
		is, err := json.Marshal(got.Questions)
		require.NoError(t, err)
		was, err := json.Marshal(want.Questions)
		require.NoError(t, err)
		assert.JSONEq(t, string(was), string(is), "copy %s", got.Copy)
		assert.False(t, told[string(is)], "copy %s asks what another does", got.Copy)
		told[string(is)] = true
	}
	for _, n := range []int{0, MostCopies + 1} {
		_, err := set.Copies(t.Context(), n)
		assert.Error(t, err)
	}
}

// known is a set with 0 for elevations that are left out, which this package's JSON
// cannot write.
func known(s *Set) *Set {
	var walk func(v reflect.Value)
	walk = func(v reflect.Value) {
		switch v.Kind() {
		case reflect.Pointer, reflect.Interface:
			if !v.IsNil() {
				walk(v.Elem())
			}
		case reflect.Slice, reflect.Array:
			for i := range v.Len() {
				walk(v.Index(i))
			}
		case reflect.Struct:
			for i := range v.NumField() {
				if v.Type().Field(i).IsExported() && v.Type().Field(i).Tag.Get("json") != "-" {
					walk(v.Field(i))
				}
			}
		case reflect.Float64:
			if v.CanSet() && math.IsNaN(v.Float()) {
				v.SetFloat(0)
			}
		}
	}
	walk(reflect.ValueOf(s))
	return s
}

// written is every text on a page, and the titles of its groups.
func written(items []page.Item) (out []string) {
	for _, it := range items {
		switch v := it.(type) {
		case *page.Group:
			out = append(append(out, v.ID, v.Title), written(v.Items)...)
		case page.Text:
			out = append(out, v.String)
		}
	}
	return out
}

// TestSheetsAndKeysOfAClassMatch: all sheets come first, then all keys, each page
// with its copy's letter.
func TestSheetsAndKeysOfAClassMatch(t *testing.T) {
	t.Parallel()
	grid, err := demoGrid()
	require.NoError(t, err)
	o := demoOptions(Intermediate, 3)
	set, err := Make(t.Context(), grid, o)
	require.NoError(t, err)
	copies, err := set.Copies(t.Context(), 3)
	require.NoError(t, err)
	doc, err := Class(t.Context(), copies, PageOptions{})
	require.NoError(t, err)
	var order []string
	for _, p := range doc.Pages {
		all := strings.Join(written(p.Items), "\n")
		part := "sheet"
		if strings.Contains(all, "Answers: ") {
			part = "key"
		}
		found := ""
		for _, c := range copies {
			if strings.Contains(all, "Copy "+c.Copy+".") {
				found += c.Copy
			}
		}
		require.Len(t, found, 1, "a page of one copy")
		if is := part + " " + found; len(order) == 0 || order[len(order)-1] != is {
			order = append(order, is)
		}
	}
	assert.Equal(t, []string{"sheet A", "sheet B", "sheet C", "key A", "key B", "key C"}, order)
}

// TestQuestionsHoldNoAnswer: of sheets of every level drawn without their keys, no
// answer, working or margin is in the text of the PDF, in its raw bytes, streams
// opened, in its description, in the SVG or its titles, in the bytes of the PNG, or
// in the JSON.
func TestQuestionsHoldNoAnswer(t *testing.T) {
	t.Parallel()
	grid, err := demoGrid()
	require.NoError(t, err)
	o := demoOptions(Intermediate, 3)
	for _, level := range Levels {
		o.Level = level
		set, err := Make(t.Context(), grid, o)
		require.NoError(t, err)
		doc, err := set.Document(context.Background(), PageOptions{Part: QuestionsOnly})
		require.NoError(t, err)
		key, err := set.Document(context.Background(), PageOptions{Part: KeyOnly})
		require.NoError(t, err)
		folder := t.TempDir()
		said := map[string]string{}
		for name, d := range map[string]*page.Document{"questions": doc, "key": key} {
			path := filepath.Join(folder, name+".pdf")
			_, err := d.Save(path, 0)
			require.NoError(t, err)
			raw, err := os.ReadFile(path)
			require.NoError(t, err)
			said[name+" raw"] = string(raw)
			for tool, arguments := range map[string][]string{"pdftotext": {"-layout", path, "-"}, "pdfinfo": {path}, "qpdf": {"--qdf", "--object-streams=disable", path, "-"}} {
				if at, err := exec.LookPath(tool); err == nil {
					out, err := exec.Command(at, arguments...).Output()
					require.NoError(t, err, tool)
					said[name+" "+tool] = string(out)
				}
			}
			var svg, png bytes.Buffer
			for i, p := range d.Pages {
				require.NoError(t, d.WriteSVG(&svg, i))
				require.NoError(t, d.WritePNG(&png, i, 40))
				said[name+" drawn"] += strings.Join(written(p.Items), "\n")
			}
			said[name+" svg"], said[name+" png"], said[name+" told"] = svg.String(), png.String(), d.Title+d.Subject
		}
		js, err := json.Marshal(known(set.QuestionsOnly()))
		require.NoError(t, err)
		said["questions json"], said["questions text"] = string(js), set.Text()
		squeezed := func(s string) string { return strings.Join(strings.Fields(s), " ") }
		shown := 0
		for _, q := range set.Questions {
			secret := append([]string{q.Margin}, q.Working...)
			if strings.Contains(q.Answer, " ") { // a word or a number alone may stand in a question
				secret = append(secret, q.Answer)
			}
			for _, s := range secret {
				if len(s) < 12 || strings.Contains(squeezed(q.Text+q.Reading), squeezed(s)) {
					continue
				}
				if strings.Contains(squeezed(said["key drawn"]), squeezed(page.Wrap(s, page.Regular, 8, 60)[0])) {
					shown++ // the key does hold it: the check can fail
				}
				for where, text := range said {
					if strings.HasPrefix(where, "questions") {
						assert.NotContains(t, squeezed(text), squeezed(s), "%s of %s, question %d", where, level, q.Number)
					}
				}
			}
		}
		assert.NotZero(t, shown)
		for _, word := range []string{"Answers:", "Clear of error", "Right"} {
			assert.NotContains(t, said["questions drawn"]+said["questions svg"]+said["questions told"], word)
		}
		assert.NotContains(t, said["questions json"], `"working"`)
		assert.NotContains(t, said["questions json"], `"answer"`)
	}
}
