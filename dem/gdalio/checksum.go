package gdalio

import (
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"
)

// ChecksumsFile lists the SHA-256 of a folder's files, one a line: the sum
// in hexadecimal, two spaces, the file's name. A file may also have its line
// in a file of its own beside it, with ChecksumEnding after its name, as
// fetched tiles have. Files that do not match their line are refused.
const (
	ChecksumsFile  = "SHA256SUMS"
	ChecksumEnding = ".sha256"
)

// checksum is a file's SHA-256 in hexadecimal. ctx is looked at every
// megabyte.
func checksum(ctx context.Context, path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	sum := sha256.New()
	buffer := make([]byte, 1<<20)
	for {
		if err := ctx.Err(); err != nil {
			return "", err
		}
		n, err := f.Read(buffer)
		sum.Write(buffer[:n])
		if err == io.EOF {
			return hex.EncodeToString(sum.Sum(nil)), nil
		}
		if err != nil {
			return "", err
		}
	}
}

// maxChecksumLines bounds a list of checksums: a folder of a million tiles
// is not one anyone has.
const maxChecksumLines = 1_000_000

// lastList is the list read last: the files of a folder are looked up one
// after another, and a list may have a line for each of thousands.
var lastList struct {
	sync.Mutex
	path  string
	stamp stamp
	sums  map[string]string
}

// readChecksums reads a folder's list by file name; the map is shared. Lines
// that are not checksums are passed over: the list may hold notes.
func readChecksums(folder string) map[string]string {
	path := filepath.Join(folder, ChecksumsFile)
	now, err := stampOf(path)
	if err != nil {
		return nil
	}
	lastList.Lock()
	defer lastList.Unlock()
	if lastList.path != path || lastList.stamp != now {
		sums := map[string]string{}
		readSums(path, sums)
		lastList.path, lastList.stamp, lastList.sums = path, now, sums
	}
	return lastList.sums
}

func readSums(path string, sums map[string]string) {
	f, err := os.Open(path)
	if err != nil {
		return
	}
	defer f.Close()
	lines := bufio.NewScanner(f)
	for n := 0; lines.Scan() && n < maxChecksumLines; n++ {
		sum, name, found := strings.Cut(lines.Text(), " ")
		name = strings.TrimPrefix(strings.TrimPrefix(name, " "), "*")
		if _, err := hex.DecodeString(sum); !found || err != nil || len(sum) != 2*sha256.Size || name == "" {
			continue
		}
		sums[name] = strings.ToLower(sum)
	}
}

// listedChecksum is the checksum a file should have, by the line beside it
// or its folder's list.
func listedChecksum(path string) (sum string, listed bool) {
	own := map[string]string{}
	readSums(path+ChecksumEnding, own)
	if sum, listed = own[filepath.Base(path)]; listed {
		return sum, true
	}
	sum, listed = readChecksums(filepath.Dir(path))[filepath.Base(path)]
	return sum, listed
}

// checkListed compares a file with its line beside it or in its folder's
// list, if it has one, and returns its checksum when it had to be found.
func checkListed(ctx context.Context, path string) (string, error) {
	want, listed := listedChecksum(path)
	if !listed {
		return "", nil
	}
	got, err := checksum(ctx, path)
	if err != nil {
		return "", err
	}
	if got != want {
		return got, mismatch(path)
	}
	return got, nil
}

// writtenSinceListed reports whether a file may have been written to after
// its checksum was kept. A tile gets its own name just after that, which
// counts as a change; the time allowed for it is a minute.
func writtenSinceListed(path string) bool {
	const allowed = int64(time.Minute)
	file, err := stampOf(path)
	if err != nil {
		return true
	}
	kept, err := stampOf(path + ChecksumEnding)
	if err != nil {
		kept, err = stampOf(filepath.Join(filepath.Dir(path), ChecksumsFile))
	}
	return err != nil || max(file.Modified, file.Changed) > kept.Modified+allowed
}

func mismatch(path string) error {
	return fmt.Errorf("%s does not match the checksum kept beside it: it was damaged or changed; delete it and fetch it again", path)
}
