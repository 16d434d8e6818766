package cli

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"crowline/cmd/internal/answer"
	"crowline/dem/geodesy"
	figures "crowline/dem/units"
	"crowline/profile"
	"crowline/profile/drift"
)

// walkFlags are how a leg's climb, time and paces are counted.
type walkFlags struct {
	interval intervalFlag
	deadBand float64 // metres; the data's own where negative
	pace     paceFlag
	speed    speedFlag
	rule     ruleFlag

	compassError float64 // degrees, one standard deviation
	paceError    float64 // per cent, one standard deviation

	cmd *cobra.Command // whose run has the config
}

func (f *walkFlags) add(cmd *cobra.Command) {
	f.cmd = cmd
	f.interval.add(cmd, "contour `interval` of the map in your hand, as 20m or 40ft (default: the config file's, else what 1:25 000 maps usually have)")
	cmd.Flags().Var(newLength(-1, &f.deadBand).within(from(0, 10e3)), "dead-band", "leave out rises and falls smaller than this (default: the data's vertical error, or 10m where that is unknown)")
	cmd.Flags().Lookup("dead-band").DefValue = ""
	cmd.Flags().Var(&f.pace, "pace", fmt.Sprintf("your double `paces` in 100 m, counted on such ground; in 100 yards with --units us, or written 59/100yd (default: the config file's, else %g/100m)", answer.DefaultWalk().DoublePaces))
	cmd.Flags().Var(&f.speed, "speed", "your walking `speed` on a level path, as 4km/h or 2.5mph, in place of each rule's own (default: the config file's, else 5 km/h by naismith and tobler, 4 by din)")
	cmd.Flags().Var(&f.rule, "rule", "`rule` where one time is told: naismith (with Langmuir's corrections), tobler (off path) or din (default: the config file's, else tobler)")
}

// addErrors adds how well the walker keeps a bearing and counts paces.
func (f *walkFlags) addErrors(cmd *cobra.Command) {
	cmd.Flags().Var(newNumber(float64(drift.DefaultCompass), &f.compassError, "an error in degrees", from(0, 30)), "compass-error", "how well you keep a bearing, one standard deviation in `degrees`, for the drift")
	cmd.Flags().Var(newNumber(100*drift.DefaultPacing, &f.paceError, "an error in per cent", from(0, 50)), "pace-error", "how well you pace a distance, one standard deviation in `percent` of it, for the drift")
}

// request is how the flags, and the config after them, count a leg, in these
// units unless they say.
func (f *walkFlags) request(u figures.System) (w answer.Walk, err error) {
	w = answer.DefaultWalk()
	if w.Interval, err = f.interval.request(u); err != nil {
		return w, err
	}
	w.DeadBand, w.CompassError, w.PaceError = f.deadBand, f.compassError, f.paceError/100
	if f.deadBand < 0 {
		w.DeadBand = math.NaN() // the data's own
	}
	var ctx context.Context
	if f.cmd != nil {
		ctx = f.cmd.Context()
	}
	c, err := configOf(ctx)
	if err != nil {
		return w, err
	}
	for _, own := range []struct {
		set  bool
		text string
		flag interface{ Set(string) error }
	}{{f.speed.value != 0, c.Speed, &f.speed}, {f.rule.set, c.Rule, &f.rule}, {f.pace.set, c.Pace, &f.pace}} {
		if !own.set && own.text != "" {
			if err := own.flag.Set(own.text); err != nil {
				return w, err
			}
		}
	}
	if f.pace.set {
		w.DoublePaces = f.pace.per100m(u)
	}
	w.Speed = f.speed.value
	if f.rule.set {
		w.Rule = f.rule.rule
	}
	return w, nil
}

// paceFlag is a count of double paces: in 100 m or, with US units, 100 yards,
// unless it says.
type paceFlag struct {
	count float64
	per   string // "m", "yd" or "" for the units of the text
	set   bool
}

func (f *paceFlag) String() string { return "" }
func (f *paceFlag) Type() string   { return "paces" }

func (f *paceFlag) Set(text string) error {
	number, per := strings.ToLower(strings.TrimSpace(text)), ""
	for _, unit := range []string{"yd", "m"} {
		if rest, ok := strings.CutSuffix(number, unit); ok {
			rest = strings.TrimSpace(rest)
			if rest, ok = strings.CutSuffix(rest, "100"); ok {
				rest, ok = strings.CutSuffix(strings.TrimSpace(rest), "/")
			}
			if !ok {
				return fmt.Errorf("%q is not a count of double paces; write 65, 65/100m or 59/100yd", text)
			}
			number, per = strings.TrimSpace(rest), unit
			break
		}
	}
	v, ok := geodesy.ParseNumber(number)
	if !ok {
		v = math.NaN()
	}
	if err := from(20, 500).check(v, text, "a number of double paces in 100 m or 100 yards", plainNumber); err != nil {
		return err
	}
	*f = paceFlag{v, per, true}
	return nil
}

// per100m is the count in 100 m, a bare number taken as in these units.
func (f *paceFlag) per100m(u figures.System) float64 {
	if f.per == "yd" || f.per == "" && u == figures.US {
		return f.count / figures.Yard
	}
	return f.count
}

// speedFlag is a walking speed with its unit.
type speedFlag struct {
	value profile.Speed
	text  string
}

func (f *speedFlag) String() string { return f.text }
func (f *speedFlag) Type() string   { return "speed" }

func (f *speedFlag) Set(text string) error {
	v, err := parseSpeed(text)
	if err != nil {
		return err
	}
	f.value, f.text = v, text
	return nil
}

// parseSpeed reads a walking speed: "4km/h", "2.5mph".
func parseSpeed(text string) (profile.Speed, error) {
	t := strings.ToLower(strings.TrimSpace(text))
	for _, unit := range []struct {
		suffix string
		metres float64 // in an hour
	}{{"km/h", 1000}, {"kmh", 1000}, {"kph", 1000}, {"mph", figures.Mile}, {"mi/h", figures.Mile}} {
		number, ok := strings.CutSuffix(t, unit.suffix)
		if !ok {
			continue
		}
		v, ok := geodesy.ParseNumber(strings.TrimSpace(number))
		if !ok {
			break
		}
		speed, p := profile.Speed(v*unit.metres/3600), answer.DefaultPolicy()
		if !(speed >= p.LeastSpeed && speed <= p.MostSpeed) {
			return 0, fmt.Errorf("%q is not a walking speed from 1 to 8 km/h (0.62 to 4.97 mph)", text)
		}
		return speed, nil
	}
	return 0, fmt.Errorf("%q is not a walking speed; write one with its unit, as 4km/h or 2.5mph", text)
}

// ruleFlag is a rule for walking time, by its name.
type ruleFlag struct {
	rule profile.Rule
	set  bool
}

func (f *ruleFlag) String() string {
	if f == nil || !f.set {
		return ""
	}
	return f.rule.String()
}

func (f *ruleFlag) Type() string { return "rule" }

func (f *ruleFlag) Set(text string) error {
	rule, err := profile.ParseRule(strings.ToLower(strings.TrimSpace(text)))
	if err != nil {
		return err
	}
	*f = ruleFlag{rule, true}
	return nil
}

// startFlag is the time of day one sets out, with its offset from UTC: the zone
// of this computer need not be the place's.
type startFlag struct {
	text  string
	clock time.Duration // since midnight
	zone  *time.Location
}

func (f *startFlag) add(cmd *cobra.Command) {
	cmd.Flags().Var(f, "start", "when you set out, the `time` at the place with its offset from UTC, as 08:30+01:00 or 07:30Z: tells when you arrive, with rests, and the daylight (the day is --date)")
}

func (f *startFlag) String() string { return f.text }
func (f *startFlag) Type() string   { return "time" }

func (f *startFlag) Set(text string) error {
	clock, zone, err := parseStart(text)
	if err != nil {
		return err
	}
	*f = startFlag{text, clock, zone}
	return nil
}

// parseStart reads a time of day with its offset: "08:30+01:00", "07:30Z".
func parseStart(text string) (time.Duration, *time.Location, error) {
	t := strings.ToUpper(strings.TrimSpace(text))
	wrong := fmt.Errorf("%q is not a time with its offset from UTC; write 08:30+01:00, or 07:30Z", text)
	at := strings.IndexAny(t, "Z+-")
	if at < 0 {
		if _, ok := minutes(t, 23); ok {
			return 0, nil, fmt.Errorf("%q has no offset from UTC: the place's time need not be this computer's; write it as %s+01:00, or %sZ", text, t, t)
		}
		return 0, nil, wrong
	}
	clock, ok := minutes(t[:at], 23)
	if !ok {
		return 0, nil, wrong
	}
	if t[at:] == "Z" {
		return clock, time.UTC, nil
	}
	const farthest = 14 // hours, east of Greenwich; 12 west of it
	offset, ok := minutes(t[at+1:], farthest)
	if !ok || t[at] == 'Z' || offset > farthest*time.Hour {
		return 0, nil, wrong
	}
	seconds := int(offset.Seconds())
	if t[at] == '-' {
		seconds = -seconds
	}
	if seconds < -12*3600 {
		return 0, nil, wrong
	}
	return clock, time.FixedZone("", seconds), nil
}

// minutes reads "08:30".
func minutes(text string, mostHours int) (time.Duration, bool) {
	hours, rest, ok := strings.Cut(text, ":")
	h, err := strconv.ParseUint(hours, 10, 8)
	if !ok || err != nil || len(hours) > 2 || len(rest) != 2 {
		return 0, false
	}
	m, err := strconv.ParseUint(rest, 10, 8)
	if err != nil || int(h) > mostHours || m > 59 {
		return 0, false
	}
	return time.Duration(h)*time.Hour + time.Duration(m)*time.Minute, true
}

// on is the start on a day, which is the given one's date; the zero time where no
// start is asked for.
func (f *startFlag) on(day time.Time) time.Time {
	if f.zone == nil {
		return time.Time{}
	}
	y, m, d := day.Date()
	return time.Date(y, m, d, int(f.clock.Hours()), int(f.clock.Minutes())%60, 0, 0, f.zone)
}

// today is the day at the start's offset, where no date is given.
func (f *startFlag) today(day time.Time, given bool) time.Time {
	if f.zone == nil || given {
		return day
	}
	return day.In(f.zone)
}
