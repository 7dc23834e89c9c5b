package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"sync"
	"testing"
	"text/tabwriter"
	"time"

	"onward/midi/live"
)

// takeLength is how long the takes of BenchmarkTake are where ONWARD_TAKE, such as 1m,
// does not say otherwise.
const takeLength = 10 * time.Minute

// BenchmarkTake plays a long march in a process of its own, as read does, under each
// of the conditions of takeConditions, and prints how late its events were. Beside each
// take, in the same minutes, a floor sleeps until the same deadlines: clock_nanosleep to
// absolute times on the best priority permitted, without Go's scheduler, without our
// player, shifted by floorShift so that the two do not stand in each other's way.
func BenchmarkTake(b *testing.B) {
	length := takeLength
	if s := os.Getenv("ONWARD_TAKE"); s != "" {
		var err error
		if length, err = time.ParseDuration(s); err != nil {
			b.Fatalf("ONWARD_TAKE: %v", err)
		}
	}
	roll := longMarch(b, length)
	var table bytes.Buffer
	w := tabwriter.NewWriter(&table, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "condition\tp50\tp99\tp99.9\tmax\tfloor p50\tp99\tp99.9\tmax\tp99.9 over floor\tdrift\tby another clock\tallocations an event\tcollections\thad\tfloor had")
	for _, c := range takeConditions {
		b.Run(c.name, func(b *testing.B) {
			for range b.N {
				got := measureTake(b, roll, c)
				got.row(w, c.name)
				b.ReportMetric(float64(got.take.P999.Microseconds()), "p99.9-µs")
				b.ReportMetric(float64(got.take.Max.Microseconds()), "max-µs")
				b.ReportMetric(float64((got.take.P999 - got.floor.P999).Microseconds()), "p99.9-over-floor-µs")
			}
			b.ReportMetric(0, "ns/op")
		})
	}
	w.Flush()
	fmt.Printf("%v, %d events, %d cores\n%s", length, len(roll.Events), runtime.NumCPU(), table.String())
}

// A takeCondition is what goes on beside a take. start begins it and returns what ends it.
type takeCondition struct {
	name  string
	start func(*testing.B, *burden)
}

var takeConditions = []takeCondition{
	{"idle", func(*testing.B, *burden) {}},
	{"all cores busy", func(b *testing.B, l *burden) { l.burn(b) }},
	{"screen drawn", func(b *testing.B, l *burden) { l.screen = true }},
	{"journal written", func(b *testing.B, l *burden) { l.keep(b) }},
	{"fifty stands", func(b *testing.B, l *burden) { l.stands(b) }},
	{"all of these", func(b *testing.B, l *burden) { l.burn(b); l.screen = true; l.keep(b) }},
}

// A burden is what goes on beside a take, in this process and in others.
type burden struct {
	screen bool
	quit   chan struct{}
	done   sync.WaitGroup
}

// burn keeps every core busy by processes that do nothing else.
func (l *burden) burn(b *testing.B) {
	for range runtime.NumCPU() {
		l.command(b, "burn")
	}
}

// keep makes reads one after the other and keeps them in a journal.
func (l *burden) keep(b *testing.B) {
	dir := b.TempDir()
	l.done.Go(func() {
		for n := 0; ; n++ {
			select {
			case <-l.quit:
				return
			default:
			}
			out, err := exec.Command("onward", "write", "--count", "25", "--seed", fmt.Sprint(25*n),
				"--journal", filepath.Join(dir, "j.db"), "--out", filepath.Join(dir, "out")).CombinedOutput()
			if err != nil {
				b.Errorf("the journal's writer: %v: %s", err, out)
				return
			}
		}
	})
}

// command runs a process until the end of the load.
func (l *burden) command(b *testing.B, name string) {
	cmd := exec.Command(name)
	if err := cmd.Start(); err != nil {
		b.Fatal(err)
	}
	l.done.Go(func() {
		<-l.quit
		cmd.Process.Kill()
		cmd.Wait()
	})
}

// draw draws a whole terminal's text sixty times a second, in this process, as wastefully
// as it can.
func (l *burden) draw() {
	tick := time.NewTicker(time.Second / 60)
	defer tick.Stop()
	for n := 0; ; n++ {
		select {
		case <-l.quit:
			return
		case <-tick.C:
			text := "\x1b[H"
			for line := range 50 {
				text += fmt.Sprintf("\x1b[3%dm%*s\n", line%8, 160, fmt.Sprint(n, line))
			}
			io.WriteString(io.Discard, text)
		}
	}
}

// A measured take is how a take and its floor went.
type measured struct {
	take, floor live.Report
	drift       time.Duration // of the beats, as this process's clock heard them
}

func (m *measured) row(w io.Writer, name string) {
	us := func(d time.Duration) string { return fmt.Sprintf("%.3f ms", d.Seconds()*1000) }
	t, f := m.take, m.floor
	fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%.3f\t%d\t%s\t%s\n", name,
		us(t.P50), us(t.P99), us(t.P999), us(t.Max), us(f.P50), us(f.P99), us(f.P999), us(f.Max), us(t.P999-f.P999),
		us(t.Drift), us(m.drift), float64(t.Allocated)/float64(t.Events), t.Collected, t.Clock, f.Clock)
}

// measureTake plays roll with its floor beside it.
func measureTake(b *testing.B, roll *live.Roll, c takeCondition) *measured {
	l := &burden{quit: make(chan struct{})}
	c.start(b, l)
	defer l.done.Wait()
	defer close(l.quit)
	floor := exec.Command("floor")
	var in, out bytes.Buffer
	live.Encode(&in, roll)
	floor.Stdin, floor.Stdout, floor.Stderr = &in, &out, os.Stderr
	if err := floor.Start(); err != nil {
		b.Fatal(err)
	}
	t, err := live.Start(b.Context(), exec.Command("onward", takeVerb), roll, sinkOff, "")
	if err != nil {
		b.Fatal(err)
	}
	m := new(measured)
	m.drift = followed(roll, t, l)
	if m.take, err = t.Wait(); err != nil {
		b.Fatal(err)
	}
	if err := floor.Wait(); err != nil {
		b.Fatal(err)
	}
	if err := json.Unmarshal(out.Bytes(), &m.floor); err != nil {
		b.Fatal(err)
	}
	return m
}

// followed follows a take to its end, and reports by how much more the beats of the last
// minute came late here than those of the first: medians, so that what the follower
// itself is late does not count.
func followed(roll *live.Roll, t take, l *burden) time.Duration {
	if l.screen {
		l.done.Go(l.draw)
	}
	var off []time.Duration // for each beat heard, its time here less that of the roll
	began := time.Now()
	for i := range t.Beats() {
		if i < 0 {
			continue
		}
		off = append(off, time.Since(began)-roll.Beats[i].At)
		if l.screen {
			fmt.Fprintf(io.Discard, "\r%-*s", lineWidth-1, placeWords(roll.Beats[i], len(roll.Beats)))
		}
	}
	n := min(len(off)/2, 120) // a minute at 120
	if n == 0 {
		return 0
	}
	middle := func(off []time.Duration) time.Duration {
		off = slices.Clone(off)
		slices.Sort(off)
		return off[len(off)/2]
	}
	return middle(off[len(off)-n:]) - middle(off[:n])
}

// longMarch is a whole march with its band, from the beginning over and over, cut
// off at length.
func longMarch(b *testing.B, length time.Duration) *live.Roll {
	b.Helper()
	b.Chdir(b.TempDir())
	o := &requestOptions{Style: "march", Form: "march", Rung: benchRung, Instrument: usualInstrument,
		Journal: "j.db", Seed: 24, Seeded: true, Count: 1}
	s, err := openStudio(b.Context(), thisMachine(), o)
	if err != nil {
		b.Fatal(err)
	}
	defer s.close()
	m, err := s.compose(b.Context(), o.Seed)
	if err != nil {
		b.Fatal(err)
	}
	band, err := o.arrange(m)
	if err != nil {
		b.Fatal(err)
	}
	once, err := live.Prepare(band)
	if err != nil {
		b.Fatal(err)
	}
	long := &live.Roll{End: length}
	for from := time.Duration(0); from < length; from += once.End {
		for _, e := range once.Events {
			whole := e.Mate < 0 || from+once.Events[e.Mate].At < length
			if e.At += from; e.At < length && whole {
				long.Events = append(long.Events, e)
			}
		}
		for _, beat := range once.Beats {
			if beat.At += from; beat.At < length {
				long.Beats = append(long.Beats, beat)
			}
		}
	}
	return long
}
