package stand

import (
	"net"
	"sync"
	"time"
)

// What one stand, or somebody who is none, can ask of the program at most.
const (
	maxBody        = 16 << 10 // bytes of an action
	maxHeader      = 16 << 10
	maxStreams     = 200 // stands that follow at once
	maxConnections = 1024
	headerWithin   = 5 * time.Second
	bodyWithin     = 10 * time.Second
	answerWithin   = time.Minute
	tellWithin     = 10 * time.Second // what a stand must take a change in
	tellEvery      = 5 * time.Second  // a sign of life
	// A remote address may ask so often a second, in the long run and at once: a class
	// whose stands open together comes through a single one, behind a router.
	asksEachSecond = 500
	asksAtOnce     = 4000
	actsEachSecond = 30
	actsAtOnce     = 60
	maxRemotes     = 1024 // remote addresses that are told apart
)

// A rate says who has asked too often: each remote address has a bucket that fills by so
// many a second.
type rate struct {
	each, most float64
	now        func() time.Time

	mu      sync.Mutex
	buckets map[string]bucket
}

type bucket struct {
	left float64
	at   time.Time
}

func newRate(each, most float64, now func() time.Time) *rate {
	return &rate{each: each, most: most, now: now, buckets: map[string]bucket{}}
}

// may takes one from the address's bucket, and reports false where it is empty. When more
// addresses ask than are told apart, all begin anew.
func (r *rate) may(remote string) bool {
	host, _, err := net.SplitHostPort(remote)
	if err != nil {
		host = remote
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	now := r.now()
	b, known := r.buckets[host]
	if !known {
		if len(r.buckets) >= maxRemotes {
			clear(r.buckets)
		}
		b = bucket{r.most, now}
	}
	b.left = min(r.most, b.left+now.Sub(b.at).Seconds()*r.each)
	b.at = now
	ok := b.left >= 1
	if ok {
		b.left--
	}
	r.buckets[host] = b
	return ok
}

// A limited listener has at most so many connections open; others wait in the system's
// queue.
type limited struct {
	net.Listener
	room chan struct{}
	shut chan struct{}
	once sync.Once
}

func limit(l net.Listener, most int) net.Listener {
	return &limited{Listener: l, room: make(chan struct{}, most), shut: make(chan struct{})}
}

func (l *limited) Accept() (net.Conn, error) {
	select {
	case l.room <- struct{}{}:
	case <-l.shut:
		return nil, net.ErrClosed
	}
	c, err := l.Listener.Accept()
	if err != nil {
		<-l.room
		return nil, err
	}
	return &counted{Conn: c, done: sync.OnceFunc(func() { <-l.room })}, nil
}

func (l *limited) Close() error {
	l.once.Do(func() { close(l.shut) })
	return l.Listener.Close()
}

// A counted connection gives its room back when it is closed.
type counted struct {
	net.Conn
	done func()
}

func (c *counted) Close() error {
	err := c.Conn.Close()
	c.done()
	return err
}
