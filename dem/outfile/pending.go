package outfile

import (
	"errors"
	"io/fs"
	"os"
	"sync"
)

// pending are the temporary files and folders that are being written now.
var pending = struct {
	sync.Mutex
	names map[string]bool
	ended bool
}{names: map[string]bool{}}

// errEnded is what writing meets after End.
var errEnded = errors.New("the run has ended")

// Begin keeps what temporary makes, a file or folder, and its name until Done.
func Begin(temporary func() (name string, err error)) (name string, err error) {
	pending.Lock()
	defer pending.Unlock()
	if pending.ended {
		return "", errEnded
	}
	name, err = temporary()
	if err == nil {
		pending.names[name] = true
	}
	return name, err
}

// Done removes what Begin made, if it is still there.
func Done(name string) {
	os.RemoveAll(name)
	pending.Lock()
	defer pending.Unlock()
	delete(pending.names, name)
}

// Place moves a finished file to its place, unless the run has ended.
func Place(from, to string) error {
	pending.Lock()
	defer pending.Unlock()
	if pending.ended {
		return errEnded
	}
	return os.Rename(from, to)
}

// PlaceNew is Place where nothing may stand yet: the error is fs.ErrExist where
// something does, a link too, and from stays.
func PlaceNew(from, to string) error {
	pending.Lock()
	defer pending.Unlock()
	if pending.ended {
		return errEnded
	}
	err := os.Link(from, to) // at once, whoever else is writing
	switch {
	case err == nil:
		return os.Remove(from)
	case errors.Is(err, fs.ErrExist):
		return fs.ErrExist
	}
	// a disk whose files have one name each
	if _, err := os.Lstat(to); err == nil {
		return fs.ErrExist
	}
	return os.Rename(from, to)
}

// End removes all that is half written, and from then on nothing is put in
// its place: for a process that is about to exit while work goes on that
// cannot be stopped, such as a library's drawing of a page. What was whole
// before stays. resume takes it back, for tests.
func End() (resume func()) {
	pending.Lock()
	defer pending.Unlock()
	pending.ended = true
	for name := range pending.names {
		// once more where a file was made in a folder while it was emptied
		if os.RemoveAll(name) != nil {
			os.RemoveAll(name)
		}
	}
	return func() {
		pending.Lock()
		defer pending.Unlock()
		pending.ended = false
	}
}
