package stand

import (
	"bytes"
	"compress/gzip"
	"errors"
	"io"
	"net/http"
	"net/http/httptest"
	"slices"
	"strconv"
	"strings"
	"testing"
)

func TestParsePaper(t *testing.T) {
	for name, want := range map[string]Paper{"a4": A4, "A4": A4, "letter": Letter, "Letter": Letter} {
		if got, err := ParsePaper(name); err != nil || got != want {
			t.Errorf("%s: got %v, %v", name, got, err)
		}
	}
	for _, name := range []string{"", "a5", "legal", "a4 "} {
		if got, err := ParsePaper(name); err == nil || !strings.Contains(err.Error(), "write a4 or letter") {
			t.Errorf("%q: got %v, %v", name, got, err)
		}
	}
}

func TestPaperOf(t *testing.T) {
	for _, c := range []struct {
		environment string // NAME=VALUE ...
		want        Paper
	}{
		{"", A4},
		{"LANG=C", A4},
		{"LANG=C.UTF-8", A4},
		{"LANG=en_US.UTF-8", Letter},
		{"LANG=fr_CA", Letter},
		{"LANG=es_MX.ISO-8859-1@euro", Letter},
		{"LANG=en_GB.UTF-8", A4},
		{"LANG=en_US.UTF-8 LC_PAPER=de_DE.UTF-8", A4},
		{"LANG=de_DE.UTF-8 LC_PAPER=en_US.UTF-8", Letter},
		{"LC_ALL=de_DE.UTF-8 LC_PAPER=en_US.UTF-8", A4},
		{"LC_ALL= LC_PAPER= LANG=en_CA", Letter},
		{"LANG=US", A4}, // no country: a language
	} {
		getenv := func(name string) string {
			for _, word := range strings.Fields(c.environment) {
				if value, ok := strings.CutPrefix(word, name+"="); ok {
					return value
				}
			}
			return ""
		}
		if got := PaperOf(getenv); got != c.want {
			t.Errorf("%q: got %s, want %s", c.environment, got.Name, c.want.Name)
		}
	}
}

func TestFindBrowser(t *testing.T) {
	onPath := func(names ...string) func(string) (string, error) {
		return func(name string) (string, error) {
			if slices.Contains(names, name) {
				return "/bin/" + name, nil
			}
			return "", errors.New("not there")
		}
	}
	home := func(name string) string {
		return map[string]string{"HOME": "/Users/me", "ProgramFiles": `C:\Program Files`}[name]
	}
	mac, windows := placesOf("darwin", home), placesOf("windows", home)
	const macChrome, edge = "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome", `C:\Program Files\Microsoft\Edge\Application\msedge.exe`
	for _, c := range []struct {
		name   string
		path   func(string) (string, error)
		places []string
		files  []string // in the usual places
		want   string
	}{
		{"nothing", onPath(), placesOf("linux", home), nil, ""},
		{"path", onPath("msedge", "chromium-browser"), mac, []string{macChrome}, "/bin/chromium-browser"},
		{"chrome", onPath("google-chrome"), nil, nil, "/bin/google-chrome"},
		{"a Mac", onPath(), mac, []string{macChrome}, macChrome},
		{"a Mac of one's own", onPath(), mac, []string{"/Users/me/Applications/Chromium.app/Contents/MacOS/Chromium"}, "/Users/me/Applications/Chromium.app/Contents/MacOS/Chromium"},
		{"Windows", onPath(), windows, []string{edge}, edge},
		{"none in the places", onPath(), windows, []string{macChrome}, ""},
	} {
		got, err := findBrowser(c.path, c.places, func(path string) bool { return slices.Contains(c.files, path) })
		if got != c.want || (err == nil) != (c.want != "") || err != nil && !errors.Is(err, ErrNoBrowser) {
			t.Errorf("%s: got %q, %v, want %q", c.name, got, err, c.want)
		}
	}
}

// What is carried packed is served packed to who takes it so, and plain to others; a damaged one
// is said to be that.
func TestPackedFiles(t *testing.T) {
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	io.WriteString(z, "export default 1")
	z.Close()
	for _, c := range []struct {
		name, accepts, want, encoding string
		text                          []byte
		status                        int
	}{
		{"packed", "br, gzip", packed.String(), "gzip", packed.Bytes(), 200},
		{"plain", "", "export default 1", "", packed.Bytes(), 200},
		{"damaged", "", "the engraver in this build is damaged\n", "", []byte("no gzip"), 500},
	} {
		for _, method := range []string{"GET", "HEAD"} {
			r := httptest.NewRequest(method, "/", nil)
			r.Header.Set("Accept-Encoding", c.accepts)
			w := httptest.NewRecorder()
			serveFile(w, r, file{kind: "text/javascript", packed: c.text, policy: pagePolicy})
			want, h := c.want, w.Header()
			if method == "HEAD" && c.status == 200 {
				want = ""
			}
			if w.Code != c.status || w.Body.String() != want || h.Get("Content-Encoding") != c.encoding || h.Get("Vary") != "Accept-Encoding" {
				t.Errorf("%s, %s: %d %q, %v", c.name, method, w.Code, w.Body, h)
			}
			if c.status == 200 && h.Get("Content-Length") != strconv.Itoa(len(c.want)) {
				t.Errorf("%s, %s: length %s of %d", c.name, method, h.Get("Content-Length"), len(c.want))
			}
		}
	}
}

// Of what a browser says the last line is kept, whatever it says before.
func TestTail(t *testing.T) {
	var said tail
	if got := said.last(); got != "" {
		t.Errorf("nothing said: %q", got)
	}
	for range 100 {
		if n, err := said.Write([]byte(strings.Repeat("x", 99) + "\n")); n != 100 || err != nil {
			t.Fatalf("%d, %v", n, err)
		}
	}
	said.Write([]byte("  the end \n\n"))
	if got := said.last(); got != "the end" || len(said.text) != maxTail {
		t.Errorf("last %q, %d bytes kept", got, len(said.text))
	}
}

// The sandbox is given up by root alone.
func TestBrowserFlags(t *testing.T) {
	for _, asRoot := range []bool{false, true} {
		flags := flagsOf("/tmp/profile", asRoot)
		if slices.Contains(flags, "--no-sandbox") != asRoot {
			t.Errorf("root %v: %q", asRoot, flags)
		}
		for _, want := range []string{"--headless", "--disable-gpu", "--no-first-run", "--user-data-dir=/tmp/profile", "--disable-background-networking"} {
			if !slices.Contains(flags, want) {
				t.Errorf("no %s: %q", want, flags)
			}
		}
	}
}

// The page for paper is there for who knows the token and names the host, and for nobody else.
func TestPrintPageIsGuarded(t *testing.T) {
	files, err := filesOf(carried)
	if err != nil {
		t.Fatal(err)
	}
	h := printHandler(files, "token", "127.0.0.1:7")
	for _, c := range []struct {
		method, host, path string
		want               int
	}{
		{"GET", "127.0.0.1:7", "/token/print.html", 200},
		{"GET", "127.0.0.1:7", "/token/print.js", 200},
		{"GET", "127.0.0.1:7", "/token/print.sheets.css", 200},
		{"GET", "127.0.0.1:7", "/token/print.share.js", 200},
		{"GET", "127.0.0.1:7", "/other/print.html", 404},
		{"GET", "127.0.0.1:7", "/print.html", 404},
		{"GET", "127.0.0.1:7", "/token/../stand.go", 404},
		{"POST", "127.0.0.1:7", "/token/print.html", 405},
		{"GET", "elsewhere.example:7", "/token/print.html", 421},
	} {
		r := httptest.NewRequest(c.method, "/", nil)
		r.URL.Path, r.Host = c.path, c.host
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if w.Code != c.want {
			t.Errorf("%s %s of %s: %d, want %d", c.method, c.path, c.host, w.Code, c.want)
		}
		policy := w.Header().Get("Content-Security-Policy")
		if strings.Contains(policy, "unsafe-eval") != (c.want == 200 && strings.HasSuffix(c.path, printPage)) || !strings.HasPrefix(policy, "default-src 'none'") || strings.Contains(policy, "unsafe-inline") {
			t.Errorf("%s %s: policy %q", c.method, c.path, policy)
		}
	}
}

// The printer's server is on this machine alone.
func TestPrintServesThisMachine(t *testing.T) {
	p := &Printer{}
	address, err := p.serve()
	if err != nil {
		t.Fatal(err)
	}
	defer p.server.Close()
	if !strings.HasPrefix(address, "http://127.0.0.1:") || !strings.HasSuffix(address, "/"+printPage) {
		t.Fatalf("at %s", address)
	}
	answer, err := http.Get(address)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	if text, err := io.ReadAll(answer.Body); err != nil || !strings.Contains(string(text), `src="print.js"`) {
		t.Errorf("got %q, %v", text, err)
	}
}
