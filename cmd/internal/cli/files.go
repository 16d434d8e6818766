package cli

import (
	"fmt"
	"os"
	"path/filepath"
)

// replaceFile writes a file beside its place and renames it there, so that a
// run that fails or is stopped leaves no part of one.
func replaceFile(path string, body []byte) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		return fmt.Errorf("cannot write %s: %w", path, err)
	}
	defer func() {
		if err != nil {
			os.Remove(f.Name())
			err = fmt.Errorf("cannot write %s: %w", path, err)
		}
	}()
	if _, err = f.Write(body); err != nil {
		f.Close()
		return err
	}
	if err = f.Chmod(0o644); err != nil {
		f.Close()
		return err
	}
	if err = f.Close(); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}
