package stand

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net"
	"net/http"
	"testing"
	"testing/fstest"
	"time"

	"onward/cmd/internal/session"
)

func TestTooOften(t *testing.T) {
	now := time.Unix(0, 0)
	r := newRate(10, 20, func() time.Time { return now })
	count := func(remote string) (n int) {
		for range 100 {
			if r.may(remote) {
				n++
			}
		}
		return n
	}
	if n := count("10.0.0.1:1000"); n != 20 {
		t.Errorf("at once %d, want 20", n)
	}
	if n := count("10.0.0.1:1001"); n != 0 {
		t.Errorf("another port of it gets %d", n)
	}
	if n := count("10.0.0.2:1000"); n != 20 {
		t.Errorf("another address gets %d", n)
	}
	now = now.Add(time.Second)
	if n := count("10.0.0.1:1"); n != 10 {
		t.Errorf("after a second %d, want 10", n)
	}
	now = now.Add(time.Hour)
	if n := count("10.0.0.1:1"); n != 20 {
		t.Errorf("after an hour %d, want 20", n)
	}
	for i := range 5 * maxRemotes {
		r.may(net.JoinHostPort(net.IPv4(10, 1, byte(i>>8), byte(i)).String(), "1"))
	}
	if len(r.buckets) > maxRemotes {
		t.Errorf("%d addresses are kept", len(r.buckets))
	}
}

func TestActionsTooOften(t *testing.T) {
	s, _ := (&rehearsal{file: "strain-euphonium"}).open(t)
	frozen := time.Now()
	s.acts.now = func() time.Time { return frozen }
	refused := 0
	for range actsAtOnce + 5 {
		if answer, _ := ask(t, s, "POST", "/do", `{"do":"choose","choice":{}}`, nil); answer.StatusCode == http.StatusTooManyRequests {
			refused++
		}
	}
	if refused != 5 {
		t.Errorf("%d refused, want 5", refused)
	}
}

func TestTooManyStands(t *testing.T) {
	tower := newTower(3)
	var leave func()
	for range 3 {
		_, l, ok := tower.join()
		if !ok {
			t.Fatal("there is room")
		}
		leave = l
	}
	if _, _, ok := tower.join(); ok {
		t.Error("a fourth of three")
	}
	leave()
	if _, _, ok := tower.join(); !ok {
		t.Error("there is room again")
	}
}

func TestTooManyConnections(t *testing.T) {
	inner, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	l := limit(inner, 2)
	dial := func() net.Conn {
		c, err := net.Dial("tcp", inner.Addr().String())
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { c.Close() })
		return c
	}
	accepted := make(chan net.Conn, 8)
	ended := make(chan error, 1)
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				ended <- err
				return
			}
			accepted <- c
		}
	}()
	for range 3 {
		dial()
	}
	first := <-accepted
	<-accepted
	select {
	case <-accepted:
		t.Error("a third of two is accepted")
	case <-time.After(50 * time.Millisecond):
	}
	first.Close()
	first.Close() // a second time gives no second room
	<-accepted
	l.Close()
	if err := <-ended; err == nil {
		t.Error("a closed listener accepts")
	}
}

// TestASlowStandHoldsNothingUp has a stand that never reads, and one that does.
func TestASlowStandHoldsNothingUp(t *testing.T) {
	tower := newTower(2)
	slow, _, _ := tower.join()
	quick, _, _ := tower.join()
	for i := range 1000 {
		tower.tell([]byte{byte(i), byte(i >> 8)})
		<-quick
	}
	if got := <-slow; !bytes.Equal(got, []byte{999 & 255, 999 >> 8}) {
		t.Errorf("the slow one gets %v: not the latest", got)
	}
	select {
	case got := <-slow:
		t.Errorf("it gets %v besides", got)
	default:
	}
}

// TestAStandThatStoppedReading has connections that ask to follow and read nothing, while
// the practice changes.
func TestAStandThatStoppedReading(t *testing.T) {
	s, p := (&rehearsal{file: "strain-euphonium"}).open(t)
	for range 20 {
		c, err := net.Dial("tcp", s.listener.Addr().String())
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		c.(*net.TCPConn).SetReadBuffer(1024)
		io.WriteString(c, "GET /"+s.token+"/follow HTTP/1.1\r\nHost: "+s.hosts[0]+"\r\n\r\n")
	}
	reads := listen(t, s)
	last := 0
	for i := range 300 {
		c := p.State().Choice
		c.Rung = 1 + i%12
		if err := p.Do(session.Action{Do: session.DoChoose, Choice: &c}); err != nil {
			t.Fatal(err)
		}
		last = p.State().Version
	}
	reads.until(t, func(v told) bool { return v.Version == last })
}

// TestHeadersMustCome has a connection that says nothing more.
func TestHeadersMustCome(t *testing.T) {
	s, _ := (&rehearsal{file: "strain-euphonium", ready: func(s *Stand) { s.within = 20 * time.Millisecond }}).open(t)
	c, err := net.Dial("tcp", s.listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	io.WriteString(c, "GET / HTTP/1.1\r\nHost: ")
	c.SetReadDeadline(time.Now().Add(time.Minute))
	if _, err := io.ReadAll(c); err != nil {
		t.Errorf("it is not let go: %v", err)
	}
}

func TestServeEndsAtOnce(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	r := &rehearsal{file: "strain-euphonium", clock: func() time.Duration { return 0 }}
	p := session.New(ctx, r, r.clock, wait)
	l, err := Listen("", false)
	if err != nil {
		t.Fatal(err)
	}
	s, err := New(p, l)
	if err != nil {
		t.Fatal(err)
	}
	served := make(chan error, 1)
	go func() { served <- s.Serve(ctx) }()
	follows := listen(t, s)
	follows.until(t, func(told) bool { return true })
	stop()
	if err := <-served; err != nil {
		t.Error(err)
	}
	for follows.in.Scan() {
	}
}

func TestWithoutEngraver(t *testing.T) {
	tree := fstest.MapFS{"web/index.html": {Data: []byte("<!doctype html>")}, "engraver/README.md": {Data: []byte("how")}}
	if hasEngraver(tree) {
		t.Error("there is none")
	}
	for _, name := range engraverFiles {
		tree[name] = &fstest.MapFile{Data: []byte("x")}
	}
	if !hasEngraver(tree) {
		t.Error("there is one")
	}
	files, err := filesOf(tree)
	if err != nil {
		t.Fatal(err)
	}
	if _, ok := files["engraver/verovio-module.mjs"]; !ok || len(files) != 4 {
		t.Errorf("files %v", files)
	}
}

func FuzzDecodeAction(f *testing.F) {
	for _, seed := range []string{
		`{"do":"start"}`, `{"do":"choose","choice":{"kind":"read","style":"march","rung":3,"pressure":["cover"]}}`,
		`{"do":"mark","measure":3,"mark":{"pitch":true,"rhythm":false},"version":7}`, `{"do":"choose","choice":null}`,
		`{"do":"choose","choice":{"look_over":-1}}`, `[]`, `{"do":"start"}{}`, `{"Do":"start","DO":"go"}`, `{"do":"x","choice":"y"}`,
	} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, body []byte) {
		now := session.Choice{Kind: session.Read, Style: "march", Rung: 3, Pressure: []string{"cold", "cover"}, Figures: []string{"turn"}}
		before, _ := json.Marshal(now)
		a, err := decodeAction(body, &now)
		if after, _ := json.Marshal(now); !bytes.Equal(before, after) {
			t.Fatalf("%q changed the state's choice: %s", body, after)
		}
		if err != nil {
			return
		}
		if a.Do == "" || len(a.Do) > maxName {
			t.Fatalf("%q: does %q", body, a.Do)
		}
		if a.Choice != nil {
			if err := checkChoice(a.Choice); err != nil {
				t.Fatal(err)
			}
		}
		again, err := json.Marshal(a)
		if err != nil {
			t.Fatal(err)
		}
		if b, err := decodeAction(again, &now); err != nil {
			t.Fatalf("%q, written again as %s: %v", body, again, err)
		} else if twice, _ := json.Marshal(b); !bytes.Equal(again, twice) {
			t.Fatalf("%q: %s, then %s", body, again, twice)
		}
	})
}

// BenchmarkFiftyStands has fifty stands follow, and reports how long a change takes to all
// of them.
func BenchmarkFiftyStands(b *testing.B) {
	s, p := (&rehearsal{file: "strain-euphonium"}).open(b)
	var stands []*listener
	for range 50 {
		stands = append(stands, listen(b, s))
	}
	c := p.State().Choice
	for i := 0; b.Loop(); i++ {
		c.Rung = 1 + i%12
		if err := p.Do(session.Action{Do: session.DoChoose, Choice: &c}); err != nil {
			b.Fatal(err)
		}
		version := p.State().Version
		for _, l := range stands {
			l.until(b, func(v told) bool { return v.Version >= version })
		}
	}
}
