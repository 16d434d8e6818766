package fetch

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	"crowline/dem/web"
)

// sumEnding is put after a tile's name for the file with its checksum.
const sumEnding = ".sha256"

// whole reports whether a tile is here and is what was fetched.
func whole(ctx context.Context, path string) (sum string, bytes int64, ok bool) {
	want := readSum(path)
	if want == "" {
		return "", 0, false
	}
	sum, bytes, err := sumOf(ctx, path)
	return sum, bytes, err == nil && sum == want
}

func readSum(path string) string {
	data, err := os.ReadFile(path + sumEnding)
	if err != nil {
		return ""
	}
	sum, _, _ := strings.Cut(string(data), " ")
	return strings.ToLower(strings.TrimSpace(sum))
}

// writeSum keeps a tile's checksum in the form checksum programs read.
func writeSum(path, sum string) error {
	return writeBeside(path+sumEnding, sum+"  "+filepath.Base(path)+"\n")
}

func sumOf(ctx context.Context, path string) (string, int64, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", 0, err
	}
	defer f.Close()
	sum := sha256.New()
	n, err := io.Copy(sum, stoppable{ctx, f})
	return hex.EncodeToString(sum.Sum(nil)), n, err
}

// stoppable is a reader that ends with its context.
type stoppable struct {
	ctx context.Context
	r   io.Reader
}

func (s stoppable) Read(b []byte) (int, error) {
	if err := s.ctx.Err(); err != nil {
		return 0, err
	}
	return s.r.Read(b)
}

// writeBeside writes a small file beside its place and moves it there.
func writeBeside(path, content string) error {
	f, err := os.CreateTemp(filepath.Dir(path), ".crowline-*")
	if err != nil {
		return diskError(filepath.Dir(path), err)
	}
	defer os.Remove(f.Name())
	_, err = f.WriteString(content)
	if err = errors.Join(err, f.Chmod(0o644), f.Close()); err != nil {
		return diskError(path, err)
	}
	if err := os.Rename(f.Name(), path); err != nil {
		return diskError(path, err)
	}
	return nil
}

func licencePath(folder string, s Source) string {
	return filepath.Join(folder, "LICENCE-"+s.Name+".txt")
}

// writeLicence keeps the licence and the credit line beside the tiles.
func writeLicence(folder string, s Source) (string, error) {
	path := licencePath(folder, s)
	line := func(what, text string) string {
		if text == "" {
			return ""
		}
		return what + ": " + text + "\n"
	}
	kind := ""
	switch s.Surface {
	case "surface":
		kind = "a surface model: the tops of trees and roofs where there are any"
	case "bare earth":
		kind = "bare earth: trees and buildings taken off"
	}
	text := s.Title + "\n\n" +
		line("Licence", s.Licence) + line("Credit line", s.Attribution) + line(fetchedFrom, web.Shown(s.URL)) +
		line("What it shows", kind) + line("Heights above", s.VerticalDatum)
	if s.VerticalErrorMetres > 0 {
		text += fmt.Sprintf("Vertical error: %g m, one standard deviation (%s)\n", s.VerticalErrorMetres, s.VerticalErrorSource)
	}
	return path, writeBeside(path, text)
}

// diskError puts the failures of disks in plain words.
func diskError(path string, err error) error { return &diskFailure{diskReason(path, err)} }

// diskFailure is a folder or file that cannot be written: every tile would fail.
type diskFailure struct{ error }

func (e *diskFailure) Unwrap() error { return e.error }

func isOfDisk(err error) bool { return errors.As(err, new(*diskFailure)) }

func diskReason(path string, err error) error {
	switch {
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		return fmt.Errorf("%s: the disk is full; what came so far is kept, and the next try goes on from there", path)
	case errors.Is(err, syscall.EROFS), errors.Is(err, fs.ErrPermission):
		return fmt.Errorf("%s: no permission to write there", path)
	case errors.Is(err, syscall.ENOTDIR), errors.Is(err, fs.ErrExist):
		return fmt.Errorf("%s: not a folder", path)
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("%s: no such folder", path)
	}
	return fmt.Errorf("%s: %w", path, err)
}
