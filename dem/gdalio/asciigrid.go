package gdalio

import (
	"bufio"
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"unsafe"
)

// maxASCIIPosts is the most posts an ASCII grid may have: it is held in
// memory, at 4 bytes a post, while it is open.
const maxASCIIPosts = 1 << 28

// maxToken is the longest word of an ASCII grid, bytes.
const maxToken = 64

// asciiKeys are the words of the header of an ASCII grid (Esri, "Esri ASCII
// raster format"; dx and dy are GDAL's, for posts that are not square).
var asciiKeys = []string{"ncols", "nrows", "xllcorner", "yllcorner", "xllcenter", "yllcenter", "cellsize", "dx", "dy", "nodata_value"}

// isASCIIGrid tells one by its first word.
func isASCIIGrid(head []byte) bool {
	words := strings.Fields(string(head[:min(len(head), 2*maxToken)]))
	return len(words) > 0 && slices.Contains(asciiKeys, strings.ToLower(words[0]))
}

// asciiGrid is the content of an ASCII grid.
type asciiGrid struct {
	header map[string]float64
	whole  []int32   // the values while all are whole numbers
	values []float32 // from the first that is not
}

// readASCIIGrid reads an ASCII grid strictly: every word must be a number,
// and there must be exactly as many as its header says. It becomes a raw grid
// in memory, which GDAL reads with the files beside it, by ending.
func readASCIIGrid(ctx context.Context, r io.Reader, name string, beside map[string][]byte) (input, error) {
	g, err := parseASCIIGrid(ctx, r)
	if err != nil {
		return input{}, err
	}
	var raw []byte
	kind := "SIGNEDINT"
	if g.values != nil {
		kind = "FLOAT"
		raw = unsafe.Slice((*byte)(unsafe.Pointer(&g.values[0])), 4*len(g.values))
	} else {
		raw = unsafe.Slice((*byte)(unsafe.Pointer(&g.whole[0])), 4*len(g.whole))
	}
	order := "I"
	if binary.NativeEndian.Uint16([]byte{1, 0}) != 1 {
		order = "M"
	}
	h := g.header
	text := func(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
	x, y := h["xllcenter"], h["yllcenter"]
	if v, is := h["xllcorner"]; is {
		x = v + h["dx"]/2
	}
	if v, is := h["yllcorner"]; is {
		y = v + h["dy"]/2
	}
	var b strings.Builder
	fmt.Fprintf(&b, "NROWS %d\nNCOLS %d\nNBANDS 1\nNBITS 32\nPIXELTYPE %s\nBYTEORDER %s\nLAYOUT BIL\n", int(h["nrows"]), int(h["ncols"]), kind, order)
	fmt.Fprintf(&b, "ULXMAP %s\nULYMAP %s\nXDIM %s\nYDIM %s\n", text(x), text(y+(h["nrows"]-1)*h["dy"]), text(h["dx"]), text(h["dy"]))
	if v, is := h["nodata_value"]; is && v == v {
		fmt.Fprintf(&b, "NODATA %s\n", text(v))
	}
	names := []string{name + ".bil", name + ".hdr"}
	files := map[string][]byte{names[0]: raw, names[1]: []byte(b.String())}
	for ending, data := range beside {
		if len(data) > 0 {
			n := name + ending
			if ending == ".aux.xml" {
				n = names[0] + ending
			}
			names, files[n] = append(names, n), data
		}
	}
	in, err := inMemory(names, files)
	in.driver = "AAIGrid"
	return in, err
}

func parseASCIIGrid(ctx context.Context, r io.Reader) (*asciiGrid, error) {
	w := &words{r: bufio.NewReaderSize(r, 1<<18), line: 1}
	g := &asciiGrid{header: map[string]float64{}}
	var word []byte
	for {
		var err error
		if word, err = w.next(); err != nil {
			return nil, damaged("its header is cut short")
		}
		key := strings.ToLower(string(word))
		if !slices.Contains(asciiKeys, key) {
			break
		}
		if _, twice := g.header[key]; twice {
			return nil, damaged(fmt.Sprintf("it says %s twice (line %d)", key, w.line))
		}
		value, err := w.next()
		if err != nil {
			return nil, damaged("its header is cut short")
		}
		v, ok := number(value)
		if !ok || (v != v && key != "nodata_value") {
			return nil, damaged(fmt.Sprintf("its %s is %q (line %d), which is no number", key, value, w.line))
		}
		g.header[key] = v
	}
	posts, err := g.checkHeader()
	if err != nil {
		return nil, err
	}
	g.whole = make([]int32, 0, min(posts, 1<<20)) // a header may claim any size
	for n := 0; ; n++ {
		if n > 0 {
			if word, err = w.next(); err == io.EOF {
				if n < posts {
					return nil, damaged(fmt.Sprintf("it ends after %d of %d heights", n, posts))
				}
				return g, nil
			} else if err != nil {
				return nil, err
			}
		}
		if n&0xffff == 0 && ctx.Err() != nil {
			return nil, fmt.Errorf("reading stopped: %w", ctx.Err())
		}
		if n == posts {
			return nil, damaged(fmt.Sprintf("it holds more heights than the %d its header says", posts))
		}
		v, ok := number(word)
		if !ok {
			return nil, damaged(fmt.Sprintf("%q (line %d) is no number", word, w.line))
		}
		g.add(v, bytes.ContainsAny(word, ".eE"), posts)
	}
}

// checkHeader returns the number of posts, and fills in dx and dy.
func (g *asciiGrid) checkHeader() (posts int, err error) {
	h := g.header
	for _, key := range []string{"ncols", "nrows"} {
		if v, is := h[key]; !is || v != math.Trunc(v) || v < 1 || v > maxASCIIPosts {
			return 0, damaged("its header does not say how many columns and rows it has")
		}
	}
	if h["ncols"]*h["nrows"] > maxASCIIPosts {
		return 0, fmt.Errorf("%.0f x %.0f posts are too many for an ASCII grid, which is held in memory; make a GeoTIFF of it (gdal_translate FILE heights.tif)", h["ncols"], h["nrows"])
	}
	for _, axis := range []string{"x", "y"} {
		_, corner := h[axis+"llcorner"]
		_, centre := h[axis+"llcenter"]
		if corner == centre {
			return 0, damaged("its header does not say where it lies")
		}
		if _, is := h["d"+axis]; !is {
			h["d"+axis] = h["cellsize"]
		}
		if !(h["d"+axis] > 0) {
			return 0, damaged("its header gives no spacing of its posts")
		}
	}
	return int(h["ncols"]) * int(h["nrows"]), nil
}

// add keeps a value: as a whole number while every one is written as one.
func (g *asciiGrid) add(v float64, decimal bool, posts int) {
	if g.values == nil {
		if i := int32(v); !decimal && float64(i) == v {
			g.whole = append(g.whole, i)
			return
		}
		g.values = make([]float32, 0, max(len(g.whole)+1, min(posts, 1<<20)))
		for _, i := range g.whole {
			g.values = append(g.values, float32(i))
		}
		g.whole = nil
	}
	g.values = append(g.values, float32(v))
}

// words reads a text word by word.
type words struct {
	r    *bufio.Reader
	line int
	word [maxToken]byte
}

// next is the next word, until it is called again; io.EOF after the last.
func (w *words) next() ([]byte, error) {
	n := 0
	for {
		c, err := w.r.ReadByte()
		switch {
		case err == io.EOF && n > 0:
			return w.word[:n], nil
		case err != nil:
			return nil, err
		case c == ' ' || c == '\t' || c == '\r' || c == '\n':
			if n > 0 {
				if c == '\n' {
					_ = w.r.UnreadByte() // its line is the word's
				}
				return w.word[:n], nil
			}
			if c == '\n' {
				w.line++
			}
		case c < ' ' || c > '~':
			return nil, damaged(fmt.Sprintf("line %d is no text", w.line))
		case n == maxToken:
			return nil, damaged(fmt.Sprintf("%q... (line %d) is no number", w.word[:16], w.line))
		default:
			w.word[n] = c
			n++
		}
	}
}

// number is a decimal number, or "nan".
func number(word []byte) (float64, bool) {
	i, negative := 0, false
	if len(word) > 0 && (word[0] == '-' || word[0] == '+') {
		i, negative = 1, word[0] == '-'
	}
	// Most are short: their digits are exact in a float64, and so is the power
	// of ten, so that one division rounds right (Clinger 1990, "How to read
	// floating point numbers accurately", section 4).
	whole, digits, decimals, point := int64(0), 0, 0, false
	for ; i < len(word) && digits < 15; i++ {
		c := word[i]
		if c == '.' && !point {
			point = true
			continue
		}
		if c < '0' || c > '9' {
			break
		}
		whole = whole*10 + int64(c-'0')
		digits++
		if point {
			decimals++
		}
	}
	if i == len(word) && digits > 0 {
		v := float64(whole) / powersOfTen[decimals]
		if negative {
			v = -v
		}
		return v, true
	}
	for _, c := range word { // no infinities, hexadecimals, underlines
		if !(c >= '0' && c <= '9' || c == '.' || c == '-' || c == '+' || c == 'e' || c == 'E') {
			return math.NaN(), strings.EqualFold(string(word), "nan")
		}
	}
	v, err := strconv.ParseFloat(string(word), 64)
	return v, err == nil || errors.Is(err, strconv.ErrRange) && v == 0
}

var powersOfTen = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15}
