package synth

import (
	"sync/atomic"
	"time"
)

// ringSize is how many messages may wait: several seconds of the densest march.
const ringSize = 4096

// A stamped message is to be heard at a time of the speaker's clock.
type stamped struct {
	msg message
	at  time.Duration
}

// A ring passes messages from one goroutine to one other without a lock.
type ring struct {
	items [ringSize]stamped
	head  atomic.Uint64 // next to be read; written by the reader alone
	tail  atomic.Uint64 // next free; written by the writer alone
}

// push adds s; it reports false when the ring is full.
func (r *ring) push(s stamped) bool {
	tail := r.tail.Load()
	if tail-r.head.Load() == ringSize {
		return false
	}
	r.items[tail%ringSize] = s
	r.tail.Store(tail + 1)
	return true
}

// peek reports the oldest message without removing it.
func (r *ring) peek() (stamped, bool) {
	head := r.head.Load()
	if head == r.tail.Load() {
		return stamped{}, false
	}
	return r.items[head%ringSize], true
}

// pop removes the oldest message, which peek has shown.
func (r *ring) pop() { r.head.Add(1) }
