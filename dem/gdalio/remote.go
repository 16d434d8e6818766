package gdalio

import (
	"context"
	"errors"
	"strings"
)

func isURL(path string) bool {
	return strings.HasPrefix(path, "http://") || strings.HasPrefix(path, "https://")
}

func OpenURL(ctx context.Context, url string, opts Options) (*Raster, error) {
	return nil, errors.New("x")
}
