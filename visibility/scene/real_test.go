package scene

import (
	"fmt"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/visibility"
)

func TestTry(t *testing.T) {
	path := os.Getenv("SCENE_DEM")
	if path == "" {
		t.Skip()
	}
	r, err := gdalio.Open(path, gdalio.Options{})
	require.NoError(t, err)
	g, err := r.Read(t.Context(), r.Layout().Whole())
	require.NoError(t, err)
	p, err := geodesy.ParsePlace(os.Getenv("SCENE_AT"))
	require.NoError(t, err)
	o := DefaultOptions()
	o.VerticalError = 5.5
	start := time.Now()
	v, err := Look(t.Context(), g, visibility.NewObserver(p), o)
	require.NoError(t, err)
	fmt.Println(time.Since(start), len(v.Things), v.EyeElevation)
	for _, th := range v.Things {
		fmt.Printf("%-9s sky=%-5v %05.1f %6.0f m %5.1f° h=%4.0f out %4.2f wide %4.1f behind %6.0f side %2d  among %d of %d in %g\n", th.Kind, th.Skyline, float64(th.Bearing), th.Distance, float64(th.Angle), th.Elevation, float64(th.StandsOut), float64(th.Width), th.Behind, th.Side, th.Among, th.Of, float64(th.Window))
		require.Len(t, v.Satisfying(th), 1)
	}
}
