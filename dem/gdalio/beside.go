package gdalio

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
)

// writeBeside lets write make a file, with any side files, in a folder of
// its own next to path, and moves all of them into place only when it has
// succeeded. What write left behind is removed in every case.
func writeBeside(path string, write func(temporary string) error) error {
	folder := filepath.Dir(path)
	if stat, err := os.Stat(path); err == nil && stat.IsDir() {
		return fmt.Errorf("%s is a folder; name a file in it", path)
	}
	temporary, err := os.MkdirTemp(folder, ".crowline-*")
	if err != nil {
		return fmt.Errorf("%s cannot be written: %s", path, plainWriteError(err, folder))
	}
	defer os.RemoveAll(temporary)
	if err := write(filepath.Join(temporary, filepath.Base(path))); err != nil {
		return fmt.Errorf("%s cannot be written: %w", path, err)
	}
	made, err := os.ReadDir(temporary)
	if err != nil {
		return fmt.Errorf("%s cannot be written: %w", path, err)
	}
	for _, f := range made {
		from, to := filepath.Join(temporary, f.Name()), filepath.Join(folder, f.Name())
		// GDAL reports some full disks only here.
		if err := flushToDisk(from); err != nil {
			return fmt.Errorf("%s cannot be written: %w", path, err)
		}
		if err := os.Rename(from, to); err != nil {
			return fmt.Errorf("%s cannot be written: %w", path, err)
		}
	}
	return nil
}

func flushToDisk(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

func plainWriteError(err error, folder string) string {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return "there is no folder " + folder
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return "no permission to write in " + folder
	case errors.Is(err, syscall.ENOSPC):
		return "the disk is full"
	case errors.Is(err, syscall.ENOTDIR):
		return folder + " is not a folder"
	}
	return err.Error()
}
