package desk

import (
	"embed"
	"net/http"
	"path"
)

// assets are the page's files, every one by its name: nothing is served that is
// not in this list. The list and the embed directive name the same files, which a
// test holds.
//
//go:embed page/api.js page/handles.js page/icon.svg page/index.html page/leg.js page/main.js page/map.js page/margin.js page/overlay.js page/places.js page/profile.js page/skyline.js page/stand.js page/state.js page/style.css page/svg.js page/takeaway.js page/units.js page/view.js page/words.js
var files embed.FS

var assets = []string{
	"api.js",
	"handles.js",
	"icon.svg",
	"index.html",
	"leg.js",
	"main.js",
	"map.js",
	"margin.js",
	"overlay.js",
	"places.js",
	"profile.js",
	"skyline.js",
	"stand.js",
	"state.js",
	"style.css",
	"svg.js",
	"takeaway.js",
	"units.js",
	"view.js",
	"words.js",
}

// contentTypes are those of the endings that assets may have.
var contentTypes = map[string]string{
	".html": "text/html; charset=utf-8",
	".css":  "text/css; charset=utf-8",
	".js":   "text/javascript; charset=utf-8",
	".svg":  "image/svg+xml",
	".png":  "image/png",
	".txt":  "text/plain; charset=utf-8",
}

// addAssets serves the page.
func (d *Desk) addAssets(mux *http.ServeMux) {
	for _, name := range assets {
		body, err := files.ReadFile("page/" + name)
		if err != nil {
			panic(err) // the embed directive names the same files
		}
		at := "/" + name
		if name == "index.html" {
			at = "/{$}"
		}
		mux.HandleFunc("GET "+at, func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Content-Type", contentTypes[path.Ext(name)])
			_, _ = w.Write(body)
		})
	}
}
