package gdalio

import (
	"context"
	"errors"
	"fmt"

	"github.com/lukeroth/gdal"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/outfile"
)

// Band is one layer of values to write, row by row, as many as the frame has
// posts. Exactly one of Float32 and Bytes is set.
type Band struct {
	// Name is the band's description, as GDAL's programs show it.
	Name string
	// Description says what the values mean, with their unit.
	Description string
	Float32     []float32
	Bytes       []uint8
	// NoData is the value that stands for "unknown", nil for none. A GeoTIFF
	// has one for all its bands.
	NoData *float64
}

// VerdictBand names a band of a viewshed's verdicts, so that a file of them
// is never taken for ground.
const VerdictBand = "verdict"

// writeRows is how many rows go to GDAL at once: one row of tiles.
const writeRows = 256

// WriteGeoTIFF writes bands over a frame's posts as a tiled GeoTIFF that GDAL
// reads back in place, cells centred on the posts. A GeoTIFF's bands share
// one type: when any is Float32 all are stored so, unpacked; bytes are packed.
// The file is made beside path and moved there when it is whole;
// on any error nothing is left. ctx is looked at every 256 rows.
func WriteGeoTIFF(ctx context.Context, path string, f *dem.Frame, bands []Band) error {
	if err := checkBands(f, bands); err != nil {
		return outfile.Error(path, err)
	}
	return writeBeside(path, func(temporary string) error {
		return fenced(func() error { return writeGeoTIFF(ctx, temporary, f, bands) })
	})
}

func checkBands(f *dem.Frame, bands []Band) error {
	if len(bands) == 0 || f.Columns <= 0 || f.Rows <= 0 {
		return errors.New("there is nothing to write")
	}
	posts := f.Columns * f.Rows
	for _, b := range bands {
		if (b.Float32 == nil) == (b.Bytes == nil) || len(b.Float32)+len(b.Bytes) != posts {
			return fmt.Errorf("band %q does not hold one value for each of %d x %d posts", b.Name, f.Columns, f.Rows)
		}
		if first := bands[0].NoData; (b.NoData == nil) != (first == nil) ||
			(first != nil && *b.NoData != *first && (*b.NoData == *b.NoData || *first == *first)) {
			return errors.New("its bands have different void values, and a GeoTIFF has one for all")
		}
	}
	return nil
}

func writeGeoTIFF(ctx context.Context, path string, f *dem.Frame, bands []Band) (err error) {
	// Codes in a byte come in long runs, which PackBits (TIFF 6.0, section 9)
	// packs nearly as small as DEFLATE in a tenth of the time. Heights hardly
	// pack at all: DEFLATE takes four times as long as writing them as they
	// are, to make them a quarter.
	dataType, compression := gdal.Byte, "COMPRESS=PACKBITS"
	for _, b := range bands {
		if b.Float32 != nil {
			dataType, compression = gdal.Float32, "COMPRESS=NONE"
		}
	}
	driver, err := gdal.GetDriverByName("GTiff")
	if err != nil {
		return err
	}
	// Compression uses every core; the bytes do not depend on how many there
	// are.
	dataset := driver.Create(path, f.Columns, f.Rows, len(bands), dataType, []string{
		compression, "TILED=YES", "INTERLEAVE=BAND", "BIGTIFF=IF_SAFER", "NUM_THREADS=ALL_CPUS",
	})
	if dataset == (gdal.Dataset{}) {
		return errors.New("it could not be made")
	}
	defer dataset.Close() // its write errors reach the fence
	// The frame counts from the centre of the first cell, the file from its corner.
	if err := dataset.SetGeoTransform([6]float64{f.X0 - f.DX/2, f.DX, 0, f.Y0 - f.DY/2, 0, f.DY}); err != nil {
		return err
	}
	wkt, err := wktOf(f.CRS)
	if err != nil {
		return err
	}
	if err := dataset.SetProjection(wkt); err != nil {
		return err
	}
	for i, b := range bands {
		band := dataset.RasterBand(i + 1)
		if b.Name != "" {
			describeBand(&band, b.Name)
		}
		if b.Description != "" {
			if err := band.SetMetadataItem("DESCRIPTION", b.Description, ""); err != nil {
				return err
			}
		}
		if b.NoData != nil {
			if err := band.SetNoDataValue(*b.NoData); err != nil {
				return err
			}
		}
	}
	for i, b := range bands {
		band := dataset.RasterBand(i + 1)
		for row := 0; row < f.Rows; row += writeRows {
			if err := ctx.Err(); err != nil {
				return err
			}
			rows := min(writeRows, f.Rows-row)
			from, to := row*f.Columns, (row+rows)*f.Columns
			var values any // GDAL stores bytes as the file's type
			if b.Float32 != nil {
				values = b.Float32[from:to]
			} else {
				values = b.Bytes[from:to]
			}
			if err := band.IO(gdal.Write, 0, row, f.Columns, rows, values, f.Columns, rows, 0, 0); err != nil {
				return err
			}
		}
	}
	dataset.FlushCache()
	return nil
}

// spatialReference is a CRS for GDAL, x first. Destroy it.
func spatialReference(c *geodesy.CRS) (gdal.SpatialReference, error) {
	sr := gdal.CreateSpatialReference("")
	definition := c.Definition()
	if c.Code != "" {
		definition = c.Code
	}
	if err := sr.SetFromUserInput(definition); err != nil {
		sr.Destroy()
		return gdal.SpatialReference{}, fmt.Errorf("GDAL does not know the coordinate reference system %s", c.Name)
	}
	sr.SetAxisMappingStrategy(gdal.OAMS_TraditionalGisOrder)
	return sr, nil
}

func wktOf(c *geodesy.CRS) (string, error) {
	sr, err := spatialReference(c)
	if err != nil {
		return "", err
	}
	defer sr.Destroy()
	return sr.ToWKT()
}
