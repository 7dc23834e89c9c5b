package stand

import (
	"net/http"
	"slices"
	"strings"
)

// engraverProcess is the only script that may make machine code, in a thread of its own
// that cannot reach any address.
const engraverProcess = "engraver.process.js"

// The content security policies: everything comes from the stand, nothing is inline.
const (
	pagePolicy = "default-src 'none'; script-src 'self'; worker-src 'self'; style-src 'self'; img-src 'self'; manifest-src 'self'; " +
		"connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
	engraverPolicy = "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; connect-src 'none'"
	answerPolicy   = "default-src 'none'; frame-ancestors 'none'"
)

// harden sets what every answer says.
func harden(h http.Header) {
	for name, value := range map[string]string{
		"Content-Security-Policy":      answerPolicy,
		"X-Content-Type-Options":       "nosniff",
		"X-Frame-Options":              "DENY",
		"Referrer-Policy":              "no-referrer", // the address is the key
		"Cross-Origin-Opener-Policy":   "same-origin",
		"Cross-Origin-Resource-Policy": "same-origin",
		"Cross-Origin-Embedder-Policy": "require-corp",
		"Permissions-Policy":           "camera=(), microphone=(), geolocation=(), screen-wake-lock=(self), fullscreen=(self)",
		"Cache-Control":                "no-store",
	} {
		h.Set(name, value)
	}
}

// named reports whether the request names this stand by an address of its own.
func (s *Stand) named(host string) bool { return slices.Contains(s.hosts, strings.ToLower(host)) }

// ownOrigin reports whether the request comes from the page itself, as far as the browser
// says; an action must say it.
func (s *Stand) ownOrigin(r *http.Request) bool {
	origin := r.Header.Get("Origin")
	if origin == "" {
		return r.Method != http.MethodPost
	}
	return origin == "http://"+strings.ToLower(r.Host)
}
