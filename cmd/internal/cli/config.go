package cli

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"crowline/dem/fetch"
	"crowline/dem/gdalio"
)

// Environment variables read.
const (
	demVariable    = "CROWLINE_DEM"    // elevation data, as a list of paths
	configVariable = "CROWLINE_CONFIG" // the config file, in place of the usual one
)

// config is the user's own defaults, from a JSON file.
type config struct {
	// DEM is elevation data, as --dem takes it. Paths are taken from the
	// config file's folder; "~/" is the home folder.
	DEM []string `json:"dem"`
	// Units is "metric" or "us".
	Units string `json:"units"`
	// HeightUnit is "m", "ft" or "ftUS".
	HeightUnit string `json:"height_unit"`
	// MaxMemory is a size, such as "2GB", or a share of the machine, "50%".
	MaxMemory string `json:"max_memory"`
	// Sources are data sets for crowline dem get, beside those built in.
	Sources json.RawMessage `json:"sources"`

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

// loadConfig reads the config file. None is no error, unless it was named by
// CROWLINE_CONFIG.
func loadConfig() (config, error) {
	path := configPath()
	if path == "" {
		return config{}, nil
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
	return c, nil
}

// parseConfig reads and checks a config file's content. What is not known is
// an error: a misspelt key would otherwise be passed over in silence.
func parseConfig(data []byte) (config, error) {
	var c config
	decoder := json.NewDecoder(bytes.NewReader(data))
	decoder.DisallowUnknownFields()
	if err := decoder.Decode(&c); err != nil {
		return config{}, fmt.Errorf("not understood: %w", err)
	}
	if _, err := decoder.Token(); err != io.EOF {
		return config{}, errors.New("something follows its closing brace")
	}
	if c.Units != "" {
		if _, err := parseUnits(c.Units); err != nil {
			return config{}, err
		}
	}
	switch c.HeightUnit {
	case "", "m", "ft", "ftUS":
	default:
		return config{}, fmt.Errorf("height_unit %q is not m, ft or ftUS", c.HeightUnit)
	}
	if c.MaxMemory != "" {
		if _, err := parseMemory(c.MaxMemory); err != nil {
			return config{}, err
		}
	}
	if len(c.Sources) > 0 {
		var err error
		if c.sources, err = fetch.ParseSources(c.Sources); err != nil {
			return config{}, err
		}
	}
	return c, nil
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

// parseMemory reads a size in bytes: "500MB", "2GB", or a share of the
// machine, "25%". "" is the default share; 0 bytes is no limit.
func parseMemory(text string) (int64, error) {
	wrong := fmt.Errorf("%q is not a size of memory; write 500MB, 2GB or 25%%", text)
	t := strings.ToUpper(strings.TrimSpace(text))
	if t == "" {
		return int64(defaultMemoryShare * float64(gdalio.MachineMemory())), nil
	}
	if share, ok := strings.CutSuffix(t, "%"); ok {
		v, err := strconv.ParseFloat(share, 64)
		if err != nil || !(v > 0 && v <= 100) {
			return 0, wrong
		}
		return int64(v / 100 * float64(gdalio.MachineMemory())), nil
	}
	for _, unit := range []struct {
		suffix string
		bytes  float64
	}{{"GB", 1e9}, {"G", 1e9}, {"MB", 1e6}, {"M", 1e6}, {"KB", 1e3}, {"B", 1}} {
		if number, ok := strings.CutSuffix(t, unit.suffix); ok {
			v, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
			if err != nil || !(v > 0 && v*unit.bytes < 1e15) {
				return 0, wrong
			}
			return int64(v * unit.bytes), nil
		}
	}
	return 0, wrong
}
