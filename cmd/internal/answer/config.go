package answer

// ConfigAnswer is the user's defaults, and where each comes from.
type ConfigAnswer struct {
	// The config file; "" where the system has no folder for one.
	File string `json:"file"`
	// Whether the file is there.
	Exists bool `json:"exists"`
	// The keys asked for.
	Keys []ConfigKey `json:"keys"`
}

// ConfigKey is one key of the config file.
type ConfigKey struct {
	// The key's name.
	Key string `json:"key"`
	// Its value, as it would be typed; what holds without one where none is set.
	Value string `json:"value"`
	// Where the value comes from: "config file", "CROWLINE_DEM", or "built in".
	From string `json:"from"`
	// What the key means.
	Meaning string `json:"meaning"`
	// A value as it is typed after crowline config KEY.
	Example string `json:"example"`
}

var _ = register[ConfigAnswer]("config")
