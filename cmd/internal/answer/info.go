package answer

import (
	"context"
	"slices"

	"crowline/dem"
	"crowline/dem/demo"
	"crowline/dem/gdalio"
	"crowline/dem/web"
)

// InfoRequest asks what elevation data is.
type InfoRequest struct {
	// Paths are files, folders, patterns or addresses; none is the demo data.
	Paths []string
	// File holds for every file, Remote for files at an address.
	File   gdalio.Options
	Remote gdalio.RemoteOptions
	// Quick leaves the heights unread.
	Quick bool
}

// Check has nothing to refuse.
func (InfoRequest) Check() error { return nil }

// Many reports whether the request is of several files, which InfoOfMany sums
// up; Info is of one.
func (r InfoRequest) Many() bool {
	return len(r.Paths) > 1 || len(r.Paths) == 1 && gdalio.HoldsMany(r.Paths[0])
}

// InfoAnswer is what a file of elevation data is.
type InfoAnswer struct {
	// The file's or the product's name.
	Name string `json:"name"`
	// Its format, as GDAL names it.
	Driver string `json:"driver"`
	// The type heights are stored in.
	DataType string `json:"data_type"`
	// How many posts a row has.
	Columns int `json:"columns"`
	// How many rows there are.
	Rows int `json:"rows"`
	// How far apart posts stand along a row, at its middle.
	SpacingEastM float64 `json:"spacing_along_row_m" round:"2"`
	// How far apart posts stand along a column, at its middle.
	SpacingNorthM float64 `json:"spacing_along_column_m" round:"2"`
	// The spacing along a row of data in degrees; left out of other data.
	SpacingXDeg float64 `json:"spacing_along_row_deg,omitempty" round:"9"`
	// The spacing along a column of data in degrees; left out of other data.
	SpacingYDeg float64 `json:"spacing_along_column_deg,omitempty" round:"9"`
	// The latitude that no post lies south of.
	South float64 `json:"south_lat" round:"7"`
	// The longitude of its western edge.
	West float64 `json:"west_lon" round:"7"`
	// The latitude that no post lies north of.
	North float64 `json:"north_lat" round:"7"`
	// The longitude of its eastern edge.
	East float64 `json:"east_lon" round:"7"`
	// Its coordinate reference system.
	CRS string `json:"crs"`
	// The system's code, as "EPSG:4326".
	CRSCode string `json:"crs_code,omitempty"`
	// The datum of its places.
	Datum string `json:"datum"`
	// How well its places are brought to WGS 84, as PROJ states it; null where it
	// states nothing.
	PlaceAccuracyM float64 `json:"place_accuracy_m" round:"1"`
	// By which of PROJ's operations.
	PlaceOperation string `json:"place_operation"`
	// The unit heights are stored in.
	VerticalUnit string `json:"vertical_unit"`
	// Whether the file, or the user, says so; else metres were assumed.
	VerticalUnitStated bool `json:"vertical_unit_stated"`
	// What heights stand on, where that is stated.
	VerticalDatum string `json:"vertical_datum,omitempty"`
	// Posts are points; else they are the middles of cells.
	PixelIsPoint bool `json:"pixel_is_point"`
	// The value that stands for no height; null where none is declared.
	NoData *float64 `json:"nodata" round:"9"`
	// How many posts wide the coarser copies in the file are.
	Overviews []int `json:"overview_widths"`
	// "surface" (treetops and roofs where there are any) or "bare earth"; left
	// out where it is not known.
	Surface dem.Surface `json:"surface,omitempty"`
	// One standard deviation of a height; null where it is not known.
	VerticalErrorM float64 `json:"vertical_error_m" round:"2"`
	// Where that figure comes from.
	VerticalErrorFrom string `json:"vertical_error_source,omitempty"`
	// The share of posts without a height; left out where heights were not read.
	VoidShare *float64 `json:"void_share,omitempty" round:"6"`
	// How many posts stand out as no ground does; left out likewise.
	SuspectPosts *int64 `json:"suspect_posts,omitempty"`
	// The lowest post; left out likewise.
	Lowest *Spot `json:"lowest,omitempty"`
	// The highest post; left out likewise.
	Highest *Spot `json:"highest,omitempty"`
	// The licence or credit line that goes with the data.
	Attribution string `json:"attribution,omitempty"`
	// What a reader must know about the data.
	Warnings []string `json:"warnings"`
}

var _ = register[InfoAnswer]("dem info")

// Info answers an InfoRequest of one file. Of an address only the header is
// read.
func Info(ctx context.Context, r InfoRequest) (*InfoAnswer, error) {
	var source dem.Source
	var err error
	headerOnly := r.Quick
	switch {
	case len(r.Paths) == 0:
		source, err = asSource(gdalio.OpenBytes(demo.Name, demo.Bytes(), r.File))
	case gdalio.IsAddress(r.Paths[0]):
		headerOnly = true
		source, err = asSource(gdalio.OpenURL(ctx, r.Paths[0], r.File, gdalio.RemoteOptions{}))
	default:
		source, err = asSource(gdalio.Open(r.Paths[0], r.File))
	}
	if err != nil {
		return nil, err
	}
	defer source.Close()
	info, f := source.Info(), source.Layout()
	a := &InfoAnswer{
		Name: info.Name, Driver: info.Driver, DataType: info.DataType, Columns: f.Columns, Rows: f.Rows,
		CRS: f.CRS.Name, CRSCode: f.CRS.Code, Datum: f.CRS.Datum, VerticalUnit: info.VerticalUnit, VerticalUnitStated: info.VerticalUnitStated,
		VerticalDatum: info.VerticalDatum, PixelIsPoint: info.PixelIsPoint, NoData: info.NoData, Overviews: info.Overviews,
		Surface: info.Surface, VerticalErrorM: nan, VerticalErrorFrom: info.VerticalErrorSource, Attribution: info.Attribution, Warnings: info.Warnings,
	}
	at := f.Operation()
	a.PlaceAccuracyM, a.PlaceOperation = at.Accuracy, at.Name
	if doubt := at.Doubt(f.CRS.Datum); doubt != "" {
		a.Warnings = append(slices.Clone(a.Warnings), doubt)
	}
	if info.VerticalError > 0 {
		a.VerticalErrorM = info.VerticalError
	}
	extent, err := f.Extent()
	if err != nil {
		return nil, err
	}
	a.South, a.West, a.North, a.East = float64(extent.South), float64(extent.West), float64(extent.North), float64(extent.East)
	if a.SpacingEastM, a.SpacingNorthM, err = f.Spacing(float64(f.Columns-1)/2, float64(f.Rows-1)/2); err != nil {
		return nil, err
	}
	if f.CRS.Geographic {
		a.SpacingXDeg, a.SpacingYDeg = max(f.DX, -f.DX), max(f.DY, -f.DY)
	}
	if headerOnly {
		return a, nil
	}
	census, err := dem.Count(ctx, source, dem.CensusOptions{Progress: progress(ctx, "reading heights")})
	if err != nil {
		return nil, err
	}
	share := census.VoidShare()
	a.VoidShare, a.SuspectPosts = &share, &census.Suspicion.Posts
	a.Warnings = slices.Clone(source.Info().Warnings) // with what reading found
	if doubt := at.Doubt(f.CRS.Datum); doubt != "" {
		a.Warnings = append(a.Warnings, doubt)
	}
	for _, suspect := range census.Suspicion.First {
		a.Warnings = append(a.Warnings, suspect.String())
	}
	if doubt := dem.RangeDoubt(info.VerticalUnit, census.Suspicion.Lowest, census.Suspicion.Highest); doubt != "" {
		a.Warnings = append(a.Warnings, doubt)
	}
	if census.Voids == census.Posts {
		return a, nil
	}
	for _, e := range []struct {
		to **Spot
		at dem.Extreme
	}{{&a.Lowest, census.Lowest}, {&a.Highest, census.Highest}} {
		at, err := f.Place(float64(e.at.Column), float64(e.at.Row))
		if err != nil {
			return nil, err
		}
		s := spot(PlaceAt(at), e.at.Elevation)
		*e.to = &s
	}
	return a, nil
}

// asSource keeps a nil of a concrete type out of the interface.
func asSource[T dem.Source](source T, err error) (dem.Source, error) {
	if err != nil {
		return nil, err
	}
	return source, nil
}

// SummaryAnswer sums several files up.
type SummaryAnswer struct {
	// What was asked about.
	Paths []string `json:"paths"`
	// How many files there are.
	Files int `json:"files"`
	// How many posts they have; those that lie over each other count each time.
	Posts int64 `json:"posts"`
	// Their spacings, most files first; so with the lists after it.
	Spacings []FileGroup `json:"spacings"`
	// Their coordinate reference systems.
	Systems []FileGroup `json:"crs"`
	// How well the places of each system's files are brought to WGS 84.
	Placed []SystemPlaces `json:"places_by_crs"`
	// The units of their heights.
	Units []FileGroup `json:"vertical_units"`
	// What their heights stand on.
	VerticalData []FileGroup `json:"vertical_datums"`
	// Whether they are surfaces or bare earth.
	Surfaces []FileGroup `json:"surfaces"`
	// The types heights are stored in.
	DataTypes []FileGroup `json:"data_types"`
	// The latitude that no post lies south of.
	South float64 `json:"south_lat" round:"7"`
	// The longitude of their western edge.
	West float64 `json:"west_lon" round:"7"`
	// The latitude that no post lies north of.
	North float64 `json:"north_lat" round:"7"`
	// The longitude of their eastern edge.
	East float64 `json:"east_lon" round:"7"`
	// Heights were read; where not, what is told of them is left out.
	HeightsRead bool `json:"heights_read"`
	// How many posts have no height.
	VoidPosts *int64 `json:"void_posts,omitempty"`
	// The share of posts without a height.
	VoidShare *float64 `json:"void_share,omitempty" round:"6"`
	// How many files hold none at all.
	VoidFiles *int `json:"files_all_void,omitempty"`
	// How many posts stand out as no ground does.
	SuspectPosts *int64 `json:"suspect_posts,omitempty"`
	// How many files these are in.
	SuspectFiles *int `json:"files_with_suspects,omitempty"`
	// The lowest post of all.
	Lowest *FilePost `json:"lowest,omitempty"`
	// The highest post of all.
	Highest *FilePost `json:"highest,omitempty"`
	// How many files are unlike nearly all others.
	OddFiles int `json:"odd_files"`
	// The first of those.
	Odd []FileNote `json:"odd"`
	// The first suspect posts.
	Suspects []FileNote `json:"suspects"`
	// How many files cannot be used.
	NotUsedFiles int `json:"not_used_files"`
	// The first of those.
	NotUsed []FileNote `json:"not_used"`
	// The credit lines, each once.
	Attributions []string `json:"attributions"`
	// What a reader must know about the data.
	Warnings []string `json:"warnings"`
}

var _ = register[SummaryAnswer]("dem info, several files")

// FileGroup is what files have in common.
type FileGroup struct {
	// What that is.
	Value string `json:"value"`
	// How many files have it.
	Files int `json:"files"`
	// The first of them.
	First []string `json:"first_files"`
}

// SystemPlaces is how the places of a system's files are brought to WGS 84.
type SystemPlaces struct {
	// The coordinate reference system.
	CRS string `json:"crs"`
	// How well, as PROJ states it; null where it states nothing.
	PlaceAccuracyM float64 `json:"place_accuracy_m" round:"1"`
	// By which of PROJ's operations.
	PlaceOperation string `json:"place_operation"`
	// How many files.
	Files int `json:"files"`
}

// FileNote is what is to be said of a file.
type FileNote struct {
	// The file.
	File string `json:"file"`
	// What is to be said.
	Text string `json:"text"`
}

// FilePost is a post of a file.
type FilePost struct {
	Spot
	// The file.
	File string `json:"file"`
}

// MostNotes is how many files of a kind are told one by one.
const MostNotes = 10

// InfoOfMany answers an InfoRequest of several files. Where an address is among
// them, only headers are read.
func InfoOfMany(ctx context.Context, r InfoRequest) (*SummaryAnswer, error) {
	tiles, passed, warnings, err := gdalio.ListMany(ctx, r.Paths, gdalio.ManyOptions{Options: r.File, Remote: r.Remote, Progress: progress(ctx, "looking at tiles")})
	if err != nil {
		return nil, err
	}
	headersOnly := r.Quick
	paths := slices.Clone(r.Paths)
	for i, path := range paths {
		if !gdalio.IsAddress(path) {
			continue
		}
		paths[i] = web.Shown(path)
		if !headersOnly {
			headersOnly = true
			warnings = append(warnings, "heights are not read where an address is among the paths")
		}
	}
	s, err := dem.Summarise(ctx, tiles, dem.SummaryOptions{HeadersOnly: headersOnly, Progress: progress(ctx, "reading heights")})
	if err != nil {
		return nil, err
	}
	a := &SummaryAnswer{
		Paths: paths, Files: s.Files, Posts: s.Posts, Spacings: groups(s.Spacings), Systems: groups(s.Systems),
		Units: groups(s.Units), VerticalData: groups(s.VerticalData), Surfaces: groups(s.Surfaces), DataTypes: groups(s.DataTypes),
		South: float64(s.Extent.South), West: float64(s.Extent.West), North: float64(s.Extent.North), East: float64(s.Extent.East),
		HeightsRead: s.Counted, OddFiles: s.OddFiles, Odd: notes(s.Odd), Suspects: notes(s.Suspects),
		NotUsedFiles: s.RefusedFiles + len(passed), NotUsed: notes(s.Refused), Attributions: s.Attributions, Warnings: warnings,
	}
	for _, p := range s.Placed {
		a.Placed = append(a.Placed, SystemPlaces{p.System, p.Operation.Accuracy, p.Operation.Name, p.Files})
		if doubt := p.Operation.Doubt(p.Datum); doubt != "" {
			a.Warnings = append(a.Warnings, p.System+": "+doubt)
		}
	}
	for _, f := range passed {
		if len(a.NotUsed) == MostNotes {
			break
		}
		a.NotUsed = append(a.NotUsed, FileNote{f.File, f.Reason})
	}
	if !s.Counted {
		return a, nil
	}
	share := float64(s.Voids) / float64(max(1, s.Posts))
	a.VoidPosts, a.VoidShare, a.VoidFiles, a.SuspectPosts, a.SuspectFiles = &s.Voids, &share, &s.VoidFiles, &s.SuspectPosts, &s.SuspectFiles
	for _, e := range []struct {
		to   **FilePost
		from *dem.FilePost
	}{{&a.Lowest, s.Lowest}, {&a.Highest, s.Highest}} {
		if e.from != nil {
			*e.to = &FilePost{spot(PlaceAt(e.from.Place), e.from.Elevation), e.from.File}
		}
	}
	if unit := tiles[0].Info.VerticalUnit; len(s.Units) == 1 {
		if doubt := dem.RangeDoubt(unit, s.LowestBeyond, s.HighestBeyond); doubt != "" {
			a.Warnings = append(a.Warnings, doubt)
		}
	}
	return a, nil
}

func groups(list []dem.Group) []FileGroup {
	var out []FileGroup
	for _, g := range list {
		out = append(out, FileGroup{g.Text, g.Files, g.First})
	}
	return out
}

func notes(list []dem.FileNote) []FileNote {
	var out []FileNote
	for _, n := range list {
		out = append(out, FileNote{n.File, n.Text})
	}
	return out
}

// IndexAnswer is what indexing tiles again came to.
type IndexAnswer struct {
	// How many tiles were indexed.
	Tiles int `json:"tiles"`
	// What a reader must know about them.
	Warnings []string `json:"warnings"`
}

var _ = register[IndexAnswer]("dem index")

// Index reads every tile of folders or patterns through, and keeps where each
// lies and its SHA-256.
func Index(ctx context.Context, paths []string, file gdalio.Options) (*IndexAnswer, error) {
	tiles, warnings, err := gdalio.IndexMany(ctx, paths, gdalio.ManyOptions{Options: file, Progress: progress(ctx, "indexing")})
	if err != nil {
		return nil, err
	}
	return &IndexAnswer{tiles, warnings}, nil
}
