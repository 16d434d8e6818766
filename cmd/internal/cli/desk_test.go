package cli

import (
	"bytes"
	"context"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/cmd/internal/desk"
)

// told is a buffer that calls back at what is written to it.
type told struct {
	mutex sync.Mutex
	bytes.Buffer
	tell func(text string)
}

func (b *told) Write(p []byte) (int, error) {
	b.mutex.Lock()
	defer b.mutex.Unlock()
	n, err := b.Buffer.Write(p)
	b.tell(b.String())
	return n, err
}

// runDesk runs a desk, calls at with its address, and then stops it.
func runDesk(t *testing.T, at func(address string), arguments ...string) outcome {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	var errs bytes.Buffer
	var once sync.Once
	done := make(chan struct{})
	out := &told{tell: func(text string) {
		if _, rest, ok := strings.Cut(text, "http://"); ok && strings.Contains(rest, "\n") {
			address, _, _ := strings.Cut("http://"+rest, "\n")
			once.Do(func() {
				go func() { defer close(done); defer stop(); at(address) }()
			})
		}
	}}
	arguments = append(arguments, "--no-open")
	code := Main(ctx, arguments, Streams{Out: out, Err: &errs, Now: func() time.Time { return time.Date(2026, 7, 1, 12, 0, 0, 0, time.UTC) }})
	once.Do(func() { close(done) })
	<-done
	return outcome{code, out.String(), errs.String()}
}

// runAndStop is run, of a desk with a stop once it is there.
func runAndStop(t *testing.T, arguments ...string) outcome {
	t.Helper()
	if len(arguments) > 0 && arguments[0] == "desk" {
		return runDesk(t, func(string) {}, arguments...)
	}
	return run(t, arguments...)
}

// TestDeskListensHereAlone: its address is this machine's own, it answers there,
// and it stops when it is told to, with nothing on standard error.
func TestDeskListensHereAlone(t *testing.T) {
	t.Setenv(demVariable, "")
	a := runDesk(t, func(address string) {
		assert.Regexp(t, `^http://127\.0\.0\.1:[0-9]+/#token=[0-9A-Z]{26}$`, address)
		response, err := http.Get(address)
		if assert.NoError(t, err) {
			assert.Equal(t, http.StatusOK, response.StatusCode)
			response.Body.Close()
		}
	}, "desk")
	assert.Equal(t, exitOK, a.code)
	assert.Empty(t, a.err)
}

// TestDeskRefusesWhatItCannotOpenWith before it listens.
func TestDeskRefusesWhatItCannotOpenWith(t *testing.T) {
	t.Setenv(demVariable, "")
	for _, arguments := range [][]string{
		{"desk", "nowhere"}, {"desk", "crowline:sheet?turn=1,1"}, {"desk", "crowline:desk?turn=nowhere"}, {"desk", "crowline:desk?port=80"},
		{"desk", "--port", "70000"}, {"desk", "34,-118", "34,-118", "34,-118"},
	} {
		a := run(t, arguments...)
		assert.Equal(t, exitUsage, a.code, arguments)
		assert.NotEmpty(t, a.err)
		assert.Empty(t, a.out)
	}
}

// TestDeskWritesCommands that a shell takes apart as they were meant, with the flags
// that the desk was started with and the command knows.
func TestDeskWritesCommands(t *testing.T) {
	var o *deskOptions
	cmd := newDeskCmd(Streams{}, func(_ context.Context, got *deskOptions) error { o = got; return nil })
	root := newRoot(Streams{Out: &bytes.Buffer{}, Err: &bytes.Buffer{}})
	for _, c := range root.Commands() {
		if c.Name() == "desk" {
			root.RemoveCommand(c)
		}
	}
	root.AddCommand(cmd)
	typed := []string{"desk", "--no-open", "--dem", "my tile.tif", "--dem", "b$.tif", "--eye", "6ft", "--interval", "40ft", "--fill-voids", "--declination", "3W", "--date", "2026-07-01"}
	root.SetArgs(typed)
	require.NoError(t, root.ExecuteContext(withTyped(withConfig(t.Context()), typed)))
	assert.Equal(t, `crowline leg "11S 402967 3799217" 34.3,-118.05 --dem "my tile.tif" --dem 'b$.tif' --eye 6ft --interval 40ft --fill-voids --declination 3W --date 2026-07-01`,
		o.command("leg", []string{"11S 402967 3799217", "34.3,-118.05"}, nil))
	// what the page was told goes before, and a skyline counts no contour lines
	assert.Equal(t, `crowline viewshed Camp --eye 2 -o seen.png --dem "my tile.tif" --dem 'b$.tif' --fill-voids --declination 3W --date 2026-07-01`,
		o.command("viewshed", []string{"Camp"}, []desk.Flag{{Name: "eye", Value: "2"}, {Name: "interval", Value: "5m"}, {Name: "o", Value: "seen.png"}}))
	// nor is a flag repeated that the question was not asked with
	assert.Equal(t, `crowline vantage --around Camp --dem "my tile.tif" --dem 'b$.tif' --fill-voids --declination 3W --date 2026-07-01`,
		o.command("vantage", nil, []desk.Flag{{Name: "around", Value: "Camp"}, {Name: "eye", Value: desk.Dropped}}))
}
