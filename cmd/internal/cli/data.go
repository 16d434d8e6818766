package cli

import (
	"context"
	"os"
	"path/filepath"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
)

// dataOptions say how elevation data is opened, whatever it is.
type dataOptions struct {
	// file holds for every file.
	file gdalio.Options
	// fillVoids fills small inner voids.
	fillVoids bool
	// maxBytes is what a question may take; 0 is no limit. perPost is what it
	// takes for each post it reads.
	maxBytes, perPost int64
	progress          func(done, total int64)
}

// openData opens the ground round some places. A single file on this machine
// is opened as it is; folders, globs, addresses and several paths are joined
// to one ground, of which the part within margin metres of the places can be
// read. What is read is searched for posts that are most likely wrong.
func openData(ctx context.Context, paths []string, o dataOptions, places []geodesy.LatLon, margin float64) (dem.Source, error) {
	source, err := openPaths(ctx, paths, o, places, margin)
	if err != nil {
		return nil, err
	}
	return o.wrap(source)
}

// wrap lays on opened data what every answer needs. On an error it closes
// the data.
func (o dataOptions) wrap(source dem.Source) (dem.Source, error) {
	if o.fillVoids {
		filled, err := dem.Fill(source, dem.FillOptions{})
		if err != nil {
			source.Close()
			return nil, err
		}
		source = filled
	}
	return dem.Bounded(dem.Watch(source), o.maxBytes, o.perPost), nil
}

// remoteOptions keep blocks of remote files in the user's cache.
func remoteOptions() gdalio.RemoteOptions {
	if cache, err := os.UserCacheDir(); err == nil {
		return gdalio.RemoteOptions{CacheFolder: filepath.Join(cache, "crowline", "blocks")}
	}
	return gdalio.RemoteOptions{}
}

func openPaths(ctx context.Context, paths []string, o dataOptions, places []geodesy.LatLon, margin float64) (dem.Source, error) {
	if len(paths) == 1 && !gdalio.IsAddress(paths[0]) {
		if stat, err := os.Stat(paths[0]); err == nil && !stat.IsDir() {
			return gdalio.OpenVerified(ctx, paths[0], o.file)
		}
	}
	mosaic, err := gdalio.OpenMany(ctx, paths, gdalio.ManyOptions{Options: o.file, Remote: remoteOptions(), Progress: o.progress})
	if err != nil {
		return nil, err
	}
	var joined *dem.Joined
	if len(places) == 0 {
		joined, err = mosaic.Whole(ctx)
	} else {
		joined, err = mosaic.For(ctx, places, margin)
	}
	if err != nil {
		mosaic.Close()
		return nil, err
	}
	return closing{joined, mosaic}, nil
}

// closing closes the mosaic a source is of.
type closing struct {
	dem.Source
	mosaic *dem.Mosaic
}

// Close closes the files of the mosaic.
func (c closing) Close() error { return c.mosaic.Close() }
