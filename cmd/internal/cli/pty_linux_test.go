package cli

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

// newTerminal is a pseudo-terminal: what is typed goes into keys, and a program
// has screen as its terminal (pty(7)).
func newTerminal(t *testing.T) (keys, screen *os.File) {
	t.Helper()
	fd, err := unix.Open("/dev/ptmx", unix.O_RDWR|unix.O_NOCTTY|unix.O_CLOEXEC, 0)
	if err != nil {
		t.Skipf("no pseudo-terminal to be had here: %v", err)
	}
	require.NoError(t, unix.IoctlSetPointerInt(fd, unix.TIOCSPTLCK, 0))
	number, err := unix.IoctlGetInt(fd, unix.TIOCGPTN)
	require.NoError(t, err)
	keys = os.NewFile(uintptr(fd), "ptmx")
	screen, err = os.OpenFile(fmt.Sprintf("/dev/pts/%d", number), os.O_RDWR|unix.O_NOCTTY, 0)
	require.NoError(t, err)
	require.NoError(t, unix.IoctlSetWinsize(int(screen.Fd()), unix.TIOCSWINSZ, &unix.Winsize{Row: 24, Col: 200}))
	t.Cleanup(func() { keys.Close(); screen.Close() })
	return keys, screen
}

// shown gathers what a terminal shows.
type shown struct {
	mutex sync.Mutex
	text  bytes.Buffer
}

func (s *shown) String() string {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	return s.text.String()
}

func watch(keys *os.File) *shown {
	s := &shown{}
	go func() {
		piece := make([]byte, 4096)
		for {
			n, err := keys.Read(piece)
			s.mutex.Lock()
			s.text.Write(piece[:n])
			s.mutex.Unlock()
			if err != nil {
				return
			}
		}
	}()
	return s
}

// await waits until the terminal shows a text, for as long as no machine needs.
func (s *shown) await(t *testing.T, text string) string {
	t.Helper()
	require.Eventually(t, func() bool { return strings.Contains(s.String(), text) }, time.Minute, 10*time.Millisecond, "%q is not shown", text)
	return s.String()
}

// asCrowline has the test binary be the program, for a child of a test.
const asCrowline = "CLI_TEST_AS_CROWLINE"

func interruptible() context.Context {
	ctx, _ := signal.NotifyContext(context.Background(), os.Interrupt)
	return ctx
}

func init() {
	if os.Getenv(asCrowline) != "" {
		os.Exit(Run(interruptible(), os.Args[1:], SystemStreams()))
	}
}

// program is the binary under a name that a shell finds.
func program(t *testing.T) (bin string, environment []string) {
	t.Helper()
	self, err := os.Executable()
	require.NoError(t, err)
	folder, home := t.TempDir(), t.TempDir()
	require.NoError(t, os.Symlink(self, filepath.Join(folder, "crowline")))
	return folder, append(os.Environ(), asCrowline+"=1", demVariable+"=", "TERM=xterm", "PATH="+folder+":"+os.Getenv("PATH"),
		"XDG_CONFIG_HOME="+home, "XDG_CACHE_HOME="+home, "INPUTRC=/dev/null", "HISTFILE=")
}

// onTerminal starts a program with a terminal of its own as its three streams, or
// for those that are given another file.
func onTerminal(t *testing.T, screen *os.File, c *exec.Cmd) {
	t.Helper()
	if c.Stdin == nil {
		c.Stdin = screen
	}
	if c.Stdout == nil {
		c.Stdout = screen
	}
	if c.Stderr == nil {
		c.Stderr = screen
	}
	c.SysProcAttr = &syscall.SysProcAttr{Setsid: true, Setctty: c.Stdin == screen}
	require.NoError(t, c.Start())
	t.Cleanup(func() { _ = c.Process.Kill(); _ = c.Wait() })
}

// TestProgressOnATerminal: drawn there and wiped, and nowhere else: not where
// standard error is a file or /dev/null, nor with --quiet.
func TestProgressOnATerminal(t *testing.T) {
	t.Parallel()
	folder, environment := program(t)
	leg := []string{"viewshed", "34.3297,-118.0548", "--radius", "6km"}
	keys, screen := newTerminal(t)
	seen := watch(keys)
	c := exec.CommandContext(t.Context(), filepath.Join(folder, "crowline"), leg...)
	c.Env, c.Stdin = environment, strings.NewReader("")
	var out bytes.Buffer
	c.Stdout = &out
	onTerminal(t, screen, c)
	require.NoError(t, c.Wait(), seen)
	text := seen.await(t, "%")
	assert.Regexp(t, `\r[a-z ]+ +[0-9]+ %`, text)
	assert.NotContains(t, out.String(), "\r")
	assert.Contains(t, out.String(), "area")

	c = exec.CommandContext(t.Context(), filepath.Join(folder, "crowline"), append(leg, "--quiet")...)
	keys, screen = newTerminal(t)
	seen = watch(keys)
	c.Env, c.Stdin, c.Stdout = environment, strings.NewReader(""), &out
	onTerminal(t, screen, c)
	require.NoError(t, c.Wait())
	assert.Empty(t, seen.String())

	var errs bytes.Buffer
	c = exec.CommandContext(t.Context(), filepath.Join(folder, "crowline"), leg...)
	c.Env, c.Stderr = environment, &errs
	require.NoError(t, c.Run())
	assert.Empty(t, errs.String())
	null, err := os.Open(os.DevNull)
	require.NoError(t, err)
	defer null.Close()
	assert.False(t, isTerminal(null))
	assert.True(t, isTerminal(screen))
}

// TestPlacesTypedAtATerminal: who is asked for places is told what to type, and
// Ctrl-D ends them.
func TestPlacesTypedAtATerminal(t *testing.T) {
	t.Parallel()
	folder, environment := program(t)
	keys, screen := newTerminal(t)
	seen := watch(keys)
	c := exec.CommandContext(t.Context(), filepath.Join(folder, "crowline"), "declination", "Camp", "--places", "-", "--date", "2026-07-01")
	c.Env = environment
	onTerminal(t, screen, c)
	seen.await(t, "Type the places, one a line, under a first line name,lat,lon.")
	_, err := keys.WriteString("name,lat,lon\nCamp,34.3297,-118.0548\n\x04")
	require.NoError(t, err)
	require.NoError(t, c.Wait(), seen)
	seen.await(t, "Camp 34.32970,-118.05480")
}

// TestStoppedOnATerminal: Ctrl-C ends a run with one line and its exit code.
func TestStoppedOnATerminal(t *testing.T) {
	t.Parallel()
	folder, environment := program(t)
	keys, screen := newTerminal(t)
	seen := watch(keys)
	c := exec.CommandContext(t.Context(), filepath.Join(folder, "crowline"), "vantage", "--around", "34.3297,-118.0548", "--radius", "8km")
	c.Env = environment
	onTerminal(t, screen, c)
	seen.await(t, "%")
	_, err := keys.WriteString("\x03") // Ctrl-C
	require.NoError(t, err)
	require.Error(t, c.Wait())
	assert.Equal(t, exitCancel, c.ProcessState.ExitCode())
	assert.Contains(t, seen.await(t, "crowline: stopped"), "\r\x1b[Kcrowline: stopped\r\n")
}

// bashWords are the functions of the package bash-completion that the script
// calls, as far as it needs them, for machines that do not have it.
const bashWords = `
_get_comp_words_by_ref() { COMPREPLY=(); cur=${COMP_WORDS[COMP_CWORD]}; prev=${COMP_WORDS[COMP_CWORD-1]}; words=("${COMP_WORDS[@]}"); cword=$COMP_CWORD; }
_filedir() { mapfile -t COMPREPLY < <(compgen -f -- "$cur"); }
`

// TestCompletionInBash: in a real shell at a terminal, with the tab key.
func TestCompletionInBash(t *testing.T) {
	t.Parallel()
	bash, err := exec.LookPath("bash")
	if err != nil {
		t.Skip("no bash here")
	}
	folder, environment := program(t)
	work := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(work, "trip.csv"), []byte("name,lat,lon\nCamp,34.3297,-118.0548\nBig Knob,34.3008,-118.0514\n"), 0o600))
	setup := filepath.Join(folder, "setup")
	require.NoError(t, os.WriteFile(setup, []byte(bashWords+"PS1='ready> '\nbind 'set enable-bracketed-paste off' 2>/dev/null\nsource <(crowline completion bash)\n"), 0o600))
	keys, screen := newTerminal(t)
	seen := watch(keys)
	c := exec.CommandContext(t.Context(), bash, "--noprofile", "--rcfile", setup, "-i")
	c.Env, c.Dir = environment, work
	onTerminal(t, screen, c)
	seen.await(t, "ready> ")
	for _, row := range []struct{ typed, becomes string }{
		{"crowline landm", "crowline landmarks "},
		{"crowline leg --uni", "crowline leg --units "},
		{"crowline leg --units met", "crowline leg --units metric "},
		{"crowline leg --places tr", "crowline leg --places trip.csv "},
		{"crowline leg --places trip.csv Ca", "crowline leg --places trip.csv Camp "},
		{"crowline leg --places trip.csv Camp B", `crowline leg --places trip.csv Camp Big\ Knob`},
		{"crowline dem get --source copernicus-glo-3", "crowline dem get --source copernicus-glo-30 "},
	} {
		_, err := keys.WriteString(row.typed + "\t")
		require.NoError(t, err)
		seen.await(t, row.becomes)
		_, err = keys.WriteString("\x15") // Ctrl-U: the line away
		require.NoError(t, err)
	}
	_, err = keys.WriteString("exit\n")
	require.NoError(t, err)
	require.NoError(t, c.Wait())
}
