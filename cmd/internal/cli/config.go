package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"sync"

	"crowline/cmd/internal/answer"
	"crowline/dem/fetch"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/profile"
)

// Environment variables read.
const (
	demVariable    = "CROWLINE_DEM"    // elevation data, as a list of paths
	configVariable = "CROWLINE_CONFIG" // the config file, in place of the usual one
)

// config is the user's own defaults, from a JSON file.
type config struct {
	// DEM ("dem": one text or a list) is elevation data, as --dem takes it.
	// Paths are taken from the config file's folder; "~/" is the home folder.
	DEM []string
	// Units ("units") is "metric" or "us".
	Units string
	// HeightUnit ("height_unit") is "m", "ft" or "ftUS".
	HeightUnit string
	// MaxMemory ("max_memory") is a size, such as "2GB", or a share of the
	// machine, "50%".
	MaxMemory string
	// Interval ("interval") is the contour interval of the user's map, as
	// --interval takes it.
	Interval string
	// Speed ("speed") is the walking speed on a level path, as --speed takes it:
	// "4km/h" or "2.5mph".
	Speed string
	// Rule ("rule") is the rule of one walking time, "naismith", "tobler" or "din".
	Rule string
	// Compass ("compass") is "plain" or "adjusted", as --compass takes it.
	Compass string
	// Pace ("pace") is the user's double paces, as --pace takes them.
	Pace string
	// Places ("places") is a file of named places, as --places takes it, used
	// where none is given. Its path is as that of DEM.
	Places string

	// sources ("sources": a list) are data sets for crowline dem get, beside
	// those built in.
	sources []fetch.Source
	path    string
}

// configPath is where the config file is, if there is one.
func configPath() string {
	if p := os.Getenv(configVariable); p != "" {
		return p
	}
	folder, err := os.UserConfigDir()
	if err != nil {
		return ""
	}
	return filepath.Join(folder, "crowline", "config.json")
}

// maxConfigBytes is far more than anyone writes by hand.
const maxConfigBytes = 1 << 20

// configKey is where a run's context keeps its config.
type configKey struct{}

// withConfig has the config file read once in a run, when something of it is
// first asked for: a command that does without never fails for it.
func withConfig(ctx context.Context) context.Context {
	return context.WithValue(ctx, configKey{}, sync.OnceValues(loadConfig))
}

// configOf is the config of a run.
func configOf(ctx context.Context) (config, error) {
	if ctx != nil {
		if read, ok := ctx.Value(configKey{}).(func() (config, error)); ok {
			return read()
		}
	}
	return loadConfig()
}

// loadConfig reads the config file. None is no error, unless it was named by
// CROWLINE_CONFIG.
func loadConfig() (config, error) {
	path := configPath()
	if path == "" {
		return config{}, nil
	}
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() { // opening a pipe waits for who writes
		return config{}, fmt.Errorf("config file %s: it is not a plain file", path)
	}
	f, err := os.Open(path)
	if errors.Is(err, os.ErrNotExist) && os.Getenv(configVariable) == "" {
		return config{}, nil
	}
	if err != nil {
		return config{}, fmt.Errorf("config file %s: cannot be opened", path)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxConfigBytes+1))
	if err != nil {
		return config{}, fmt.Errorf("config file %s: cannot be read", path)
	}
	if len(data) > maxConfigBytes {
		return config{}, fmt.Errorf("config file %s: larger than a config file is", path)
	}
	c, err := parseConfig(data)
	if err != nil {
		return config{}, fmt.Errorf("config file %s: %w", path, err)
	}
	c.path = path
	for i, p := range c.DEM {
		c.DEM[i] = resolvePath(p, filepath.Dir(path))
	}
	if c.Places != "" {
		c.Places = resolvePath(c.Places, filepath.Dir(path))
	}
	return c, nil
}

// configEntry is a key of the config file.
type configEntry struct {
	key string
	// meaning and usual are for people: what it is, and what holds without it.
	meaning, usual string
	example        string // a value as it is typed after crowline config KEY
	paths          bool   // its values are paths, from the config file's folder
	list           bool   // it takes several
	set            func(c *config, value json.RawMessage) error
}

// text is a key that is a text which check, nil for none, finds right.
func text(of func(c *config) *string, check func(string) error) func(*config, json.RawMessage) error {
	return func(c *config, value json.RawMessage) error {
		if err := json.Unmarshal(value, of(c)); err != nil {
			return err
		}
		if t := *of(c); t != "" && check != nil {
			return check(t)
		}
		return nil
	}
}

// checkedBy is a check by a function that reads a value.
func checkedBy[T any](parse func(string) (T, error)) func(string) error {
	return func(text string) error {
		_, err := parse(text)
		return err
	}
}

// configEntries are the keys, in the order in which a user wants them.
var configEntries = []configEntry{
	{key: "dem", paths: true, list: true, example: "tiles finer.tif",
		meaning: "elevation data: files, folders, patterns or addresses, as --dem takes them", usual: "the demo data",
		set: func(c *config, value json.RawMessage) (err error) {
			c.DEM, err = oneOrMore(value)
			return err
		}},
	{key: "places", paths: true, example: "places.gpx",
		meaning: "your file of named places, as --places takes it", usual: "no named places",
		set: text(func(c *config) *string { return &c.Places }, nil)},
	{key: "units", example: "us",
		meaning: "units of the text: metric or us", usual: "metric",
		set: text(func(c *config) *string { return &c.Units }, func(t string) error {
			if _, err := parseUnits(t); err != nil {
				return fmt.Errorf("%q is not metric or us", t)
			}
			return nil
		})},
	{key: "compass", example: "adjusted",
		meaning: "your compass: plain, with no declination set on it, or adjusted, with it set", usual: "numbers for both",
		set: text(func(c *config) *string { return &c.Compass }, checkedBy(answer.ParseCompass))},
	{key: "pace", example: "65/100m",
		meaning: "your double paces in 100 m or 100 yd, counted on such ground", usual: fmt.Sprintf("%g/100m", answer.DefaultWalk().DoublePaces),
		set: text(func(c *config) *string { return &c.Pace }, func(t string) error { return new(paceFlag).Set(t) })},
	{key: "speed", example: "4km/h",
		meaning: "your walking speed on a level path, in place of each rule's own", usual: "5 km/h by naismith and tobler, 4 by din",
		set: text(func(c *config) *string { return &c.Speed }, checkedBy(parseSpeed))},
	{key: "rule", example: "naismith",
		meaning: "the rule where one time is told: naismith, tobler or din", usual: "tobler",
		set: text(func(c *config) *string { return &c.Rule }, checkedBy(profile.ParseRule))},
	{key: "interval", example: "40ft",
		meaning: "the contour interval of the map in your hand, as 20m or 40ft", usual: "what maps at the scale usually have",
		set: text(func(c *config) *string { return &c.Interval }, checkedBy(parseInterval))},
	{key: "height_unit", example: "ftUS",
		meaning: "the unit of the data's heights, if files name none or the wrong one: m, ft or ftUS", usual: "what the file names",
		set: text(func(c *config) *string { return &c.HeightUnit }, func(t string) error {
			if !slices.Contains(heightUnits, t) {
				return fmt.Errorf("%q is not m, ft or ftUS", t)
			}
			return nil
		})},
	{key: "max_memory", example: "2GB",
		meaning: "the most memory a question may take, as 2GB or 25%", usual: "half the machine's",
		set: text(func(c *config) *string { return &c.MaxMemory }, checkedBy(parseMemory))},
	{key: "sources", list: true, example: "sources.json",
		meaning: "data sets of your own for crowline dem get: a JSON list, or the file that holds it", usual: "those built in",
		set: func(c *config, value json.RawMessage) (err error) {
			c.sources, err = fetch.ParseSources(value)
			return err
		}},
}

// configKeys are their names.
func configKeys() []string {
	var keys []string
	for _, e := range configEntries {
		keys = append(keys, e.key)
	}
	return keys
}

// entryOf is a key, or an error that lists those there are.
func entryOf(key string) (configEntry, error) {
	for _, e := range configEntries {
		if e.key == key {
			return e, nil
		}
	}
	keys := configKeys()
	last := len(keys) - 1
	return configEntry{}, fmt.Errorf("there is no key %q; there are %s and %s", key, strings.Join(keys[:last], ", "), keys[last])
}

// parseConfig reads and checks a config file's content. What is not known is
// an error: a misspelt key would otherwise be passed over in silence.
func parseConfig(data []byte) (config, error) {
	var c config
	var keys map[string]json.RawMessage
	if err := json.Unmarshal(data, &keys); err != nil {
		return config{}, plainJSONError(data, err)
	}
	for _, key := range slices.Sorted(maps.Keys(keys)) {
		entry, err := entryOf(key)
		if err != nil {
			return config{}, err
		}
		if err := entry.set(&c, keys[key]); err != nil {
			return config{}, fmt.Errorf("%q: %w", key, plainJSONError(keys[key], err))
		}
	}
	return c, nil
}

// oneOrMore reads a text or a list of texts.
func oneOrMore(value json.RawMessage) ([]string, error) {
	var one string
	if json.Unmarshal(value, &one) == nil && one != "" {
		return []string{one}, nil
	}
	var list []string
	if err := json.Unmarshal(value, &list); err != nil || slices.Contains(list, "") {
		return nil, errors.New(`it is a text or a list of texts, as ["tiles", "finer.tif"]`)
	}
	return list, nil
}

// plainJSONError says in the user's words what was wrong with JSON. Errors of
// other kinds are as they were.
func plainJSONError(data []byte, err error) error {
	var syntax *json.SyntaxError
	var kind *json.UnmarshalTypeError
	switch {
	case errors.As(err, &syntax):
		before := data[:min(int(syntax.Offset), len(data))]
		return fmt.Errorf("line %d is not JSON: look near there for a comma, quote or bracket too few or too many", 1+bytes.Count(before, []byte("\n")))
	case errors.As(err, &kind):
		field := ""
		if kind.Field != "" {
			field = kind.Field + ": "
		}
		return fmt.Errorf("%sit is %s, not %s", field, jsonKind(kind.Type.Kind()), jsonValue(kind.Value))
	}
	const unknown = `json: unknown field `
	if _, field, found := strings.Cut(err.Error(), unknown); found {
		return fmt.Errorf("there is no key %s in it", field)
	}
	return err
}

func jsonKind(k reflect.Kind) string {
	switch k {
	case reflect.String:
		return "a text in quotes"
	case reflect.Slice, reflect.Array:
		return "a list"
	case reflect.Struct, reflect.Map:
		return "keys and values in braces"
	case reflect.Bool:
		return "true or false"
	case reflect.Int:
		return "a whole number"
	}
	return "a number"
}

// jsonValue is what the JSON library calls a value, with its article.
func jsonValue(value string) string {
	value, digits, _ := strings.Cut(value, " ") // "number 1.5"
	if digits != "" {
		return digits
	}
	switch value {
	case "array":
		return "a list"
	case "object":
		return "keys and values in braces"
	case "string":
		return "a text"
	case "bool":
		return "true or false"
	}
	return "a " + value
}

func resolvePath(path, folder string) string {
	if gdalio.IsAddress(path) || filepath.IsAbs(path) {
		return path
	}
	if rest, ok := strings.CutPrefix(path, "~/"); ok {
		if home, err := os.UserHomeDir(); err == nil {
			return filepath.Join(home, rest)
		}
	}
	return filepath.Join(folder, path)
}

// defaultDEM is the elevation data when no --dem is given: CROWLINE_DEM,
// else the config file's, else none. from says which, for messages.
func (c config) defaultDEM() (paths []string, from string) {
	if list := os.Getenv(demVariable); list != "" {
		return splitPaths(list), demVariable
	}
	if len(c.DEM) > 0 {
		return c.DEM, c.path
	}
	return nil, ""
}

// splitPaths cuts a list of paths at the system's list separator, and leaves
// the colons of addresses whole.
func splitPaths(list string) []string {
	var paths []string
	for _, part := range filepath.SplitList(list) {
		n := len(paths)
		switch {
		case part == "":
		case n > 0 && (paths[n-1] == "http" || paths[n-1] == "https") && strings.HasPrefix(part, "//"):
			paths[n-1] += ":" + part
		case n > 0 && bareServer(paths[n-1]) && part[0] >= '0' && part[0] <= '9':
			paths[n-1] += ":" + part // the address's port
		default:
			paths = append(paths, part)
		}
	}
	return paths
}

// bareServer reports whether a text is an address that ends in its server.
func bareServer(text string) bool {
	_, server, _ := strings.Cut(text, "://")
	return gdalio.IsAddress(text) && !strings.Contains(server, "/")
}

// defaultMemoryShare of the machine is what a question may take.
const defaultMemoryShare = 0.5

// What a question may be given: below the least, bytes or percent of the
// machine, none can be answered, and no machine has the most.
const (
	leastMemory = 1
	mostMemory  = 1e15
	leastShare  = 0.1
)

// parseMemory reads a size in bytes: "500MB", "2GB", or a share of the
// machine, "25%". "" is the default share.
func parseMemory(text string) (int64, error) {
	wrong := fmt.Errorf("%q is not a size of memory from 1B to 1000000GB, nor a share of the machine from %g%% to 100%%; write 500MB, 2GB or 25%%", text, leastShare)
	t := strings.ToUpper(strings.TrimSpace(text))
	if t == "" {
		return int64(defaultMemoryShare * float64(gdalio.MachineMemory())), nil
	}
	if share, ok := strings.CutSuffix(t, "%"); ok {
		v, ok := geodesy.ParseNumber(strings.TrimSpace(share))
		if !ok || v < leastShare || v > 100 {
			return 0, wrong
		}
		return int64(v / 100 * float64(gdalio.MachineMemory())), nil
	}
	for _, unit := range []struct {
		suffix string
		bytes  float64
	}{{"GB", 1e9}, {"G", 1e9}, {"MB", 1e6}, {"M", 1e6}, {"KB", 1e3}, {"B", 1}} {
		if number, ok := strings.CutSuffix(t, unit.suffix); ok {
			v, ok := geodesy.ParseNumber(strings.TrimSpace(number))
			if !ok || v*unit.bytes < leastMemory || v*unit.bytes > mostMemory {
				return 0, wrong
			}
			return int64(v * unit.bytes), nil
		}
	}
	return 0, wrong
}
