package live

import (
	"os"
	"slices"
	"strings"
	"testing"
	"time"
)

// inStep is how near a page's time must be to the band's.
const inStep = 20 * time.Millisecond

// The start that a take tells is the one it goes by: no message is sent ahead of its
// deadline from there, and they are as late as the player itself found them.
func TestStartedIsTheFirstDeadline(t *testing.T) {
	t.Parallel()
	path := t.TempDir() + "/heard"
	r := prepared(t, march(2, 120))
	before := SystemClock().Now()
	take := start(t, t.Context(), r, "file:"+path)
	boot, ok := take.Started()
	if _, common := SystemClock().(Common); ok != common {
		t.Errorf("a common start: %v, a common clock: %v", ok, common)
	}
	if after := SystemClock().Now() + Lead; ok && (boot < before+Lead || boot > after) {
		t.Errorf("it starts at %v, want a time between %v and %v", boot, before+Lead, after)
	}
	rep, err := take.Wait()
	if err != nil {
		t.Fatal(err)
	}
	in, _ := readHeard(t, path)
	first := firstHeard(t, path)
	var late []time.Duration
	for i, h := range in.heard[:len(r.Events)] {
		late = append(late, first.Add(h.at).Sub(take.StartedAt())-r.Events[i].At)
	}
	slices.Sort(late)
	if late[0] < -time.Millisecond {
		t.Errorf("a message %v ahead of its deadline", -late[0])
	}
	if off := late[len(late)/2] - rep.P50; off > inStep || off < -inStep {
		t.Errorf("messages are %v late from the start that was told, %v from the player's", late[len(late)/2], rep.P50)
	}
	t.Logf("from the start that was told, messages were %v to %v late; the player's own median is %v", late[0], late[len(late)-1], rep.P50)
}

// firstHeard reports when a fileSender was sent its first message.
func firstHeard(t *testing.T, path string) time.Time {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	digits, _, _ := strings.Cut(string(text), " ")
	ns, err := time.ParseDuration(digits + "ns")
	if err != nil {
		t.Fatal(err)
	}
	return time.Unix(0, int64(ns))
}

// Both clocks that a start is told on name the same moment.
func TestStartedAndStartedAtAgree(t *testing.T) {
	t.Parallel()
	take := start(t, t.Context(), prepared(t, march(1, 240)), "off")
	boot, ok := take.Started()
	take.Leave()
	take.Wait()
	if !ok {
		t.Skip("this system has no clock that programs have in common")
	}
	off := time.Hour
	for range 20 { // between two looks at clocks this program may have to wait
		d := SystemClock().Now() - boot - time.Since(take.StartedAt())
		off = min(off, max(d, -d))
	}
	if off > inStep {
		t.Errorf("they are %v apart", off)
	}
	t.Logf("%v apart", off)
}

func TestParseBeginning(t *testing.T) {
	wall := time.Unix(1_700_000_000, 42)
	for _, b := range []beginning{{boot: 12345 * time.Second, common: true, wall: wall}, {boot: 7, wall: wall}} {
		got, err := parseBeginning(strings.TrimPrefix(b.line(), tellBegins+" "))
		if !b.common {
			b.boot = 0
		}
		if err != nil || got.boot != b.boot || got.common != b.common || !got.wall.Equal(b.wall) {
			t.Errorf("%q: got %+v, %v, want %+v", b.line(), got, err, b)
		}
	}
	for _, bad := range []string{"", "1", "x 2", "1 y"} {
		if got, err := parseBeginning(bad); err == nil {
			t.Errorf("%q is taken for %+v", bad, got)
		}
	}
}
