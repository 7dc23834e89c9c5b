package live

import (
	"errors"
	"io"
	"sync/atomic"
	"time"
)

// A Queue stands before a Sender that may block, such as a driver of the operating
// system, and never blocks itself: messages wait in a ring, and a thread of the
// Queue's own sends them. When the ring is full Send reports ErrBusy. A note-on that
// waited until it was very late is not sent. After an error of the Sender every Send
// reports it until Reopen.
type Queue struct {
	out   Sender
	ring  [ringSize]waiting
	head  atomic.Uint32 // next to be sent; written by the Queue's thread alone
	tail  atomic.Uint32 // next free; written by Send alone
	wake  chan struct{}
	quit  chan struct{}
	ended chan struct{}
	fault atomic.Pointer[error]
	// owed are the keys whose note-off was not sent because of a fault; they get it
	// when the port is back. It belongs to the Queue's thread.
	owed   [16][128]bool
	buf    [3]byte
	inDebt bool
}

// ringSize holds the densest moment of a take many times over; a power of two.
const ringSize = 256

// closeWithin is how long Close waits for a blocked Sender.
const closeWithin = 500 * time.Millisecond

type waiting struct {
	since time.Time
	msg   [3]byte
}

// NewQueue starts a Queue before out. Close ends it.
func NewQueue(out Sender) *Queue {
	q := &Queue{out: out, wake: make(chan struct{}, 1), quit: make(chan struct{}), ended: make(chan struct{})}
	go q.run()
	return q
}

// Send queues msg; it never blocks.
func (q *Queue) Send(msg []byte) error {
	if err := q.fault.Load(); err != nil {
		return *err
	}
	tail := q.tail.Load()
	if tail-q.head.Load() == ringSize {
		return ErrBusy
	}
	w := &q.ring[tail%ringSize]
	w.since = time.Now()
	copy(w.msg[:], msg)
	q.tail.Store(tail + 1)
	q.nudge()
	return nil
}

func (q *Queue) nudge() {
	select {
	case q.wake <- struct{}{}:
	default:
	}
}

// errWaiting is reported by Reopen while the Sender still blocks.
var errWaiting = errors.New("the port still holds up its last message")

// Reopen throws away what waits, and has the Sender reopened if it is a Reopener.
func (q *Queue) Reopen() error {
	if q.head.Load() != q.tail.Load() {
		q.nudge() // with a fault set, the thread empties the ring
		return errWaiting
	}
	if again, ok := q.out.(Reopener); ok {
		if err := again.Reopen(); err != nil {
			return err
		}
	}
	q.fault.Store(nil)
	return nil
}

// Close sends what waits, ends the Queue and closes the Sender if it is an
// io.Closer. Its error is the Sender's last fault; if the Sender blocks, Close gives
// up after half a second and says so.
func (q *Queue) Close() error {
	close(q.quit)
	select {
	case <-q.ended:
	case <-time.After(closeWithin):
		return errWaiting
	}
	var fault, shut error
	if err := q.fault.Load(); err != nil {
		fault = *err
	}
	if c, ok := q.out.(io.Closer); ok {
		shut = c.Close()
	}
	return errors.Join(fault, shut)
}

// run sends what waits until the Queue is closed and empty.
func (q *Queue) run() {
	defer close(q.ended)
	_, release := hold()
	defer release()
	for {
		q.drain()
		select {
		case <-q.wake:
		case <-q.quit:
			q.drain()
			return
		}
	}
}

func (q *Queue) drain() {
	for head := q.head.Load(); head != q.tail.Load(); head++ {
		q.forward(&q.ring[head%ringSize])
		q.head.Store(head + 1)
	}
}

// forward sends one message, unless the port has failed or the message is stale.
func (q *Queue) forward(w *waiting) {
	stale := w.msg[0]&0xF0 == noteOn && time.Since(w.since) >= VeryLateAfter
	if stale {
		return
	}
	paid := !q.inDebt || q.pay()
	if !(paid && q.pass(w.msg)) && w.msg[0]&0xF0 == noteOff {
		q.owed[w.msg[0]&15][w.msg[1]] = true
		q.inDebt = true
	}
}

// pass sends msg unless the port has failed, and reports whether it was taken.
func (q *Queue) pass(msg [3]byte) bool {
	if q.fault.Load() != nil {
		return false
	}
	q.buf = msg
	err := q.out.Send(q.buf[:size(msg[0])])
	if err != nil {
		err = q.out.Send(q.buf[:size(msg[0])]) // it may have been a hiccup
	}
	if err != nil {
		q.fail(err)
	}
	return err == nil
}

// fail keeps err for Send to report; apart, so that only a failure allocates.
func (q *Queue) fail(err error) { q.fault.Store(&err) }

// pay sends the note-offs owed, and reports whether all were taken.
func (q *Queue) pay() bool {
	for ch := range q.owed {
		for key, owed := range q.owed[ch] {
			if owed && !q.pass([3]byte{noteOff | byte(ch), byte(key), 64}) {
				return false
			}
			q.owed[ch][key] = false
		}
	}
	q.inDebt = false
	return true
}
