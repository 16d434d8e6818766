package dem

import "context"

// Source is elevation data that can be read by the window. A source is used
// from one goroutine at a time unless its type says otherwise.
type Source interface {
	// Info describes the data.
	Info() Info
	// Layout says where all its posts stand.
	Layout() *Frame
	// Read returns the posts of a window, which must lie inside the layout.
	Read(ctx context.Context, w Window) (*Grid, error)
	// Close frees it.
	Close() error
}

// Surface says what the elevations are of.
type Surface string

const (
	// SurfaceUnknown: the data does not say.
	SurfaceUnknown Surface = ""
	// SurfaceModel: what a radar or camera saw first: treetops and roofs where there are any.
	SurfaceModel Surface = "surface"
	// BareEarth: the ground with trees and buildings taken off.
	BareEarth Surface = "bare earth"
)

// Info says where elevations come from and what they are worth.
type Info struct {
	// Name is the file's base name or the product's name, as answers print it.
	Name string
	// Path is what was opened.
	Path string
	// Driver is the format's name.
	Driver string
	// DataType is the stored type, for example "Int16".
	DataType string
	// VerticalUnit is the unit heights are stored in: "metre", "foot",
	// "US survey foot". VerticalUnitStated is false when nothing said so and
	// metres were assumed.
	VerticalUnit       string
	VerticalUnitStated bool
	// VerticalDatum is the vertical CRS's name, or "".
	VerticalDatum string
	// PixelIsPoint: the file's posts are points, not areas (GDAL has already
	// allowed for it in the frame).
	PixelIsPoint bool
	// NoData is the declared void value, nil when none is.
	NoData *float64
	// Overviews lists the widths of reduced copies in the file, largest first.
	Overviews []int
	// Surface says whether treetops or bare earth, where known.
	Surface Surface
	// VerticalError is one standard deviation of an elevation, metres; 0 when
	// unknown. VerticalErrorSource says where the figure comes from.
	VerticalError       float64
	VerticalErrorSource string
	// Attribution is the licence or credit line that must go with the data.
	Attribution string
	// Warnings are things a reader of any answer must know.
	Warnings []string
}
