package outfile

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
)

// File is a file to write: its place and what is to stand in it.
type File struct {
	Path string
	Body []byte
	// Beside is the file the user named, where this one goes with it and was not
	// named itself. Then it replaces nothing.
	Beside string
}

// Write writes files, all of them or none. The error is one line that names
// the file and says what to do.
func Write(files ...File) (err error) {
	temporary := make([]string, 0, len(files))
	defer func() {
		for _, name := range temporary {
			Done(name) // what was renamed is no longer there
		}
	}()
	for _, f := range files {
		if err := f.check(); err != nil {
			return err
		}
		name, err := write(f)
		if name != "" {
			temporary = append(temporary, name)
		}
		if err != nil {
			return Error(f.Path, err)
		}
	}
	for i, f := range files {
		place := Place
		if f.Beside != "" {
			place = PlaceNew
		}
		err := place(temporary[i], f.Path)
		if errors.Is(err, fs.ErrExist) { // since it was looked for
			return InTheWay(f.Beside, f.Path)
		}
		if err != nil {
			return Error(f.Path, err)
		}
	}
	return nil
}

func (f File) check() error {
	if f.Beside == "" {
		return CheckTarget(f.Path)
	}
	if _, err := os.Lstat(f.Path); err == nil {
		return InTheWay(f.Beside, f.Path)
	}
	return nil
}

// CheckTarget refuses a path at which no file can be put: a folder, or what is
// no file and would be one afterwards.
func CheckTarget(path string) error {
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		return fmt.Errorf("cannot write %s: it is a folder; name a file in it", path)
	}
	if info, err := os.Lstat(path); err == nil && !info.Mode().IsRegular() && info.Mode()&fs.ModeSymlink == 0 {
		return fmt.Errorf("cannot write %s: it is not a plain file; name another", path)
	}
	return nil
}

// InTheWay says that a file which goes with the one the user named is there
// already.
func InTheWay(named, path string) error {
	return fmt.Errorf("cannot write %s: %s goes with it and is there already; move that away, or name another file", named, path)
}

// write writes a file beside its place; name is what it left there.
func write(f File) (name string, err error) {
	var t *os.File
	name, err = Begin(func() (string, error) {
		t, err = os.CreateTemp(filepath.Dir(f.Path), "."+filepath.Base(f.Path)+".*")
		if err != nil {
			return "", err
		}
		return t.Name(), nil
	})
	if err != nil {
		return "", err
	}
	_, err = t.Write(f.Body)
	if err == nil {
		err = t.Chmod(0o644)
	}
	if err == nil {
		// some disks say only now that they are full
		err = t.Sync()
	}
	return name, errors.Join(err, t.Close())
}

// Error is why a file could not be written, in plain words: it wraps err.
func Error(path string, err error) error {
	return &failure{path, err}
}

type failure struct {
	path string
	err  error
}

func (f *failure) Unwrap() error { return f.err }

func (f *failure) Error() string {
	return fmt.Sprintf("cannot write %s: %s", f.path, reason(f.err, filepath.Dir(f.path)))
}

func reason(err error, folder string) string {
	var path *fs.PathError
	switch {
	case errors.Is(err, syscall.ENOSPC):
		return "the disk is full"
	case errors.Is(err, syscall.EDQUOT):
		return "your share of the disk is full"
	case errors.Is(err, syscall.EFBIG):
		return "it would be larger than a file may be there"
	case errors.Is(err, syscall.EROFS):
		return "the disk of the folder " + folder + " is read-only"
	case errors.Is(err, fs.ErrPermission):
		return "no permission to write in the folder " + folder
	case errors.Is(err, fs.ErrNotExist):
		return "there is no folder " + folder
	case errors.Is(err, syscall.ENOTDIR):
		return folder + " is not a folder"
	case errors.As(err, &path): // without the name of what is beside it
		return path.Err.Error()
	}
	return err.Error()
}
