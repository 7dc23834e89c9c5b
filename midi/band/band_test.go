package band_test

import (
	"fmt"
	"strings"
	"testing"

	"onward/midi/band"
	"onward/midi/timeline"
	"onward/rhythm"
	"onward/styles"
	"onward/theory"
)

// An inForce chord holds from at on, in the time of the take.
type inForce struct {
	at    rhythm.Offset
	chord theory.Chord
}

// chordsOf lays the read's chords along its measures as played.
func chordsOf(t *testing.T, a asked) []inForce {
	t.Helper()
	l, err := timeline.LayOut(&a.r.Score.Parts[0], timeline.CountIn{})
	if err != nil {
		t.Fatal(err)
	}
	var all []inForce
	for _, m := range l.Measures {
		for _, c := range a.r.Chords {
			if c.Measure == m.Index {
				all = append(all, inForce{m.At + c.At, c.Chord})
			}
		}
	}
	return all
}

func chordAt(chords []inForce, at rhythm.Offset) inForce {
	c := chords[0]
	for _, d := range chords {
		if d.at <= at {
			c = d
		}
	}
	return c
}

func has(c theory.Chord, key int) bool {
	for _, tone := range c.Tones() {
		if tone.Chroma() == key%12 {
			return true
		}
	}
	return false
}

// pitched are the sheet's parts that play notes.
func pitched(s *styles.Sheet, kind string) []string {
	var names []string
	for _, p := range s.Band.Parts {
		if p.Kind == kind || kind == "" && p.Kind != "drums" {
			names = append(names, p.Name)
		}
	}
	return names
}

func TestChordsAreTheChordsInForce(t *testing.T) {
	examined := 0
	for _, a := range reads(t) {
		line, chords := arrange(t, a, band.Options{}), chordsOf(t, a)
		for _, name := range append(pitched(a.r.Style, "chords"), pitched(a.r.Style, "counter")...) {
			for _, n := range track(line, name) {
				examined++
				if c := chordAt(chords, n.at); !has(c.chord, n.key) {
					t.Errorf("%s: %s strikes %d at %d over %s", a.name, name, n.key, n.at, c.chord)
				}
			}
		}
	}
	if examined < 5000 {
		t.Errorf("only %d notes examined", examined)
	}
}

// A bass note outside its chord passes: it stands off the place where a chord comes
// in, and goes on by step.
func TestBassNotesBelongOrPass(t *testing.T) {
	examined, passing := 0, 0
	for _, a := range reads(t) {
		line, chords := arrange(t, a, band.Options{}), chordsOf(t, a)
		for _, name := range pitched(a.r.Style, "bass") {
			notes := track(line, name)
			for i, n := range notes {
				examined++
				c := chordAt(chords, n.at)
				if has(c.chord, n.key) {
					continue
				}
				passing++
				if n.at == c.at || i+1 == len(notes) || abs(notes[i+1].key-n.key) > 2 {
					t.Errorf("%s: %s strikes %d at %d over %s and does not pass", a.name, name, n.key, n.at, c.chord)
				}
			}
		}
	}
	if examined < 2000 || passing < 50 {
		t.Errorf("only %d notes examined, %d of them passing", examined, passing)
	}
}

func abs(x int) int { return max(x, -x) }

// Where a chord comes in, the bass has its root nearly always, and in the end always.
func TestBassHasTheRoots(t *testing.T) {
	roots, entries := 0, 0
	for _, a := range reads(t) {
		line, chords := arrange(t, a, band.Options{}), chordsOf(t, a)
		notes := track(line, pitched(a.r.Style, "bass")[0])
		for _, n := range notes {
			if c := chordAt(chords, n.at); c.at == n.at {
				entries++
				if n.key%12 == c.chord.Root.Chroma() {
					roots++
				}
			}
		}
		last := notes[len(notes)-1]
		if c := chordAt(chords, last.at); last.key%12 != c.chord.Root.Chroma() {
			t.Errorf("%s: ends on %d in the bass of %s", a.name, last.key, c.chord)
		}
	}
	t.Logf("%d roots at %d entries of chords", roots, entries)
	if entries < 1000 || roots*100 < entries*90 {
		t.Errorf("%d roots at %d entries", roots, entries)
	}
}

// parallels counts the places where two lines both move, and those where they go from
// a fifth or an octave to another of the same kind: from stroke to stroke of a, and
// from the note that b leaves as a moves.
func parallels(a, b []heard) (examined int, bad []rhythm.Offset) {
	for i := 1; i < len(a); i++ {
		from, to := a[i-1], a[i]
		next, ok := soundAt(b, to.at)
		if !ok || from.key == to.key {
			continue
		}
		for _, before := range []rhythm.Offset{from.at, to.at - 1} {
			was, ok := soundAt(b, before)
			if !ok || was == next {
				continue
			}
			examined++
			if d := abs(from.key-was) % 12; d == abs(to.key-next)%12 && (d == 0 || d == 7) {
				bad = append(bad, to.at)
			}
		}
	}
	return examined, bad
}

// written lists the player's notes for as long as they stand on the page.
func written(t *testing.T, a asked) []heard {
	t.Helper()
	l, err := timeline.LayOut(&a.r.Score.Parts[0], timeline.CountIn{})
	if err != nil {
		t.Fatal(err)
	}
	tones, err := l.Melody()
	if err != nil {
		t.Fatal(err)
	}
	var notes []heard
	for _, n := range tones {
		notes = append(notes, heard{n.At, n.At.Add(n.Length), int(n.Key), int(n.Velocity)})
	}
	return notes
}

func TestNoParallelsBetweenBassAndPlayer(t *testing.T) {
	sum, faults := 0, 0
	for _, a := range reads(t) {
		line, melody := arrange(t, a, band.Options{}), written(t, a)
		for _, kind := range []string{"bass", "counter"} {
			for _, name := range pitched(a.r.Style, kind) {
				examined, bad := parallels(track(line, name), melody)
				sum, faults = sum+examined, faults+len(bad)
				if len(bad) > 0 {
					t.Logf("%s: %s moves in parallel with the player at %v", a.name, name, bad)
				}
			}
		}
	}
	t.Logf("%d moves examined", sum)
	if faults*1000 > sum { // where the chords leave the bass no other way
		t.Errorf("%d of %d moves are parallel, want one in a thousand at most", faults, sum)
	}
	if sum < 1500 {
		t.Errorf("only %d moves examined", sum)
	}
}

// blocks groups the notes of a chord part that are struck together.
func blocks(notes []heard) [][]int {
	var all [][]int
	for i, n := range notes {
		if i == 0 || n.at != notes[i-1].at {
			all = append(all, nil)
		}
		all[len(all)-1] = append(all[len(all)-1], n.key)
	}
	return all
}

// The marches' horns: each voice moves little, and neighbouring voices seldom in
// fifths or octaves.
func TestChordsMoveSmoothly(t *testing.T) {
	voices, moved, far, pairs, bad := 0, 0, 0, 0, 0
	for _, a := range reads(t) {
		if a.r.Style.Name != "march" {
			continue
		}
		set := blocks(track(arrange(t, a, band.Options{}), "Horns"))
		for i := 1; i < len(set); i++ {
			from, to := set[i-1], set[i]
			if len(from) != len(to) || fmt.Sprint(from) == fmt.Sprint(to) {
				continue
			}
			for v := range to {
				voices++
				moved += abs(to[v] - from[v])
				if abs(to[v]-from[v]) > 5 {
					far++
				}
				if v > 0 {
					pairs++
					before, after := (from[v]-from[v-1])%12, (to[v]-to[v-1])%12
					if before == after && (after == 0 || after == 7) && from[v] != to[v] {
						bad++
					}
				}
			}
		}
	}
	t.Logf("%d voices moved %d semitones in all, %d more than a fourth; %d parallels in %d pairs", voices, moved, far, bad, pairs)
	if voices < 2000 || moved > 2*voices || far*100 > voices || bad*200 > pairs {
		t.Errorf("%d voices moved %d semitones in all, %d more than a fourth; %d parallels in %d pairs", voices, moved, far, bad, pairs)
	}
}

// No note of the band is the player's own while it sounds, and few chords have the
// player's line between their voices.
func TestNothingCoversThePlayer(t *testing.T) {
	examined, within, above := 0, 0, 0
	for _, a := range reads(t) {
		line := arrange(t, a, band.Options{Guide: true})
		melody := written(t, a)
		for _, name := range pitched(a.r.Style, "") {
			notes := track(line, name)
			for _, n := range notes {
				for _, m := range melody {
					if m.at >= n.end || m.end <= n.at {
						continue
					}
					examined++
					if m.key == n.key {
						t.Errorf("%s: %s sounds the player's %d at %d", a.name, name, n.key, n.at)
					}
					if name == "Tuba" && n.key > m.key {
						above++
					}
				}
			}
		}
		for _, name := range pitched(a.r.Style, "chords") {
			notes := track(line, name)
			for i := 0; i < len(notes); {
				j := i
				for j < len(notes) && notes[j].at == notes[i].at {
					j++
				}
				if m, ok := soundAt(melody, notes[i].at); ok && notes[i].key < m && notes[j-1].key > m {
					within++
				}
				i = j
			}
		}
	}
	t.Logf("%d notes of band and player at once; %d chords around the player, %d tuba notes above", examined, within, above)
	if examined < 10000 || within*100 > examined {
		t.Errorf("%d notes of band and player at once; %d chords around the player", examined, within)
	}
}

// Every part is softer in the mean than what the player plays at the same time.
func TestBandIsSofterThanThePlayer(t *testing.T) {
	for _, a := range reads(t) {
		line := arrange(t, a, band.Options{Guide: true})
		guide := track(line, a.r.Score.Parts[0].Name)
		for _, p := range a.r.Style.Band.Parts {
			below, n := 0, 0
			for _, h := range track(line, p.Name) {
				for _, g := range guide {
					if g.at <= h.at && h.at < g.end {
						below, n = below+g.velocity-h.velocity, n+1
					}
				}
			}
			if n > 0 && below < n {
				t.Errorf("%s: %s is only %d below the guide over %d notes", a.name, p.Name, below/n, n)
			}
		}
	}
}

// Without the guide there is no track of the player's, and the band is the same.
func TestGuideIsAnotherTrack(t *testing.T) {
	for _, a := range reads(t)[:4] {
		with, without := arrange(t, a, band.Options{Guide: true}), arrange(t, a, band.Options{})
		if got := fmt.Sprint(without.Tracks); strings.Contains(got, a.r.Score.Parts[0].Name) {
			t.Errorf("%s: tracks %s without the guide", a.name, got)
		}
		for _, name := range without.Tracks {
			if fmt.Sprint(track(with, name)) != fmt.Sprint(track(without, name)) {
				t.Errorf("%s: %s plays otherwise with the guide", a.name, name)
			}
		}
		guide, melody := track(with, a.r.Score.Parts[0].Name), written(t, a)
		if len(guide) != len(melody) {
			t.Errorf("%s: the guide has %d notes, the page %d", a.name, len(guide), len(melody))
		}
	}
}

// Something is struck at least once in the time of any measure.
func TestBandNeverFallsSilent(t *testing.T) {
	for _, a := range reads(t) {
		line := arrange(t, a, band.Options{})
		last := rhythm.Offset(0)
		for _, e := range line.Events {
			if e.Kind != timeline.NoteOn {
				continue
			}
			if gap := e.At - last; gap > rhythm.Offset(a.r.Meter.Measure()) {
				t.Errorf("%s: silent from %d to %d, longer than a measure", a.name, last, e.At)
			}
			last = e.At
		}
	}
}

// All end together: every part that plays in the last measure strikes last with the
// player's last note.
func TestBandEndsTogether(t *testing.T) {
	for _, a := range reads(t) {
		line, melody := arrange(t, a, band.Options{}), written(t, a)
		end := melody[len(melody)-1]
		measure := line.End - rhythm.Offset(a.r.Meter.Measure())
		parts := 0
		for _, name := range line.Tracks {
			notes := track(line, name)
			if len(notes) == 0 || notes[len(notes)-1].at < measure {
				continue
			}
			parts++
			if last := notes[len(notes)-1]; last.at != end.at {
				t.Errorf("%s: %s strikes last at %d, the player at %d", a.name, name, last.at, end.at)
			}
		}
		if parts < 2 {
			t.Errorf("%s: %d parts at the end", a.name, parts)
		}
	}
}

func TestSameReadSameBand(t *testing.T) {
	for _, a := range reads(t)[:6] {
		one, two := arrange(t, a, band.Options{}), arrange(t, a, band.Options{})
		if one.Text() != two.Text() {
			t.Errorf("%s: two arrangements differ", a.name)
		}
	}
}
