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
)

// ChecksumsFile lists the SHA-256 of a folder's files, one a line: the sum
// in hexadecimal, two spaces, the file's name. It is kept by what fetches
// tiles, and files that do not match their line are refused.
const ChecksumsFile = "SHA256SUMS"

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

// readChecksums reads a folder's list by file name; nil when it has none.
// Lines that are not checksums are passed over: the list may hold notes.
func readChecksums(folder string) map[string]string {
	f, err := os.Open(filepath.Join(folder, ChecksumsFile))
	if err != nil {
		return nil
	}
	defer f.Close()
	sums := map[string]string{}
	lines := bufio.NewScanner(f)
	for n := 0; lines.Scan() && n < maxChecksumLines; n++ {
		sum, name, found := strings.Cut(lines.Text(), " ")
		name = strings.TrimPrefix(strings.TrimPrefix(name, " "), "*")
		if _, err := hex.DecodeString(sum); !found || err != nil || len(sum) != 2*sha256.Size || name == "" {
			continue
		}
		sums[name] = strings.ToLower(sum)
	}
	return sums
}

// checkListed compares a file with its folder's list of checksums, if it is
// in one, and returns its checksum when it had to be found.
func checkListed(ctx context.Context, path string) (string, error) {
	want, listed := readChecksums(filepath.Dir(path))[filepath.Base(path)]
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

func mismatch(path string) error {
	return fmt.Errorf("%s does not match its line in %s: it was damaged or changed; fetch it again", path, ChecksumsFile)
}
