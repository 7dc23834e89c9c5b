package main

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"onward/cmd/internal/session"
	"onward/cmd/internal/stand"
)

// An album is a practice that shows one page after the other: to start is to turn over.
type album struct {
	reads []outsideRead

	mu       sync.Mutex
	at       int // pages shown
	state    session.State
	watchers []chan session.State
}

// State is stand.Practice's.
func (a *album) State() session.State {
	a.mu.Lock()
	defer a.mu.Unlock()
	return a.state
}

// Watch is stand.Practice's.
func (a *album) Watch(context.Context) <-chan session.State {
	a.mu.Lock()
	defer a.mu.Unlock()
	c := make(chan session.State, len(a.reads)+1)
	c <- a.state
	a.watchers = append(a.watchers, c)
	return c
}

// Do is stand.Practice's.
func (a *album) Do(session.Action) error {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.at >= len(a.reads) {
		return &session.ActionError{Text: "that was the last page"}
	}
	r := &a.reads[a.at]
	a.at++
	page := &session.Page{Kind: session.Read, Title: r.document.Title, Words: fmt.Sprint(r.asked), For: func(string) ([]byte, error) { return os.ReadFile(r.page) }}
	for range r.document.Measures {
		page.Measures = append(page.Measures, session.Measure{})
	}
	a.state.Version++
	a.state.Place, a.state.Page = session.LookOver, page
	for _, c := range a.watchers {
		c <- a.state
	}
	return nil
}

// change tells the state again and again, each time as another one, until ctx is done.
func (a *album) change(ctx context.Context, every time.Duration) {
	tick := time.NewTicker(every)
	defer tick.Stop()
	for ctx.Err() == nil {
		<-tick.C
		a.mu.Lock()
		a.state.Version++
		for _, c := range a.watchers {
			select {
			case c <- a.state:
			default:
			}
		}
		a.mu.Unlock()
	}
}

// close ends what Watch gave; nothing changes after it.
func (a *album) close() {
	a.mu.Lock()
	defer a.mu.Unlock()
	for _, c := range a.watchers {
		close(c)
	}
	a.watchers = nil
}

// Clock is stand.Practice's.
func (a *album) Clock() time.Duration { return 0 }

// checkStand has the stand's page engrave the reads in a browser, at the size of a laptop, a
// tablet and a telephone: without a warning of the engraver's, no line cut, no word on a
// note, as many measures as the page has.
func checkStand(t *testing.T, programs, scripts string, reads []outsideRead) {
	if os.Getenv("ONWARD_OUTSIDE") != "1" {
		t.Skip("a browser takes its time: ONWARD_OUTSIDE=1 runs this")
	}
	node := lookedFor(t, "node", "")
	lookedFor(t, "chromium", " (Debian: chromium)")
	if _, err := os.Stat(filepath.Join(programs, "node_modules", "playwright-core")); err != nil {
		absent(t, "playwright-core is not installed: npm ci --prefix testdata/outside")
	}
	if !stand.HasEngraver() {
		absent(t, "this build has no engraver: go generate ./cmd/internal/stand")
	}
	l, err := stand.Listen("", false)
	if err != nil {
		t.Fatal(err)
	}
	a := &album{reads: reads, state: session.State{Version: 1, Place: session.Choose, Stopped: session.Kept}}
	page, err := stand.New(a, l)
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	served := make(chan error, 1)
	go func() { served <- page.Serve(ctx) }()
	run := exec.Command(node, filepath.Join(scripts, "album.mjs"), page.Address(), fmt.Sprint(len(reads)))
	run.Env = append(os.Environ(), "ONWARD_NODE_MODULES="+filepath.Join(programs, "node_modules"))
	out, err := run.CombinedOutput()
	stop()
	if err != nil {
		t.Errorf("%v\n%s", err, out)
	}
	t.Logf("%s", out)
	a.close()
	if err := <-served; err != nil {
		t.Error(err)
	}
}
