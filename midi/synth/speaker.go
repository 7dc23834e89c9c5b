package synth

import (
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"onward/midi/live"
)

// ErrNoSound is the error of Play in a program that was built without sound.
var ErrNoSound = errors.New("this program was built without sound (CGO_ENABLED=0): choose a MIDI port, or build it with cgo")

const (
	liveRate = 48000                 // Hz, what most devices run at
	asked    = 10 * time.Millisecond // how much the device is asked to take at a time
	// Latency is how long after its time a message reaches the device: each by the
	// same, so that none is early or late against another. It covers two of the
	// device's requests and half a one for unpunctual ones. The device's own buffer
	// comes on top.
	Latency = 25 * time.Millisecond
	// KnownLatency is what of the way from a message's time to the ear is known
	// beforehand: Latency, and the two of the device's three buffers that lie ahead of
	// a frame when it is asked for. What system, device and air add must be measured.
	KnownLatency = Latency + 2*asked
	// ringFor is how long Close lets the last notes ring, at most.
	ringFor = 1200 * time.Millisecond
	// fadeFor is how long Close then takes to fade what is left.
	fadeFor = 40 * time.Millisecond
	// closeWithin is how long the device may take to close.
	closeWithin = 500 * time.Millisecond
	// patience is how long a device may ask for nothing before it is held for lost.
	patience = time.Second
	// retry is how often a lost or missing device is looked for.
	retry = 2 * time.Second
)

// An output is a sound device that has been opened. It asks for frames from start
// until stop.
type output interface {
	name() string
	start() error
	stop()
}

// An opener opens the system's sound device at liveRate. pull fills stereo frames
// and does not block; lost is called when the device goes away.
type opener func(pull func([]float32), lost func()) (output, error)

// A Speaker plays MIDI messages through the loudspeaker as they come. It keeps time
// whatever happens to the device: without one, or when it goes away, the music runs
// on in silence, the device is looked for, and it comes in again at the right place.
//
// Send and SendAt are for one goroutine at a time.
type Speaker struct {
	began  time.Time
	ring   ring
	engine *engine
	follow *follower
	asked  int64 // frames handed out; the audio thread's
	open   opener

	askers  atomic.Int64 // how many there have been
	turn    atomic.Int64 // whose turn it is to ask for frames
	afresh  atomic.Bool  // the next frames begin a new turn
	busy    atomic.Bool  // someone is in pull
	pulled  atomic.Int64 // frames handed out, for others to read
	quiet   atomic.Int64 // frames since the last one that can be heard
	fading  atomic.Bool
	level   float32 // of the fade; the audio thread's
	lost    chan struct{}
	found   chan output // a device opened while there was none
	closing chan struct{}
	done    sync.WaitGroup

	late, refused, losses atomic.Int64
	words                 atomic.Pointer[string]
}

// Counts tell what went wrong while a Speaker played.
type Counts struct {
	Late    int64 // messages that came too late for their place and were played at once
	Refused int64 // messages that found no room
	Lost    int64 // times that the device went away
}

// Play opens the system's sound device for font f, ready to play the given programs, or
// all when none are given: of a large font that takes long to read. It fails only when
// the program has no sound at all (ErrNoSound) or the font cannot be played; a missing
// device is said by Device.
func Play(f *Font, programs ...Program) (*Speaker, error) {
	if openDevice == nil {
		return nil, ErrNoSound
	}
	return play(f, openDevice, programs...)
}

func play(f *Font, open opener, programs ...Program) (*Speaker, error) {
	e, err := newEngine(f, liveRate, programs...)
	if err != nil {
		return nil, fmt.Errorf("speaker: %w", err)
	}
	s := &Speaker{began: time.Now(), engine: e, follow: newFollower(liveRate), open: open,
		level: 1, lost: make(chan struct{}, 1), found: make(chan output, 1), closing: make(chan struct{})}
	out := s.connect()
	s.done.Go(func() { s.keep(out) })
	return s, nil
}

// Send plays a channel message of two or three bytes now (after Latency). Its error
// wraps live.ErrBusy when there is no room for it.
func (s *Speaker) Send(msg []byte) error { return s.SendAt(msg, time.Now()) }

// SendAt plays a channel message of two or three bytes at a time (plus Latency), notes to
// the frame. Messages are given in order of time, each no later
// than its time.
func (s *Speaker) SendAt(msg []byte, at time.Time) error {
	if len(msg) < 2 || len(msg) > 3 {
		return fmt.Errorf("speaker: message of %d bytes: only channel messages of 2 or 3 are played", len(msg))
	}
	var m message
	copy(m[:], msg)
	if !s.ring.push(stamped{m, at.Sub(s.began)}) {
		s.refused.Add(1)
		return errFull
	}
	return nil
}

// errFull is made beforehand so that Send does not allocate.
var errFull = fmt.Errorf("speaker: %d messages wait: %w", ringSize, live.ErrBusy)

// Device says in words where the sound goes.
func (s *Speaker) Device() string { return *s.words.Load() }

// Counts reports what went wrong so far.
func (s *Speaker) Counts() Counts {
	return Counts{Late: s.late.Load(), Refused: s.refused.Load(), Lost: s.losses.Load()}
}

// Close ends all notes, lets them ring out for a second at most, and closes the
// device. It is called once, after the last Send.
func (s *Speaker) Close() error {
	for ch := range byte(16) {
		s.Send([]byte{0xB0 | ch, 64, 0})  // pedal up
		s.Send([]byte{0xB0 | ch, 123, 0}) // all notes off
	}
	const heard = int64(liveRate / 10)
	for end := time.Now().Add(ringFor); time.Now().Before(end); time.Sleep(asked) {
		if _, waiting := s.ring.peek(); !waiting && s.quiet.Load() > heard {
			break
		}
	}
	s.fading.Store(true)
	time.Sleep(fadeFor + Latency)
	close(s.closing)
	ended := make(chan struct{})
	go func() {
		s.done.Wait()
		select {
		case out := <-s.found:
			out.stop()
		default:
		}
		close(ended)
	}()
	select {
	case <-ended:
		return nil
	case <-time.After(closeWithin):
		return fmt.Errorf("speaker: %s did not close within %v", s.Device(), closeWithin)
	}
}

// pull fills out with the next frames. It runs on the device's thread, or on the
// pump's; it neither blocks nor allocates.
func (s *Speaker) pull(out []float32) {
	if !s.busy.CompareAndSwap(false, true) { // the turn changed while one was in here
		clear(out)
		return
	}
	if s.afresh.Swap(false) {
		s.follow.restart()
	}
	s.follow.tick(s.asked, time.Since(s.began))
	s.engine.fill(out, s)
	s.watch(out)
	s.asked += int64(len(out) / 2)
	s.pulled.Store(s.asked)
	s.busy.Store(false)
}

// audible is the level under which Close need not wait: -60 dBFS.
const audible = 0.001

// watch measures how long it has been quiet and fades out when asked to.
func (s *Speaker) watch(out []float32) {
	quiet := s.quiet.Load()
	const step = float32(1) / (liveRate * 4 / 100) // over fadeFor
	fading := s.fading.Load()
	for i, v := range out {
		if v > audible || v < -audible {
			quiet = 0
		} else if i%2 == 1 {
			quiet++
		}
		if fading {
			out[i] *= s.level
			if i%2 == 1 {
				s.level = max(0, s.level-step)
			}
		}
	}
	s.quiet.Store(quiet)
}

// take is the engine's source: the message whose frame comes before before.
func (s *Speaker) take(before int64) (message, int64, bool) {
	next, ok := s.ring.peek()
	if !ok {
		return message{}, 0, false
	}
	frame := s.follow.frameAt(next.at + Latency)
	if frame >= before {
		return message{}, 0, false
	}
	if frame < before-blockSize {
		s.late.Add(1)
	}
	s.ring.pop()
	return next.msg, frame, true
}
