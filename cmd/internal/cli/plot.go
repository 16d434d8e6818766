package cli

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	paper "crowline/contour/page"
)

// checkDrawingPath refuses a file that could not be written, before anything
// is computed for it.
func checkDrawingPath(path string) error {
	extension := strings.ToLower(filepath.Ext(path))
	if !slices.Contains(paper.Formats, extension) {
		return usageErrorf("%s: name the drawing so that it ends in %s", path, strings.Join(paper.Formats, ", "))
	}
	return checkFolder(path)
}

// checkFolder makes sure the folder a file is to go in is there.
func checkFolder(path string) error {
	folder := filepath.Dir(path)
	info, err := os.Stat(folder)
	switch {
	case err != nil:
		return fmt.Errorf("cannot write %s: there is no folder %s; make it first", path, folder)
	case !info.IsDir():
		return fmt.Errorf("cannot write %s: %s is not a folder; name another", path, folder)
	}
	return nil
}

// savePlot writes a drawing, unless the run was stopped while it was made.
func savePlot(ctx context.Context, path string, document *paper.Document) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	_, err := document.Save(path, 200)
	return err
}
