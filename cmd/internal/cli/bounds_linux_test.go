package cli

import (
	"context"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/cmd/internal/report"
)

// asProgramVariable has the test's own program be crowline, so that a test can
// look at a process of its own.
const asProgramVariable = "CROWLINE_TEST_AS_PROGRAM"

func asProgram() {
	if os.Getenv(asProgramVariable) == "" {
		return
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	streams := SystemStreams()
	if os.Getenv(chatterVariable) != "" {
		_, _ = syscall.Write(2, []byte("Error: Key GTCitationGeoKey is missing\n"))
	}
	code := Run(ctx, os.Args[1:], streams)
	stop()
	os.Exit(code)
}

// process is crowline in a process of its own.
func process(t *testing.T, arguments ...string) (cmd *exec.Cmd, errs *strings.Builder) {
	t.Helper()
	self, err := os.Executable()
	require.NoError(t, err)
	cmd, errs = exec.CommandContext(t.Context(), self, arguments...), &strings.Builder{}
	cmd.Env = append(os.Environ(), asProgramVariable+"=1")
	cmd.Stderr = errs
	return cmd, errs
}

// memorySlack is how far a process may pass its limit, as a share: what is filled
// between a look at its memory and its end, on cores that others share.
const memorySlack = 0.25

// TestMaxMemoryBoundsTheProcess: lines, pages and images too. 2026-12-01: a drill
// at contours of a centimetre took 8 GB and more.
func TestMaxMemoryBoundsTheProcess(t *testing.T) {
	const most = 400e6 // bytes
	folder := t.TempDir()
	for _, question := range [][]string{
		{"drill", "--around", legFrom, "--radius", "3km", "--interval", "0.01m", "-o", filepath.Join(folder, "drill.pdf")},
		{"contours", "--interval", "0.01m", "-o", filepath.Join(folder, "lines.geojson")},
		{"sheet", legFrom, legTo, "--interval", "0.01m", "-o", filepath.Join(folder, "sheet.pdf")},
		{"sheet", legFrom, legTo, "--paper", "1200x1200", "--dpi", "366", "-o", filepath.Join(folder, "sheet.png")},
	} {
		cmd, errs := process(t, append(question, "--max-memory", "400MB")...)
		err := cmd.Run()
		require.Error(t, err, "%v", question)
		assert.Contains(t, errs.String(), "--max-memory", "%v", question)
		assert.Equal(t, 1, strings.Count(errs.String(), "\n"), errs)
		peak := cmd.ProcessState.SysUsage().(*syscall.Rusage).Maxrss * 1024
		t.Logf("%s: %.0f MB at its peak, %.0f allowed", question[0], float64(peak)/1e6, most/1e6)
		assert.Less(t, float64(peak), (1+memorySlack)*most, "%v", question)
	}
	left, err := os.ReadDir(folder)
	require.NoError(t, err)
	assert.Empty(t, left)
}

// TestHangUpLeavesNothing half written.
func TestHangUpLeavesNothing(t *testing.T) {
	folder := t.TempDir()
	cmd, errs := process(t, "contours", "--interval", "0.2m", "-o", filepath.Join(folder, "lines.gpkg"))
	require.NoError(t, cmd.Start())
	for end := time.Now().Add(20 * time.Second); time.Now().Before(end); time.Sleep(time.Millisecond) {
		if list, err := os.ReadDir(folder); err == nil && len(list) > 0 {
			break // it is writing
		}
	}
	require.NoError(t, cmd.Process.Signal(syscall.SIGHUP))
	require.Error(t, cmd.Wait())
	assert.Equal(t, exitCancel, cmd.ProcessState.ExitCode())
	assert.Equal(t, "crowline: stopped\n", errs.String())
	left, err := os.ReadDir(folder)
	require.NoError(t, err)
	assert.Empty(t, left)
}

// TestAConfigFileThatIsAPipe is refused and not waited for.
func TestAConfigFileThatIsAPipe(t *testing.T) {
	pipe := filepath.Join(t.TempDir(), "config.json")
	require.NoError(t, syscall.Mkfifo(pipe, 0o600))
	t.Setenv(configVariable, pipe)
	a := run(t, "leg", legFrom, legTo)
	assert.Equal(t, exitError, a.code)
	assert.Contains(t, a.err, "it is not a plain file")
}

// TestErrorLinesAreBounded: and steer no terminal.
func TestErrorLinesAreBounded(t *testing.T) {
	t.Parallel()
	long := strings.Repeat("a", 3000)
	for _, question := range [][]string{
		{"leg", legFrom, legTo, "--dem", long + ".tif"}, {"leg", legFrom, legTo, "--" + long}, {long}, {"leg", long, legTo},
		{"sheet", legFrom, legTo, "--title", strings.Repeat("ab cd\n", 20000), "-o", "t.pdf"},
		{"leg", legFrom, legTo, "--places", strings.Repeat("\x1b[31m", 100) + ".csv"}, {"leg", legFrom, legTo, "--units", "x\x1b[31m\u202e\u009b31m"},
	} {
		a := run(t, question...)
		require.NotEqual(t, exitOK, a.code)
		line := strings.TrimSuffix(a.err, "\n")
		assert.LessOrEqual(t, utf8.RuneCountInString(line), 420, "%.80q", question)
		assert.Equal(t, report.Plain(line), line)
		assert.NotContains(t, line, "\n")
	}
}

// TestLibrariesSayNothing: what C writes to standard error reaches nobody, and
// our own line does. 2026-12-01: libgeotiff spoke of the keys of a damaged JPEG 2000
// file.
func TestLibrariesSayNothing(t *testing.T) {
	cmd, errs := process(t, "leg", legFrom)
	cmd.Env = append(cmd.Env, chatterVariable+"=1")
	require.Error(t, cmd.Run())
	assert.Equal(t, 1, strings.Count(errs.String(), "\n"), errs)
	assert.True(t, strings.HasPrefix(errs.String(), "crowline: "), errs)
}

// chatterVariable has the program write to file 2 as a library does.
const chatterVariable = "CROWLINE_TEST_CHATTER"
