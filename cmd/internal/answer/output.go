package answer

import (
	"bytes"
	"context"
	"encoding/json"
)

// Output writes part of an answer to a file the front end names, and gives the
// files written.
type Output func(ctx context.Context, path string) ([]string, error)

// encoded is a value as Encode writes it, for a file that has it among other
// things.
func encoded(v any) (json.RawMessage, error) {
	var b bytes.Buffer
	err := Encode(&b, v)
	return b.Bytes(), err
}
