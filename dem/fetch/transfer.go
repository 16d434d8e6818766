package fetch

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"crowline/dem/web"
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
		// who is not online is told at once
		if !web.IsPassing(err) || try >= g.opts.Retries || errors.Is(err, web.ErrNoNetwork) && !g.answered.Load() {
			return fmt.Errorf("%s: %w", name, err)
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
		size, none, err = g.sizeOnce(ctx, t)
		return err
	})
	return size, none, err
}

func (g *getter) sizeOnce(ctx context.Context, t Tile) (size int64, none bool, err error) {
	r, err := g.request(ctx, http.MethodHead, t.URL, nil)
	if err != nil {
		return 0, false, err
	}
	defer r.Body.Close()
	switch r.StatusCode {
	case http.StatusNotFound, http.StatusGone:
		return 0, true, nil
	case http.StatusMethodNotAllowed, http.StatusNotImplemented:
		return 0, false, nil // asked for without a size
	}
	if err := web.StatusError(r); err != nil {
		return 0, false, err
	}
	size = max(r.ContentLength, 0)
	return size, false, g.fitsTile(size)
}

// fitsTile refuses a length that no tile of the source has.
func (g *getter) fitsTile(bytes int64) error {
	if most := g.source.maxTileBytes(); bytes > most {
		return fmt.Errorf("the server sends more than %d MB, and no tile of %s is as large; check its address", most>>20, g.source.Name)
	}
	return nil
}

// request makes one request.
func (g *getter) request(ctx context.Context, method, address string, header http.Header) (*http.Response, error) {
	r, err := web.Do(ctx, g.opts.Client, method, address, header, web.Limits{Stall: g.opts.Stall, LeastRate: g.opts.LeastRate, Slow: g.opts.Slow})
	if err == nil {
		g.answered.Store(true)
	}
	return r, err
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
		if checked, err = g.compare(ctx, s.tile, part.Name(), published); err != nil {
			return err
		}
		if err = g.inspect(ctx, s.tile, part.Name()); err != nil {
			return fmt.Errorf("the server sent something else: %w; try again later, or check the source's address", err)
		}
		return nil
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

// transfer fetches the rest of a part, or all of it when the server's file
// is another one now, and returns the entity tag.
func (g *getter) transfer(ctx context.Context, s *state, part *os.File, counted *int64) (tag string, err error) {
	if s.ask { // the length told before was not that of what came
		size, none, err := g.sizeOnce(ctx, s.tile)
		if err != nil {
			return "", err
		}
		if none {
			return "", errors.New("the publisher no longer has it; try again later")
		}
		s.size, s.ask = size, false
	}
	have, err := part.Seek(0, io.SeekEnd)
	if err != nil {
		return "", diskError(part.Name(), err)
	}
	header := http.Header{}
	known := readTag(part.Name())
	if have > 0 && known.validator != "" {
		header.Set("Range", fmt.Sprintf("bytes=%d-", have))
		header.Set("If-Range", known.validator)
	}
	r, err := g.request(ctx, http.MethodGet, s.tile.URL, header)
	if err != nil {
		return "", err
	}
	defer r.Body.Close()
	host := r.Request.URL.Host
	tag = r.Header.Get("ETag")
	now := partTag{validator: validatorOf(r.Header), total: r.ContentLength}
	end := int64(-1) // of what this answer brings, in the file
	switch {
	case r.StatusCode == http.StatusPartialContent && header.Get("Range") == "":
		return "", fmt.Errorf("the server at %s sends a part of the tile where all of it was asked for; fetch it another way", host)
	case r.StatusCode == http.StatusPartialContent:
		from, to, total, ok := web.ContentRange(r)
		if !ok || from != have || total < 0 || (r.ContentLength >= 0 && r.ContentLength != to-from) {
			return "", g.restart(part, "the server at %s sent another part than was asked for", host)
		}
		if now.total = total; now != known {
			return "", g.restart(part, "the server at %s no longer has the tile as it was", host)
		}
		end = to
	case r.StatusCode == http.StatusRequestedRangeNotSatisfiable:
		return "", g.restart(part, "the server at %s no longer has the tile as it was", host)
	default:
		if err := web.StatusError(r); err != nil {
			return "", err
		}
		end, have = now.total, 0
	}
	if err := web.ContentError(r); err != nil {
		return "", err
	}
	if err := g.fitsTile(now.total); err != nil {
		return "", err
	}
	switch {
	case s.size > 0 && now.total >= 0 && now.total != s.size:
		s.ask = true
		return "", g.restart(part, "the server at %s says that the tile has %d bytes, and then %d", host, s.size, now.total)
	case now.total < 0 && s.size > 0:
		now.total = s.size
	case now.total < 0 && g.opts.Open == nil:
		return "", fmt.Errorf("the server at %s does not say how long the tile is, so nobody can tell whether it comes whole; fetch it another way", host)
	}
	if have == 0 {
		if err := part.Truncate(0); err != nil {
			return "", diskError(part.Name(), err)
		}
		if _, err := part.Seek(0, io.SeekStart); err != nil {
			return "", diskError(part.Name(), err)
		}
		if err := keepTag(part.Name(), now); err != nil {
			return "", err
		}
	}
	if end < 0 {
		end = now.total
	}
	if have > *counted {
		g.add(have - *counted)
		*counted = have
	}
	buffer := make([]byte, 256<<10)
	for {
		n, readErr := r.Body.Read(buffer)
		if n > 0 {
			if end >= 0 && have+int64(n) > end {
				return "", g.restart(part, "the server at %s sent more than it said", host)
			}
			if err := g.fitsTile(have + int64(n)); err != nil {
				if diskErr := g.empty(part); diskErr != nil {
					return "", diskErr
				}
				return "", err
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
	if now.total >= 0 && have != now.total {
		kept := ""
		if now.validator != "" {
			kept = "what came is kept, "
		}
		return "", web.Passing("the connection to %s broke off after %d of %d bytes; %stry again later", host, have, now.total, kept)
	}
	return tag, nil
}

// restart empties the part, to be fetched anew.
func (g *getter) restart(part *os.File, format string, args ...any) error {
	if err := g.empty(part); err != nil {
		return err
	}
	return web.Passing(format+"; try again later", args...)
}

func (g *getter) empty(part *os.File) error {
	if err := part.Truncate(0); err != nil {
		return diskError(part.Name(), err)
	}
	os.Remove(part.Name() + tagEnding)
	return nil
}

// partTag tells the server's file from a later one.
type partTag struct {
	validator string // what If-Range takes; "" for none
	total     int64  // its length; -1 when not known
}

// validatorOf is what If-Range takes. Weak tags do not tell bytes apart.
func validatorOf(header http.Header) string {
	if tag := header.Get("ETag"); tag != "" && !strings.HasPrefix(tag, "W/") {
		return tag
	}
	return header.Get("Last-Modified")
}

// keepTag keeps it beside the part, for the next run. The tag's file is also
// what tells a part of ours, so it is there even where the server tells
// nothing, and then the part is begun anew.
func keepTag(part string, t partTag) error {
	return writeBeside(part+tagEnding, fmt.Sprintf("%s\n%d\n", t.validator, t.total))
}

// readTag is what keepTag kept, or nothing.
func readTag(part string) partTag {
	data, err := os.ReadFile(part + tagEnding)
	if err != nil {
		return partTag{}
	}
	validator, rest, _ := strings.Cut(string(data), "\n")
	total, err := strconv.ParseInt(strings.TrimSpace(rest), 10, 64)
	if err != nil || total < 0 {
		return partTag{}
	}
	return partTag{validator, total}
}
