package cli

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"crowline/cmd/internal/answer"
	"crowline/dem/geodesy"
)

// needleFlags are what magnetic bearings go by.
type needleFlags struct {
	date        string
	declination declinationFlag
	compass     string

	cmd *cobra.Command // whose run has the config
}

func (f *needleFlags) add(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.date, "date", "", "day for the magnetic declination, as `YYYY-MM-DD` (default: today)")
	cmd.Flags().Var(&f.declination, "declination", "declination `given` by you, as 14.5E, 3W or -3, for a date outside the model or your map's own figure")
}

// addCompass adds the flag of commands that give a bearing to walk on.
func (f *needleFlags) addCompass(cmd *cobra.Command) {
	f.cmd = cmd
	cmd.Flags().StringVar(&f.compass, "compass", "", "your `compass`: plain, with no declination set on it, or adjusted, with it set (default: the config file's, else numbers for both)")
}

// day is the day a compass is read.
func (f *needleFlags) day(s Streams) (time.Time, error) {
	if f.date == "" {
		return s.Now(), nil
	}
	t, err := time.Parse("2006-01-02", f.date)
	if err != nil {
		return time.Time{}, usageErrorf("--date %s: write it as YYYY-MM-DD", f.date)
	}
	return t, nil
}

// needle is what the flags, or the config, say of it.
func (f *needleFlags) needle(s Streams) (n answer.Needle, err error) {
	if n.Day, err = f.day(s); err != nil {
		return n, err
	}
	n.Declination = f.declination.degrees
	if f.compass != "" {
		if n.Compass, err = answer.ParseCompass(f.compass); err != nil {
			return n, usageErrorf("--compass: %w", err)
		}
		return n, nil
	}
	if f.cmd == nil {
		return n, nil
	}
	var ctx context.Context = f.cmd.Context()
	c, err := configOf(ctx)
	if err == nil && c.Compass != "" {
		n.Compass, err = answer.ParseCompass(c.Compass)
	}
	return n, err
}

// declinationFlag is a declination in degrees, east positive: "14.5E", "3W",
// "-3". Nil until it is given.
type declinationFlag struct{ degrees *float64 }

func (f *declinationFlag) String() string { return "" }
func (f *declinationFlag) Type() string   { return "declination" }

func (f *declinationFlag) Set(text string) error {
	t := strings.ToUpper(strings.TrimSpace(text))
	side := 0.0
	if rest, ok := strings.CutSuffix(t, "E"); ok {
		t, side = strings.TrimSpace(rest), 1
	} else if rest, ok := strings.CutSuffix(t, "W"); ok {
		t, side = strings.TrimSpace(rest), -1
	}
	t = strings.TrimSpace(strings.TrimSuffix(t, "°"))
	v, ok := geodesy.ParseNumber(t)
	if !ok || side != 0 && strings.ContainsAny(t, "+-") {
		return fmt.Errorf("%q is not a declination; write 14.5E or 3.2W, or with a sign, -3.2 for west", text)
	}
	if side != 0 {
		v *= side
	}
	if !(math.Abs(v) <= 180) {
		return fmt.Errorf("%q is not a declination from 180W to 180E", text)
	}
	f.degrees = &v
	return nil
}
