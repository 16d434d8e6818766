package fetch

import (
	"bytes"
	"context"
	"crypto/md5"
	"crypto/sha1"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"hash"
	"io"
	"net/http"
	"os"
	"regexp"
	"strings"

	"crowline/dem/web"
)

// md5Tag is an entity tag that is a file's MD5. Those of files stored in
// several pieces end in a hyphen and a count, and are none.
var md5Tag = regexp.MustCompile(`^"([0-9a-f]{32})"$`)

// compare checks a tile's content: that it is a raster file at all, and the
// publisher's checksum where there is one.
func (g *getter) compare(ctx context.Context, t Tile, path, tag string) (checked bool, err error) {
	if err := checkMagic(t.Name, path); err != nil {
		return false, err
	}
	want := ""
	switch g.source.Checksum {
	case "":
		return false, nil
	case "etag-md5":
		m := md5Tag.FindStringSubmatch(tag)
		if m == nil {
			return false, nil
		}
		want = m[1]
	default:
		r, err := g.request(ctx, http.MethodGet, t.URL+g.source.Checksum, nil)
		if err != nil {
			return false, err
		}
		defer r.Body.Close()
		if r.StatusCode == http.StatusNotFound {
			return false, nil
		}
		if err := web.StatusError(r); err != nil {
			return false, err
		}
		text, err := io.ReadAll(io.LimitReader(r.Body, 4096))
		if err != nil {
			return false, err
		}
		words := strings.Fields(string(text))
		if len(words) == 0 {
			return false, errors.New("the publisher's checksum is empty")
		}
		want = strings.ToLower(words[0])
	}
	var h hash.Hash
	switch len(want) {
	case 2 * md5.Size:
		h = md5.New()
	case 2 * sha1.Size:
		h = sha1.New()
	case 2 * sha256.Size:
		h = sha256.New()
	default:
		return false, errors.New("the publisher's checksum is of no kind known here")
	}
	f, err := os.Open(path)
	if err != nil {
		return false, diskError(path, err)
	}
	defer f.Close()
	if _, err := io.Copy(h, stoppable{ctx, f}); err != nil {
		return false, err
	}
	if got := hex.EncodeToString(h.Sum(nil)); got != want {
		return false, errors.New("it does not match the publisher's checksum: damaged on the way; fetch it again")
	}
	return true, nil
}

// checkMagic looks at the first bytes of a file, which may be no web page, and
// of one that should be a TIFF.
func checkMagic(name, path string) error {
	f, err := os.Open(path)
	if err != nil {
		return diskError(path, err)
	}
	defer f.Close()
	first := make([]byte, 512)
	n, _ := io.ReadFull(f, first) // a shorter file is none of them
	if first = first[:n]; strings.HasPrefix(http.DetectContentType(first), "text/html") {
		return errors.New("what the server sent is a web page; is the address right, or is there a sign-in page in between?")
	}
	lower := strings.ToLower(name)
	if !strings.HasSuffix(lower, ".tif") && !strings.HasSuffix(lower, ".tiff") {
		return nil
	}
	for _, magic := range []string{"II*\x00", "MM\x00*", "II+\x00", "MM\x00+"} {
		if bytes.HasPrefix(first, []byte(magic)) {
			return nil
		}
	}
	return errors.New("what the server sent is not a TIFF file; is the address right, or is there a sign-in page in between?")
}
