package cli

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// mounted is a small disk of its own, in memory; the test is skipped where
// mounting is refused (it takes root).
func mounted(t *testing.T, flags uintptr, kilobytes int) string {
	t.Helper()
	folder := t.TempDir()
	if err := syscall.Mount("tmpfs", folder, "tmpfs", flags, fmt.Sprintf("size=%dk", kilobytes)); err != nil {
		t.Skipf("a disk in memory cannot be mounted here (%v): run the tests as root for this one", err)
	}
	t.Cleanup(func() { assert.NoError(t, syscall.Unmount(folder, 0)) })
	return folder
}

// outputs are questions that write a file of about a hundred kilobytes or
// more, one for each kind of file.
func outputs(t *testing.T) map[string][]string {
	t.Helper()
	trip := filepath.Join(t.TempDir(), "trip.csv")
	require.NoError(t, os.WriteFile(trip, []byte("name,lat,lon\nA,"+legFrom+"\nB,36.25000,-84.28000\n"), 0o600))
	all := map[string][]string{}
	for _, name := range []string{"sheet.pdf", "sheet.svg"} {
		all[name] = []string{"sheet", legFrom, "-o"}
	}
	for _, name := range []string{"seen.geojson", "seen.png"} {
		all[name] = []string{"viewshed", legFrom, "--radius", "8km", "-o"}
	}
	all["seen.tif"] = []string{"viewshed", legFrom, "--radius", "8km", "--needed", "-o"}
	for _, name := range []string{"lines.geojson", "lines.gpkg", "lines.shp", "lines.fgb", "lines.dxf", "lines.gpx", "lines.kml", "lines.svg"} {
		all[name] = []string{"contours", "--around", legFrom, "--radius", "2km", "--interval", "20m", "-o"}
	}
	all["sky.json"] = []string{"skyline", legFrom, "--step", "0.2", "-o"}
	all["forms.geojson"] = []string{"dem", "features", "--around", legFrom, "--radius", "9km", "-o"}
	all["card.png"] = []string{"route", trip, "-o"}
	return all
}

// failedPlainly holds a failure to what it has to say: one line, exit 1, and nothing left.
func failedPlainly(t *testing.T, name string, a outcome, folder, want string) {
	t.Helper()
	assert.Equal(t, exitError, a.code, name)
	assert.Empty(t, a.out, name)
	assert.Equal(t, 1, strings.Count(a.err, "\n"), "%s: %s", name, a.err)
	assert.Contains(t, a.err, want, name)
	left, err := os.ReadDir(folder)
	require.NoError(t, err)
	assert.Empty(t, left, name)
}

// TestAFullDisk: every kind of file, on disks of next to nothing, of half of what
// it takes, of a little less, and of many times that. It is there whole or it is
// said, in one line, that the disk is full, and nothing is left. Some of the
// drivers do not notice by themselves.
func TestAFullDisk(t *testing.T) {
	disk := mounted(t, 0, 1024)
	plain := t.TempDir()
	for name, arguments := range outputs(t) {
		whole := filepath.Join(plain, name)
		a := run(t, append(arguments, whole)...)
		require.Equal(t, exitOK, a.code, "%s: %s", name, a.err)
		want, err := os.ReadFile(whole)
		require.NoError(t, err)
		failed, written := 0, 0
		size := len(want)/1024 + 4
		for _, kilobytes := range []int{4, size / 2, size - 8, 12 * size} {
			if kilobytes < 4 {
				continue
			}
			require.NoError(t, syscall.Mount("tmpfs", disk, "tmpfs", syscall.MS_REMOUNT, fmt.Sprintf("size=%dk", kilobytes)))
			path := filepath.Join(disk, name)
			a := run(t, append(arguments, path)...)
			if a.code != exitOK {
				failed++
				failedPlainly(t, fmt.Sprintf("%s, %d kB", name, kilobytes), a, disk, "cannot write "+path+": the disk is full")
				continue
			}
			written++
			got, err := os.ReadFile(path)
			require.NoError(t, err)
			switch filepath.Ext(name) {
			case ".gpkg", ".svg", ".pdf", ".json": // a date or the file's own name in it
				assert.InDelta(t, len(want), len(got), 4096, "%s, %d kB", name, kilobytes)
			case ".fgb": // GDAL's header words WGS 84 with the members of its ensemble or without
				assert.True(t, bytes.Equal(afterHeader(t, want), afterHeader(t, got)), "%s, %d kB: %d bytes of %d", name, kilobytes, len(got), len(want))
			default:
				assert.True(t, bytes.Equal(want, got), "%s, %d kB: %d bytes of %d", name, kilobytes, len(got), len(want))
			}
			list, err := os.ReadDir(disk)
			require.NoError(t, err)
			for _, f := range list {
				assert.False(t, strings.HasPrefix(f.Name(), "."), f.Name())
				require.NoError(t, os.Remove(filepath.Join(disk, f.Name())))
			}
		}
		assert.Positive(t, failed, name)
		assert.Positive(t, written, name)
	}
}

// afterHeader is a FlatGeobuf's index and features: what follows eight bytes
// of magic, the header's size and the header (FlatGeobuf specification 3.0).
func afterHeader(t *testing.T, file []byte) []byte {
	t.Helper()
	require.Greater(t, len(file), 12)
	end := 12 + int(binary.LittleEndian.Uint32(file[8:]))
	require.Less(t, end, len(file))
	return file[end:]
}

// TestAReadOnlyDisk is told from a full one and from a folder that is not
// there.
func TestAReadOnlyDisk(t *testing.T) {
	disk := mounted(t, syscall.MS_RDONLY, 1024)
	gone := filepath.Join(disk, "gone")
	for name, arguments := range outputs(t) {
		path := filepath.Join(disk, name)
		failedPlainly(t, name, run(t, append(arguments, path)...), disk, "cannot write "+path+": the disk of the folder "+disk+" is read-only")
		path = filepath.Join(gone, name)
		failedPlainly(t, name, run(t, append(arguments, path)...), disk, "cannot write "+path+": there is no folder "+gone)
	}
}

// TestAFolderWithoutPermission, for those who are not root, whom it does not
// stop.
func TestAFolderWithoutPermission(t *testing.T) {
	if os.Geteuid() == 0 {
		t.Skip("root may write anywhere: TestAReadOnlyDisk stands for this one")
	}
	folder := t.TempDir()
	require.NoError(t, os.Chmod(folder, 0o555))
	for name, arguments := range outputs(t) {
		path := filepath.Join(folder, name)
		failedPlainly(t, name, run(t, append(arguments, path)...), folder, "cannot write "+path+": no permission to write in the folder "+folder)
	}
}
