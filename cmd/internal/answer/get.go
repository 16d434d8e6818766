package answer

import (
	"context"

	"crowline/dem"
	"crowline/dem/fetch"
	"crowline/dem/gdalio"
	"crowline/dem/web"
)

// GetRequest asks for the tiles of a data set that hold ground within Radius
// metres of a place, to be kept in Folder.
type GetRequest struct {
	Around Place
	Radius float64
	Source fetch.Source
	Folder string
	// DryRun fetches nothing, and tells what would be.
	DryRun bool
}

// Check refuses what makes no sense.
func (r GetRequest) Check() error {
	if !(r.Radius > 0 && r.Radius <= 1000e3) {
		return wrongf("a radius of %g m: give one above 0 and up to 1000 km", r.Radius)
	}
	return nil
}

// GetAnswer is what was fetched.
type GetAnswer struct {
	// The data set's name.
	Source string `json:"source"`
	// Where its tiles are.
	Folder string `json:"folder"`
	// The tiles that hold the ground.
	Files []TileFile `json:"files"`
	// The tiles that the publisher does not have: sea, or beyond the data.
	NoTile []string `json:"no_tile"`
	// The tiles a dry run would fetch; null where it was no dry run.
	WouldFetch []PlannedTile `json:"would_fetch,omitempty"`
	// How large those are together, as far as their servers tell.
	WouldFetchBytes int64 `json:"would_fetch_bytes,omitempty"`
	// How much was fetched.
	FetchedBytes int64 `json:"fetched_bytes"`
	// The file with the licence.
	LicenceFile string `json:"licence_file"`
	// What must be written beside what is made from the data.
	Attribution string `json:"attribution"`

	source fetch.Source
}

var _ = register[GetAnswer]("dem get")

// Of is the data set.
func (a *GetAnswer) Of() fetch.Source { return a.source }

// PlannedTile is a tile that is not here yet.
type PlannedTile struct {
	// The file it would be.
	Path string `json:"path"`
	// How large it is; 0 where its server does not tell.
	Bytes int64 `json:"bytes"`
}

// TileFile is a tile.
type TileFile struct {
	// The file.
	Path string `json:"path"`
	// How large it is.
	Bytes int64 `json:"bytes"`
	// Its SHA-256, in hexadecimal.
	SHA256 string `json:"sha256"`
	// It was there before, whole.
	Already bool `json:"already_there"`
	// It was held against the publisher's checksum.
	Checked bool `json:"publisher_checksum_compared"`
}

// Get answers a GetRequest.
func Get(ctx context.Context, r GetRequest) (*GetAnswer, error) {
	result, err := fetch.Get(ctx, r.Source, r.Around.LatLon, r.Radius, fetch.Options{
		Folder: r.Folder, DryRun: r.DryRun, Progress: progress(ctx, "fetching "+r.Source.Name),
		Open: func(_ context.Context, path string) (dem.Source, error) {
			return asSource(gdalio.Open(path, gdalio.Options{}))
		},
	})
	if err != nil {
		return nil, err
	}
	a := &GetAnswer{Source: r.Source.Name, Folder: r.Folder, FetchedBytes: result.Bytes, LicenceFile: result.Licence, Attribution: r.Source.Attribution, source: r.Source}
	for _, f := range result.Files {
		a.Files = append(a.Files, TileFile{f.Path, f.Bytes, f.SHA256, f.Already, f.Checked})
	}
	for _, f := range result.Planned {
		a.WouldFetch = append(a.WouldFetch, PlannedTile{f.Path, f.Bytes})
		a.WouldFetchBytes += f.Bytes
	}
	for _, t := range result.None {
		a.NoTile = append(a.NoTile, t.Name)
	}
	return a, nil
}

// SourcesAnswer are the data sets that tiles can be fetched of.
type SourcesAnswer struct {
	// The data sets: those built in, then the user's own.
	Sources []fetch.Source `json:"sources"`
}

var _ = register[SourcesAnswer]("dem get --list")

// Sources are the data sets built in and the user's own. Their addresses are
// told without passwords.
func Sources(own []fetch.Source) *SourcesAnswer {
	a := &SourcesAnswer{Sources: append(fetch.Sources(), own...)}
	for i := range a.Sources {
		a.Sources[i].URL = web.Shown(a.Sources[i].URL)
	}
	return a
}
