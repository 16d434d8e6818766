package main

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strings"
	"time"
)

// benchServed times what the desk's server alone gives while a point moves: one
// question after another, each about another place, as a page asks them.
func benchServed(ctx context.Context, address string) error {
	base, token, ok := strings.Cut(address, "/#token=")
	if !ok {
		return fmt.Errorf("%s has no token", address)
	}
	for _, c := range []struct {
		what, path string
		question   func(i int) string
		times      int
	}{
		{"quick leg of 4 km with its profile, by the server alone", "/api/quick", func(i int) string {
			return fmt.Sprintf(`{"turns":[{"x":500500,"y":4099500},{"x":%d,"y":%d}]}`, 503500+10*(i%100), 4097000+7*(i%90))
		}, 300},
		{"quick leg of 40 km, likewise", "/api/quick", func(i int) string {
			return fmt.Sprintf(`{"turns":[{"x":480500,"y":4079500},{"x":%d,"y":%d}]}`, 508500+10*(i%100), 4107000+7*(i%90))
		}, 100},
		{"ground seen within 8 km, likewise", "/api/view", func(i int) string {
			return fmt.Sprintf(`{"at":{"x":%d,"y":%d},"radius_m":8000,"steps":2}`, 500500+10*(i%100), 4099500+7*(i%90))
		}, 100},
		{"the same in three steps by the data's error, as at rest", "/api/view", func(i int) string {
			return fmt.Sprintf(`{"at":{"x":%d,"y":%d},"radius_m":8000,"steps":3}`, 500500+10*(i%100), 4099500+7*(i%90))
		}, 10},
	} {
		var each []float64
		begun := time.Now()
		for i := range c.times {
			at := time.Now()
			if err := posted(ctx, base+c.path, token, c.question(i)); err != nil {
				return fmt.Errorf("%s: %w", c.what, err)
			}
			each = append(each, float64(time.Since(at))/1e6)
		}
		slices.Sort(each)
		fmt.Printf("  %-58s %8.0f answers/s, 95 %% within %.1f ms\n", c.what, float64(c.times)/time.Since(begun).Seconds(), each[len(each)*95/100])
	}
	var tiles []float64
	for level := 5; level <= 9; level++ {
		for column := range 3 {
			at := time.Now()
			if err := got(ctx, fmt.Sprintf("%s/api/tile/%d/%d/0", base, level, column), token); err != nil {
				return err
			}
			tiles = append(tiles, float64(time.Since(at))/1e6)
		}
	}
	slices.Sort(tiles)
	fmt.Printf("  %-58s %8.0f ms, the slowest %.0f ms\n", "a tile of the map, in the middle of levels 5 to 9", tiles[len(tiles)/2], tiles[len(tiles)-1])
	return nil
}

func posted(ctx context.Context, address, token, question string) error {
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, address, strings.NewReader(question))
	if err != nil {
		return err
	}
	r.Header.Set("Content-Type", "application/json")
	return answeredBy(r, token)
}

func got(ctx context.Context, address, token string) error {
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, address, nil)
	if err != nil {
		return err
	}
	return answeredBy(r, token)
}

func answeredBy(r *http.Request, token string) error {
	r.Header.Set("Crowline-Token", token)
	response, err := http.DefaultClient.Do(r)
	if err != nil {
		return err
	}
	defer response.Body.Close()
	text, err := io.ReadAll(response.Body)
	if err == nil && response.StatusCode >= 300 {
		err = fmt.Errorf("%s: %.200s", response.Status, text)
	}
	return err
}
