package synth

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"onward/midi/timeline"
	"onward/rhythm"
)

// add adds a note to t; inOrder must follow.
func add(t *timeline.Timeline, at rhythm.Offset, d rhythm.Duration, channel, key, velocity uint8) {
	t.Events = append(t.Events,
		timeline.Event{At: at, Channel: channel, Kind: timeline.NoteOn, A: key, B: velocity},
		timeline.Event{At: at.Add(d), Channel: channel, Kind: timeline.NoteOff, A: key})
	t.End = max(t.End, at.Add(d))
}

// inOrder sorts events by time, note-offs first.
func inOrder(t *timeline.Timeline) *timeline.Timeline {
	slices.SortStableFunc(t.Events, func(a, b timeline.Event) int {
		if a.At != b.At {
			return int(a.At - b.At)
		}
		return int(a.Kind) - int(b.Kind)
	})
	return t
}

// march is a march of so many 2/4 measures at 120: bass, off-beats, a held trombone,
// clarinets, bass drum, cymbals and a snare in sixteenths.
func march(measures int) *timeline.Timeline {
	t := &timeline.Timeline{Tempos: []timeline.Tempo{{MicrosPerQuarter: 500_000}}}
	for channel, program := range []uint8{58, 60, 57, 71} {
		t.Events = append(t.Events, timeline.Event{Channel: uint8(channel), Kind: timeline.Program, A: program})
	}
	for m := range measures {
		one := rhythm.Offset(0).Add(rhythm.Duration(m) * rhythm.Half)
		two := one.Add(rhythm.Quarter)
		for _, beat := range []rhythm.Offset{one, two} {
			add(t, beat, rhythm.Eighth, 0, 34+uint8(m%2)*7, 88)
			for _, key := range []uint8{58, 62, 65} {
				add(t, beat.Add(rhythm.Eighth), rhythm.Sixteenth, 1, key, 72)
			}
			add(t, beat, rhythm.Quarter, 3, 70+uint8(m%3)*2, 80)
			add(t, beat, rhythm.Eighth, 9, 35, 84)
			for s := range rhythm.Duration(4) {
				add(t, beat.Add(s*rhythm.Sixteenth), rhythm.Sixteenth/2, 9, 38, 64)
			}
		}
		add(t, one, rhythm.Half, 2, 53, 70)
		add(t, one, rhythm.Eighth, 9, 49, 70)
	}
	return inOrder(t)
}

// rendered renders t and reports its two sides' middle, its peak and its sample count.
func rendered(tb testing.TB, t *timeline.Timeline, o Options) (x []float64, peak float64) {
	tb.Helper()
	var b bytes.Buffer
	if err := RenderWAV(&b, t, builtin(tb), o); err != nil {
		tb.Fatal(err)
	}
	head, data := b.Bytes()[:44], b.Bytes()[44:]
	if got := int(binary.LittleEndian.Uint32(head[40:])); got != len(data) || int(binary.LittleEndian.Uint32(head[4:])) != 36+len(data) {
		tb.Fatalf("the header says %d bytes of sound, there are %d", got, len(data))
	}
	for i := 0; i < len(data); i += 4 {
		l := float64(int16(binary.LittleEndian.Uint16(data[i:]))) / 32768
		r := float64(int16(binary.LittleEndian.Uint16(data[i+2:]))) / 32768
		x = append(x, (l+r)/2)
		peak = max(peak, math.Abs(l), math.Abs(r))
	}
	return x, peak
}

// Wood block strokes on beats, off-beats and triplets, across a change of tempo from
// 120 to 90, must begin on the frames of their times.
func TestOnsetsFallOnTheirFrames(t *testing.T) {
	tl := &timeline.Timeline{Tempos: []timeline.Tempo{{MicrosPerQuarter: 500_000}, {At: rhythm.Offset(2 * rhythm.Quarter), MicrosPerQuarter: 666_667}}}
	const q = rhythm.Quarter
	strokes := []struct {
		at      rhythm.Duration
		seconds float64
	}{
		{0, 0}, {q, 0.5}, {q + q/2, 0.75}, {q + q*5/6, 0.5 + 0.5*5/6},
		{2*q + q/3, 1 + 0.666667/3}, {2*q + q*2/3, 1 + 0.666667*2/3}, {3 * q, 1.666667}, {4*q + q/7, 1 + 0.666667*(2+1.0/7)},
	}
	for _, s := range strokes {
		add(tl, rhythm.Offset(s.at), q/8, 9, 76, 100)
	}
	x, _ := rendered(t, inOrder(tl), Options{})
	got := onsets(x, 0.05, 4410/2)
	if len(got) != len(strokes) {
		t.Fatalf("%d onsets at %v, want %d", len(got), got, len(strokes))
	}
	for i, s := range strokes {
		// The detector sees a stroke some samples after its begin.
		if late := float64(got[i]) - s.seconds*testRate; late < -1 || late > 12 {
			t.Errorf("stroke %d begins at sample %d, %.0f after its time of %.4f s", i, got[i], late, s.seconds)
		}
	}
}

func TestRenderIsModestAndEndsInSilence(t *testing.T) {
	tl := march(8)
	x, peak := rendered(t, tl, Options{})
	if want := int(testRate * (8 + 1.5)); len(x) != want {
		t.Errorf("%d frames, want %d", len(x), want)
	}
	if peak > 0.9 {
		t.Errorf("the peak is %.2f of full scale; an ordinary march should not meet the limiter hard", peak)
	}
	if l := dB(rms(x[:8*testRate])); l < -22 || l > -14 {
		t.Errorf("a march sounds at %.1f dBFS, want -22 to -14", l)
	}
	if l := rms(part(x, 9.4, 9.5)); l > 0.0003 {
		t.Errorf("the last tenth of a second sounds at %.0f dBFS, want under -70", dB(l))
	}
	if x[len(x)-1] != 0 {
		t.Error("the last sample is not silent")
	}
}

func TestRenderNeverClips(t *testing.T) {
	tl := &timeline.Timeline{}
	for channel := range uint8(16) {
		for key := uint8(36); key < 84; key += 3 {
			add(tl, 0, rhythm.Whole, channel, key, 127)
		}
	}
	x, peak := rendered(t, inOrder(tl), Options{Tail: 300 * time.Millisecond})
	if peak >= 32767.0/32768 {
		t.Errorf("peak %g reaches full scale", peak)
	}
	if l := dB(rms(x[:testRate])); l < -12 {
		t.Errorf("256 notes at once sound at %.1f dBFS: were they played?", l)
	}
}

// A note that the timeline never ends must not sound past its end.
func TestHangingNoteIsEnded(t *testing.T) {
	tl := &timeline.Timeline{End: rhythm.Offset(rhythm.Quarter)}
	tl.Events = []timeline.Event{{Channel: 0, Kind: timeline.Program, A: 57}, {Channel: 0, Kind: timeline.NoteOn, A: 53, B: 100}}
	x, _ := rendered(t, tl, Options{Tail: 3 * time.Second})
	if l := dB(rms(part(x, 2.5, 2.6)) / rms(part(x, 0.2, 0.4))); l > -50 {
		t.Errorf("two seconds after the end %.0f dB, want under -50", l)
	}
}

func TestRenderFailsInWords(t *testing.T) {
	f := builtin(t)
	if err := RenderWAV(io.Discard, march(1), f, Options{SampleRate: 8000}); err == nil || !strings.Contains(err.Error(), "8000 Hz") {
		t.Errorf("got %v, want an error that names 8000 Hz", err)
	}
	long := &timeline.Timeline{End: rhythm.Offset(60 * 600 * rhythm.Whole)}
	if err := RenderWAV(io.Discard, long, f, Options{}); err == nil || !strings.Contains(err.Error(), "lower sample rate") {
		t.Errorf("got %v, want an error that says what to do", err)
	}
	full := errors.New("disk full")
	if err := RenderWAV(failing{full}, march(1), f, Options{}); !errors.Is(err, full) {
		t.Errorf("got %v, want %v", err, full)
	}
}

type failing struct{ err error }

func (f failing) Write([]byte) (int, error) { return 0, f.err }

func TestLimitIsSmoothAndBounded(t *testing.T) {
	last := limit(-1000)
	for x := float32(-20); x <= 20; x += 0.01 {
		y := limit(x)
		if y < last {
			t.Fatalf("limit(%g) = %g falls under %g", x, y, last)
		}
		if y <= -1 || y >= 1 || x < knee && x > -knee && y != x {
			t.Fatalf("limit(%g) = %g", x, y)
		}
		last = y
	}
	if y := limit(float32(math.NaN())); y != 0 {
		t.Errorf("limit(NaN) = %g, want 0", y)
	}
}

func TestEngineDoesNotAllocate(t *testing.T) {
	e, err := newEngine(builtin(t), testRate)
	if err != nil {
		t.Fatal(err)
	}
	out := make([]float32, 2*441)
	key := byte(40)
	if n := testing.AllocsPerRun(100, func() {
		e.apply(message{0x90, key, 80})
		e.fill(out, nothing{})
		key = 40 + (key+7)%40
	}); n != 0 {
		t.Errorf("%g allocations in 10 ms of sound, want none", n)
	}
}

func BenchmarkBuiltin(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if err := newBuiltin().write(io.Discard); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkRenderMarch reports how many times faster than real time a march is
// rendered, in time of one core.
func BenchmarkRenderMarch(b *testing.B) { benchmarkRender(b, march(16)) }

func benchmarkRender(b *testing.B, tl *timeline.Timeline) {
	f := builtin(b)
	if err := RenderWAV(io.Discard, tl, f, Options{}); err != nil { // which makes its instruments
		b.Fatal(err)
	}
	b.ReportAllocs()
	before := cpuTime()
	for b.Loop() {
		if err := RenderWAV(io.Discard, tl, f, Options{}); err != nil {
			b.Fatal(err)
		}
	}
	used := cpuTime() - before
	seconds := (tl.Time(tl.End) + 1500*time.Millisecond).Seconds()
	b.ReportMetric(seconds*float64(b.N)/used.Seconds(), "x-real-time")
}
