package live

import (
	"context"
	"fmt"
	"sync/atomic"
	"time"

	"onward/midi/timeline"
)

const (
	// Lead is the silence between the call of Play and the start of the take, where
	// Options do not set that.
	Lead = 50 * time.Millisecond
	// ReopenEvery is how often a lost port is looked for.
	ReopenEvery = 250 * time.Millisecond
	// SilenceWithin is how long the player tries to get the last note-offs through
	// a port that refuses them, and silenceTries how often at least, should each
	// try take long.
	SilenceWithin = 500 * time.Millisecond
	silenceTries  = 10

	glance    = 20 * time.Millisecond // the longest sleep between looks at leave and reopened
	retryFast = 5 * time.Millisecond  // the first pause before a refused message is tried again
	retrySlow = 250 * time.Millisecond
)

// Options are what Play may be given; the zero value is usual.
type Options struct {
	Clock Clock  // SystemClock if nil
	Place *Place // where to publish how far the take has come; may be nil
	// Start is when on the Clock the take starts; 0 is Lead after the call.
	Start time.Duration
}

// Play plays t from beginning to end; see Roll.Play.
func Play(ctx context.Context, t *timeline.Timeline, out Sender, o Options) (Report, error) {
	r, err := Prepare(t)
	if err != nil {
		return Report{}, err
	}
	return r.Play(ctx, out, o)
}

// Play plays r to its end, or until ctx is done, which is no error but Report.Left.
// It returns with all notes off; the error says that the port would not take the
// last note-offs. When a Sender panics all notes are off, too, ahead of the panic.
func (r *Roll) Play(ctx context.Context, out Sender, o Options) (Report, error) {
	if o.Clock == nil {
		o.Clock = SystemClock()
	}
	if o.Place == nil {
		o.Place = new(Place)
	}
	p := newPlayer(r, out, o)
	p.timed, _ = out.(Timed)
	stop := context.AfterFunc(ctx, func() { p.leave.Store(true) })
	defer stop()
	if ctx.Err() != nil {
		p.leave.Store(true) // AfterFunc may take a moment
	}
	if again, ok := out.(Reopener); ok {
		p.ask = make(chan struct{}, 1)
		defer close(p.ask)
		defer p.over.Store(true)
		go p.reopen(again)
	}
	how, release := o.Clock.Hold()
	defer release()
	p.report.Clock = how
	return p.play()
}

// A player is one take under way. All of it but the atomics and the channel belongs
// to the goroutine of Play.
type player struct {
	roll   *Roll
	out    Sender
	timed  Timed // out if it is
	clock  Clock
	place  *Place
	start  time.Duration // on the clock
	next   int           // index of the event to come
	beat   int           // index of the beat to come
	port   port
	late   []time.Duration
	report Report

	ask      chan struct{} // asks for Reopen; nil if out cannot
	lost     bool          // out is with the reopener
	lostAt   time.Duration // since when
	failures int           // how many sends in a row have failed
	reopened atomic.Bool   // the reopener has found it
	leave    atomic.Bool   // asks the take to end now
	over     atomic.Bool   // tells the reopener that it has

	retryAt, retryWait time.Duration
	dueAt              time.Duration // when that was due which is being sent
	asleep             time.Duration // how long the machine had slept when it was last looked
}

func newPlayer(r *Roll, out Sender, o Options) *player {
	p := &player{roll: r, out: out, clock: o.Clock, place: o.Place, start: o.Start, late: make([]time.Duration, len(r.Events))}
	clear(p.late) // so that its memory is there
	p.late = p.late[:0]
	p.report.Mishaps = make([]Mishap, 0, mostMishaps+mishapKinds)
	p.port.init(r.channels())
	return p
}

// play runs the take; whatever ends it, silence follows.
func (p *player) play() (rep Report, err error) {
	if p.start == 0 {
		p.start = p.clock.Now() + Lead
	}
	done := false
	defer func() {
		p.report.Played = max(0, min(p.now(), p.roll.End))
		p.report.Left = !done
		if p.lost {
			p.befell(PortLost, p.lostAt, p.report.Played)
		}
		err = p.silence(done)
		p.report.sum(p.roll, p.late)
		rep = p.report
	}()
	done = p.run()
	return
}

// now reports the time since the start of the take.
func (p *player) now() time.Duration { return p.clock.Now() - p.start }

// run is the dispatch loop: no lock, no allocation, no log. It reports whether the
// take came to its end.
func (p *player) run() bool {
	if s, ok := p.clock.(Sleeper); ok {
		p.asleep = s.Asleep()
	}
	wake := p.now()
	for !p.leave.Load() {
		now := p.now()
		p.stood(wake, now)
		p.dueAt = now
		if p.lost && p.reopened.Load() {
			p.found(now)
		}
		if p.port.dirty && !p.lost && now >= p.retryAt {
			p.retry(now)
		}
		p.due(now)
		if now >= p.roll.End && p.next == len(p.roll.Events) {
			return true
		}
		wake = max(now, p.wake(now))
		p.clock.SleepUntil(p.start + wake)
	}
	return false
}

// due plays all that is due by now and publishes the place.
func (p *player) due(now time.Duration) {
	for p.beat < len(p.roll.Beats) && p.roll.Beats[p.beat].At <= now {
		p.beat++
	}
	p.place.beat.Store(int64(p.beat))
	for p.next < len(p.roll.Events) && p.roll.Events[p.next].At <= now {
		if p.leave.Load() {
			return
		}
		p.event(p.next)
		p.next++
		p.place.event.Store(int64(p.next))
	}
}

// wake reports when the loop must look again, now being now.
func (p *player) wake(now time.Duration) time.Duration {
	t := now + glance
	if p.next < len(p.roll.Events) {
		t = min(t, p.roll.Events[p.next].At)
	} else {
		t = min(t, p.roll.End)
	}
	if p.beat < len(p.roll.Beats) {
		t = min(t, p.roll.Beats[p.beat].At)
	}
	if p.port.dirty && !p.lost {
		t = min(t, p.retryAt)
	}
	return t
}

// event plays the event at index i, or drops a note that is too late to help.
func (p *player) event(i int) {
	e := &p.roll.Events[i]
	late := p.now() - e.At
	p.late = append(p.late, late) // room was made for all
	p.report.count(late)
	p.dueAt = e.At
	if e.Msg[0]&0xF0 == noteOn && !worth(late, p.left(i, e.At+late), e.Msg[0]&15) {
		p.report.Dropped++
		return
	}
	p.apply(i)
}

// left reports how long the note of the note-on at index i has still to sound.
func (p *player) left(i int, now time.Duration) time.Duration {
	return p.roll.Events[p.roll.Events[i].Mate].At - now
}

// send hands msg to the port and reports whether it was taken.
func (p *player) send(msg []byte) bool {
	if p.lost {
		return false
	}
	var err error
	if p.timed != nil {
		err = p.timed.SendAt(msg, time.Now().Add(p.dueAt-p.now()))
	} else {
		err = p.out.Send(msg)
	}
	if err == nil {
		p.failures = 0
		return true
	}
	p.failed(err)
	return false
}

// silence ends every note and sees to it that the port has taken that: note-offs
// for all that sounds, sustain pedals up, all notes off, and unless the take came
// to its end, when the last notes may ring, all sound off.
func (p *player) silence(ended bool) error {
	p.dueAt = p.now()
	deadline := p.clock.Now() + SilenceWithin
	p.await(deadline)
	for try := 1; !p.quiet(ended); try++ {
		p.await(deadline)
		if p.lost || p.clock.Now() >= deadline && try >= silenceTries {
			return fmt.Errorf("take: %d sends failed, the last note-offs too: %w", p.report.Errors, ErrHanging)
		}
		p.clock.SleepUntil(p.clock.Now() + retryFast)
	}
	p.report.Silent = true
	return nil
}

// await waits until a lost port is found, until deadline at most.
func (p *player) await(deadline time.Duration) {
	for p.lost && p.clock.Now() < deadline {
		if p.reopened.Load() {
			p.lost, p.port.hushed = false, [16]uint8{} // it may be another instrument
			return
		}
		p.clock.SleepUntil(p.clock.Now() + retryFast)
	}
}
