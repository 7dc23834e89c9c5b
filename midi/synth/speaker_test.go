package synth

import (
	"errors"
	"math"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"onward/midi/live"
)

// The machine's own sound device, or none: either way the speaker must play, say in
// words where, and close in time.
func TestSpeakerOnThisMachine(t *testing.T) {
	f := builtin(t)
	s, err := Play(f)
	if openDevice == nil {
		if !errors.Is(err, ErrNoSound) {
			t.Fatalf("got %v, want %v", err, ErrNoSound)
		}
		return
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Log(s.Device())
	if !strings.HasPrefix(s.Device(), "sound device: ") && !strings.Contains(s.Device(), "keeping time in silence") {
		t.Errorf("Device says %q", s.Device())
	}
	for range 3 {
		if err := s.Send([]byte{0x90, 60, 30}); err != nil {
			t.Error(err)
		}
		time.Sleep(30 * time.Millisecond)
		if err := s.Send([]byte{0x80, 60, 0}); err != nil {
			t.Error(err)
		}
	}
	began := time.Now()
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	if d := time.Since(began); d > 1900*time.Millisecond {
		t.Errorf("Close took %v, want under 1.9 s", d)
	}
	if s.pulled.Load() == 0 {
		t.Error("no frame was asked for")
	}
}

// A bench is a sound device for tests: it asks for 10 ms at a time, unpunctually, at
// a rate a little off, and keeps what it hears with the time of its first frame.
type bench struct {
	pull  func([]float32)
	lost  func()
	quit  chan struct{}
	mu    sync.Mutex
	heard []float32
	began time.Time
	rng   noise
	drift float64 // 1 is exact
}

func (b *bench) name() string { return "bench" }

func (b *bench) start() error {
	b.began = time.Now()
	go b.run()
	return nil
}

func (b *bench) run() {
	const frames = liveRate / 100
	for n := 1; ; n++ {
		jitter := time.Duration(b.rng.unit() * 4e6)
		due := time.Duration(float64(n) * 1e7 * b.drift)
		select {
		case <-b.quit:
			return
		case <-time.After(time.Until(b.began.Add(due + jitter))):
		}
		out := make([]float32, 2*frames)
		b.pull(out)
		b.mu.Lock()
		b.heard = append(b.heard, out...)
		b.mu.Unlock()
	}
}

func (b *bench) stop() { close(b.quit) }

// sound reports what was heard so far, both sides' middle.
func (b *bench) sound() []float64 {
	b.mu.Lock()
	defer b.mu.Unlock()
	return middle(b.heard)
}

func (b *bench) open(pull func([]float32), lost func()) (output, error) {
	b.pull, b.lost, b.quit = pull, lost, make(chan struct{})
	return b, nil
}

// Through an unpunctual device that runs 200 millionths slow, strokes must come as
// evenly as they were sent: to a block.
func TestSpeakerPlacesEvenly(t *testing.T) {
	f := builtin(t)
	synctest.Test(t, func(t *testing.T) {
		b := &bench{rng: 7, drift: 1.0002}
		s, err := play(f, b.open)
		if err != nil {
			t.Fatal(err)
		}
		const gap, strokes = 230 * time.Millisecond, 40
		time.Sleep(time.Second)
		for range strokes {
			s.Send([]byte{0x99, 76, 100})
			time.Sleep(gap)
		}
		if c := s.Counts(); c != (Counts{}) {
			t.Errorf("counts %+v, want none", c)
		}
		s.Close()
		got := onsets(b.sound(), 0.05, liveRate/20)
		if len(got) != strokes {
			t.Fatalf("%d strokes heard, want %d", len(got), strokes)
		}
		var worst float64
		for i := 1; i < len(got); i++ {
			apart := float64(got[i]-got[i-1]) / liveRate * b.drift
			worst = max(worst, math.Abs(apart-gap.Seconds()))
		}
		t.Logf("strokes %v apart are off by %.2f ms at most", gap, 1000*worst)
		if worst > 0.002 {
			t.Errorf("a gap of %v is off by %.2f ms, want at most 2", gap, 1000*worst)
		}
		// The bench asks for its first frame 10 to 14 ms after the start.
		late := float64(got[0])/liveRate + 0.012 - 1
		if off := late - Latency.Seconds(); math.Abs(off) > 0.004 {
			t.Errorf("the first stroke comes %.1f ms after its time, want %v within 4 ms", 1000*late, Latency)
		}
	})
}

// A device that goes away does not stop time; when one is found the music goes on
// at its place, notes that began meanwhile included.
func TestSpeakerOutlivesItsDevice(t *testing.T) {
	f := builtin(t)
	synctest.Test(t, func(t *testing.T) {
		first, second := &bench{rng: 1, drift: 1}, &bench{rng: 2, drift: 1}
		tries := 0
		s, err := play(f, func(pull func([]float32), lost func()) (output, error) {
			tries++
			switch tries {
			case 1:
				return first.open(pull, lost)
			case 2:
				return nil, errors.New("unplugged")
			}
			return second.open(pull, lost)
		})
		if err != nil {
			t.Fatal(err)
		}
		if got := s.Device(); got != "sound device: bench" {
			t.Errorf("Device says %q", got)
		}
		time.Sleep(500 * time.Millisecond)
		first.lost()
		time.Sleep(time.Second)
		if got := s.Device(); !strings.Contains(got, "bench went away: keeping time in silence") {
			t.Errorf("after the loss Device says %q", got)
		}
		s.Send([]byte{0xC0, 57})
		s.Send([]byte{0x90, 53, 100}) // while there is no device
		time.Sleep(4 * time.Second)
		if got := s.Device(); got != "sound device: bench" {
			t.Errorf("after the return Device says %q", got)
		}
		if c := s.Counts(); c.Lost != 1 || c.Late != 0 {
			t.Errorf("counts %+v, want 1 lost, none late", c)
		}
		if l := dB(rms(second.sound())); l < -30 {
			t.Errorf("the held note sounds at %.0f dBFS on the new device, want over -30", l)
		}
		s.Close()
		end := second.sound()
		if v := math.Abs(end[len(end)-1]); v > 0.001 {
			t.Errorf("the device stops at %g, want silence", v)
		}
	})
}

// A device that stops asking without a word is held for lost too.
func TestSpeakerNoticesAStuckDevice(t *testing.T) {
	f := builtin(t)
	synctest.Test(t, func(t *testing.T) {
		tries := 0
		s, err := play(f, func(func([]float32), func()) (output, error) {
			if tries++; tries > 1 {
				return nil, errors.New("none")
			}
			return stuck{}, nil
		})
		if err != nil {
			t.Fatal(err)
		}
		time.Sleep(3 * time.Second)
		if c := s.Counts(); c.Lost != 1 {
			t.Errorf("counts %+v, want 1 lost", c)
		}
		before := s.pulled.Load()
		time.Sleep(time.Second)
		if n := s.pulled.Load() - before; n < liveRate*98/100 || n > liveRate*102/100 {
			t.Errorf("%d frames passed in a second of silence, want %d", n, liveRate)
		}
		s.Close()
	})
}

type stuck struct{}

func (stuck) name() string { return "stuck" }
func (stuck) start() error { return nil }
func (stuck) stop()        {}

func TestSpeakerRefusesWhatItCannotTake(t *testing.T) {
	s := &Speaker{began: time.Now()}
	if err := s.Send([]byte{0xF0, 1, 2, 3, 0xF7}); err == nil {
		t.Error("a message of 5 bytes was taken")
	}
	for range ringSize {
		if err := s.Send([]byte{0xC0, 1}); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Send([]byte{0xC0, 1}); !errors.Is(err, live.ErrBusy) {
		t.Errorf("got %v, want an error that wraps %v", err, live.ErrBusy)
	}
	if n := s.Counts().Refused; n != 1 {
		t.Errorf("%d refused, want 1", n)
	}
}

func TestSendAndPullDoNotAllocate(t *testing.T) {
	e, err := newEngine(builtin(t), liveRate)
	if err != nil {
		t.Fatal(err)
	}
	s := &Speaker{began: time.Now(), engine: e, follow: newFollower(liveRate), level: 1}
	out := make([]float32, 2*480)
	on := []byte{0x90, 60, 80}
	if n := testing.AllocsPerRun(100, func() {
		s.SendAt(on, s.began.Add(-time.Second))
		s.pull(out)
	}); n != 0 {
		t.Errorf("%g allocations, want none", n)
	}
}

var _ live.Sender = (*Speaker)(nil)
