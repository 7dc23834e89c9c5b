package main

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"testing"
	"time"

	"onward/cmd/internal/session"
	"onward/cmd/internal/stand"
)

// standsAtOnce is a class.
const standsAtOnce = 50

// stands has a class follow a practice that changes five times a second: each takes every
// state, asks for the page and for the time as often as the page does, and ten of them never
// read what they are told.
func (l *burden) stands(b *testing.B) {
	page := filepath.Join(b.TempDir(), "page.musicxml")
	if err := os.WriteFile(page, make([]byte, 70<<10), 0o644); err != nil {
		b.Fatal(err)
	}
	at, err := stand.Listen("", false)
	if err != nil {
		b.Fatal(err)
	}
	a := &album{reads: []outsideRead{{page: page}}}
	s, err := stand.New(a, at)
	if err != nil {
		b.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	l.done.Go(func() { s.Serve(ctx) })
	l.done.Go(func() {
		<-l.quit
		stop()
		a.close()
	})
	a.Do(session.Action{})
	l.done.Go(func() { a.change(ctx, 200*time.Millisecond) })
	for i := range standsAtOnce {
		l.done.Go(func() { followStand(ctx, s.Address(), i%5 == 0) })
	}
}

// followStand is one stand; a deaf one reads nothing of what it is told.
func followStand(ctx context.Context, address string, deaf bool) {
	get := func(path string) io.ReadCloser {
		r, err := http.NewRequestWithContext(ctx, "GET", address+path, nil)
		if err != nil {
			panic(fmt.Sprintf("%s: %v", path, err))
		}
		answer, err := http.DefaultClient.Do(r)
		if err != nil {
			return http.NoBody
		}
		return answer.Body
	}
	told := get("follow")
	defer told.Close()
	if !deaf {
		go io.Copy(io.Discard, told)
	}
	for ctx.Err() == nil {
		for _, path := range []string{"page?count=1", "clock", "clock", "clock", "clock"} {
			answer := get(path)
			io.Copy(io.Discard, answer)
			answer.Close()
		}
		select {
		case <-ctx.Done():
		case <-time.After(15 * time.Second):
		}
	}
}
