package gdalio

import (
	"context"
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// TestHeightsEqualGDALs: at 300 posts and the corners, the stored value by
// GDAL's own program, turned into metres by hand.
func TestHeightsEqualGDALs(t *testing.T) {
	t.Parallel()
	cases := []struct {
		name          string
		path          func(t *testing.T) string
		opts          Options
		scale, offset float64 // stored value to metres
		dataType      string
	}{
		{"olinda", func(t *testing.T) string { return olinda }, Options{}, 1, 0, "Float32"},
		{"with a border", func(t *testing.T) string { return province(t) }, Options{}, 1, 0, "Int16"},
		{"cumberland", func(t *testing.T) string { return cumberland }, Options{}, 1, 0, "Int16"},
		{"UInt16", func(t *testing.T) string { return translate(t, cumberland, "-ot", "UInt16", "-a_nodata", "none") }, Options{}, 1, 0, "UInt16"},
		{"Int32", func(t *testing.T) string { return translate(t, cumberland, "-ot", "Int32") }, Options{}, 1, 0, "Int32"},
		{"Float64", func(t *testing.T) string { return translate(t, cumberland, "-ot", "Float64") }, Options{}, 1, 0, "Float64"},
		{"UInt8", func(t *testing.T) string {
			return translate(t, cumberland, "-ot", "Byte", "-scale", "200", "1100", "0", "254", "-a_nodata", "255")
		}, Options{}, 1, 0, "Byte"},
		{"scale and offset", func(t *testing.T) string {
			return translate(t, cumberland, "-a_scale", "0.1", "-a_offset", "50")
		}, Options{}, 0.1, 50, "Int16"},
		{"feet asked for", func(t *testing.T) string { return cumberland }, Options{HeightUnit: "ft"}, 0.3048, 0, "Int16"},
		{"survey feet asked for", func(t *testing.T) string { return cumberland }, Options{HeightUnit: "ftUS"}, 1200.0 / 3937, 0, "Int16"},
		{"tiled", func(t *testing.T) string {
			return translate(t, cumberland, "-co", "TILED=YES", "-co", "BLOCKXSIZE=64", "-co", "BLOCKYSIZE=32")
		}, Options{}, 1, 0, "Int16"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			path := c.path(t)
			r, g := openAll(t, path, c.opts)
			assert.Equal(t, c.dataType, r.Info().DataType)
			random := rand.New(rand.NewPCG(1, 1))
			columns, rows := []int{0, g.Columns - 1, 0, g.Columns - 1}, []int{0, 0, g.Rows - 1, g.Rows - 1}
			for range 300 {
				columns, rows = append(columns, random.IntN(g.Columns)), append(rows, random.IntN(g.Rows))
			}
			stored := locationInfo(t, path, columns, rows)
			for i, v := range stored {
				got := g.Elevation(columns[i], rows[i])
				if r.Info().NoData != nil && v == *r.Info().NoData {
					assert.True(t, math.IsNaN(got))
					continue
				}
				const tolerance = 5e-4 // m, float32 below 16 km
				assert.InDelta(t, v*c.scale+c.offset, got, tolerance, "column %d row %d", columns[i], rows[i])
			}
		})
	}
}

// TestWindowsEqualTheWhole: any window is that part of the whole, whatever
// pieces it was read in.
func TestWindowsEqualTheWhole(t *testing.T) {
	t.Parallel()
	r, g := openAll(t, cumberland, Options{})
	random := rand.New(rand.NewPCG(2, 2))
	for range 60 {
		c, rr := random.IntN(g.Columns), random.IntN(g.Rows)
		w := dem.Window{Column: c, Row: rr, Columns: 1 + random.IntN(g.Columns-c), Rows: 1 + random.IntN(g.Rows-rr)}
		got, err := r.Read(t.Context(), w)
		require.NoError(t, err)
		assert.Equal(t, w, got.Window)
		assert.Equal(t, g.Sub(w), got.Frame)
		for row := range w.Rows {
			at := (w.Row+row)*g.Columns + w.Column
			assert.Equal(t, g.Elevations[at:at+w.Columns], got.Elevations[row*w.Columns:(row+1)*w.Columns])
		}
	}
}

// TestPiecesCoverEachPostOnce for block shapes of all kinds.
func TestPiecesCoverEachPostOnce(t *testing.T) {
	t.Parallel()
	for _, h := range []header{
		{blockColumns: 256, blockRows: 256}, {blockColumns: 40000, blockRows: 1}, {blockColumns: 403, blockRows: 20},
		{blockColumns: 40000, blockRows: 40000}, {blockColumns: 1, blockRows: 1}, {blockColumns: 3000000, blockRows: 1},
		{blockColumns: 16, blockRows: 60000},
	} {
		r := &Raster{header: h}
		for _, w := range []dem.Window{{Columns: 40000, Rows: 40000}, {Columns: 1, Rows: 1}, {Columns: 700, Rows: 600}, {Columns: 3000000, Rows: 4}} {
			columns, rows := r.pieceSize(w)
			require.Positive(t, columns)
			require.Positive(t, rows)
			assert.LessOrEqual(t, min(columns, w.Columns)*rows, chunkPosts, "%+v %+v", h, w)
		}
	}
}

// TestFrameEqualsGDALInfo: the corners of the outer cells, from the frame.
func TestFrameEqualsGDALInfo(t *testing.T) {
	t.Parallel()
	for _, path := range []string{olinda, province(t), cumberland} {
		var said struct {
			Size              [2]int
			GeoTransform      [6]float64
			CornerCoordinates map[string][2]float64
			Wgs84Extent       struct{ Coordinates [][][2]float64 }
		}
		require.NoError(t, json.Unmarshal([]byte(tool(t, "", "gdalinfo", "-json", path)), &said))
		r, err := Open(path, Options{})
		require.NoError(t, err)
		f := r.Layout()
		assert.Equal(t, said.Size, [2]int{f.Columns, f.Rows})
		assert.InDelta(t, said.CornerCoordinates["upperLeft"][0], f.X0-f.DX/2, 1e-3*math.Abs(f.DX))
		assert.InDelta(t, said.CornerCoordinates["lowerRight"][1], f.Y0+(float64(f.Rows)-0.5)*f.DY, 1e-3*math.Abs(f.DY))
		const tolerance = 1e-6 // degrees; gdalinfo prints seven places
		corner, err := f.Place(-0.5, -0.5)
		require.NoError(t, err)
		assert.InDelta(t, said.Wgs84Extent.Coordinates[0][0][0], float64(corner.Lon), tolerance, path)
		assert.InDelta(t, said.Wgs84Extent.Coordinates[0][0][1], float64(corner.Lat), tolerance, path)
		require.NoError(t, r.Close())
	}
}

// TestSameGroundInStatePlaneFeet: the Cumberland ground warped to Tennessee's
// state plane, in US survey feet both ways across and up, gives the same
// heights at the same places.
func TestSameGroundInStatePlaneFeet(t *testing.T) {
	t.Parallel()
	warped := filepath.Join(t.TempDir(), "feet.tif")
	tool(t, "", "gdalwarp", "-q", "-t_srs", "EPSG:2274", "-r", "bilinear", "-tr", "100", "100", "-ot", "Float32", "-dstnodata", "-32768", cumberland, warped)
	_, metres := openAll(t, cumberland, Options{})
	r, feet := openAll(t, warped, Options{HeightUnit: "m"}) // warping keeps metres
	assert.InDelta(t, 1200.0/3937, r.Layout().CRS.MetresPerUnit, 1e-12)
	random := rand.New(rand.NewPCG(3, 3))
	var worst, sum float64
	const n = 400
	for range n {
		p, err := metres.Place(20+random.Float64()*360, 20+random.Float64()*300)
		require.NoError(t, err)
		a, err := dem.ElevationAt(metres, p)
		require.NoError(t, err)
		b, err := dem.ElevationAt(feet, p)
		require.NoError(t, err)
		worst, sum = max(worst, math.Abs(a-b)), sum+math.Abs(a-b)
	}
	// Bilinear of bilinear, 30 m posts from 75 m ones: within the bend of
	// the ground inside a cell, metres.
	assert.Less(t, worst, 8.0)
	assert.Less(t, sum/n, 0.8)
}

func TestHeightUnits(t *testing.T) {
	t.Parallel()
	band := func(unit string) rawRaster {
		return rawRaster{columns: 2, rows: 1, dataType: "Int16", bytes: int16s(1000, 2000), geotransform: smallGeotransform,
			crs: smallCRS, bandExtra: "<UnitType>" + unit + "</UnitType>"}
	}
	vertical := func(crs string) rawRaster {
		return rawRaster{columns: 2, rows: 1, dataType: "Int16", bytes: int16s(1000, 2000), geotransform: smallGeotransform, crs: crs}
	}
	cases := []struct {
		name    string
		raster  rawRaster
		opts    Options
		want    float64 // metres for 1000 stored
		unit    string
		stated  bool
		warning string
	}{
		{"metre", band("metre"), Options{}, 1000, "metre", true, ""},
		{"m", band("m"), Options{}, 1000, "metre", true, ""},
		{"ft", band("ft"), Options{}, 304.8, "foot", true, ""},
		{"US survey foot", band("US survey foot"), Options{}, 1000 * 1200.0 / 3937, "US survey foot", true, ""},
		{"unknown unit", band("furlong"), Options{}, 1000, "metre", false, `"furlong"`},
		{"none", band(""), Options{}, 1000, "metre", false, "metres assumed"},
		{"asked over said", band("metre"), Options{HeightUnit: "ft"}, 304.8, "foot", true, "as asked"},
		// EPSG:6360 is NAVD88 height (ftUS), EPSG:5773 EGM96 height (m).
		{"vertical CRS in feet", vertical("EPSG:4326+6360"), Options{}, 1000 * 1200.0 / 3937, "US survey foot", true, ""},
		{"vertical CRS in metres", vertical("EPSG:4326+5773"), Options{}, 1000, "metre", true, ""},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			r, g := openAll(t, c.raster.write(t), c.opts)
			assert.InDelta(t, c.want, g.Elevation(0, 0), 1e-4) // m, float32
			info := r.Info()
			assert.Equal(t, c.unit, info.VerticalUnit)
			assert.Equal(t, c.stated, info.VerticalUnitStated)
			if c.warning == "" {
				assert.Empty(t, info.Warnings)
			} else {
				require.NotEmpty(t, info.Warnings)
				assert.Contains(t, info.Warnings[0], c.warning)
			}
		})
	}
	_, err := Open(band("m").write(t), Options{HeightUnit: "yard"})
	require.ErrorContains(t, err, `"yard"`)
}

func TestVoids(t *testing.T) {
	t.Parallel()
	nan := float32(math.NaN())
	cases := []struct {
		name    string
		raster  rawRaster
		voids   []bool
		warning string
	}{
		{"declared", rawRaster{dataType: "Int16", bytes: int16s(5, -32768, 7), bandExtra: "<NoDataValue>-32768</NoDataValue>"}, []bool{false, true, false}, ""},
		{"declared zero", rawRaster{dataType: "Int16", bytes: int16s(0, 1, 0), bandExtra: "<NoDataValue>0</NoDataValue>"}, []bool{true, false, true}, ""},
		{"declared float32", rawRaster{dataType: "Float32", bytes: float32s(1, -3.4028235e38, 3), bandExtra: "<NoDataValue>-3.4028234663852886e+38</NoDataValue>"}, []bool{false, true, false}, ""},
		{"not a number", rawRaster{dataType: "Float32", bytes: float32s(1, nan, 3)}, []bool{false, true, false}, ""},
		{"undeclared -9999", rawRaster{dataType: "Int16", bytes: int16s(5, -9999, 7)}, []bool{false, true, false}, "-9999"},
		{"undeclared -32768", rawRaster{dataType: "Int16", bytes: int16s(5, -32768, 7)}, []bool{false, true, false}, "-32768"},
		{"undeclared 32767", rawRaster{dataType: "Int16", bytes: int16s(5, 32767, 7)}, []bool{false, true, false}, "32767"},
		{"another beside the declared", rawRaster{dataType: "Int16", bytes: int16s(-9999, -32768, 7), bandExtra: "<NoDataValue>-32768</NoDataValue>"}, []bool{true, true, false}, "-9999"},
		{"undeclared float", rawRaster{dataType: "Float32", bytes: float32s(1, -9999, 1e20)}, []bool{false, true, true}, "-9999"},
		{"infinite", rawRaster{dataType: "Float32", bytes: float32s(1, float32(math.Inf(1)), 2)}, []bool{false, true, false}, "beyond the Earth's"},
		{"the Dead Sea and Everest stand", rawRaster{dataType: "Int16", bytes: int16s(-430, 8849, -10935)}, []bool{false, false, false}, ""},
		{"type's limit under a scale", rawRaster{dataType: "Int16", bytes: int16s(5, 32767, 7), bandExtra: "<Scale>0.1</Scale>"}, []bool{false, true, false}, "32767"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			raster := c.raster
			raster.columns, raster.rows, raster.geotransform, raster.crs = 3, 1, smallGeotransform, smallCRS
			raster.bandExtra += "<UnitType>m</UnitType>"
			r, g := openAll(t, raster.write(t), Options{})
			voids := int64(0)
			for i, want := range c.voids {
				assert.Equal(t, want, math.IsNaN(g.Elevation(i, 0)), "post %d", i)
				if want {
					voids++
				}
			}
			if c.warning == "" {
				assert.Empty(t, g.Source.Warnings)
			} else {
				require.NotEmpty(t, g.Source.Warnings)
				assert.Contains(t, g.Source.Warnings[0], c.warning)
			}
			s, err := dem.Count(t.Context(), r, dem.CensusOptions{})
			require.NoError(t, err)
			assert.Equal(t, voids, s.Voids)
		})
	}
}

// TestSouthUpEqualsNorthUp: the same ground with its rows turned round.
func TestSouthUpEqualsNorthUp(t *testing.T) {
	t.Parallel()
	north := rawRaster{columns: 2, rows: 3, dataType: "Int16", bytes: int16s(1, 2, 3, 4, 5, 6), geotransform: "10,0.5,0,46,0,-0.5", crs: smallCRS}
	south := rawRaster{columns: 2, rows: 3, dataType: "Int16", bytes: int16s(5, 6, 3, 4, 1, 2), geotransform: "10,0.5,0,44.5,0,0.5", crs: smallCRS}
	_, a := openAll(t, north.write(t), Options{})
	_, b := openAll(t, south.write(t), Options{})
	assert.Positive(t, b.DY)
	for _, p := range []geodesy.LatLon{{Lat: 45.75, Lon: 10.25}, {Lat: 45.1, Lon: 10.6}, {Lat: 44.75, Lon: 10.75}} {
		x, err := dem.ElevationAt(a, p)
		require.NoError(t, err)
		y, err := dem.ElevationAt(b, p)
		require.NoError(t, err)
		assert.InDelta(t, x, y, 1e-9)
	}
}

// TestPixelIsPointIsShiftedOnce: two files of the same posts, one that
// counts cells and one that counts points.
func TestPixelIsPointIsShiftedOnce(t *testing.T) {
	t.Parallel()
	point := translate(t, cumberland, "-mo", "AREA_OR_POINT=Point")
	r, err := Open(point, Options{})
	require.NoError(t, err)
	defer r.Close()
	a, err := Open(cumberland, Options{})
	require.NoError(t, err)
	defer a.Close()
	assert.True(t, r.Info().PixelIsPoint)
	assert.False(t, a.Info().PixelIsPoint)
	assert.InDelta(t, a.Layout().X0, r.Layout().X0, 1e-10) // degrees
	assert.InDelta(t, a.Layout().Y0, r.Layout().Y0, 1e-10)
}

func TestOldDatumAndCRSOverride(t *testing.T) {
	t.Parallel()
	r, err := Open(olinda, Options{})
	require.NoError(t, err)
	defer r.Close()
	assert.False(t, r.Layout().CRS.Geographic)
	// gdalinfo: Upper Left 34d54'58.20"W, 7d56'59.36"S
	p, err := r.Layout().Place(-0.5, -0.5)
	require.NoError(t, err)
	const tolerance = 0.01 / 3600 // gdalinfo's last place, degrees
	assert.InDelta(t, -(34 + 54/60.0 + 58.20/3600), float64(p.Lon), tolerance)
	assert.InDelta(t, -(7 + 56/60.0 + 59.36/3600), float64(p.Lat), tolerance)

	// 2026-11-28: the option moved files that name their own, without a word.
	o, err := Open(olinda, Options{CRS: "EPSG:32725"})
	require.NoError(t, err)
	defer o.Close()
	same, err := o.Layout().Place(-0.5, -0.5)
	require.NoError(t, err)
	assert.Equal(t, p, same)
	require.Len(t, o.Info().Warnings, len(r.Info().Warnings)+1)
	assert.Contains(t, o.Info().Warnings[0], "--crs EPSG:32725 is for files that name none")
	named, err := Open(olinda, Options{CRS: r.Layout().CRS.Code})
	require.NoError(t, err)
	defer named.Close()
	assert.Equal(t, r.Info().Warnings, named.Info().Warnings)
	_, err = Open(olinda, Options{CRS: "EPSG:1"})
	require.ErrorContains(t, err, "EPSG:1")

	d, err := Open(cumberland, Options{})
	require.NoError(t, err)
	defer d.Close()
	assert.Same(t, geodesy.WGS84, d.Layout().CRS)
}

func TestOverviewsAreListed(t *testing.T) {
	t.Parallel()
	path := translate(t, cumberland)
	tool(t, "", "gdaladdo", "-q", path, "2", "4")
	r, err := Open(path, Options{})
	require.NoError(t, err)
	defer r.Close()
	assert.Equal(t, []int{202, 101}, r.Info().Overviews)
}

func TestMaskBandIsVoid(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "alpha.tif")
	tool(t, "", "gdalwarp", "-q", "-dstalpha", "-t_srs", "EPSG:32616", cumberland, path)
	r, g := openAll(t, path, Options{})
	assert.True(t, math.IsNaN(g.Elevation(0, 0)) || math.IsNaN(g.Elevation(g.Columns-1, 0)), "corners a warp leaves empty")
	s, err := dem.Count(t.Context(), r, dem.CensusOptions{})
	require.NoError(t, err)
	assert.Positive(t, s.Voids)
	assert.GreaterOrEqual(t, s.Lowest.Elevation, 236.0, "no zero from outside the ground")
}

// TestGroundNoSourceReachesIsVoid: a virtual raster wider than its source,
// no void declared.
func TestGroundNoSourceReachesIsVoid(t *testing.T) {
	t.Parallel()
	source := province(t)
	path := filepath.Join(filepath.Dir(source), "wide.vrt")
	require.NoError(t, os.WriteFile(path, []byte(`<VRTDataset rasterXSize="300" rasterYSize="90"><SRS>EPSG:4326</SRS>
<GeoTransform>5.741666666666666,0.008333333333333,0,50.191666666666663,0,-0.008333333333333</GeoTransform>
<VRTRasterBand dataType="Int16" band="1"><SimpleSource><SourceFilename relativeToVRT="0">`+source+`</SourceFilename>
<SourceBand>1</SourceBand><SrcRect xOff="30" yOff="30" xSize="20" ySize="20"/><DstRect xOff="30" yOff="30" xSize="20" ySize="20"/></SimpleSource></VRTRasterBand></VRTDataset>`), 0o600))
	_, g := openAll(t, path, Options{})
	_, whole := openAll(t, source, Options{})
	for row := range g.Rows {
		for column := range g.Columns {
			inside := column >= 30 && column < 50 && row >= 30 && row < 50
			if !inside {
				require.True(t, math.IsNaN(g.Elevation(column, row)), "column %d row %d", column, row)
				continue
			}
			want := whole.Elevation(column, row)
			require.True(t, want == g.Elevation(column, row) || math.IsNaN(want))
		}
	}
	assert.Contains(t, g.Source.Warnings[len(g.Source.Warnings)-1], "never filled")
}

func TestCensusOfAFileEqualsTheGrid(t *testing.T) {
	t.Parallel()
	for _, path := range []string{olinda, province(t), cumberland} {
		r, g := openAll(t, path, Options{})
		var calls, last, total int64
		s, err := dem.Count(t.Context(), r, dem.CensusOptions{Progress: func(d, n int64) {
			assert.GreaterOrEqual(t, d, last)
			calls, last, total = calls+1, d, n
		}})
		require.NoError(t, err)
		assert.Equal(t, total, last)
		assert.Equal(t, int64(g.Columns*g.Rows), total)
		assert.LessOrEqual(t, calls, int64(101))
		var voids int64
		lowest, highest := math.Inf(1), math.Inf(-1)
		for _, v := range g.Elevations {
			if v != v {
				voids++
				continue
			}
			lowest, highest = min(lowest, float64(v)), max(highest, float64(v))
		}
		assert.Equal(t, voids, s.Voids, path)
		assert.Equal(t, lowest, s.Lowest.Elevation, path)
		assert.Equal(t, highest, s.Highest.Elevation, path)
		assert.Equal(t, lowest, g.Elevation(s.Lowest.Column, s.Lowest.Row), path)
		assert.Equal(t, highest, g.Elevation(s.Highest.Column, s.Highest.Row), path)
		assert.Less(t, s.Voids, s.Posts)
	}
}

// TestBlocksOverAFile reads the same posts as the whole.
func TestBlocksOverAFile(t *testing.T) {
	t.Parallel()
	r, g := openAll(t, cumberland, Options{})
	b := dem.NewBlocks(t.Context(), r, 1)
	for row := 0; row < g.Rows; row += 3 {
		for column := range g.Columns {
			require.Equal(t, g.Elevation(column, row), b.Elevation(column, row))
		}
	}
	require.NoError(t, b.Err())
}

// TestOneRasterFromManyGoroutines: reads take turns.
func TestOneRasterFromManyGoroutines(t *testing.T) {
	t.Parallel()
	r, g := openAll(t, cumberland, Options{})
	var wait sync.WaitGroup
	for i := range 8 {
		wait.Add(1)
		go func() {
			defer wait.Done()
			for j := range 20 {
				w := dem.Window{Column: 10 * i, Row: 7 * j, Columns: 200, Rows: 100}
				got, err := r.Read(context.Background(), w)
				if assert.NoError(t, err) {
					assert.Equal(t, g.Elevation(w.Column+5, w.Row+6), got.Elevation(5, 6))
				}
				r.Info()
			}
		}()
	}
	wait.Wait()
}

func TestOpenBytesEqualsOpen(t *testing.T) {
	t.Parallel()
	data, err := os.ReadFile(cumberland)
	require.NoError(t, err)
	r, err := OpenBytes("demo ground", data, Options{})
	require.NoError(t, err)
	clear(data) // it was copied
	_, want := openAll(t, cumberland, Options{})
	g, err := r.Read(t.Context(), r.Layout().Whole())
	require.NoError(t, err)
	assert.Equal(t, want.Elevations, g.Elevations)
	assert.Equal(t, "demo ground", r.Info().Path)
	require.NoError(t, r.Close())
	require.NoError(t, r.Close(), "closing again does nothing")
	_, err = r.Read(t.Context(), r.Layout().Whole())
	require.ErrorContains(t, err, "already closed")
}

func TestProductsAreToldOnlyForCertain(t *testing.T) {
	t.Parallel()
	cases := []struct {
		name    string
		seconds float64
		want    float64 // VerticalError, metres: check values from the publishers
	}{
		{"Copernicus_DSM_COG_10_N36_00_W085_00_DEM.tif", 1, 2.43},
		{"Copernicus_DSM_COG_10_N36_00_W085_00_DEM.tif", 30, 0},
		{"my_Copernicus_DSM_copy.tif", 1, 0},
		{"USGS_13_n37w085_20220725.tif", 1.0 / 3, 0.82},
		{"USGS_1_n37w085.tif", 1, 0},
		{"n36_w085_1arc_v3.tif", 1, 9.73},
		{"N36W085.SRTMGL1.hgt", 1, 9.73},
		{"N36W085.hgt", 1, 0},
		{"hills.tif", 1, 0},
	}
	for _, c := range cases {
		info := dem.Info{Name: c.name, VerticalUnit: "metre"}
		step := c.seconds / 3600
		recognise(&info, header{geotransform: [6]float64{0, step, 0, 0, 0, -step}}, &dem.Frame{CRS: geodesy.WGS84})
		assert.Equal(t, c.want, info.VerticalError, c.name)
		assert.Equal(t, c.want != 0, info.VerticalErrorSource != "", c.name)
	}
}
