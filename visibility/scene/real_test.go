package scene

import (
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/image/font"
	"golang.org/x/image/font/basicfont"
	"golang.org/x/image/math/fixed"

	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/dem/units"
	"crowline/visibility"
)

func draw(v *View, path string) {
	const perDeg = 9.0
	w, h := int(360*perDeg/2), 420
	img := image.NewRGBA(image.Rect(0, 0, w, 2*h))
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	at := func(b, a float64) (int, int) {
		x := b * perDeg
		row := 0
		if x >= float64(w) {
			x -= float64(w)
			row = 1
		}
		return int(x), row*h + h*2/3 - int(a*perDeg)
	}
	for i, r := range v.rays {
		for j, c := range r.crests {
			g := uint8(math.Min(200, 40*math.Log2(c.distance/300)))
			col := color.RGBA{g, g, g, 255}
			if j == len(r.crests)-1 {
				col = color.RGBA{0, 0, 255, 255}
			}
			x, y := at(float64(i)*v.Step, float64(angle(c.slope)))
			img.Set(x, y, col)
			img.Set(x, y+1, col)
		}
		for _, f := range r.faces {
			for a := float64(angle(f.low)); a < float64(angle(f.high)); a += 0.1 {
				x, y := at(float64(i)*v.Step, a)
				img.Set(x, y, color.RGBA{255, 200, 120, 255})
			}
		}
	}
	for n, t := range v.Things {
		x, y := at(float64(t.Bearing), float64(t.Angle))
		for k := -4; k <= 4; k++ {
			img.Set(x+k, y, color.RGBA{255, 0, 0, 255})
			img.Set(x, y+k, color.RGBA{255, 0, 0, 255})
		}
		d := font.Drawer{Dst: img, Src: image.NewUniform(color.RGBA{200, 0, 0, 255}), Face: basicfont.Face7x13, Dot: fixed.P(x-8, y-8-12*(n%4))}
		k := map[Kind]string{Top: "T", Notch: "N", RidgeEnd: "R", SpurEnd: "S", Cliff: "C", Face: "F", Water: "W"}[t.Kind]
		if t.Lone {
			k = "L"
		}
		if t.Kind == Notch && t.Side != 0 {
			k = "NR"
		}
		d.DrawString(fmt.Sprint(k, n))
	}
	f, _ := os.Create(path)
	defer f.Close()
	_ = png.Encode(f, img)
}

func TestTry(t *testing.T) {
	path := os.Getenv("SCENE_DEM")
	if path == "" {
		t.Skip()
	}
	r, err := gdalio.Open(path, gdalio.Options{})
	require.NoError(t, err)
	g, err := r.Read(t.Context(), r.Layout().Whole())
	require.NoError(t, err)
	o := DefaultOptions()
	o.VerticalError = 5.5
	n, _ := strconv.Atoi(os.Getenv("SCENE_N"))
	random := rand.New(rand.NewPCG(7, 7))
	for k := range max(n, 1) {
		p, err := geodesy.ParsePlace(os.Getenv("SCENE_AT"))
		if err != nil {
			p, _ = g.Place(float64(g.Columns)*(0.1+0.8*random.Float64()), float64(g.Rows)*(0.1+0.8*random.Float64()))
		}
		start := time.Now()
		v, err := Look(t.Context(), g, visibility.NewObserver(p), o)
		require.NoError(t, err)
		fmt.Println(k, p, time.Since(start), len(v.Things), v.EyeElevation)
		if os.Getenv("SCENE_V") != "" {
			for i, th := range v.Things {
				fmt.Printf("%2d %-9s sky=%-5v %05.1f %6.0f m %5.1f° h=%4.0f out %4.2f wide %4.1f behind %6.0f side %2d lone %v: %s\n", i, th.Kind, th.Skyline, float64(th.Bearing), th.Distance, float64(th.Angle), th.Elevation, float64(th.StandsOut), float64(th.Width), th.Behind, th.Side, th.Lone, v.Describe(th, units.Metric))
				if s := v.Satisfying(th); len(s) != 1 || !s[0].is(th) {
					fmt.Println("!!!! ", th.Told, s)
				}
			}
			draw(v, fmt.Sprintf("/tmp/scene/view%02d.png", k))
		}
	}
}
