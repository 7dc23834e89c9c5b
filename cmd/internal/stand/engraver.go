package stand

import (
	"bytes"
	"compress/gzip"
	"embed"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"path"
	"strings"
)

//go:generate go run fetch.go

//go:embed web licences engraver
var carried embed.FS

// engraverFiles are what must be in engraver/ for the page to engrave.
var engraverFiles = []string{"engraver/verovio.mjs", "engraver/verovio-module.mjs.gz", "engraver/package.json"}

// HasEngraver reports whether this build carries the engraver.
func HasEngraver() bool { return hasEngraver(carried) }

func hasEngraver(files fs.FS) bool {
	for _, name := range engraverFiles {
		if _, err := fs.Stat(files, name); err != nil {
			return false
		}
	}
	return true
}

// A file is one that the page may ask for.
type file struct {
	kind   string // its media type
	plain  []byte // nil where only the packed form is carried
	packed []byte // by gzip; nil for none
	policy string // its content security policy
}

// kinds are the media types of what is served; nothing else is.
var kinds = map[string]string{
	".html": "text/html; charset=utf-8", ".css": "text/css; charset=utf-8", ".svg": "image/svg+xml",
	".js": "text/javascript; charset=utf-8", ".mjs": "text/javascript; charset=utf-8",
	".txt": "text/plain; charset=utf-8", ".json": "application/json", ".webmanifest": "application/manifest+json",
}

// filesOf lists what a page may ask for, by path below the token; "" is the page. The list
// is whole: what is not in it does not exist.
func filesOf(all fs.FS) (map[string]file, error) {
	served := map[string]file{}
	err := fs.WalkDir(all, ".", func(name string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		text, err := fs.ReadFile(all, name)
		if err != nil {
			return err
		}
		f := file{plain: text, policy: pagePolicy}
		plainName, isPacked := strings.CutSuffix(strings.TrimPrefix(name, "web/"), ".gz")
		if isPacked {
			f.plain, f.packed = nil, text
		}
		f.kind = kinds[path.Ext(plainName)]
		switch {
		case f.kind == "":
			return nil
		case plainName == engraverProcess:
			f.policy = engraverPolicy
		case plainName == "index.html":
			plainName = ""
		}
		served[plainName] = f
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("stand: %w", err)
	}
	return served, nil
}

// serveFile answers with a file, packed where the browser takes it so.
func serveFile(w http.ResponseWriter, r *http.Request, f file) {
	h := w.Header()
	h.Set("Content-Type", f.kind)
	h.Set("Content-Security-Policy", f.policy)
	h.Set("Cache-Control", "no-cache")
	text := f.plain
	if f.packed != nil {
		h.Set("Cache-Control", "private, max-age=86400") // it is large, and pinned
		h.Set("Vary", "Accept-Encoding")
		if strings.Contains(r.Header.Get("Accept-Encoding"), "gzip") {
			h.Set("Content-Encoding", "gzip")
			text = f.packed
		} else if plain, err := unpacked(f.packed); err == nil {
			text = plain
		} else {
			http.Error(w, "the engraver in this build is damaged", http.StatusInternalServerError)
			return
		}
	}
	h.Set("Content-Length", fmt.Sprint(len(text)))
	if r.Method != http.MethodHead {
		w.Write(text)
	}
}

func unpacked(text []byte) ([]byte, error) {
	in, err := gzip.NewReader(bytes.NewReader(text))
	if err != nil {
		return nil, err
	}
	return io.ReadAll(in)
}
