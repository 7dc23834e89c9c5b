package live

import (
	"errors"
	"time"
)

// The controllers that end sound (MIDI 1.0).
const (
	sustain     = 64
	allSoundOff = 120
	allNotesOff = 123
)

// A port is what the take wants of the sender's port and what the port was last
// told; where they differ a message was refused and the port is dirty. Keys are held
// by the index of their note-on plus 1, 0 being silent, so that a note-off ends its
// own note and no later one on the same key.
type port struct {
	used    uint16 // channels, one bit each
	dirty   bool
	want    [16][128]int32
	sounds  [16][128]int32
	program [16]setting
	control [16][128]setting
	hushed  [16]uint8 // how many of the messages that hush a channel were taken
	buf     [3]byte
}

// A setting is a program's or controller's value wanted and told, -1 where none was.
type setting struct{ want, told int16 }

// init readies the port for a take that uses these channels.
func (t *port) init(used uint16) {
	t.used = used
	for ch := range t.control {
		t.program[ch] = setting{-1, -1}
		for c := range t.control[ch] {
			t.control[ch][c] = setting{-1, -1}
		}
	}
}

// apply makes the event at index i wanted and tells the port.
func (p *player) apply(i int) {
	e, t := &p.roll.Events[i], &p.port
	ch, a := e.Msg[0]&15, e.Msg[1]
	switch e.Msg[0] & 0xF0 {
	case noteOn:
		t.want[ch][a] = int32(i) + 1
		p.strike(ch, a)
	case noteOff:
		if t.want[ch][a] != e.Mate+1 {
			return // dropped, or struck anew since
		}
		t.want[ch][a] = 0
		if t.sounds[ch][a] != e.Mate+1 { // its note-on was never taken
			p.report.Dropped++
		}
		p.release(ch, a)
	case controller:
		t.control[ch][a].want = int16(e.Msg[2])
		p.set(&t.control[ch][a], e.Msg)
	case program:
		t.program[ch].want = int16(a)
		p.set(&t.program[ch], e.Msg)
	}
}

// tell sends msg, and marks the port dirty if it was not taken.
func (p *player) tell(msg [3]byte) bool {
	t := &p.port
	t.buf = msg
	ok := p.send(t.buf[:size(msg[0])])
	t.dirty = t.dirty || !ok
	return ok
}

// strike sounds the note wanted on a key. A key that sounds is let go first, or it
// might hang with two note-ons and one note-off.
func (p *player) strike(ch, key uint8) {
	t := &p.port
	on := t.want[ch][key]
	if p.release(ch, key) && p.tell(p.roll.Events[on-1].Msg) {
		t.sounds[ch][key] = on
	}
}

// release lets a key go if it sounds, and reports whether it is silent now.
func (p *player) release(ch, key uint8) bool {
	t := &p.port
	if t.sounds[ch][key] != 0 && p.tell([3]byte{noteOff | ch, key, 64}) {
		t.sounds[ch][key] = 0
	}
	return t.sounds[ch][key] == 0
}

func (p *player) set(s *setting, msg [3]byte) {
	if p.tell(msg) {
		s.told = s.want
	}
}

// lostAfter is how many sends in a row must fail for a port to be held for lost: one
// may be the port's hiccup, and opening a port again costs it all that it was told.
const lostAfter = 2

// failed counts a failed send. A port that fails again, and not for being busy, is
// given to the reopener.
func (p *player) failed(err error) {
	p.report.Errors++
	now := p.now()
	if !errors.Is(err, ErrBusy) {
		p.failures++
	}
	if p.ask == nil || p.failures < lostAfter {
		p.befell(PortRefused, now, now)
		return
	}
	p.lost, p.lostAt, p.failures = true, p.refusedFrom(now), 0
	p.reopened.Store(false)
	select {
	case p.ask <- struct{}{}:
	default:
	}
}

// reopen looks for the port, on its own goroutine, each time the player asks.
func (p *player) reopen(out Reopener) {
	for range p.ask {
		for out.Reopen() != nil {
			time.Sleep(ReopenEvery)
			if p.over.Load() {
				return
			}
		}
		p.reopened.Store(true)
	}
}

// retry tells the port again what it refused, and waits longer each time it refuses.
func (p *player) retry(now time.Duration) {
	if p.mend(now, false) {
		p.retryWait = 0
		p.befell(PortRefused, now, now)
		return
	}
	p.retryWait = min(max(retryFast, 2*p.retryWait), retrySlow)
	p.retryAt = now + p.retryWait
}

// found takes the port back from the reopener and restores on it what should
// sound. What the port knew is unknown, so all notes are ended first.
func (p *player) found(now time.Duration) {
	p.lost = false
	p.report.Reopened++
	p.befell(PortLost, p.lostAt, now)
	t := &p.port
	for ch := range uint8(16) {
		if t.used>>ch&1 == 0 {
			continue
		}
		for key := range uint8(128) {
			p.release(ch, key)
		}
		p.tell([3]byte{controller | ch, allNotesOff, 0})
		t.program[ch].told = -1
		for c := range t.control[ch] {
			t.control[ch][c].told = -1
		}
	}
	p.mend(now, true)
	p.retryAt, p.retryWait = now+retryFast, retryFast
}

// mend tells the port all that it should know and does not, and reports whether it
// now does. Programs and controllers come before notes. A note that the port missed
// is struck only if it still helps, or if the port was away and it is held.
func (p *player) mend(now time.Duration, away bool) bool {
	t := &p.port
	t.dirty = false
	for ch := range uint8(16) {
		if t.used>>ch&1 == 0 {
			continue
		}
		p.mendSettings(ch)
		for key := range uint8(128) {
			switch on := t.want[ch][key]; {
			case on == 0:
				p.release(ch, key)
			case t.sounds[ch][key] != on:
				p.mendNote(ch, key, int(on)-1, now, away)
			}
		}
	}
	return !t.dirty
}

func (p *player) mendSettings(ch uint8) {
	t := &p.port
	if s := &t.program[ch]; s.want != s.told {
		p.set(s, [3]byte{program | ch, byte(s.want), 0})
	}
	for c := range t.control[ch] {
		if s := &t.control[ch][c]; s.want != s.told {
			p.set(s, [3]byte{controller | ch, byte(c), byte(s.want)})
		}
	}
}

func (p *player) mendNote(ch, key uint8, on int, now time.Duration, away bool) {
	left := p.left(on, now)
	held := away && ch != percussion && left >= RestoreAtLeast
	if held || worth(now-p.roll.Events[on].At, left, ch) {
		p.strike(ch, key)
		return
	}
	p.port.want[ch][key] = 0
	p.release(ch, key)
	p.report.Dropped++
}

// quiet ends all notes and reports whether the port took everything that takes. It
// can be called again after a refusal and goes on where it was.
func (p *player) quiet(ended bool) bool {
	t := &p.port
	t.dirty = false
	hush := [3]uint8{sustain, allNotesOff, allSoundOff}
	last := uint8(len(hush))
	if ended {
		last--
	}
	for ch := range uint8(16) {
		if t.used>>ch&1 == 0 {
			continue
		}
		for key := range uint8(128) {
			p.release(ch, key)
		}
		for t.hushed[ch] < last && p.tell([3]byte{controller | ch, hush[t.hushed[ch]], 0}) {
			t.hushed[ch]++
		}
	}
	return !t.dirty
}
