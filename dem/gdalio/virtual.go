package gdalio

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"

	"crowline/dem/geodesy"
)

// A virtual raster (VRT) is text that names the files it takes heights from,
// and may name any file or address, and code to run. So GDAL never reads one
// that a user gave: we read it, and what is plain in it is written anew, with
// the full path of every source, into a file in memory that GDAL opens. What
// the two readers of XML might take in two ways never meets the second.
//
// What is plain: sources copied as they are (SimpleSource), or but for a void
// value and a linear scale (ComplexSource, as gdalbuildvrt writes for files
// with a void value), and raw bytes. A source must lie in the folder of the
// virtual raster or below it, links resolved on both sides, so that it goes
// where its folder goes and reaches nothing else.

const (
	// virtualBytes bounds the text: a source takes some 600 bytes, and a
	// country has tens of thousands of tiles.
	virtualBytes = 64 << 20
	// virtualDepth bounds virtual rasters of virtual rasters: a country of
	// regions of sheets is three.
	virtualDepth = 4
	// virtualSniffed is how far into a file a virtual raster may begin: four
	// times what GDAL looks at.
	virtualSniffed = 4 << 10
)

// isVirtual reports whether GDAL could take a file for a virtual raster.
func isVirtual(path string) bool {
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	head := make([]byte, virtualSniffed)
	n, _ := io.ReadFull(f, head)
	return bytes.Contains(bytes.ToLower(head[:n]), []byte("<vrtdataset"))
}

// sideFiles are the endings of files beside a raster that GDAL opens as
// rasters of their own: reduced copies and masks.
var sideFiles = []string{".ovr", ".msk", ".OVR", ".MSK", ".ovr.msk", ".msk.ovr"}

// checkSideFiles refuses a raster beside which a virtual one stands for its
// reduced copy or its mask: GDAL would follow it anywhere.
func checkSideFiles(path string) error {
	for _, ending := range sideFiles {
		if side := path + ending; isVirtual(side) {
			return fmt.Errorf("its side file %s is a virtual raster, which may lead anywhere; remove it", filepath.Base(side))
		}
	}
	return nil
}

// virtual is a virtual raster made safe: files in memory.
type virtual struct {
	files  []string          // in memory, to be freed
	made   map[string]string // by the path of the virtual raster
	within []string          // those being read, outermost first
	kinds  map[string]bool   // of each source's path, whether it is virtual
	dirs   map[string]string // folders with their links resolved
}

// openVirtual writes a virtual raster anew into memory, with those it is made
// of. The caller frees the files.
func openVirtual(path string) (memory string, files []string, err error) {
	v := &virtual{made: map[string]string{}, kinds: map[string]bool{}, dirs: map[string]string{}}
	if memory, err = v.file(path); err != nil {
		freeMemory(v.files)
		return "", nil, err
	}
	return memory, v.files, nil
}

func freeMemory(files []string) {
	for _, f := range files {
		memoryRemove(filepath.Dir(f))
	}
}

func (v *virtual) file(path string) (string, error) {
	resolved, err := filepath.EvalSymlinks(absolute(path))
	if err != nil {
		return "", err
	}
	for _, outer := range v.within {
		if outer == resolved {
			return "", errItself
		}
	}
	if memory, ok := v.made[resolved]; ok {
		return memory, nil
	}
	if len(v.within) == virtualDepth {
		return "", fmt.Errorf("virtual rasters of virtual rasters, more than %d deep; make it of the tiles themselves (gdalbuildvrt)", virtualDepth)
	}
	v.within = append(v.within, resolved)
	defer func() { v.within = v.within[:len(v.within)-1] }()
	stat, err := os.Stat(resolved)
	if err != nil {
		return "", err
	}
	if stat.Size() > virtualBytes {
		return "", fmt.Errorf("a virtual raster of %d MB; the limit is %d MB", stat.Size()>>20, virtualBytes>>20)
	}
	data, err := os.ReadFile(resolved)
	if err != nil {
		return "", err
	}
	root, err := parseVirtual(data)
	if err != nil {
		return "", err
	}
	var out bytes.Buffer
	if err := v.write(&out, root, "", filepath.Dir(resolved)); err != nil {
		return "", err
	}
	memory := fmt.Sprintf("/vsimem/crowline-%d/%s", memoryFolders.Add(1), filepath.Base(path))
	if err := memoryFile(memory, out.Bytes()); err != nil {
		return "", err
	}
	v.files = append(v.files, memory)
	v.made[resolved] = memory
	return memory, nil
}

var errItself = errors.New("it has itself among its sources; make it again from the files it should join")

// element is an XML element.
type element struct {
	name     string
	attrs    []xml.Attr
	children []*element
	text     string
}

func (e *element) attr(name string) string {
	for _, a := range e.attrs {
		if strings.EqualFold(a.Name.Local, name) {
			return a.Value
		}
	}
	return ""
}

// elementDepth is over any that a virtual raster has.
const elementDepth = 12

// parseVirtual reads the text into elements.
func parseVirtual(data []byte) (*element, error) {
	decoder := xml.NewDecoder(bytes.NewReader(data))
	var root *element
	var stack []*element
	for {
		token, err := decoder.RawToken()
		if errors.Is(err, io.EOF) {
			break
		}
		var syntax *xml.SyntaxError
		if errors.As(err, &syntax) {
			return nil, fmt.Errorf("it is not whole at line %d", syntax.Line)
		}
		if err != nil {
			return nil, err
		}
		switch t := token.(type) {
		case xml.StartElement:
			if t.Name.Space != "" || len(stack) == elementDepth {
				return nil, fmt.Errorf("element %s is none of a virtual raster's", t.Name.Local)
			}
			e := &element{name: t.Name.Local, attrs: t.Copy().Attr}
			switch {
			case len(stack) > 0:
				parent := stack[len(stack)-1]
				parent.children = append(parent.children, e)
			case root != nil:
				return nil, errors.New("it has a second beginning")
			default:
				root = e
			}
			stack = append(stack, e)
		case xml.EndElement:
			if len(stack) == 0 || stack[len(stack)-1].name != t.Name.Local {
				line, _ := decoder.InputPos()
				return nil, fmt.Errorf("it is not whole at line %d", line)
			}
			stack = stack[:len(stack)-1]
		case xml.CharData:
			if len(stack) > 0 {
				stack[len(stack)-1].text += string(t)
			}
		case xml.Directive:
			return nil, errors.New("it declares a document type, which a virtual raster has no need of")
		}
	}
	if root == nil || len(stack) > 0 {
		return nil, errors.New("it is not whole")
	}
	if root.name != "VRTDataset" {
		return nil, errors.New("it does not begin as a virtual raster does")
	}
	return root, nil
}

// virtualRule is what an element may have; text is kept where it has no
// children of its own.
type virtualRule struct {
	attrs    []string
	children []string
}

// virtualRules are the elements that are written anew.
// https://gdal.org/drivers/raster/vrt.html
var virtualRules = map[string]virtualRule{
	"VRTDataset":       {[]string{"rasterXSize", "rasterYSize"}, []string{"SRS", "GeoTransform", "Metadata", "VRTRasterBand", "MaskBand", "BlockXSize", "BlockYSize"}},
	"SRS":              {[]string{"dataAxisToSRSAxisMapping", "coordinateEpoch"}, nil},
	"GeoTransform":     {},
	"Metadata":         {nil, []string{"MDI"}},
	"MDI":              {[]string{"key"}, nil},
	"MaskBand":         {nil, []string{"VRTRasterBand"}},
	"BlockXSize":       {},
	"BlockYSize":       {},
	"VRTRasterBand":    {[]string{"dataType", "band", "subClass", "blockXSize", "blockYSize"}, []string{"Description", "UnitType", "Offset", "Scale", "NoDataValue", "HideNoDataValue", "ColorInterp", "ColorTable", "Metadata", "MaskBand", "SimpleSource", "ComplexSource", "SourceFilename", "ImageOffset", "PixelOffset", "LineOffset", "ByteOrder"}},
	"Description":      {},
	"UnitType":         {},
	"Offset":           {},
	"Scale":            {},
	"NoDataValue":      {},
	"HideNoDataValue":  {},
	"ColorInterp":      {},
	"ColorTable":       {nil, []string{"Entry"}},
	"Entry":            {[]string{"c1", "c2", "c3", "c4"}, nil},
	"SimpleSource":     {[]string{"resampling"}, []string{"SourceFilename", "SourceBand", "SourceProperties", "SrcRect", "DstRect"}},
	"ComplexSource":    {[]string{"resampling"}, []string{"SourceFilename", "SourceBand", "SourceProperties", "SrcRect", "DstRect", "NODATA", "UseMaskBand", "ScaleOffset", "ScaleRatio"}},
	"SourceFilename":   {[]string{"relativeToVRT", "shared"}, nil},
	"SourceBand":       {},
	"SourceProperties": {[]string{"RasterXSize", "RasterYSize", "DataType", "BlockXSize", "BlockYSize"}, nil},
	"SrcRect":          {[]string{"xOff", "yOff", "xSize", "ySize"}, nil},
	"DstRect":          {[]string{"xOff", "yOff", "xSize", "ySize"}, nil},
	"NODATA":           {},
	"UseMaskBand":      {},
	"ScaleOffset":      {},
	"ScaleRatio":       {},
	"ImageOffset":      {},
	"PixelOffset":      {},
	"LineOffset":       {},
	"ByteOrder":        {},
}

// virtualIdle are elements that bear on no height, and are left out.
var virtualIdle = map[string]bool{"OverviewList": true, "Overview": true, "Histograms": true, "CategoryNames": true,
	"GDALRasterAttributeTable": true, "GCPList": true}

// virtualClasses are the kinds of what an element is, where it has kinds.
var virtualClasses = map[string]bool{"": true, "VRTSourcedRasterBand": true, "VRTRawRasterBand": true}

func knows(names []string, name string) (string, bool) {
	for _, n := range names {
		if strings.EqualFold(n, name) {
			return n, true
		}
	}
	return "", false
}

// write writes an element anew. folder is the virtual raster's.
func (v *virtual) write(out *bytes.Buffer, e *element, parent, folder string) error {
	rule := virtualRules[e.name]
	var attrs []xml.Attr
	for _, a := range e.attrs {
		name, ok := knows(rule.attrs, a.Name.Local)
		if !ok || a.Name.Space != "" {
			if e.name == "VRTDataset" && strings.EqualFold(a.Name.Local, "subClass") {
				return fmt.Errorf("it is of the kind %s, which makes heights in place of taking them as they are; make a file of it (gdal_translate)", a.Value)
			}
			continue
		}
		if name == "subClass" && !virtualClasses[a.Value] {
			return fmt.Errorf("it has a band of the kind %s, which makes heights, or runs code, in place of taking them as they are; make a file of it (gdal_translate)", a.Value)
		}
		if name != "relativeToVRT" {
			attrs = append(attrs, xml.Attr{Name: xml.Name{Local: name}, Value: a.Value})
		}
	}
	text := e.text
	switch e.name {
	case "SourceFilename":
		path, err := v.source(strings.TrimSpace(e.text), e.attr("relativeToVRT"), parent, folder)
		if err != nil {
			return err
		}
		text = path
	case "SRS":
		if err := checkDefinition(text); err != nil {
			return err
		}
	case "Metadata":
		if e.attr("domain") != "" || e.attr("format") != "" {
			return nil
		}
	}
	out.WriteString("<" + e.name)
	for _, a := range attrs {
		out.WriteString(" " + a.Name.Local + `="`)
		_ = xml.EscapeText(out, []byte(a.Value))
		out.WriteString(`"`)
	}
	out.WriteString(">")
	for _, c := range e.children {
		if virtualIdle[c.name] {
			continue
		}
		if _, ok := knows(rule.children, c.name); !ok || virtualRules[c.name].attrs == nil && virtualRules[c.name].children == nil && len(c.children) > 0 {
			return fmt.Errorf("its element %s is not read: only heights taken as they are; make a file of it (gdal_translate)", c.name)
		}
		if err := v.write(out, c, e.name, folder); err != nil {
			return err
		}
	}
	if len(rule.children) == 0 {
		_ = xml.EscapeText(out, []byte(text))
	}
	out.WriteString("</" + e.name + ">")
	return nil
}

// leadsAway are names of sources that are no file's: addresses, GDAL's file
// systems, text in place of a name.
var leadsAway = regexp.MustCompile(`(?i)://|^/vsi|^\s*<`)

// source is the full path of a source, or of its copy in memory where it is
// a virtual raster itself.
func (v *virtual) source(name, relative, parent, folder string) (string, error) {
	if leadsAway.MatchString(name) {
		return "", fmt.Errorf("it takes heights from %s, and no address is opened unless you name it; fetch that file, put it beside and name it there", shortened(name))
	}
	path := name
	switch relative {
	case "1":
		path = filepath.Join(folder, name)
		if filepath.IsAbs(name) {
			path = name
		}
	case "", "0":
		path = absolute(name)
	default:
		return "", fmt.Errorf("its relativeToVRT is %s, neither 0 nor 1", shortened(relative))
	}
	resolved, there, err := v.resolve(path)
	if err != nil {
		return "", fmt.Errorf("its source %s cannot be looked at", shortened(name))
	}
	if !below(resolved, folder) {
		return "", fmt.Errorf("it takes heights from %s, which is not in its own folder or below it; name that file itself, or put the two together", shortened(name))
	}
	if !there {
		return resolved, nil // to be missed when it is needed
	}
	if parent == "VRTRasterBand" { // raw bytes
		return resolved, nil
	}
	inner, known := v.kinds[resolved]
	if !known {
		stat, err := os.Stat(resolved)
		if err != nil {
			return resolved, nil
		}
		if !stat.Mode().IsRegular() {
			return "", fmt.Errorf("its source %s is not a plain file", shortened(name))
		}
		if err := checkSideFiles(resolved); err != nil {
			return "", fmt.Errorf("of its source %s: %w", shortened(name), err)
		}
		if err := checkSource(resolved); err != nil {
			return "", fmt.Errorf("its source %s %w", shortened(name), err)
		}
		inner = isVirtual(resolved)
		v.kinds[resolved] = inner
	}
	if !inner {
		return resolved, nil
	}
	memory, err := v.file(resolved)
	if err != nil && !errors.Is(err, errItself) {
		return "", fmt.Errorf("of its source %s: %w", shortened(name), err)
	}
	return memory, err
}

// resolve is a path with its links resolved. Of a file that is not there, the
// folder's are.
func (v *virtual) resolve(path string) (resolved string, there bool, err error) {
	path = filepath.Clean(path)
	dir, ok := v.dirs[filepath.Dir(path)]
	if !ok {
		if dir, err = filepath.EvalSymlinks(filepath.Dir(path)); errors.Is(err, os.ErrNotExist) {
			return path, false, nil
		} else if err != nil {
			return "", false, err
		}
		v.dirs[filepath.Dir(path)] = dir
	}
	resolved = filepath.Join(dir, filepath.Base(path))
	stat, err := os.Lstat(resolved)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return resolved, false, nil
	case err != nil:
		return "", false, err
	case stat.Mode()&os.ModeSymlink == 0:
		return resolved, true, nil
	}
	if resolved, err = filepath.EvalSymlinks(resolved); err != nil {
		return "", false, err
	}
	return resolved, true, nil
}

// below reports whether a path is in a folder or below it, both in full and
// with no links.
func below(path, folder string) bool {
	relative, err := filepath.Rel(folder, path)
	return err == nil && filepath.IsLocal(relative) && !strings.HasPrefix(path, "/vsi")
}

// shortened is a name as an error shows it: in one line.
func shortened(name string) string {
	name = strings.Join(strings.Fields(name), " ")
	const most = 80
	if len(name) > most {
		name = name[:most] + "..."
	}
	return name
}

// plainNames are reference systems that GDAL knows by a name alone.
var plainNames = regexp.MustCompile(`^(WGS84|WGS72|NAD27|NAD83|CRS:?84|CRS:?83|CRS:?27)$`)

// checkDefinition refuses a reference system that GDAL would look for in a
// file or at an address.
func checkDefinition(text string) error {
	text = strings.TrimSpace(text)
	if text == "" || plainNames.MatchString(text) {
		return nil
	}
	if err := geodesy.CheckDefinition(text); err != nil {
		return fmt.Errorf("its reference system: %w", err)
	}
	return nil
}
