package fetch

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"

	"crowline/dem"
)

// Of a tile that is what its name says, each side lies within edgeSlack of its
// square's, in shares of that: publishers let tiles overlap by some posts, or
// shift them by half of one. Posts are as far apart as the source says, within
// spacingSlack of it.
const (
	edgeSlack    = 0.02
	spacingSlack = 0.05
)

// maxTileBytes bounds a tile: every post a number of eight bytes, as much
// again for overviews and masks. Where the source does not say how far apart
// posts are, 4 GiB.
func (s Source) maxTileBytes() int64 {
	const unknown, header = 4 << 30, 1 << 20
	if !(s.SpacingArcSeconds > 0) {
		return unknown
	}
	side := float64(max(s.Degrees, 1)) * (1 + 2*edgeSlack) * 3600 / s.SpacingArcSeconds
	return header + int64(min(16*side*side, 1<<50))
}

// inspect opens a tile as elevation data, reads every post of it and compares
// it with its name and source. Without Options.Open it does nothing.
func (g *getter) inspect(ctx context.Context, t Tile, path string) error {
	if g.opts.Open == nil {
		return nil
	}
	named, done, err := underOwnName(t, path)
	if err != nil {
		return err
	}
	defer done()
	raster, err := g.opts.Open(ctx, named)
	if err != nil {
		return notATile(ctx, err)
	}
	defer raster.Close()
	if err := g.source.fits(t, raster.Layout(), raster.Info()); err != nil {
		return err
	}
	err = dem.Rows(ctx, raster, raster.Layout().Whole(), func([]float32) error { return nil })
	if err != nil {
		return notATile(ctx, err)
	}
	return nil
}

func notATile(ctx context.Context, err error) error {
	if ctx.Err() != nil {
		return ctx.Err()
	}
	return fmt.Errorf("it is no whole elevation tile (%w)", err)
}

// underOwnName gives a path that ends in the tile's name, which tells some
// formats, and has no side files beside it. done takes it away again.
func underOwnName(t Tile, path string) (named string, done func(), err error) {
	whole, err := filepath.Abs(path)
	if err != nil {
		return "", nil, diskError(path, err)
	}
	folder, err := os.MkdirTemp("", "crowline-*")
	if err != nil {
		return "", nil, diskError(os.TempDir(), err)
	}
	named = filepath.Join(folder, t.Name)
	if err := os.Symlink(whole, named); err != nil {
		named = path // a system without links: read under the name it has
	}
	return named, func() { os.RemoveAll(folder) }, nil
}

// fits compares a raster with the square of its tile and with the source.
func (s Source) fits(t Tile, f *dem.Frame, info dem.Info) error {
	switch {
	case f.CRS == nil || !f.CRS.Geographic:
		return errors.New("it is not in degrees, as a tile of whole degrees is")
	case info.DataType == "Byte":
		return errors.New("it holds bytes, as a picture or a shaded map does, not heights")
	}
	if want := s.SpacingArcSeconds; want > 0 {
		if got := math.Abs(f.DY) * 3600; !(math.Abs(got-want) <= spacingSlack*want) {
			return fmt.Errorf("it has posts %.4g arc-seconds apart, and %s has them every %.4g", got, s.Name, want)
		}
	}
	side := float64(max(s.Degrees, 1))
	south, north := f.Y0, f.Y0+float64(f.Rows-1)*f.DY
	if south > north {
		south, north = north, south
	}
	west, east := f.X0, f.X0+float64(f.Columns-1)*f.DX
	if west > east {
		west, east = east, west
	}
	// The square ends between posts or on one; west may be told a turn apart.
	halfX, halfY := math.Abs(f.DX)/2, math.Abs(f.DY)/2
	turn := 360 * math.Round((west-float64(t.West))/360)
	off := max(math.Abs(south-halfY-float64(t.South)), math.Abs(north+halfY-float64(t.South)-side),
		math.Abs(west-halfX-turn-float64(t.West)), math.Abs(east+halfX-turn-float64(t.West)-side))
	if !(off <= edgeSlack*side) {
		return fmt.Errorf("it covers %.4g to %.4g N, %.4g to %.4g E, and the tile asked for %d to %g N, %d to %g E",
			south-halfY, north+halfY, west-halfX, east+halfX, t.South, float64(t.South)+side, t.West, float64(t.West)+side)
	}
	return nil
}
