package cli

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"

	"crowline/cmd/internal/answer"
	"crowline/cmd/internal/report"
	paper "crowline/contour/page"
	"crowline/dem/gdalio"
)

// writeAnswer writes an answer to standard output: as JSON, or as text.
func (f *outputFlags) writeAnswer(s Streams, a any, text func(p *report.Page)) error {
	u, err := f.system()
	if err != nil {
		return err
	}
	if f.json {
		return answer.Encode(s.Out, a)
	}
	p := report.NewPage(s.Out, u)
	text(p)
	return p.Err()
}

// sighting is what the flags assume of every sight.
func (f *sightFlags) sighting() answer.Sighting {
	return answer.Sighting{Eye: f.eye, Target: f.target, Refraction: f.refraction}
}

// request is the cover the flags name.
func (f *coverFlags) request() answer.Cover {
	return answer.Cover{File: f.file, Field: f.field, Clearing: f.clearing, VoidIsBare: bool(f.void)}
}

// place reads a place argument: a name from the file first, then a coordinate.
func (f *placeFlags) place(text string) (answer.Place, error) {
	p, err := f.resolve(text)
	if err != nil {
		return answer.Place{}, err
	}
	out := answer.PlaceAt(p.LatLon)
	out.Name = p.Name
	return out, nil
}

// named are the places of the file.
func (f *placeFlags) named() ([]answer.Place, error) {
	list, err := f.all()
	if err != nil {
		return nil, err
	}
	return answer.PlacesOf(list), nil
}

// data is the elevation data the flags, the environment and the config name.
func (f *groundFlags) data(ctx context.Context) (answer.Data, error) {
	c, err := configOf(ctx)
	if err != nil {
		return answer.Data{}, err
	}
	d := answer.Data{Paths: f.dem, Remote: remoteOptions(), FillVoids: f.fillVoids, VerticalError: f.verticalError}
	switch {
	case f.demo:
		d.Paths = nil
	case len(d.Paths) == 0:
		d.Paths, _ = c.defaultDEM()
	}
	if len(d.Paths) == 0 {
		c.HeightUnit = "" // the demo data's is known
	}
	if d.File, err = f.file.options(c); err != nil {
		return d, err
	}
	if d.MaxBytes, err = f.mostMemory(c); err != nil {
		return d, err
	}
	if f.verticalError == 0 && f.flags != nil && f.flags.Changed("vertical-error") {
		return d, usageErrorf("--vertical-error %g: no heights are without error; give one standard deviation, as 0.5m", f.verticalError)
	}
	if given := placesOf(f.flags); given != nil {
		if d.Known, err = given.named(); err != nil {
			return d, err
		}
	}
	return d, nil
}

// mostMemory is how much a run may take, bytes.
func (f *groundFlags) mostMemory(c config) (int64, error) {
	memory := f.maxMemory
	if memory == "" {
		memory = c.MaxMemory
	}
	most, err := parseMemory(memory)
	if err != nil {
		return 0, usageErrorf("--max-memory: %w", err)
	}
	return most, nil
}

// checkImage refuses a .png, millimetres, that takes more memory than a run may,
// or than any may.
func (f *groundFlags) checkImage(ctx context.Context, size paper.Paper, dpi float64) error {
	if err := paper.CheckPNG(size.Width, size.Height, dpi); err != nil {
		return usageErrorf("--dpi: %w", err)
	}
	c, err := configOf(ctx)
	if err != nil {
		return err
	}
	most, err := f.mostMemory(c)
	if err != nil || most <= 0 {
		return err
	}
	const pixelBytes = 4
	bytes := pixelBytes * size.Width * size.Height * (dpi / 25.4) * (dpi / 25.4)
	room := float64(guardedFrom(max(most, leastOfAll)) - leastOfAll/2)
	if bytes > room {
		return usageErrorf("--dpi: %g x %g mm at %g dots per inch take %.1f GB of memory, over the limit: take at most %.0f dots per inch, or a .pdf, or raise --max-memory",
			size.Width, size.Height, dpi, bytes/1e9, math.Floor(dpi*math.Sqrt(room/bytes)))
	}
	return nil
}

// open opens the data for a request, and has its progress shown.
func (q *question) open(ctx context.Context, reach answer.Reach) (context.Context, *answer.Ground, error) {
	return q.ground.ask(ctx, q.streams, reach)
}

// ask opens the data for a request, and has its progress shown.
func (f *groundFlags) ask(ctx context.Context, s Streams, reach answer.Reach) (context.Context, *answer.Ground, error) {
	d, err := f.data(ctx)
	if err != nil {
		return ctx, nil, err
	}
	boundMemory(ctx, d.MaxBytes)
	ctx = s.told(ctx)
	g, err := answer.Open(ctx, d, reach)
	return ctx, g, err
}

// ask asks a request of the ground that it reaches, and has the answer written.
func ask[R interface{ Reach() answer.Reach }, A any](ctx context.Context, q *question, r R,
	answered func(context.Context, *answer.Ground, R) (A, error), write func(context.Context, *answer.Ground, A) error) error {
	ctx, g, err := q.open(ctx, r.Reach())
	if err != nil {
		return err
	}
	defer g.Close()
	a, err := answered(ctx, g, r)
	if err != nil {
		return asked(err)
	}
	return write(ctx, g, a)
}

// told has the questions asked with a context draw how far they are on a
// terminal's standard error.
func (s Streams) told(ctx context.Context) context.Context {
	if !s.showsProgress() {
		return ctx
	}
	draw := map[string]func(done, total int64){}
	return answer.WithProgress(ctx, func(label string, done, total int64) {
		if draw[label] == nil || done == 0 {
			draw[label] = s.progress(label)
		}
		draw[label](done, total)
	})
}

// asked gives an error of a request the exit code of wrong usage.
func asked(err error) error {
	if errors.Is(err, answer.ErrCoverField) {
		err = fmt.Errorf("%w: --cover-field", err)
	}
	if answer.IsWrongRequest(err) {
		return &flagError{fmt.Errorf("%w", err)}
	}
	return err
}

// remoteOptions keep blocks of remote files in the user's cache.
func remoteOptions() gdalio.RemoteOptions {
	if cache, err := os.UserCacheDir(); err == nil {
		return gdalio.RemoteOptions{CacheFolder: filepath.Join(cache, "crowline", "blocks")}
	}
	return gdalio.RemoteOptions{}
}
