package desk

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"

	"crowline/cmd/internal/answer"
	"crowline/dem"
	"crowline/dem/geodesy"
)

// fault is why a request was not answered: the contract's error.
type fault struct {
	status int
	Code   string `json:"code"`
	// Field is the part of the request at fault, or "".
	Field   string `json:"field,omitempty"`
	Message string `json:"message"`
}

// Error is the line for people.
func (f *fault) Error() string { return f.Message }

func faultf(status int, code, format string, args ...any) *fault {
	return &fault{status: status, Code: code, Message: fmt.Sprintf(format, args...)}
}

// wrong is a request that is not as the contract has it.
func wrong(field, format string, args ...any) *fault {
	f := faultf(http.StatusBadRequest, "request", format, args...)
	f.Field = field
	return f
}

// errSuperseded ends work that a later turn has overtaken, errLate work that has
// had its time.
var (
	errSuperseded = errors.New("a later question of the same kind has come")
	errLate       = errors.New("this took longer than it may: ask for less, or ask the command line")
)

// faultOf is what an error of the answer layer is to the page.
func faultOf(ctx context.Context, err error) *fault {
	var f *fault
	var place *geodesy.PlaceError
	switch cause := context.Cause(ctx); {
	case errors.As(err, &f):
		return f
	case errors.Is(cause, errSuperseded):
		return faultf(http.StatusConflict, "superseded", "%v", errSuperseded)
	case errors.Is(cause, errLate):
		return faultf(http.StatusGatewayTimeout, "late", "%v", errLate)
	case ctx.Err() != nil:
		return faultf(http.StatusServiceUnavailable, "busy", "the question was broken off")
	case answer.IsWrongRequest(err):
		return wrong("", "%v", err)
	case errors.As(err, &place), errors.Is(err, dem.ErrOutside), errors.Is(err, dem.ErrVoid):
		return faultf(http.StatusUnprocessableEntity, "place", "%v", err)
	}
	return faultf(http.StatusUnprocessableEntity, "answer", "%v", err)
}

// write answers with the fault.
func (f *fault) write(w http.ResponseWriter) {
	w.Header().Del("Content-Disposition")
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(f.status)
	_, _ = w.Write(f.json())
}

func (f *fault) json() []byte {
	body, err := json.Marshal(map[string]*fault{"error": f})
	if err != nil {
		panic(err) // three strings
	}
	return body
}
