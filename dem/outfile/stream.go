package outfile

import (
	"bufio"
	"io"
	"os"
	"path/filepath"
)

// Stream writes a file as write gives it, whole or not at all, without holding it
// in memory. An error of write is given as it is; others are one line that names
// the file and says what to do.
func Stream(path string, write func(io.Writer) error) error {
	if err := CheckTarget(path); err != nil {
		return err
	}
	var t *os.File
	name, err := Begin(func() (string, error) {
		var err error
		if t, err = os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*"); err != nil {
			return "", err
		}
		return t.Name(), nil
	})
	if err != nil {
		return Error(path, err)
	}
	defer Done(name) // what was renamed is no longer there
	out := &disk{w: t}
	buffer := bufio.NewWriterSize(out, 1<<16)
	err = write(buffer)
	if out.err != nil { // it is why write failed
		t.Close()
		return Error(path, out.err)
	}
	if err != nil {
		t.Close()
		return err
	}
	for _, step := range []func() error{buffer.Flush, func() error { return t.Chmod(0o644) }, t.Sync} {
		if err := step(); err != nil {
			t.Close()
			return Error(path, err)
		}
	}
	if err := t.Close(); err != nil {
		return Error(path, err)
	}
	if err := Place(name, path); err != nil {
		return Error(path, err)
	}
	return nil
}

// disk keeps the first error of a writer.
type disk struct {
	w   io.Writer
	err error
}

func (d *disk) Write(b []byte) (int, error) {
	n, err := d.w.Write(b)
	if err != nil && d.err == nil {
		d.err = err
	}
	return n, err
}
