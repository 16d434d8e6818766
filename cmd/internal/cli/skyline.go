package cli

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/profile/magnetic"
	"crowline/visibility"
)

type skylineOptions struct {
	question

	from   string
	radius float64
	step   float64
	file   string
	rows   int
}

func newSkylineCmd(s Streams, runF func(context.Context, *skylineOptions) error) *cobra.Command {
	o := &skylineOptions{question: question{streams: s}}
	if runF == nil {
		runF = skylineRun
	}
	cmd := &cobra.Command{
		Use:   "skyline FROM",
		Short: "The horizon all round, and the summits on it",
		Long: `Find the horizon round a place: on each bearing the elevation angle of the
skyline, how far off the ground is that makes it, and how high. Summits that
break the line are listed, named where a --places file names them.

The file's name says what is written:
  .svg .png .pdf   a strip 750 mm long, 2 mm to the degree, or with --rows
                   the same in rows on an A4 page
  .csv .json       the horizon as figures, a line every --step

` + coverHelp + `
A summit stands on the skyline with what is on it, a named place on bare
ground. Where the cover raises the skyline over the bare ground's is said.`,
		Example: `  crowline skyline 34.29706,-118.02863 -o skyline.svg
  crowline skyline Camp --places trip.gpx --radius 10km --rows 4 -o skyline.pdf
  crowline skyline 34.3297,-118.0548 --step 0.5 -o skyline.csv`,
		Args: exactArgs(1, "one place, FROM"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.from = args[0]
			return runF(cmd.Context(), o)
		},
	}
	o.ground.add(cmd)
	o.places.add(cmd)
	o.sight.addEye(cmd)
	o.output.add(cmd)
	o.date.add(cmd)
	o.cover.add(cmd)
	addRadius(cmd, &o.radius)
	cmd.Flags().Var(newNumber(1, &o.step, "an angle in degrees", from(0.01, 30)), "step", "`degrees` between the bearings given in JSON and CSV")
	cmd.Flags().StringVarP(&o.file, "out", "o", "", "`FILE` to write")
	namesFiles(cmd, filesWritten, "out")
	cmd.Flags().Var(newCount(0, &o.rows, 0, 6), "rows", "draw in so many `rows` on A4, 1 to 6 (default: one long strip)")
	needs(cmd, []string{"out"}, "rows")
	return cmd
}

// addEye adds the flags that ground itself as the target needs.
func (f *sightFlags) addEye(cmd *cobra.Command) {
	cmd.Flags().Var(newLength(visibility.DefaultEyeAboveGround, &f.eye).within(aboveGround), "eye", "the eye above the ground")
	addRefraction(cmd, &f.refraction)
}

// drawnStep is the greatest angle between the bearings of a drawing and of the
// search for the highest point, degrees: a fifth of a millimetre on the strip.
const drawnStep = 0.1

// horizonJSON is the skyline on one bearing.
type horizonJSON struct {
	TrueDeg     float64  `json:"true_deg"`
	MagneticDeg *float64 `json:"magnetic_deg"`
	AngleDeg    *float64 `json:"angle_deg"`
	DistanceM   *float64 `json:"distance_m"`
	ElevationM  *float64 `json:"elevation_m"`
	// Known is false where not all of the ground on the bearing is known: it
	// may stand higher.
	Known bool `json:"known"`
	// Filled: the ground stands on posts that were void and have been filled.
	Filled bool `json:"filled,omitempty"`
	// CoverM is how much of the elevation is what stands on the ground.
	CoverM float64 `json:"cover_m,omitempty"`
	// BareAngleDeg is the angle of the bare ground, given with cover only.
	BareAngleDeg *float64 `json:"bare_ground_angle_deg,omitempty"`
}

type skylinePeakJSON struct {
	Name string  `json:"name,omitempty"`
	Lat  float64 `json:"lat"`
	Lon  float64 `json:"lon"`
	horizonJSON
	ProminenceM        *float64 `json:"prominence_m"`
	ProminenceAtLeastM *float64 `json:"prominence_at_least_m,omitempty"`
}

type skylineAssumptions struct {
	EyeM       float64 `json:"eye_m"`
	Refraction float64 `json:"refraction_k"`
}

func (a skylineAssumptions) text(u units) string {
	return fmt.Sprintf("eye %s above the ground; refraction coefficient %g (as R/r)", u.small(a.EyeM), a.Refraction)
}

type skylineAnswer struct {
	From          place              `json:"from"`
	EyeElevationM float64            `json:"eye_elevation_m"`
	Declination   *declinationJSON   `json:"declination"`
	RadiusM       *float64           `json:"radius_m"`
	StepDeg       float64            `json:"step_deg"`
	Highest       *horizonJSON       `json:"highest"`
	Lowest        *horizonJSON       `json:"lowest"`
	Filled        *filledSkylineJSON `json:"filled,omitempty"`
	Cover         *coverSkylineJSON  `json:"cover,omitempty"`
	OverCover     *coverUsedJSON     `json:"over_cover,omitempty"`
	Peaks         []skylinePeakJSON  `json:"peaks"`
	Horizon       []horizonJSON      `json:"horizon"`
	Assumptions   skylineAssumptions `json:"assumptions"`
	ElevationData elevationData      `json:"elevation_data"`
	Written       []string           `json:"written"`
	Warnings      []string           `json:"warnings"`
	Cautions      []string           `json:"cautions"`

	found *visibility.Horizon // every drawnStep or finer
	bare  *visibility.Horizon // of the bare ground, with cover only
	field magnetic.Field
	every []visibility.HorizonPoint // every text row
}

// filledSkylineJSON counts the bearings, a drawn step apart, whose skyline
// stands on filled posts; present with --fill-voids only.
type filledSkylineJSON struct {
	Bearings int     `json:"bearings"`
	Of       int     `json:"of_bearings"`
	StepDeg  float64 `json:"step_deg"`
}

func (o *skylineOptions) check() error {
	if n := 360 / o.step; math.Abs(n-math.Round(n)) > 1e-6 {
		return usageErrorf("--step %g: it has to go into 360 degrees a whole number of times", o.step)
	}
	switch strings.ToLower(filepath.Ext(o.file)) {
	case "":
		if o.file == "" {
			return nil
		}
	case ".csv", ".json":
		return checkFolder(o.file)
	}
	if err := checkDrawingPath(o.file); err != nil {
		return usageErrorf("%s: a skyline's name ends in .svg, .png, .pdf, .csv or .json, in a folder that is there", o.file)
	}
	return nil
}

func skylineRun(ctx context.Context, o *skylineOptions) error {
	u, _, day, err := o.read()
	if err != nil {
		return err
	}
	if err := o.check(); err != nil {
		return err
	}
	from, err := o.places.resolve(o.from)
	if err != nil {
		return err
	}
	g, err := o.openAbout(ctx, o.radius, horizonPostBytes, from.LatLon)
	if err != nil {
		return err
	}
	defer g.Close()
	over, err := o.cover.open(ctx, g)
	if err != nil {
		return err
	}
	bare, err := g.reach(ctx, []geodesy.LatLon{from.LatLon}, o.radius)
	if err != nil {
		return err
	}
	grid := bare
	var used *coverUsedJSON
	if over != nil {
		defer over.close()
		var layer *dem.CoverLayer
		if layer, used, err = over.lay(ctx, o.streams, bare); err != nil {
			return err
		}
		if grid, err = layer.Grid(ctx, over.clearing(from.LatLon)); err != nil {
			return err
		}
	}
	spacing, err := gridSpacing(grid)
	if err != nil {
		return err
	}
	// the bearings asked for are among finer ones
	share := int(math.Ceil(o.step/drawnStep - 1e-9))
	observer := visibility.Observer{Place: from.LatLon, EyeAboveGround: o.sight.eye}
	options := visibility.SkylineOptions{
		Refraction: o.sight.refraction, Radius: o.radius, Step: geodesy.Degrees(o.step / float64(share)), Progress: o.streams.progress("looking round"),
	}
	found, err := visibility.Skyline(ctx, grid, observer, options)
	if err != nil {
		return err
	}
	a := skylineAnswer{
		From: describePlace(from, found.GroundElevation), EyeElevationM: *rounded(found.EyeElevation, 2), StepDeg: o.step,
		Assumptions: skylineAssumptions{o.sight.eye, o.sight.refraction}, ElevationData: g.describe(spacing),
		Peaks: []skylinePeakJSON{}, Written: []string{}, Warnings: []string{}, Cautions: cautions, found: found,
	}
	field, fieldErr := magnetic.WMM2025.At(from.LatLon, found.GroundElevation, day)
	a.field, a.Declination = field, describeDeclination(field, fieldErr, day)
	if fieldErr != nil {
		a.Warnings = append(a.Warnings, fmt.Sprintf("magnetic bearings not known: %v", fieldErr))
	} else if w := zoneWarning(field); w != "" {
		a.Warnings = append(a.Warnings, w)
	}
	if o.radius > 0 {
		a.RadiusM = number(o.radius)
	}
	if over != nil {
		a.OverCover = used
		if a.bare, err = visibility.Skyline(ctx, bare, observer, options); err != nil {
			return err
		}
		a.Cover = compareSkylines(a.bare, found, *rounded(o.step/float64(share), 6))
	}
	a.sample(share)
	if g.filled() != nil {
		a.Filled = &filledSkylineJSON{Of: len(found.Points), StepDeg: *rounded(o.step/float64(share), 6)}
		for _, p := range found.Points {
			if p.Filled {
				a.Filled.Bearings++
			}
		}
	}
	if a.Highest == nil {
		return fmt.Errorf("there is no known ground round %s to make a skyline", from.label())
	}
	peaks, err := o.peaks(ctx, g, bare, grid, spacing, found)
	if err != nil {
		return err
	}
	for i, p := range peaks {
		if column, row, err := grid.Locate(p.Place); err == nil {
			peaks[i].Filled = dem.FilledAt(grid, column, row)
		}
	}
	for _, p := range peaks {
		a.Peaks = append(a.Peaks, a.peak(p))
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	if o.file != "" {
		if err := a.save(o, peaks, u); err != nil {
			return err
		}
	}
	if o.output.json {
		return writeJSON(o.streams.Out, a)
	}
	p := &page{w: o.streams.Out}
	a.write(p, u)
	return p.err
}

// sample fills in the figures: one bearing in share for JSON, one in fifteen
// degrees for text, the highest and lowest of all.
func (a *skylineAnswer) sample(share int) {
	points := a.found.Points
	highest, lowest := -1, -1
	for i, p := range points {
		if i%share == 0 {
			h := a.horizon(p)
			if a.bare != nil {
				h.BareAngleDeg = rounded(float64(a.bare.Points[i].Angle), 3)
			}
			a.Horizon = append(a.Horizon, h)
		}
		if math.IsNaN(float64(p.Angle)) {
			continue
		}
		if highest < 0 || p.Angle > points[highest].Angle {
			highest = i
		}
		if lowest < 0 || p.Angle < points[lowest].Angle {
			lowest = i
		}
	}
	for b := 0.0; b < 360; b += 15 {
		a.every = append(a.every, points[int(math.Round(b/360*float64(len(points))))%len(points)])
	}
	if highest >= 0 {
		h, l := a.horizon(points[highest]), a.horizon(points[lowest])
		a.Highest, a.Lowest = &h, &l
	}
}

func (a *skylineAnswer) horizon(p visibility.HorizonPoint) horizonJSON {
	j := horizonJSON{
		TrueDeg: *rounded(float64(p.Bearing), 3), AngleDeg: rounded(float64(p.Angle), 3), DistanceM: rounded(p.Distance, 1),
		ElevationM: rounded(p.Elevation, 1), Known: p.Verdict == visibility.Visible,
		Filled: p.Filled, CoverM: *rounded(p.Cover, 1),
	}
	if a.Declination != nil {
		j.MagneticDeg = rounded(float64(a.field.Declination.Magnetic(p.Bearing)), 2)
	}
	return j
}

func (a *skylineAnswer) peak(p skylinePeak) skylinePeakJSON {
	j := skylinePeakJSON{Name: p.name, Lat: *rounded(float64(p.Place.Lat), 7), Lon: *rounded(float64(p.Place.Lon), 7), horizonJSON: a.horizon(p.HorizonPoint)}
	if p.atLeast {
		j.ProminenceAtLeastM = rounded(p.prominence, 1)
	} else {
		j.ProminenceM = rounded(p.prominence, 1)
	}
	return j
}

// save writes the file asked for.
func (a *skylineAnswer) save(o *skylineOptions, peaks []skylinePeak, u units) error {
	var body []byte
	var err error
	switch strings.ToLower(filepath.Ext(o.file)) {
	case ".csv":
		body, err = a.csv()
	case ".json":
		a.Written = []string{o.file}
		body, err = json.MarshalIndent(a, "", "  ")
		body = append(body, '\n')
	default:
		a.Written, err = drawSkyline(o.file, o.rows, a, peaks, u)
		return err
	}
	if err != nil {
		return err
	}
	a.Written = []string{o.file}
	return replaceFile(o.file, body)
}

// csv is the horizon, a row a bearing; a figure that is not known is empty.
func (a *skylineAnswer) csv() ([]byte, error) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	text := func(v *float64) string {
		if v == nil {
			return ""
		}
		return strconv.FormatFloat(*v, 'f', -1, 64)
	}
	rows := [][]string{{"true_deg", "magnetic_deg", "angle_deg", "distance_m", "elevation_m", "known"}}
	if a.Filled != nil {
		rows[0] = append(rows[0], "filled")
	}
	if a.OverCover != nil {
		rows[0] = append(rows[0], "cover_m", "bare_ground_angle_deg", "over_cover")
	}
	for _, h := range a.Horizon {
		row := []string{text(&h.TrueDeg), text(h.MagneticDeg), text(h.AngleDeg), text(h.DistanceM), text(h.ElevationM), strconv.FormatBool(h.Known)}
		if a.Filled != nil {
			row = append(row, strconv.FormatBool(h.Filled))
		}
		if a.OverCover != nil {
			cover := ""
			if h.ElevationM != nil {
				cover = text(&h.CoverM)
			}
			row = append(row, cover, text(h.BareAngleDeg), a.OverCover.Name)
		}
		rows = append(rows, row)
	}
	err := w.WriteAll(rows)
	return b.Bytes(), err
}
