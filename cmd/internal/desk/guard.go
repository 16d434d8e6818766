package desk

import (
	"crypto/subtle"
	"mime"
	"net/http"
	"strings"
)

// A page in a browser can be made to send requests to any address, and any site
// can have its name resolve to 127.0.0.1. So that no site but our own page is
// answered, every request passes every guard.

// guardName is one guard. Tests switch guards off, to see that it is the guard
// that refuses.
type guardName string

const (
	guardHost    guardName = "host"    // the Host header is the listener's own: no other name that resolves here
	guardSite    guardName = "site"    // the browser says that the request is the page's own, or typed
	guardOrigin  guardName = "origin"  // Go's own protection of methods that change something
	guardToken   guardName = "token"   // who asks for data was given the address by whoever started the desk
	guardType    guardName = "type"    // a form of another site cannot send JSON without being asked first
	guardSize    guardName = "size"    // no body fills the memory
	guardFields  guardName = "fields"  // nothing is sent that is not understood
	guardHeaders guardName = "headers" // what the browser may do with the answer
)

// mostBody is the largest body of a request, bytes: a route of a hundred turning
// points with long names takes a third of it.
const mostBody = 64 << 10

// securityHeaders are of every answer.
var securityHeaders = map[string]string{
	"Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self' blob:; " +
		"frame-ancestors 'none'; base-uri 'none'; form-action 'none'",
	"X-Content-Type-Options":       "nosniff",
	"Referrer-Policy":              "no-referrer",
	"Cross-Origin-Opener-Policy":   "same-origin",
	"Cross-Origin-Resource-Policy": "same-origin",
	"Cache-Control":                "no-store",
}

func (d *Desk) on(g guardName) bool { return !d.off[g] }

// guarded answers what passes all guards by next.
func (d *Desk) guarded(next http.Handler) http.Handler {
	protection := http.NewCrossOriginProtection()
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if d.on(guardHeaders) {
			for name, value := range securityHeaders {
				w.Header().Set(name, value)
			}
		}
		data := strings.HasPrefix(r.URL.Path, "/api/")
		forbidden := func(why string) { faultf(http.StatusForbidden, "forbidden", "%s", why).write(w) }
		switch {
		case d.on(guardHost) && !d.ownHost(r.Host):
			forbidden("this address is not the desk's own")
			return
		case d.on(guardSite) && !ownSite(r):
			forbidden("another site asks: open the desk's address itself")
			return
		case d.on(guardOrigin) && protection.Check(r) != nil:
			forbidden("another site asks")
			return
		case data && d.on(guardToken) && !d.ownToken(r):
			faultf(http.StatusUnauthorized, "token", "this page is not of the desk that is running: open the address it has printed").write(w)
			return
		case r.Method == http.MethodPost && d.on(guardType) && !isJSON(r):
			faultf(http.StatusUnsupportedMediaType, "type", "a question is sent as application/json").write(w)
			return
		}
		if d.on(guardSize) {
			if r.ContentLength > mostBody {
				tooLarge().write(w)
				return
			}
			r.Body = http.MaxBytesReader(w, r.Body, mostBody)
		}
		next.ServeHTTP(w, r)
	})
}

func tooLarge() *fault {
	return faultf(http.StatusRequestEntityTooLarge, "large", "a question is at most %d KiB", mostBody>>10)
}

// ownHost reports whether a Host header names the listener.
func (d *Desk) ownHost(host string) bool {
	return host == "127.0.0.1:"+d.port || host == "localhost:"+d.port
}

// ownSite reports whether a browser says that a request comes from the desk's own
// page, or from its user; a program that is no browser says nothing.
func ownSite(r *http.Request) bool {
	for _, site := range r.Header.Values("Sec-Fetch-Site") {
		if site != "same-origin" && site != "none" {
			return false
		}
	}
	return true
}

// ownToken takes as long whatever is sent.
func (d *Desk) ownToken(r *http.Request) bool {
	return subtle.ConstantTimeCompare([]byte(r.Header.Get("Crowline-Token")), []byte(d.token)) == 1
}

func isJSON(r *http.Request) bool {
	kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	return err == nil && kind == "application/json"
}
