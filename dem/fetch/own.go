package fetch

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"

	"crowline/dem/outfile"
)

// What Get finds in its folder is either its own, by the record it keeps, or
// somebody's, and then it is left alone. A tile is known by its checksum beside
// it, a part by its tag, a list of one checksum and a licence by their form. A
// link is nobody's to write: what it leads to may lie anywhere.

// plainOrGone is an error unless path is a plain file of one name, or not there.
func plainOrGone(path string) (here bool, err error) {
	info, err := os.Lstat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return false, nil
	case err != nil:
		return false, diskError(path, err)
	case info.Mode()&fs.ModeSymlink != 0:
		return true, fmt.Errorf("%s is a link, and tiles are not written through links: remove it, or name another folder", path)
	case !info.Mode().IsRegular():
		return true, fmt.Errorf("%s is not a plain file: remove it, or name another folder", path)
	}
	return true, nil
}

// notOurs says that a file is in the way.
func notOurs(path string) error {
	return fmt.Errorf("%s is there already and crowline did not fetch it, so it stays: move it away, or name another folder", path)
}

// checkPlace refuses a tile's place where something stands that Get did not
// put there as it is now, or that leads elsewhere.
func checkPlace(ctx context.Context, path string) error {
	here, err := plainOrGone(path)
	if err != nil {
		return err
	}
	if here {
		if _, _, ok := whole(ctx, path); ok { // another run was faster
			return nil
		}
		if readSum(path) != "" {
			return fmt.Errorf("%s is not what was fetched: it was damaged or changed; delete it to fetch it again, or name another folder", path)
		}
		return notOurs(path)
	}
	here, err = plainOrGone(path + sumEnding)
	if err != nil {
		return err
	}
	if here && !isSum(path) {
		return notOurs(path + sumEnding)
	}
	for _, name := range []string{path + partEnding, path + partEnding + tagEnding} {
		if _, err := plainOrGone(name); err != nil {
			return err
		}
	}
	return nil
}

// checkPart refuses an opened part that Get did not begin: browsers give such
// names to unfinished files too. Only when it is locked does no other run
// change it meanwhile.
func checkPart(part *os.File) error {
	info, err := part.Stat()
	if err != nil {
		return diskError(part.Name(), err)
	}
	if names(info) > 1 {
		return fmt.Errorf("%s is another name of a file elsewhere, and would change it: remove it, or name another folder", part.Name())
	}
	tagged, err := plainOrGone(part.Name() + tagEnding)
	if err == nil && info.Size() > 0 && !tagged {
		return notOurs(part.Name())
	}
	return err
}

var sumLine = regexp.MustCompile(`^(?i:[0-9a-f]{64}) [ *](\S+)\s*$`)

// isSum reports whether what stands beside a tile is its checksum alone, or
// nothing.
func isSum(path string) bool {
	text, err := os.ReadFile(path + sumEnding)
	line := sumLine.FindSubmatch(text)
	return err == nil && (len(text) == 0 || line != nil && string(line[1]) == filepath.Base(path))
}

// fetchedFrom begins the line of a licence file by which it is known.
const fetchedFrom = "Fetched from"

// checkLicence refuses to replace a licence that Get did not write.
func checkLicence(path string) error {
	here, err := plainOrGone(path)
	if err != nil || !here {
		return err
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return diskError(path, err)
	}
	if len(text) > 0 && !strings.Contains(string(text), "\n"+fetchedFrom+": ") {
		return notOurs(path)
	}
	return nil
}

// place gives a finished part its tile's name, if no file has it.
func place(ctx context.Context, part, path string) error {
	err := outfile.PlaceNew(part, path)
	if errors.Is(err, fs.ErrExist) {
		if _, _, ok := whole(ctx, path); ok {
			return nil
		}
		return notOurs(path)
	}
	if err != nil {
		return diskError(path, err)
	}
	return nil
}
