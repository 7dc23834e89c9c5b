package stand

import (
	"context"
	"net/http"
	"sync"
	"time"
)

// A tower tells all stands what there is to show. It keeps the latest alone: a stand that
// is slow or does not listen holds up neither the tower nor the others.
type tower struct {
	most int

	mu     sync.Mutex
	latest []byte
	stands map[chan []byte]bool
}

func newTower(most int) *tower { return &tower{most: most, stands: map[chan []byte]bool{}} }

// tell gives every stand a text, in place of one that it has not taken yet.
func (t *tower) tell(text []byte) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.latest = text
	for c := range t.stands {
		select {
		case <-c:
		default:
		}
		c <- text // there is room: tell alone sends, under the lock
	}
}

// join gives a stand its channel, with the latest text in it, and how to leave; false where
// there are too many.
func (t *tower) join() (texts <-chan []byte, leave func(), ok bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if len(t.stands) >= t.most {
		return nil, nil, false
	}
	c := make(chan []byte, 1)
	t.stands[c] = true
	if t.latest != nil {
		c <- t.latest
	}
	return c, func() {
		t.mu.Lock()
		defer t.mu.Unlock()
		delete(t.stands, c)
	}, true
}

// follow tells the stands each change of the practice until ctx is done.
func (s *Stand) follow(ctx context.Context) {
	for st := range s.practice.Watch(ctx) {
		if text, err := s.encode(&st); err == nil {
			s.tower.tell(text)
		}
	}
}

// stream is a stand that follows: server-sent events, each the whole state (HTML Living
// Standard, server-sent events), and a comment now and then as a sign of life.
func (s *Stand) stream(w http.ResponseWriter, r *http.Request) {
	texts, leave, ok := s.tower.join()
	if !ok {
		w.Header().Set("Retry-After", "30")
		http.Error(w, "too many stands follow already", http.StatusServiceUnavailable)
		return
	}
	defer leave()
	control := http.NewResponseController(w)
	control.SetReadDeadline(time.Time{}) // it stays
	w.Header().Set("Content-Type", "text/event-stream")
	say := func(parts ...[]byte) bool {
		control.SetWriteDeadline(time.Now().Add(tellWithin))
		for _, p := range parts {
			if _, err := w.Write(p); err != nil {
				return false
			}
		}
		return control.Flush() == nil
	}
	if !say([]byte("retry: 1000\n\n")) {
		return
	}
	alive := time.NewTicker(tellEvery)
	defer alive.Stop()
	for {
		ok := false
		select {
		case <-r.Context().Done():
		case text := <-texts:
			ok = say([]byte("event: state\ndata: "), text, []byte("\n\n"))
		case <-alive.C:
			ok = say([]byte("event: alive\ndata: \n\n"))
		}
		if !ok {
			return
		}
	}
}
