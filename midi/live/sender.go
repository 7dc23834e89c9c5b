// Package live plays a take in real time and never stops before its end. Deadlines
// are absolute and counted from one start, so a late event never delays a later
// one; a port that fails or vanishes does not hold time up; and at every exit all
// notes are off.
//
// A Roll is a take prepared for playing. Roll.Play plays it in this process; Start
// and Serve play it in a process of its own, which is how the program does it: what
// happens to the screen, or to the whole parent, the band does not notice.
package live

import (
	"errors"
	"time"
)

// A Sender takes MIDI messages for a port or a synthesizer.
//
// Send takes one whole channel message (2 or 3 bytes, with its status byte) to be
// played now. It must not keep msg, must not allocate and must not block: a port
// that could block sets itself a deadline or puts a Queue before itself. It is
// called by one goroutine at a time.
//
// An error means that msg was not taken. If it wraps ErrBusy, the sender is
// healthy and only this message was refused; the player tries again what still
// matters. After any other error, twice in a row, the player asks a Reopener to
// reopen, and the error may also be that of an earlier message.
//
// A Sender that is also an io.Closer is closed by Serve after the last message.
type Sender interface {
	Send(msg []byte) error
}

// A Reopener is a Sender that can find its port again. Reopen is called on another
// goroutine than Send, never at the same time as Send, and again every
// ReopenEvery until it returns nil. It may take its time: the take goes on. After
// it the player restores programs, controllers and held notes.
type Reopener interface {
	Sender
	Reopen() error
}

// A Timed Sender is told with each message when it was due, and plays it as long after
// that as any other: so a synthesizer that has some latency anyway makes good what the
// player was late. SendAt promises what Send does, and at is never to come; it lies
// before that of the message ahead where something was made good in between.
type Timed interface {
	Sender
	SendAt(msg []byte, at time.Time) error
}

// A Witness is a Sender that knows in words what befell it, "" if nothing did. Serve
// asks it after the last message, before closing it, for Report.Sink.
type Witness interface {
	Sender
	Witness() string
}

// An Open opens the sink that spec names, such as "off", "builtin", "port:NAME",
// "raw:/path" or "sf2:FILE". What specs there are is the opener's affair.
type Open func(spec string) (Sender, error)

// ErrBusy is wrapped by the errors of a Sender that could not take one message in
// time and is otherwise healthy.
var ErrBusy = errors.New("the port is busy")

// ErrHanging is wrapped by errors after which notes may be left sounding.
var ErrHanging = errors.New("if notes hang, switch the instrument off and on")

// Off is the Sender that plays nothing: a silent take still keeps time.
type Off struct{}

// Send takes msg and does nothing.
func (Off) Send([]byte) error { return nil }
