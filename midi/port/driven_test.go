package port

import (
	"errors"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"gitlab.com/gomidi/midi/v2/drivers"
	"gitlab.com/gomidi/midi/v2/drivers/testdrv"
	"onward/midi/live"
	"onward/midi/timeline"
	"onward/rhythm"
)

// notes is a take of n quarters at 120 on a French horn, each held to the next.
func notes(n int) *timeline.Timeline {
	t := &timeline.Timeline{Tempos: []timeline.Tempo{{MicrosPerQuarter: 500_000}}}
	t.Events = append(t.Events, timeline.Event{Channel: 1, Kind: timeline.Program, A: 60})
	for i := range n {
		at := rhythm.Offset(i) * rhythm.Offset(rhythm.Quarter)
		t.Events = append(t.Events, timeline.Event{At: at, Channel: 1, Kind: timeline.NoteOn, A: 60, B: 80},
			timeline.Event{At: at.Add(rhythm.Quarter - 10), Channel: 1, Kind: timeline.NoteOff, A: 60})
	}
	t.End = rhythm.Offset(n) * rhythm.Offset(rhythm.Quarter)
	return t
}

// rig is a driver whose port can be pulled out and put back. As with some systems,
// what is sent to a port that is out is lost without an error.
type rig struct {
	lock  sync.Mutex
	out   bool
	name  string
	wire  *wire
	opens int
	t     *testing.T
}

func (r *rig) Ins() ([]drivers.In, error) { return nil, nil }
func (r *rig) String() string             { return "rig" }
func (r *rig) Close() error               { return nil }
func (r *rig) Outs() ([]drivers.Out, error) {
	r.lock.Lock()
	defer r.lock.Unlock()
	if r.out {
		return nil, nil
	}
	return []drivers.Out{&rigOut{rig: r, name: r.name}}, nil
}

type rigOut struct {
	*rig
	name string
	open bool
}

func (o *rigOut) Open() error     { o.open = true; o.opens++; return nil }
func (o *rigOut) Close() error    { o.open = false; return nil }
func (o *rigOut) IsOpen() bool    { return o.open }
func (o *rigOut) Number() int     { return 0 }
func (o *rigOut) String() string  { return o.name }
func (o *rigOut) Underlying() any { return nil }
func (o *rigOut) Send(b []byte) error {
	o.lock.Lock()
	defer o.lock.Unlock()
	if !o.open {
		return errors.New("not open")
	}
	if !o.out && o.name == o.rig.name {
		o.wire.take(o.t, b)
	}
	return nil
}

// pull takes the port out, and its instrument falls silent.
func (r *rig) pull() {
	r.lock.Lock()
	defer r.lock.Unlock()
	r.out, r.wire = true, newWire()
}

// put puts it back under a new number, as systems do.
func (r *rig) put() {
	r.lock.Lock()
	defer r.lock.Unlock()
	r.out, r.name = false, "Keys 2"
}

func TestPulledPortIsFoundAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := &rig{name: "Keys 1", wire: newWire(), t: t}
		s, err := openDriven(r, "keys")
		if err != nil {
			t.Fatal(err)
		}
		time.AfterFunc(3*time.Second, r.pull)
		time.AfterFunc(7100*time.Millisecond, r.put)
		rep, err := live.Play(t.Context(), notes(32), s, live.Options{Clock: live.PlainClock()})
		err = errors.Join(err, s.(*live.Queue).Close())
		if err != nil || rep.Reopened != 1 || rep.Max != 0 || r.opens != 2 || rep.Played != 16*time.Second {
			t.Fatalf("got %+v, %v; opened %d times", rep, err, r.opens)
		}
		if r.wire.progs[1] != 60 || r.wire.hanging() != 0 || r.wire.ons < 17 {
			t.Errorf("program %d, %d hanging, %d notes", r.wire.progs[1], r.wire.hanging(), r.wire.ons)
		}
	})
}

// The messages arrive at the other end of gomidi's own test driver.
func TestGomidiDriver(t *testing.T) {
	d := testdrv.New("loop")
	ins, err := d.Ins()
	if err != nil {
		t.Fatal(err)
	}
	w := newWire()
	stop, err := ins[0].Listen(func(msg []byte, _ int32) { w.take(t, msg) }, drivers.ListenConfig{})
	if err != nil {
		t.Fatal(err)
	}
	defer stop()
	found, err := list(d, nil)
	if err != nil || len(found) != 1 || found[0] != (Info{Name: "loop-out"}) {
		t.Fatalf("got %v, %v", found, err)
	}
	s, err := open(d, nil, "LOOP")
	if err != nil {
		t.Fatal(err)
	}
	for _, msg := range [][]byte{{0xC1, 60}, {0x91, 60, 80}, {0x91, 64, 80}, {0x81, 64, 64}} {
		if err := s.Send(msg); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.(*live.Queue).Close(); err != nil {
		t.Fatal(err)
	}
	if w.progs[1] != 60 || w.ons != 2 || w.hanging() != 1 {
		t.Errorf("got programs %v, %d notes, %d sounding", w.progs, w.ons, w.hanging())
	}
}

func TestDrivenIsASender(t *testing.T) {
	s, err := openDriven(&rig{name: "Keys", wire: newWire(), t: t}, "keys")
	if err != nil {
		t.Fatal(err)
	}
	defer s.(*live.Queue).Close()
	checkSender(t, s)
}
