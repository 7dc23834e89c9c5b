package stand

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strings"
	"testing"
	"time"

	"onward/cmd/internal/session"
)

// ask asks a stand as a browser would that shows its page, changed by change, and reports
// the answer's status and text.
func ask(t *testing.T, s *Stand, method, path, body string, change func(r *http.Request)) (*http.Response, string) {
	t.Helper()
	r, err := http.NewRequest(method, strings.TrimSuffix(s.Address(), "/")+path, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	if method == http.MethodPost {
		r.Header.Set("Content-Type", "application/json")
		r.Header.Set("Origin", "http://"+s.hosts[0])
	}
	if change != nil {
		change(r)
	}
	answer, err := http.DefaultTransport.RoundTrip(r)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if err != nil {
		t.Fatal(err)
	}
	return answer, string(text)
}

func TestThePageAndItsFiles(t *testing.T) {
	s, _ := (&rehearsal{file: "strain-euphonium"}).open(t)
	for path, kind := range map[string]string{"/": "text/html", "/main.js": "text/javascript", "/stand.css": "text/css", "/licences/LGPL-3.0.txt": "text/plain", "/clock": "application/json"} {
		answer, text := ask(t, s, "GET", path, "", nil)
		if answer.StatusCode != 200 || !strings.HasPrefix(answer.Header.Get("Content-Type"), kind) || text == "" {
			t.Errorf("%s: %s, %q, %d bytes", path, answer.Status, answer.Header.Get("Content-Type"), len(text))
		}
	}
	for name := range s.files {
		if answer, text := ask(t, s, "GET", "/"+name, "", nil); answer.StatusCode != 200 || len(text) == 0 {
			t.Errorf("%s: %s, %d bytes", name, answer.Status, len(text))
		}
	}
}

// TestThreats has what nobody may do, by the list in DEVELOPERS.md.
func TestThreats(t *testing.T) {
	s, p := (&rehearsal{file: "strain-euphonium"}).open(t)
	wait := `{"do":"record"}`
	for _, c := range []struct {
		name, method, path, body string
		change                   func(r *http.Request)
		want                     int
	}{
		{"DNS rebinding: another name for this machine", "GET", "/", "", func(r *http.Request) { r.Host = "stand.example:80" }, 421},
		{"DNS rebinding, with the right port", "POST", "/do", wait, func(r *http.Request) { r.Host = "stand.example:" + strings.Split(s.hosts[0], ":")[1] }, 421},
		{"another address without the port", "GET", "/", "", func(r *http.Request) { r.Host = "127.0.0.1" }, 421},
		{"a page elsewhere acts", "POST", "/do", wait, func(r *http.Request) { r.Header.Set("Origin", "http://elsewhere.example") }, 403},
		{"a file on disk acts", "POST", "/do", wait, func(r *http.Request) { r.Header.Set("Origin", "null") }, 403},
		{"nobody says where the action comes from", "POST", "/do", wait, func(r *http.Request) { r.Header.Del("Origin") }, 403},
		{"a page elsewhere reads", "GET", "/clock", "", func(r *http.Request) { r.Header.Set("Origin", "http://elsewhere.example") }, 403},
		{"a form acts", "POST", "/do", "do=record", func(r *http.Request) { r.Header.Set("Content-Type", "application/x-www-form-urlencoded") }, 415},
		{"text that looks like an action", "POST", "/do", wait, func(r *http.Request) { r.Header.Set("Content-Type", "text/plain") }, 415},
		{"without the token", "GET", "/", "", func(r *http.Request) { r.URL.Path = "/" }, 404},
		{"another token", "GET", "/", "", func(r *http.Request) { r.URL.Path = "/AAAAAAAAAAAAAAAAAAAAAA/" }, 404},
		{"a part of the token", "POST", "/do", wait, func(r *http.Request) { r.URL.Path = "/" + s.token[:21] + "/do" }, 404},
		{"an action by GET", "GET", "/do", "", nil, 405},
		{"another method", "DELETE", "/", "", nil, 405},
		{"a folder", "GET", "/engraver/", "", nil, 404},
		{"a folder's name", "GET", "/licences", "", nil, 404},
		{"out of the folder", "GET", "/../stand.go", "", func(r *http.Request) { r.URL.Path = "/" + s.token + "/../engraver.go" }, 404},
		{"what is not for the page", "GET", "/engraver/README.md", "", nil, 404},
		{"an action without end", "POST", "/do", `{"do":"` + strings.Repeat("x", maxBody) + `"}`, nil, 413},
		{"two actions", "POST", "/do", wait + wait, nil, 400},
		{"an unknown name", "POST", "/do", `{"do":"record","sudo":true}`, nil, 400},
		{"no JSON", "POST", "/do", `record`, nil, 400},
		{"an action that is not for this place", "POST", "/do", `{"do":"leave"}`, nil, 409},
		{"an action that there is not", "POST", "/do", `{"do":"shell"}`, nil, 409},
		{"a style that is a device", "POST", "/do", `{"do":"choose","choice":{"style":"/dev/zero"}}`, nil, 409},
		{"a style that is a file", "POST", "/do", `{"do":"choose","choice":{"style":"../styles/march.toml"}}`, nil, 409},
		{"a style that is not listed", "POST", "/do", `{"do":"choose","choice":{"style":"waltz"}}`, nil, 409},
		{"an instrument that is a file", "POST", "/do", `{"do":"choose","choice":{"instrument":"/etc/hostname"}}`, nil, 409},
		{"a pressure that is a file", "POST", "/do", `{"do":"choose","choice":{"pressure":["cover","/etc/hostname"]}}`, nil, 409},
		{"a kind that there is not", "POST", "/do", `{"do":"choose","choice":{"kind":"shell"}}`, nil, 409},
		{"a key without end", "POST", "/do", `{"do":"choose","choice":{"key":"` + strings.Repeat("x", maxName+1) + `"}}`, nil, 400},
		{"the practice is ended from a page", "POST", "/do", `{"do":"quit"}`, nil, 403},
		{"a part that there is not", "GET", "/page?count=1&part=" + strings.Repeat("x", 5000), "", nil, 404},
	} {
		before := p.State().Version
		answer, text := ask(t, s, c.method, c.path, c.body, c.change)
		if answer.StatusCode != c.want {
			t.Errorf("%s: %s, want %d: %.80q", c.name, answer.Status, c.want, text)
		}
		if after := p.State().Version; after != before {
			t.Errorf("%s: the practice changed", c.name)
		}
		if got := answer.Header; got.Get("Set-Cookie") != "" || !strings.HasPrefix(got.Get("Content-Security-Policy"), "default-src 'none'") ||
			got.Get("X-Content-Type-Options") != "nosniff" || got.Get("Referrer-Policy") != "no-referrer" || got.Get("X-Frame-Options") != "DENY" {
			t.Errorf("%s: headers %v", c.name, got)
		}
	}
	if answer, text := ask(t, s, "POST", "/do", wait, nil); answer.StatusCode != 204 {
		t.Errorf("an action that is allowed: %s %q", answer.Status, text)
	}
}

// What is wrong with an action is said in words of the page, not of the program's insides.
func TestErrorsNameNoTypes(t *testing.T) {
	s, _ := (&rehearsal{file: "strain-euphonium"}).open(t)
	for _, body := range []string{
		`{"do":7}`, `{"do":"mark","measure":"x"}`, `{"do":"mark","mark":[]}`, `{"do":"choose","choice":7}`, `{"do":"choose","choice":{"rung":"x"}}`,
		`{"do":"choose","choice":{"look_over":"1s"}}`, `{"do":"choose","choice":{"nothing":1}}`, `{"do":"choose","choice":{"rung":1e99}}`, `[`, ``, "\x00",
	} {
		answer, text := ask(t, s, "POST", "/do", body, nil)
		if answer.StatusCode != 400 || text != errNoAction.Error()+"\n" {
			t.Errorf("%s: %s %q", body, answer.Status, text)
		}
	}
	if answer, text := ask(t, s, "POST", "/do", `{"do":""}`, nil); answer.StatusCode != 400 || text != "an action says what to do\n" {
		t.Errorf("nothing to do: %s %q", answer.Status, text)
	}
}

// viewOf is what a stand tells of a state.
func viewOf(t *testing.T, s *Stand, st session.State) (text string, v told) {
	t.Helper()
	b, err := s.encode(&st)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, &v); err != nil {
		t.Fatal(err)
	}
	return string(b), v
}

// A page tells no paths, and of what went wrong only what everybody may see.
func TestWhatLiesInFilesIsNotTold(t *testing.T) {
	s, p := (&rehearsal{file: "strain-euphonium"}).open(t)
	st := p.State()
	st.Page = &session.Page{Title: "March", File: "/home/me/reads/march.musicxml", Again: "onward read --journal /home/me/j.db"}
	st.Problem = "style sheet /home/me/secret.toml:1: unknown key"
	text, v := viewOf(t, s, st)
	if strings.Contains(text, "/home/me") || strings.Contains(text, "secret") || v.Problem != notHere {
		t.Errorf("told %s", text)
	}
	st.Public = "a march has no 7/8"
	if _, v := viewOf(t, s, st); v.Problem != st.Public {
		t.Errorf("problem %q, want %q", v.Problem, st.Public)
	}
	st.Problem = ""
	if _, v := viewOf(t, s, st); v.Problem != "" {
		t.Errorf("a problem that is over: %q", v.Problem)
	}
}

// The practice ends from a page only where its player lets it.
func TestQuitIsTheOwners(t *testing.T) {
	s, p := (&rehearsal{file: "strain-euphonium"}).open(t)
	if _, v := viewOf(t, s, p.State()); slices.Contains(v.May, session.DoQuit) || !slices.Contains(v.May, session.DoStart) {
		t.Errorf("may %v", v.May)
	}
	s, p = (&rehearsal{file: "strain-euphonium", ready: (*Stand).LetQuit}).open(t)
	if _, v := viewOf(t, s, p.State()); !slices.Contains(v.May, session.DoQuit) {
		t.Errorf("may %v", v.May)
	}
	if answer, text := ask(t, s, "POST", "/do", `{"do":"quit"}`, nil); answer.StatusCode != 204 || !p.State().Over {
		t.Errorf("%s %s, over %v", answer.Status, text, p.State().Over)
	}
}

// A stand knows whether other machines reach it, and tells its pages.
func TestSharedIsTold(t *testing.T) {
	for address, want := range map[string]bool{"127.0.0.1:80": false, "[::1]:80": false, "192.168.1.20:80": true, "0.0.0.0:80": true, "[fd00::1]:80": true} {
		at, err := net.ResolveTCPAddr("tcp", address)
		if err != nil {
			t.Fatal(err)
		}
		if got := sharedAt(at); got != want {
			t.Errorf("%s: shared %v", address, got)
		}
	}
	s, p := (&rehearsal{file: "strain-euphonium"}).open(t)
	if _, v := viewOf(t, s, p.State()); v.Shared {
		t.Error("this machine alone reaches it")
	}
	s.shared = true
	if _, v := viewOf(t, s, p.State()); !v.Shared {
		t.Error("it is not told")
	}
}

func TestPolicies(t *testing.T) {
	files, err := filesOf(carried)
	if err != nil {
		t.Fatal(err)
	}
	for name, f := range files {
		for _, word := range []string{"unsafe-inline", "unsafe-eval", "http", "data:", "*"} {
			if strings.Contains(strings.ReplaceAll(f.policy, "'wasm-unsafe-eval'", ""), word) {
				t.Errorf("%s: policy has %s", name, word)
			}
		}
		if strings.Contains(f.policy, "wasm") != (name == engraverProcess) {
			t.Errorf("%s: policy %s", name, f.policy)
		}
		if text := string(f.plain); strings.HasSuffix(name, ".html") || name == "" {
			for _, word := range []string{"<style", " style=", "onclick", "://"} {
				if strings.Contains(text, word) {
					t.Errorf("%s holds %q: the policy lets none of it work", name, word)
				}
			}
		}
	}
	if _, ok := files[engraverProcess]; !ok {
		t.Error("the engraver's process is not served")
	}
}

func TestListenIsOfThisMachineAlone(t *testing.T) {
	for _, address := range []string{"0.0.0.0:0", ":0", "192.168.7.7:0", "[::]:0"} {
		if l, err := Listen(address, false); err == nil {
			l.Close()
			t.Errorf("%s is opened without being asked for", address)
		}
	}
	if _, err := Listen("here", false); err == nil || !strings.Contains(err.Error(), "HOST:PORT") {
		t.Errorf("got %v", err)
	}
	l, err := Listen("", false)
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	if ip := l.Addr().(*net.TCPAddr).IP; !ip.IsLoopback() {
		t.Errorf("listens on %v", ip)
	}
}

func TestOwnAddress(t *testing.T) {
	at := func(list ...string) func() ([]net.Addr, error) {
		return func() (all []net.Addr, err error) {
			for _, a := range list {
				ip, network, err := net.ParseCIDR(a)
				if err != nil {
					t.Fatal(err)
				}
				network.IP = ip
				all = append(all, network)
			}
			return all, nil
		}
	}
	for _, c := range []struct {
		have []string
		want string
	}{
		{[]string{"127.0.0.1/8", "192.168.1.20/24"}, "192.168.1.20"},
		{[]string{"fd00::1/64", "10.0.0.4/8"}, "10.0.0.4"},
		{[]string{"203.0.113.7/24", "fd00::1/64"}, "fd00::1"}, // never a public one by itself
		{[]string{"127.0.0.1/8", "203.0.113.7/24"}, ""},
	} {
		got, err := ownAddress(at(c.have...))
		if c.want == "" && err == nil || c.want != "" && got != netip.MustParseAddr(c.want) {
			t.Errorf("%v: got %v, %v, want %q", c.have, got, err, c.want)
		}
	}
	hosts := hostsOf(&net.TCPAddr{IP: net.IPv4zero, Port: 80}, at("192.168.1.20/24"))
	if got := strings.Join(hosts, " "); got != "127.0.0.1:80 127.0.0.1 [::1]:80 [::1] 192.168.1.20:80 192.168.1.20 localhost:80 localhost" {
		t.Errorf("hosts %s", got)
	}
}

func TestTokens(t *testing.T) {
	seen := map[string]bool{}
	for range 1000 {
		token := newToken()
		if len(token) != 22 || seen[token] { // 128 bits, six to a letter
			t.Fatalf("token %q", token)
		}
		seen[token] = true
	}
}

func TestQR(t *testing.T) {
	drawn, err := QR("http://192.168.1.20:40123/AAAAAAAAAAAAAAAAAAAAAA/")
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSuffix(drawn, "\n"), "\n")
	wide := len([]rune(lines[0]))
	for i, l := range lines {
		if len([]rune(l)) != wide {
			t.Errorf("line %d is %d wide, the first %d", i, len([]rune(l)), wide)
		}
	}
	// The corner: a margin of four light modules, then the finder pattern, seven dark (ISO/IEC 18004).
	if !strings.HasPrefix(lines[2], "████ ▄▄▄▄▄ ") || strings.Trim(lines[0], "█") != "" {
		t.Errorf("drawn\n%s", drawn)
	}
	if wide > 80 || len(lines) > 30 {
		t.Errorf("%d wide, %d lines: more than a terminal has", wide, len(lines))
	}
}

// A listener reads the events that a stand is told.
type listener struct {
	body io.Closer
	in   *bufio.Scanner
}

func listen(t testing.TB, s *Stand) *listener {
	t.Helper()
	ctx, stop := context.WithTimeout(context.Background(), time.Minute)
	t.Cleanup(stop)
	r, err := http.NewRequestWithContext(ctx, "GET", s.Address()+"follow", nil)
	if err != nil {
		t.Fatal(err)
	}
	answer, err := (&http.Transport{DisableKeepAlives: true}).RoundTrip(r)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { answer.Body.Close() })
	if answer.StatusCode != 200 || answer.Header.Get("Content-Type") != "text/event-stream" {
		t.Fatalf("follow: %s", answer.Status)
	}
	in := bufio.NewScanner(answer.Body)
	in.Buffer(nil, 1<<20)
	return &listener{answer.Body, in}
}

// told is a view as it is read.
type told struct {
	view
	Ends *time.Duration `json:"ends"`
}

// until reads states until one pleases.
func (l *listener) until(t testing.TB, pleases func(v told) bool) told {
	t.Helper()
	for l.in.Scan() {
		text, ok := strings.CutPrefix(l.in.Text(), "data: ")
		if !ok || text == "" {
			continue
		}
		var v told
		if err := json.Unmarshal([]byte(text), &v); err != nil {
			t.Fatalf("%v: %.200s", err, text)
		}
		if pleases(v) {
			return v
		}
	}
	t.Fatalf("no such state: %v", l.in.Err())
	return told{}
}

func at(place session.Place) func(told) bool { return func(v told) bool { return v.Place == place } }

func TestTwoStandsAndTheRoom(t *testing.T) {
	r := &rehearsal{file: "strain-euphonium", lookOver: time.Minute, pressure: []string{"cover"}}
	s, p := r.open(t)
	one, two := listen(t, s), listen(t, s)
	one.until(t, func(v told) bool { return v.Offer != nil })
	if answer, text := ask(t, s, "POST", "/do", `{"do":"choose","choice":{"kind":"read","style":"lyrical"}}`, nil); answer.StatusCode != 204 {
		t.Fatalf("%s %s", answer.Status, text)
	}
	v := two.until(t, func(v told) bool { return v.Choice.Style == "lyrical" })
	if v.Choice.LookOver != time.Minute || v.Choice.Instrument != "euphonium-tc" {
		t.Errorf("what was not said is as before; got %+v", v.Choice)
	}
	p.Do(session.Action{Do: session.DoStart}) // the room
	v = one.until(t, at(session.LookOver))
	if v.Page == nil || v.Page.Count != 1 || !v.Page.Scored || len(v.Page.Measures) != 18 || len(v.Page.Hints) == 0 {
		t.Fatalf("page %+v", v.Page)
	}
	_, own := ask(t, s, "GET", "/page?count=1&part=", "", nil)
	_, other := ask(t, s, "GET", "/page?count=1&part=trombone", "", nil)
	if !strings.Contains(own, "Euphonium") || !strings.Contains(other, "Trombone") {
		t.Errorf("each section has its own part; got %.300q and %.300q", own, other)
	}
	for path, want := range map[string]int{"/page?count=1&part=kazoo": 404, "/page?count=2": 204, "/page?count=": 204, "/take": 204} {
		if answer, _ := ask(t, s, "GET", path, "", nil); answer.StatusCode != want {
			t.Errorf("%s: %s, want %d", path, answer.Status, want)
		}
	}
	if answer, text := ask(t, s, "POST", "/do", `{"do":"go"}`, nil); answer.StatusCode != 204 {
		t.Fatalf("%s %s", answer.Status, text)
	}
	v = two.until(t, at(session.CountIn))
	var plan schedule
	_, text := ask(t, s, "GET", "/take", "", nil)
	if err := json.Unmarshal([]byte(text), &plan); err != nil {
		t.Fatal(err)
	}
	if plan.Start != v.Take.Start || plan.Start == 0 || len(plan.Beats) < 60 || len(plan.Covers) < 16 {
		t.Errorf("schedule: start %v, told %v, %d beats, %d covers", plan.Start, v.Take.Start, len(plan.Beats), len(plan.Covers))
	}
	p.Do(session.Action{Do: session.DoLeave})
	one.until(t, at(session.Slips))
	ask(t, s, "POST", "/do", `{"do":"mark","measure":3,"mark":{"pitch":true,"rhythm":true}}`, nil)
	ask(t, s, "POST", "/do", `{"do":"kept"}`, nil)
	v = two.until(t, func(v told) bool { return len(v.Marks) > 3 && v.Marks[3].Rhythm && v.Stopped == session.Kept })
	if answer, text := ask(t, s, "POST", "/do", `{"do":"keep","version":1}`, nil); answer.StatusCode != 409 {
		t.Errorf("an action on an old state: %s %s", answer.Status, text)
	}
	ask(t, s, "POST", "/do", fmt.Sprintf(`{"do":"keep","version":%d}`, v.Version), nil)
	v = one.until(t, at(session.Meaning))
	if v.Lesson.Right != 17 || v.Lesson.Of != 18 {
		t.Errorf("lesson %+v", v.Lesson)
	}
}

func TestCoversAreTheSessions(t *testing.T) {
	var beats []session.Beat
	for i, m := range []int{-1, 0, 1, 2, 0, 1, 2, 3} {
		beats = append(beats, session.Beat{At: time.Duration(i) * time.Second, Measure: m, Pass: 1 + i/5, Beat: 1, Of: 1})
	}
	list := covers(beats, 4)
	for at := time.Duration(0); at < 9*time.Second; at += 100 * time.Millisecond {
		got := make([]bool, 4)
		for _, c := range list {
			if c.At > at {
				break
			}
			for _, m := range c.Hide {
				got[m] = true
			}
			for _, m := range c.Show {
				got[m] = false
			}
		}
		if want := session.Covered(beats, at, 4); fmt.Sprint(got) != fmt.Sprint(want) {
			t.Fatalf("at %v: hidden %v, want %v", at, got, want)
		}
	}
	if len(list) < 3 {
		t.Errorf("only %d changes", len(list))
	}
}
