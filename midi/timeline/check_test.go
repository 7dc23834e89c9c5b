package timeline

import (
	"flag"
	"os"
	"strings"
	"testing"

	"onward/rhythm"
	"onward/theory"
)

var update = flag.Bool("update", false, "write the goldens anew")

// march is two measures and endings of a march for a B-flat player, with pickup.
const march = `part Cornet; sounds -1 -2; key F; 6/8 tempo 4.=112 March tempo; letter A;
	pickup f C5:8 |: F5:4> F5:8' E5:4 D5:8 | p < {D5,E5}F5:4.~ F5:8 ! ff E5:8( D5:8) |
	[1 C5:4. r:4 C5:8' ] :| [2 mf C5:4._ r:4 ] |]`

// take is the march with its melody and count-in.
func take(t *testing.T) *Timeline {
	t.Helper()
	l := layOut(t, FullCountIn(), march)
	line := l.Timeline()
	melody, err := l.Melody()
	if err != nil {
		t.Fatal(err)
	}
	line.Tracks = []string{"Cornet", "Count-in", "Clicks"}
	line.Events = Merge(
		Voice{Track: 0, Channel: 0, Program: 56}.Play(melody),
		Voice{Track: 1, Channel: 1, Program: 0}.Play(l.TonicChord()),
		Voice{Track: 2, Channel: DrumsChannel}.Play(l.Clicks()))
	return line
}

// The whole take of a few measures, as text.
func TestTakeGolden(t *testing.T) {
	line := take(t)
	if err := line.Check(); err != nil {
		t.Error(err)
	}
	const golden = "testdata/take.golden"
	if *update {
		if err := os.WriteFile(golden, []byte(line.Text()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	same(t, golden, line.Text(), string(want))
}

// Each fault is found, and said with its place.
func TestCheckFinds(t *testing.T) {
	for _, c := range []struct {
		want  string
		spoil func(*Timeline)
	}{
		{"take: count-in", func(l *Timeline) { l.End = MaxEnd + 1 }},
		{"take: count-in", func(l *Timeline) { l.CountIn = rhythm.Duration(l.End) + 1 }},
		{"tempo map: no tempo at 0", func(l *Timeline) { l.Tempos = nil }},
		{"tempo map: no tempo at 0", func(l *Timeline) { l.Tempos[0].At = 1 }},
		{"tempo 1, at 0: 0 microseconds", func(l *Timeline) { l.Tempos[0].MicrosPerQuarter = 0 }},
		{"tempo 2, at 0: does not come after", func(l *Timeline) { l.Tempos = append(l.Tempos, l.Tempos[0]) }},
		{"meter 1, at 0: 3/5", func(l *Timeline) { l.Meters[0].Meter.Unit, l.Meters[0].Meter.Beats = 5, 3 }},
		{"meter 1, at 99: outside the take", func(l *Timeline) { l.Meters[0].At = 99 * quarter }},
		{"key 1, at 0: 9 accidentals", func(l *Timeline) { l.Keys[0].Key = theory.Key{Fifths: 9} }},
		{"key 2, at 0: does not come after", func(l *Timeline) { l.Keys = append(l.Keys, l.Keys[0]) }},
		{"beat 2, at 0: does not come after", func(l *Timeline) { l.Beats[1].At = 0 }},
		{"beat 1, at 0: beat 3 of 2", func(l *Timeline) { l.Beats[0].Beat = 3 }},
		{"beat 1, at 0: measure index 0", func(l *Timeline) { l.Beats[0].Measure = 0 }},
		{"marker 2, at 99: outside", func(l *Timeline) { l.Markers[1].At = 99 * quarter }},
		{"event 1, 0 t9 c1 program 56: track 9; there are 3", func(l *Timeline) { l.Events[0].Track = 9 }},
		{"channel 16", func(l *Timeline) { l.Events[0].Channel = 16 }},
		{"kind 7", func(l *Timeline) { l.Events[0].Kind = 7 }},
		{"values 128 and 0", func(l *Timeline) { l.Events[0].A = 128 }},
		{"velocity 0", func(l *Timeline) { l.Events[3].B = 0 }},
		{"outside the take", func(l *Timeline) { l.Events[len(l.Events)-1].At = l.End + 1 }},
		{"comes too late in the list", func(l *Timeline) { l.Events[0], l.Events[3] = l.Events[3], l.Events[0] }},
		{"the key does not sound", func(l *Timeline) { l.Events[len(l.Events)-1].A++ }},
		{"the note never ends", func(l *Timeline) { l.Events = l.Events[:len(l.Events)-1] }},
		{"the key still sounds", func(l *Timeline) { l.Events = append(l.Events[:4:4], l.Events[3:]...) }},
	} {
		line := take(t)
		c.spoil(line)
		if err := line.Check(); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("Check: %v, want %q", err, c.want)
		}
	}
}
