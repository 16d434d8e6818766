package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"crowline/cmd/internal/answer"
	"crowline/cmd/internal/report"
	"crowline/dem/gdalio"
	"crowline/dem/outfile"
)

type configOptions struct {
	streams Streams
	json    bool
	remove  bool

	key    string
	values []string
}

func newConfigCmd(s Streams, runF func(context.Context, *configOptions) error) *cobra.Command {
	o := &configOptions{streams: s}
	if runF == nil {
		runF = configRun
	}
	var keys strings.Builder
	for _, e := range configEntries {
		for i, line := range report.Wrap(e.meaning+" (without it: "+e.usual+")", report.Width-16) {
			name := ""
			if i == 0 {
				name = e.key
			}
			fmt.Fprintf(&keys, "\n  %-12s  %s", name, line)
		}
	}
	cmd := &cobra.Command{
		Use:   "config [KEY [VALUE ...]]",
		Short: "Your own defaults: show them, set one, take one out",
		Long: `Show every default you can set, its value and where it comes from. With KEY
show that one; with VALUE check it and write it to the config file.

The file is crowline/config.json in your configuration folder, or the one that
the environment variable CROWLINE_CONFIG names: one JSON object. A flag given
to a command comes before it, and the environment variable CROWLINE_DEM before
its dem. Paths in it are from its own folder; here they are from the folder
you stand in, and are written whole.

Keys:` + keys.String(),
		Example: `  crowline config
  crowline config units us
  crowline config dem tiles finer.tif
  crowline config units --remove`,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				o.key, o.values = args[0], args[1:]
			}
			return runF(cmd.Context(), o)
		},
		ValidArgsFunction: func(_ *cobra.Command, args []string, _ string) ([]cobra.Completion, cobra.ShellCompDirective) {
			if len(args) == 0 {
				return configKeys(), cobra.ShellCompDirectiveNoFileComp
			}
			if e, err := entryOf(args[0]); err == nil && (e.paths || e.key == "sources") {
				return nil, cobra.ShellCompDirectiveDefault
			}
			return nil, cobra.ShellCompDirectiveNoFileComp
		},
	}
	cmd.Flags().BoolVar(&o.json, "json", false, "answer as one JSON object")
	cmd.Flags().BoolVar(&o.remove, "remove", false, "take KEY out of the config file")
	return cmd
}

func configRun(_ context.Context, o *configOptions) error {
	path := configPath()
	entries := configEntries
	if o.key != "" {
		e, err := entryOf(o.key)
		if err != nil && !o.remove { // a misspelt one in the file can be taken out
			return &flagError{err}
		}
		if entries = []configEntry{e}; err != nil {
			entries = nil
		}
	}
	switch {
	case o.remove && o.key == "":
		return usageErrorf("--remove takes out one key; say which: crowline config KEY --remove")
	case o.remove && len(o.values) > 0:
		return usageErrorf("--remove takes the key out: leave out the value")
	case path == "" && (o.remove || len(o.values) > 0):
		return errors.New("this system has no folder for a config file; name one with CROWLINE_CONFIG")
	}
	file, err := readConfigFile(path)
	if err != nil {
		return err
	}
	if o.remove || len(o.values) > 0 {
		var value json.RawMessage
		if !o.remove {
			if value, err = entries[0].value(o.values); err != nil {
				return usageErrorf("%s: %w", o.key, err)
			}
		}
		there := slices.ContainsFunc(file.keys, func(k configPair) bool { return k.key == o.key })
		switch {
		case there || !o.remove:
			if err := file.with(o.key, value); err != nil {
				return err
			}
		case entries == nil:
			return fmt.Errorf("there is no %s in %s to take out", o.key, path)
		}
	}
	a := &answer.ConfigAnswer{File: path, Exists: file.exists}
	for _, e := range entries {
		k := answer.ConfigKey{Key: e.key, Value: e.usual, From: "built in", Meaning: e.meaning, Example: e.example}
		for _, pair := range file.keys {
			if pair.key == e.key {
				k.Value, k.From = asTyped(pair.value), "config file"
			}
		}
		if list := os.Getenv(demVariable); e.key == "dem" && list != "" {
			k.Value, k.From = list, demVariable
		}
		a.Keys = append(a.Keys, k)
	}
	if o.json {
		return answer.Encode(o.streams.Out, a)
	}
	p := report.NewPage(o.streams.Out, 0)
	report.Config(p, a)
	return p.Err()
}

// value is what is written of values typed, checked.
func (e configEntry) value(typed []string) (json.RawMessage, error) {
	if len(typed) > 1 && !e.list || len(typed) > 1 && e.key == "sources" {
		return nil, errors.New("it takes one value; put quotes round a value with spaces in it")
	}
	var value any = typed[0]
	switch {
	case e.key == "sources":
		list := json.RawMessage(typed[0])
		if !strings.HasPrefix(strings.TrimSpace(typed[0]), "[") {
			data, err := readSmall(typed[0])
			if err != nil {
				return nil, err
			}
			list = data
		}
		value = list
	case e.paths:
		whole := make([]string, len(typed))
		for i, t := range typed {
			var err error
			if whole[i], err = wholePath(t); err != nil {
				return nil, err
			}
		}
		if value = whole; len(whole) == 1 {
			value = whole[0]
		}
	}
	raw, err := json.Marshal(value)
	if err != nil {
		return nil, errors.New("it is not JSON: " + plainJSONError(nil, err).Error())
	}
	var c config
	if err := e.set(&c, raw); err != nil {
		return nil, plainJSONError(raw, err)
	}
	return raw, nil
}

// wholePath is a path from the root of the system, of a file or folder that is
// there. Addresses and patterns stay as they are.
func wholePath(path string) (string, error) {
	if gdalio.IsAddress(path) {
		return path, nil
	}
	whole, err := filepath.Abs(path)
	if err != nil {
		return "", err
	}
	if _, err := os.Stat(whole); err != nil && !strings.ContainsAny(path, "*?[") {
		return "", fmt.Errorf("there is no %s", path)
	}
	return whole, nil
}

// readSmall reads a file no larger than a config file is.
func readSmall(path string) ([]byte, error) {
	info, err := os.Stat(path)
	if err != nil || !info.Mode().IsRegular() {
		return nil, fmt.Errorf("%s is no file that can be read", path)
	}
	if info.Size() > maxConfigBytes {
		return nil, fmt.Errorf("%s is larger than a config file is", path)
	}
	return os.ReadFile(path)
}

// asTyped is a value as it would be typed.
func asTyped(value json.RawMessage) string {
	if list, err := oneOrMore(value); err == nil && len(list) > 0 {
		return strings.Join(list, " ")
	}
	var line bytes.Buffer
	if json.Compact(&line, value) != nil {
		return string(value)
	}
	return line.String()
}

// configPair is a key of a config file and its value.
type configPair struct {
	key   string
	value json.RawMessage
}

// configFile is a config file as it is written, its keys in their order.
type configFile struct {
	path   string
	exists bool
	keys   []configPair
}

// readConfigFile reads one; none is an empty one.
func readConfigFile(path string) (configFile, error) {
	f := configFile{path: path}
	if path == "" {
		return f, nil
	}
	if _, err := os.Lstat(path); errors.Is(err, os.ErrNotExist) {
		return f, nil
	}
	f.exists = true
	data, err := readSmall(path)
	if err != nil {
		return f, fmt.Errorf("config file: %w", err)
	}
	var whole map[string]json.RawMessage
	if err := json.Unmarshal(data, &whole); err != nil {
		return f, fmt.Errorf("config file %s: %w; mend it, or remove it to begin anew", path, plainJSONError(data, err))
	}
	decoder := json.NewDecoder(bytes.NewReader(data))
	if _, err := decoder.Token(); err != nil {
		return f, err
	}
	for decoder.More() {
		key, err := decoder.Token()
		if err != nil {
			return f, err
		}
		var value json.RawMessage
		if err := decoder.Decode(&value); err != nil && !errors.Is(err, io.EOF) {
			return f, err
		}
		f.keys = append(f.keys, configPair{fmt.Sprint(key), value})
	}
	return f, nil
}

// with writes the file with a key set, or without it where value is nil. All else
// in it stays, and must be right.
func (f *configFile) with(key string, value json.RawMessage) error {
	keys := slices.DeleteFunc(slices.Clone(f.keys), func(p configPair) bool { return p.key == key && value == nil })
	if i := slices.IndexFunc(keys, func(p configPair) bool { return p.key == key }); i >= 0 {
		keys[i].value = value
	} else if value != nil {
		keys = append(keys, configPair{key, value})
	}
	var text bytes.Buffer
	text.WriteString("{")
	for i, p := range keys {
		if i > 0 {
			text.WriteString(",")
		}
		name, err := json.Marshal(p.key)
		if err != nil {
			return err
		}
		fmt.Fprintf(&text, "\n  %s: ", name)
		if err := json.Indent(&text, p.value, "  ", "  "); err != nil {
			return err
		}
	}
	text.WriteString("\n}\n")
	if _, err := parseConfig(text.Bytes()); err != nil {
		return fmt.Errorf("config file %s: %w; mend that first, or take it out with crowline config KEY --remove", f.path, err)
	}
	if err := os.MkdirAll(filepath.Dir(f.path), 0o700); err != nil {
		return fmt.Errorf("the folder of the config file, %s, cannot be made", filepath.Dir(f.path))
	}
	if err := outfile.Write(outfile.File{Path: f.path, Body: text.Bytes()}); err != nil {
		return err
	}
	f.keys, f.exists = keys, true
	return nil
}
