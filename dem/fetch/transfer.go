package fetch

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// again runs work, and runs it again after a wait when it failed for a
// passing reason.
func (g *getter) again(ctx context.Context, name string, work func() error) error {
	delay := g.opts.RetryDelay
	for try := 0; ; try++ {
		err := work()
		if err == nil {
			return nil
		}
		if ctx.Err() != nil {
			return stopped(ctx)
		}
		var p *passingError
		if !errors.As(err, &p) {
			return fmt.Errorf("%s: %w", name, err)
		}
		if try >= g.opts.Retries {
			return fmt.Errorf("%s: %w (what came so far is kept: try again later)", name, err)
		}
		select {
		case <-ctx.Done():
			return stopped(ctx)
		case <-time.After(delay):
		}
		delay *= 2
	}
}

// size asks how large a tile is; none when the publisher has no such tile.
func (g *getter) size(ctx context.Context, t Tile) (size int64, none bool, err error) {
	err = g.again(ctx, t.Name, func() error {
		r, err := g.request(ctx, http.MethodHead, t.URL, nil)
		if err != nil {
			return err
		}
		defer r.Body.Close()
		switch r.StatusCode {
		case http.StatusNotFound, http.StatusGone:
			none = true
			return nil
		case http.StatusMethodNotAllowed, http.StatusNotImplemented:
			return nil // asked for without a size
		}
		if err := statusError(r); err != nil {
			return err
		}
		size = max(r.ContentLength, 0)
		return nil
	})
	return size, none, err
}

// fetch brings a tile into the folder.
func (g *getter) fetch(ctx context.Context, s *state) error {
	path := filepath.Join(g.opts.Folder, s.tile.Name)
	part, err := g.lock(ctx, path)
	if err != nil {
		return err
	}
	defer part.Close()
	if sum, n, ok := whole(ctx, path); ok { // another run was faster
		os.Remove(part.Name())
		os.Remove(part.Name() + tagEnding)
		s.file = File{Tile: s.tile, Path: path, Bytes: n, SHA256: sum, Already: true}
		g.add(s.size)
		return nil
	}
	if err := checkPlace(ctx, path); err != nil {
		return err
	}
	var published string
	counted := int64(0)
	err = g.again(ctx, s.tile.Name, func() error {
		var err error
		published, err = g.transfer(ctx, s, part, &counted)
		return err
	})
	if err != nil {
		return err
	}
	checked := false
	if err := g.again(ctx, s.tile.Name, func() error {
		checked, err = g.compare(ctx, s.tile, part.Name(), published)
		return err
	}); err != nil {
		if ctx.Err() == nil {
			// What came is not what was published: begin anew next time.
			os.Remove(part.Name())
			os.Remove(part.Name() + tagEnding)
		}
		return err
	}
	sum, n, err := sumOf(ctx, part.Name())
	if err != nil {
		return diskError(part.Name(), err)
	}
	if err := part.Sync(); err != nil {
		return diskError(part.Name(), err)
	}
	// The sum goes first: a tile without one would be fetched again, and a
	// sum without its tile does no harm.
	if err := writeSum(path, sum); err != nil {
		return err
	}
	if err := place(ctx, part.Name(), path); err != nil {
		return err
	}
	os.Remove(part.Name() + tagEnding)
	s.file = File{Tile: s.tile, Path: path, Bytes: n, SHA256: sum, Checked: checked}
	return nil
}

const (
	partEnding = ".part"
	tagEnding  = ".tag"
)

// lock opens the tile's part, for this run alone. Another run that has it is
// waited for.
func (g *getter) lock(ctx context.Context, path string) (*os.File, error) {
	for {
		if _, err := plainOrGone(path + partEnding); err != nil {
			return nil, err
		}
		f, err := os.OpenFile(path+partEnding, os.O_RDWR|os.O_CREATE|noFollow, 0o644)
		if err != nil {
			return nil, diskError(path, err)
		}
		if tryLock(f) {
			// It may have been moved into place between opening and locking.
			here, err := os.Stat(path + partEnding)
			mine, mineErr := f.Stat()
			if err == nil && mineErr == nil && os.SameFile(here, mine) {
				if err := checkPart(f); err != nil {
					f.Close()
					return nil, err
				}
				return f, nil
			}
		}
		f.Close()
		select {
		case <-ctx.Done():
			return nil, stopped(ctx)
		case <-time.After(200 * time.Millisecond):
		}
	}
}

var contentRange = regexp.MustCompile(`^bytes (\d+)-(\d+)/(\d+|\*)$`)

// transfer fetches the rest of a part, or all of it when the server's file
// is another one now, and returns the entity tag.
func (g *getter) transfer(ctx context.Context, s *state, part *os.File, counted *int64) (tag string, err error) {
	have, err := part.Seek(0, io.SeekEnd)
	if err != nil {
		return "", diskError(part.Name(), err)
	}
	header := http.Header{}
	if known, _ := os.ReadFile(part.Name() + tagEnding); have > 0 && len(known) > 0 {
		header.Set("Range", fmt.Sprintf("bytes=%d-", have))
		header.Set("If-Range", string(known))
	}
	r, err := g.request(ctx, http.MethodGet, s.tile.URL, header)
	if err != nil {
		return "", err
	}
	defer r.Body.Close()
	tag = r.Header.Get("ETag")
	total := r.ContentLength
	switch {
	case r.StatusCode == http.StatusPartialContent:
		m := contentRange.FindStringSubmatch(r.Header.Get("Content-Range"))
		if m == nil || m[1] != strconv.FormatInt(have, 10) {
			return "", g.restart(part, "the server at %s sent another part than was asked for", r.Request.URL.Host)
		}
		total = -1
		if m[3] != "*" {
			total, _ = strconv.ParseInt(m[3], 10, 64)
		}
	case r.StatusCode == http.StatusRequestedRangeNotSatisfiable:
		return "", g.restart(part, "the server at %s no longer has the file as it was", r.Request.URL.Host)
	default:
		if err := statusError(r); err != nil {
			return "", err
		}
		if kind := r.Header.Get("Content-Type"); strings.HasPrefix(kind, "text/html") {
			return "", fmt.Errorf("%s sent a web page in place of the tile; is there a sign-in page in between?", r.Request.URL.Host)
		}
		if err := part.Truncate(0); err != nil {
			return "", diskError(part.Name(), err)
		}
		if _, err := part.Seek(0, io.SeekStart); err != nil {
			return "", diskError(part.Name(), err)
		}
		have = 0
	}
	if err := keepTag(part.Name(), r.Header); err != nil {
		return "", err
	}
	if have > *counted {
		g.add(have - *counted)
		*counted = have
	}
	buffer := make([]byte, 256<<10)
	for {
		n, readErr := r.Body.Read(buffer)
		if n > 0 {
			if total >= 0 && have+int64(n) > total {
				return "", g.restart(part, "the server at %s sent more than it said", r.Request.URL.Host)
			}
			if _, err := part.Write(buffer[:n]); err != nil {
				return "", diskError(part.Name(), err)
			}
			have += int64(n)
			s.fetched += int64(n)
			if have > *counted {
				g.add(have - *counted)
				*counted = have
			}
		}
		if readErr == io.EOF {
			break
		}
		if readErr != nil {
			return "", readErr
		}
		if err := ctx.Err(); err != nil {
			return "", err
		}
	}
	if total >= 0 && have != total {
		return "", passing("the connection to %s broke off after %d of %d bytes", r.Request.URL.Host, have, total)
	}
	return tag, nil
}

// restart empties the part, to be fetched anew.
func (g *getter) restart(part *os.File, format string, args ...any) error {
	if err := part.Truncate(0); err != nil {
		return diskError(part.Name(), err)
	}
	os.Remove(part.Name() + tagEnding)
	return passing(format, args...)
}

// keepTag keeps what tells the server's file from a later one; nothing where
// the server tells nothing, and then the part is begun anew. Weak tags do not
// tell bytes apart. The tag's file is also what tells a part of ours.
func keepTag(part string, header http.Header) error {
	tag := header.Get("ETag")
	if tag == "" || strings.HasPrefix(tag, "W/") {
		tag = header.Get("Last-Modified")
	}
	return writeBeside(part+tagEnding, tag)
}
