package answer

import (
	"embed"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"maps"
	"reflect"
	"slices"
	"strings"
	"sync"

	"crowline/contour/drill"
)

// Key is one key of an answer's JSON.
type Key struct {
	// Path is the key within the answer: "climb.ascent_m"; a list's elements
	// are "marks[].rank".
	Path string
	// Unit is told by the key's ending: "metres", "degrees"; "" for none.
	Unit string
	// Meaning is the field's own comment, on one line, or its tag where the
	// type is the library's.
	Meaning string
	// Optional keys are left out where they say nothing.
	Optional bool
}

// answers are the answer of every command that has one, by its name.
var answers = map[string]reflect.Type{}

// KeysOf lists the keys of a command's JSON in the order they are written;
// false where the command has no JSON.
func KeysOf(command string) ([]Key, bool) {
	t, ok := answers[command]
	if !ok {
		return nil, false
	}
	comments, err := fieldComments()
	if err != nil {
		panic(err) // the package's own source, which compiled
	}
	return keysOf(t, "", comments, nil), true
}

// source is the package's own text: what a key means stands in the comment of
// its field and nowhere else.
//
//go:embed *.go
var source embed.FS

// fieldComments is the comment of every field of every struct of the package,
// by type and field name.
var fieldComments = sync.OnceValues(func() (map[string]string, error) {
	entries, err := source.ReadDir(".")
	if err != nil {
		return nil, err
	}
	out := map[string]string{}
	for _, e := range entries {
		if strings.HasSuffix(e.Name(), "_test.go") {
			continue
		}
		text, err := source.ReadFile(e.Name())
		if err != nil {
			return nil, err
		}
		file, err := parser.ParseFile(token.NewFileSet(), e.Name(), text, parser.ParseComments|parser.SkipObjectResolution)
		if err != nil {
			return nil, err
		}
		ast.Inspect(file, func(n ast.Node) bool {
			spec, ok := n.(*ast.TypeSpec)
			if !ok {
				return true
			}
			fields, ok := spec.Type.(*ast.StructType)
			if !ok {
				return true
			}
			for _, f := range fields.Fields.List {
				text := f.Doc.Text()
				if text == "" {
					text = f.Comment.Text()
				}
				for _, name := range f.Names {
					out[spec.Name.Name+"."+name.Name] = strings.Join(strings.Fields(text), " ")
				}
			}
			return true
		})
	}
	return out, nil
})

// unitOf is the unit a key's ending names.
func unitOf(key string) string {
	for _, u := range []struct{ ending, unit string }{
		{"_mm", "millimetres"}, {"_m2", "square metres"}, {"_m", "metres"}, {"_deg", "degrees"}, {"_s", "seconds"}, {"_nt", "nanotesla"},
		{"_percent", "per cent"}, {"_bytes", "bytes"}, {"lat", "degrees"}, {"lon", "degrees"},
	} {
		if key == strings.TrimPrefix(u.ending, "_") || strings.HasSuffix(key, u.ending) {
			return u.unit
		}
	}
	return ""
}

func keysOf(t reflect.Type, path string, comments map[string]string, within []reflect.Type) []Key {
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	switch t.Kind() {
	case reflect.Slice, reflect.Array:
		return keysOf(t.Elem(), path+"[]", comments, within)
	case reflect.Map:
		return keysOf(t.Elem(), path+".<name>", comments, within)
	case reflect.Struct:
	default:
		return nil
	}
	if t.Implements(textType) || t.Implements(jsonType) {
		return nil
	}
	for _, outer := range within {
		if outer == t {
			return nil
		}
	}
	within = append(within, t)
	if path != "" {
		path += "."
	}
	own := ownKeys(t)
	var out []Key
	for i := range t.NumField() {
		sf := t.Field(i)
		f, ok := fieldOf(sf)
		if !ok {
			continue
		}
		if f.inline {
			for _, k := range keysOf(sf.Type, strings.TrimSuffix(path, "."), comments, within) {
				first, _, _ := strings.Cut(strings.TrimPrefix(k.Path, path), ".")
				if !own[strings.TrimSuffix(first, "[]")] {
					out = append(out, k)
				}
			}
			continue
		}
		meaning, tagged := sf.Tag.Lookup("means")
		if !tagged && t.PkgPath() == reflect.TypeFor[Key]().PkgPath() {
			meaning = comments[t.Name()+"."+sf.Name]
		}
		out = append(out, Key{Path: path + f.key, Unit: unitOf(f.key), Meaning: meaning, Optional: f.omitEmpty})
		if (t == reflect.TypeFor[drill.Question]() || t == reflect.TypeFor[drill.Answered]()) && sf.Type.Kind() == reflect.Interface {
			out = append(out, drillKeys(path+f.key, comments, within)...)
			continue
		}
		out = append(out, keysOf(sf.Type, path+f.key, comments, within)...)
	}
	return out
}

// drillKeys are those of the figures of an answer, which go after the question's
// kind.
func drillKeys(path string, comments map[string]string, within []reflect.Type) []Key {
	var out []Key
	kinds := map[reflect.Type][]string{}
	for _, k := range drill.Kinds {
		t := reflect.TypeOf(drill.DataOf(k))
		kinds[t] = append(kinds[t], string(k))
	}
	for _, k := range drill.Kinds {
		t := reflect.TypeOf(drill.DataOf(k))
		if kinds[t][0] != string(k) {
			continue
		}
		for _, key := range keysOf(t, path, comments, within) {
			key.Meaning = "Of kind " + strings.Join(kinds[t], ", ") + ": " + key.Meaning
			out = append(out, key)
		}
	}
	return out
}

// Commands are those that KeysOf knows, sorted.
func Commands() []string { return slices.Sorted(maps.Keys(answers)) }

// register adds a command's answer to those KeysOf knows.
func register[A any](command string) bool {
	if _, twice := answers[command]; twice {
		panic(fmt.Sprintf("answer: two answers of %q", command))
	}
	answers[command] = reflect.TypeFor[A]()
	return true
}
