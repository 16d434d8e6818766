package report

import "crowline/cmd/internal/answer"

// Config writes the user's defaults.
func Config(p *Page, a *answer.ConfigAnswer) {
	p.Head("Config file")
	switch {
	case a.File == "":
		p.Line("file", "none: this system has no folder for it; name one with CROWLINE_CONFIG")
	case a.Exists:
		p.Line("file", "%s", a.File)
	default:
		p.Line("file", "%s (not there yet: setting a key makes it)", a.File)
	}
	p.Head("Keys")
	for _, k := range a.Keys {
		p.Line(k.Key, "%s (%s)", k.Value, k.From)
		p.Line("", "%s; for example crowline config %s %s", k.Meaning, k.Key, k.Example)
	}
	p.Note("crowline config KEY VALUE sets one; crowline config KEY --remove takes it out.")
}
