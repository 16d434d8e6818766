package cli

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"math"
	"strconv"
	"strings"
)

// roundJSON cuts the figures of a JSON text to what the data can carry, by
// their keys: the library gives them as they were computed. Keys keep their
// order.
func roundJSON(text []byte) ([]byte, error) {
	type level struct {
		object bool
		key    string // of an object's next value; of an array itself
		count  int
	}
	decoder := json.NewDecoder(bytes.NewReader(text))
	decoder.UseNumber()
	var out bytes.Buffer
	stack := []level{{}}
	for {
		token, err := decoder.Token()
		if errors.Is(err, io.EOF) && len(stack) == 1 {
			return out.Bytes(), nil
		}
		if err != nil {
			return nil, err
		}
		top := &stack[len(stack)-1]
		if d, ok := token.(json.Delim); ok && (d == '}' || d == ']') {
			out.WriteByte(byte(d))
			stack = stack[:len(stack)-1]
			continue
		}
		isKey := top.object && top.count%2 == 0
		switch {
		case top.object && !isKey:
			out.WriteByte(':')
		case top.count > 0:
			out.WriteByte(',')
		}
		top.count++
		switch v := token.(type) {
		case json.Delim:
			out.WriteByte(byte(v))
			stack = append(stack, level{object: v == '{', key: top.key})
			continue
		case json.Number:
			out.WriteString(roundNumber(v.String(), decimalsOf(top.key)))
			continue
		case string:
			if isKey {
				top.key = v
			}
		}
		b, err := json.Marshal(token)
		if err != nil {
			return nil, err
		}
		out.Write(b)
	}
}

// decimalsOf is how many decimals the figure of a key is worth: a place's
// seven are a centimetre, a height or a length ends in centimetres as well.
func decimalsOf(key string) int {
	switch {
	case key == "lat" || key == "lon":
		return 7
	case strings.HasSuffix(key, "_m"), strings.HasSuffix(key, "_mm"), strings.HasSuffix(key, "_deg"), strings.HasSuffix(key, "degrees"), strings.HasSuffix(key, "percent"):
		return 2
	}
	return 4
}

// roundNumber cuts a number to so many decimals; a whole number stays as it
// is.
func roundNumber(text string, decimals int) string {
	if !strings.ContainsAny(text, ".eE") {
		return text
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return text
	}
	unit := math.Pow10(decimals)
	return strconv.FormatFloat(math.Round(v*unit)/unit+0, 'f', -1, 64)
}
