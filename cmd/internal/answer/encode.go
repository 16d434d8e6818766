package answer

import (
	"bytes"
	"encoding"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Encode writes an answer as one JSON object, indented, and rounds its figures.
//
// A field is rounded to the decimals of its round tag, or those its key's
// ending asks for (decimalsOf). Numbers that are not finite are null, durations
// are seconds, a nil list is empty, and a value with a name (a verdict, a kind)
// is that name. Keys keep the order of their fields.
func Encode(w io.Writer, answer any) error {
	b, err := Compact(answer)
	if err != nil {
		return err
	}
	var out bytes.Buffer
	if err := json.Indent(&out, b, "", "  "); err != nil {
		return err
	}
	out.WriteByte('\n')
	_, err = w.Write(out.Bytes())
	return err
}

// Compact is what Encode writes, on one line.
func Compact(answer any) ([]byte, error) {
	var b bytes.Buffer
	err := encodeValue(&b, reflect.ValueOf(answer), 0)
	return b.Bytes(), err
}

// Rounded is a figure as Encode writes it: NaN stays NaN.
func Rounded(v float64, decimals int) float64 {
	p := math.Pow10(decimals)
	if r := math.Round(v*p) / p; !math.IsInf(r, 0) {
		return r + 0 // never minus nought
	}
	return v
}

// decimalsOf is how many decimals the figure of a key is worth where its field
// does not say: a place's seven are a centimetre, a length or an angle ends in
// hundredths.
func decimalsOf(key string) int {
	switch {
	case key == "lat" || key == "lon":
		return 7
	case strings.HasSuffix(key, "_m"), strings.HasSuffix(key, "_mm"), strings.HasSuffix(key, "_deg"), strings.HasSuffix(key, "degrees"), strings.HasSuffix(key, "percent"):
		return 2
	}
	return 4
}

var (
	durationType = reflect.TypeFor[time.Duration]()
	stringerType = reflect.TypeFor[fmt.Stringer]()
	textType     = reflect.TypeFor[encoding.TextMarshaler]()
	jsonType     = reflect.TypeFor[json.Marshaler]()
)

// named reports whether values of a type are written by their name.
func named(t reflect.Type) bool {
	switch t.Kind() {
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64, reflect.Uint8, reflect.Uint16, reflect.Uint32:
		return t != durationType && t.Implements(stringerType)
	}
	return false
}

func encodeValue(b *bytes.Buffer, v reflect.Value, decimals int) error {
	if !v.IsValid() {
		b.WriteString("null")
		return nil
	}
	t := v.Type()
	if (t.Kind() == reflect.Pointer || t.Kind() == reflect.Interface) && v.IsNil() {
		b.WriteString("null")
		return nil
	}
	switch {
	case t.Implements(jsonType), t.Implements(textType):
		text, err := json.Marshal(v.Interface())
		b.Write(text)
		return err
	case t == durationType:
		writeNumber(b, v.Interface().(time.Duration).Seconds(), decimals)
		return nil
	case named(t):
		return writeString(b, v.Interface().(fmt.Stringer).String())
	}
	switch v.Kind() {
	case reflect.Pointer, reflect.Interface:
		return encodeValue(b, v.Elem(), decimals)
	case reflect.Struct:
		b.WriteByte('{')
		first := true
		if err := encodeFields(b, v, nil, &first); err != nil {
			return err
		}
		b.WriteByte('}')
	case reflect.Slice, reflect.Array:
		b.WriteByte('[')
		for i := range v.Len() {
			if i > 0 {
				b.WriteByte(',')
			}
			if err := encodeValue(b, v.Index(i), decimals); err != nil {
				return err
			}
		}
		b.WriteByte(']')
	case reflect.Map:
		keys := v.MapKeys()
		slices.SortFunc(keys, func(a, b reflect.Value) int { return strings.Compare(a.String(), b.String()) })
		b.WriteByte('{')
		for i, k := range keys {
			if i > 0 {
				b.WriteByte(',')
			}
			if err := writeString(b, k.String()); err != nil {
				return err
			}
			b.WriteByte(':')
			if err := encodeValue(b, v.MapIndex(k), decimals); err != nil {
				return err
			}
		}
		b.WriteByte('}')
	case reflect.Float32, reflect.Float64:
		writeNumber(b, v.Float(), decimals)
	case reflect.String:
		return writeString(b, v.String())
	case reflect.Bool:
		b.WriteString(strconv.FormatBool(v.Bool()))
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		b.WriteString(strconv.FormatInt(v.Int(), 10))
	case reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64:
		b.WriteString(strconv.FormatUint(v.Uint(), 10))
	default:
		return fmt.Errorf("answer: a %s cannot be written as JSON", t)
	}
	return nil
}

// field is one key of a struct.
type field struct {
	key       string
	omitEmpty bool
	decimals  int
	inline    bool // an embedded struct, whose keys are the outer one's
}

// fieldOf reads a field's tags; false where it is not written.
func fieldOf(f reflect.StructField) (field, bool) {
	tag, tagged := f.Tag.Lookup("json")
	if tag == "-" || !tagged && !f.Anonymous || !f.IsExported() && !f.Anonymous {
		return field{}, false
	}
	if f.Anonymous && !tagged {
		return field{inline: true}, true
	}
	name, options, _ := strings.Cut(tag, ",")
	out := field{key: name, omitEmpty: options == "omitempty", decimals: decimalsOf(name)}
	if text, ok := f.Tag.Lookup("round"); ok {
		n, err := strconv.Atoi(text)
		if err != nil {
			panic(fmt.Sprintf("answer: round tag %q of %s is no number", text, f.Name))
		}
		out.decimals = n
	}
	return out, true
}

// ownKeys are the keys of a struct's own fields, which hide those of structs
// embedded in it.
func ownKeys(t reflect.Type) map[string]bool {
	out := map[string]bool{}
	for i := range t.NumField() {
		if f, ok := fieldOf(t.Field(i)); ok && !f.inline {
			out[f.key] = true
		}
	}
	return out
}

// encodeFields writes the fields of a struct but for those hidden by the struct
// that it is embedded in.
func encodeFields(b *bytes.Buffer, v reflect.Value, hidden map[string]bool, first *bool) error {
	t := v.Type()
	for i := range t.NumField() {
		f, ok := fieldOf(t.Field(i))
		if !ok {
			continue
		}
		value := v.Field(i)
		if f.inline {
			if value.Kind() == reflect.Pointer {
				if value.IsNil() {
					continue
				}
				value = value.Elem()
			}
			if err := encodeFields(b, value, ownKeys(t), first); err != nil {
				return err
			}
			continue
		}
		if hidden[f.key] || f.omitEmpty && isEmpty(value, f.decimals) {
			continue
		}
		if !*first {
			b.WriteByte(',')
		}
		*first = false
		if err := writeString(b, f.key); err != nil {
			return err
		}
		b.WriteByte(':')
		if err := encodeValue(b, value, f.decimals); err != nil {
			return err
		}
	}
	return nil
}

// isEmpty reports whether a value says nothing: a figure is judged as it would
// be written.
func isEmpty(v reflect.Value, decimals int) bool {
	switch v.Kind() {
	case reflect.Slice, reflect.Map, reflect.String:
		return v.Len() == 0
	case reflect.Float32, reflect.Float64:
		return Rounded(v.Float(), decimals) == 0 || math.IsNaN(v.Float())
	}
	return v.IsZero()
}

func writeNumber(b *bytes.Buffer, v float64, decimals int) {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		b.WriteString("null")
		return
	}
	text, err := json.Marshal(Rounded(v, decimals)) // as encoding/json writes numbers
	if err != nil {
		panic(err) // it is finite
	}
	b.Write(text)
}

func writeString(b *bytes.Buffer, s string) error {
	e := json.NewEncoder(b)
	e.SetEscapeHTML(false)
	if err := e.Encode(s); err != nil {
		return err
	}
	b.Truncate(b.Len() - 1) // Encode ends its line
	return nil
}
