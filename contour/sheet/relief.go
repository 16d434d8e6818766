package sheet

import (
	"context"
	"fmt"
	"image"
	"math"

	"crowline/contour/page"
	"crowline/dem"
)

// Light for relief shading: from the upper left at 45 degrees, by the
// convention of map-making: lit from below, hills read as hollows.
const (
	lightAzimuth   = 315 // degrees
	lightElevation = 45  // degrees
	reliefPerMM    = 4   // pixels to the millimetre, about 100 dots per inch
	reliefDarkest  = 150 // grey levels taken off at strength 1
)

// relief draws shading under the map: each post's slope against the light
// (Horn 1981, Proc. IEEE 69:14-47, the weighted difference of eight
// neighbours), then that shade between posts. Flat and lit ground stays white,
// so only shadow costs contrast.
func (m *mapPanel) relief(ctx context.Context) error {
	posts, strength := m.plan.Ground, m.plan.Relief
	if posts == nil || strength == 0 {
		return nil
	}
	l := m.ground
	w := l.window(posts.Layout())
	if w.Empty() {
		return nil
	}
	shade, err := hillshade(ctx, posts, w)
	if err != nil {
		return err
	}
	nx, ny := int(math.Round(m.frame.Width*reliefPerMM)), int(math.Round(m.frame.Height*reliefPerMM))
	img := image.NewGray(image.Rect(0, 0, nx, ny))
	dark := reliefDarkest * strength
	for j := range ny {
		if err := ctx.Err(); err != nil {
			return fmt.Errorf("sheet: relief: %w", err)
		}
		for i := range nx {
			grey := 255.0
			q := page.At(l.area.X+(float64(i)+0.5)*l.area.Width/float64(nx), l.area.Y+(float64(j)+0.5)*l.area.Height/float64(ny))
			if column, row, ok := l.at(q); ok {
				if v := shade.at(column, row); !math.IsNaN(v) {
					grey -= dark * v
				}
			}
			img.Pix[j*img.Stride+i] = uint8(math.Round(grey))
		}
	}
	m.page.Open("relief", "Relief shading")
	m.page.Add(page.Picture{Rect: m.frame, Pixels: img})
	m.drew.relief = true
	m.page.Close()
	return nil
}

// shades are the shadow at each post of a window, 0 to 1; NaN where void.
type shades struct {
	w dem.Window
	v []float32
}

func hillshade(ctx context.Context, posts dem.Posts, w dem.Window) (*shades, error) {
	f := posts.Layout()
	dx, dy, err := f.Spacing(float64(w.Column)+float64(w.Columns)/2, float64(w.Row)+float64(w.Rows)/2)
	if err != nil {
		return nil, err
	}
	dx, dy = math.Copysign(dx, f.DX), math.Copysign(dy, f.DY)
	az := page.Toward(lightAzimuth)
	sin, cos := math.Sincos(lightElevation * math.Pi / 180)
	s := &shades{w: w, v: make([]float32, w.Columns*w.Rows)}
	for row := range w.Rows {
		if err := ctx.Err(); err != nil {
			return nil, fmt.Errorf("sheet: relief: %w", err)
		}
		for column := range w.Columns {
			c, r := w.Column+column, w.Row+row
			here := posts.Elevation(c, r)
			e := func(i, j int) float64 {
				if v := posts.Elevation(c+i, r+j); !math.IsNaN(v) {
					return v
				}
				return here // an edge is shaded as if level beyond it
			}
			gx := (e(1, -1) + 2*e(1, 0) + e(1, 1) - e(-1, -1) - 2*e(-1, 0) - e(-1, 1)) / (8 * dx)
			gy := (e(-1, 1) + 2*e(0, 1) + e(1, 1) - e(-1, -1) - 2*e(0, -1) - e(1, -1)) / (8 * dy)
			// The light's step is (east, north) = (az.X, -az.Y); the ground's
			// normal is (-gx, -gy, 1).
			lit := (-gx*az.X*cos + gy*az.Y*cos + sin) / math.Sqrt(1+gx*gx+gy*gy)
			s.v[row*w.Columns+column] = float32(math.Min(math.Max(1-lit/sin, 0), 1) + 0*here)
		}
	}
	return s, nil
}

func (s *shades) at(column, row float64) float64 {
	c, r := column-float64(s.w.Column), row-float64(s.w.Row)
	if !(c >= 0 && r >= 0 && c <= float64(s.w.Columns-1) && r <= float64(s.w.Rows-1)) {
		return math.NaN()
	}
	i, j := min(int(c), max(s.w.Columns-2, 0)), min(int(r), max(s.w.Rows-2, 0))
	k := j*s.w.Columns + i
	right, down := min(1, s.w.Columns-1), min(1, s.w.Rows-1)*s.w.Columns
	top := dem.Lerp(float64(s.v[k]), float64(s.v[k+right]), c-float64(i))
	bottom := dem.Lerp(float64(s.v[k+down]), float64(s.v[k+down+right]), c-float64(i))
	return dem.Lerp(top, bottom, r-float64(j))
}

// missing reports whether there is no elevation at a position on the page.
func (m *mapPanel) missing(q page.Point) bool {
	posts := m.plan.Ground
	if posts == nil {
		return false
	}
	c := m.frame.Centre()
	column, row, ok := m.ground.at(page.At(q.X-c.X, q.Y-c.Y))
	// A millionth of a cell of slack: the lattice is not exact on the rim.
	return !ok || !posts.Layout().Contains(column, row) || math.IsNaN(dem.Bilinear(posts, column, row))
}

// voidGap is millimetres between the lines that hatch ground with no elevation.
const voidGap = 1.6

// voids hatches the paper where the data has no elevation, so that it is not
// taken for level ground, and reports whether there was any.
func (m *mapPanel) voids() bool {
	lines := m.scan(voidGap, false, m.missing)
	if lines == nil {
		return false
	}
	m.page.Open("no-elevation", "No elevation data")
	m.page.Add(page.Stroke{Lines: lines, Width: 0.12, Color: m.plan.Style.Void})
	m.page.Close()
	return true
}
