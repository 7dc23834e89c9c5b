package live

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"onward/midi/timeline"
	"onward/rhythm"
)

// The report counts each event in its class of lateness, by the steps that the documents
// name: 10, 40 and 200 ms.
func TestClassesOfLateness(t *testing.T) {
	const ms = time.Millisecond
	for _, c := range []struct {
		late time.Duration
		want string // late, very late, hopeless
	}{
		{0, "0 0 0"}, {10*ms - 1, "0 0 0"}, {10 * ms, "1 0 0"}, {40*ms - 1, "1 0 0"},
		{40 * ms, "0 1 0"}, {200*ms - 1, "0 1 0"}, {200 * ms, "0 0 1"}, {time.Hour, "0 0 1"},
	} {
		var r Report
		r.count(c.late)
		if got := fmt.Sprint(r.Late, r.VeryLate, r.Hopeless); got != c.want || r.Events != 1 {
			t.Errorf("%v: got %s of %d, want %s", c.late, got, r.Events, c.want)
		}
	}
}

// The percentiles are those of a thousand events that are 0 to 999 µs late in any order, and
// the drift is what the last minute was later than the first.
func TestSumOfLateness(t *testing.T) {
	roll, late := new(Roll), make([]time.Duration, 1000)
	for i := range late {
		roll.Events = append(roll.Events, Event{At: time.Duration(i) * 300 * time.Millisecond})
		late[i] = time.Duration(i*7%1000) * time.Microsecond
	}
	var r Report
	r.sum(roll, late)
	if got, want := fmt.Sprint(r.P50, r.P99, r.P999, r.Max), "499µs 989µs 998µs 999µs"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
	for i := range late {
		late[i] = time.Duration(i) * time.Microsecond
	}
	r = Report{}
	r.sum(roll, late) // medians: event 100 of the first minute, event 900 of the last
	if r.Drift != 800*time.Microsecond {
		t.Errorf("drift %v", r.Drift)
	}
	r = Report{}
	r.sum(roll, late[:100]) // half a minute: event 25 of its first half, event 25 of its second
	if r.Drift != 50*time.Microsecond {
		t.Errorf("drift %v", r.Drift)
	}
	r = Report{}
	r.sum(roll, late[:2]) // left at once
	if r.P50 != 0 || r.Max != time.Microsecond {
		t.Errorf("got %+v", r)
	}
}

// A key whose release was refused until its next note was too late to be struck is let go
// when the port takes messages again, not only at the end.
func TestRefusedReleaseIsMadeGood(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		tl := &timeline.Timeline{Tempos: []timeline.Tempo{{MicrosPerQuarter: 500_000}}, End: rhythm.Offset(8 * rhythm.Quarter)}
		for _, e := range []struct {
			at   rhythm.Duration
			kind timeline.Kind
		}{
			{0, timeline.NoteOn}, {rhythm.Quarter, timeline.NoteOff},
			{rhythm.Quarter + 100, timeline.NoteOn}, {rhythm.Quarter + 2000, timeline.NoteOff},
		} {
			tl.Events = append(tl.Events, timeline.Event{At: rhythm.Offset(e.at), Kind: e.kind, A: 60, B: 80})
		}
		in := newInstrument()
		free := 900 * time.Millisecond // after both notes, from the start at Lead
		in.fault = func(_ int, msg []byte) error {
			if now := time.Since(in.zero) - Lead; now > 400*time.Millisecond && now < free {
				return ErrBusy
			}
			return nil
		}
		time.AfterFunc(Lead+free+2*retrySlow, func() {
			if in.hanging() != "" {
				t.Errorf("still hanging: %s", in.hanging())
			}
		})
		if rep, err := Play(t.Context(), tl, in, Options{Clock: PlainClock()}); err != nil || rep.Dropped != 1 {
			t.Errorf("got %+v, %v", rep, err)
		}
	})
}

// A note that a busy port refused is struck as soon as the port may be asked again.
func TestRefusedNoteIsStruckSoon(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		tl := &timeline.Timeline{Tempos: []timeline.Tempo{{MicrosPerQuarter: 500_000}}, End: rhythm.Offset(8 * rhythm.Quarter), Events: []timeline.Event{
			{At: rhythm.Offset(rhythm.Quarter), Kind: timeline.NoteOn, A: 60, B: 80}, {At: rhythm.Offset(2 * rhythm.Quarter), Kind: timeline.NoteOff, A: 60}}}
		in := newInstrument()
		in.fault = func(int, []byte) error {
			if time.Since(in.zero) < 500*time.Millisecond+retryFast {
				return ErrBusy
			}
			return nil
		}
		rep, err := Play(t.Context(), tl, in, Options{Clock: PlainClock()})
		if err != nil || rep.Dropped != 0 || len(in.heard) == 0 || in.heard[0].at != 500*time.Millisecond+retryFast {
			t.Errorf("got %+v, %v, heard %v; want the note %v late", rep, err, in.heard, retryFast)
		}
	})
}

// A note-on that is never let go is refused on every channel.
func TestNoteThatIsNeverLetGo(t *testing.T) {
	for ch := range uint8(16) {
		tl := &timeline.Timeline{Tempos: []timeline.Tempo{{MicrosPerQuarter: 500_000}}, End: 10080,
			Events: []timeline.Event{{Channel: ch, Kind: timeline.NoteOn, A: 60, B: 80}}}
		want := fmt.Sprintf("key 60 on channel %d is never let go", ch)
		if _, err := Prepare(tl); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want %s", err, want)
		}
	}
}

// The error of a roll that is cut short says where.
func TestWhereARollIsCutShort(t *testing.T) {
	var b bytes.Buffer
	if err := Encode(&b, prepared(t, march(1, 120))); err != nil {
		t.Fatal(err)
	}
	for _, n := range []int{0, 5, len(wireMark), 40, b.Len() - 1} {
		_, err := Decode(bytes.NewReader(b.Bytes()[:n]))
		if want := fmt.Sprintf("take, byte %d on the way to the player: ", n); err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%d bytes: got %v, want %s", n, err, want)
		}
	}
}
