package compose_test

import (
	"testing"

	"onward/compose"
	"onward/compose/score"
	"onward/rhythm"
	"onward/styles"
	"onward/theory"
)

// A heard note is one note of a read as it sounds, with the chord under it.
type heard struct {
	pitch   theory.Pitch // concert
	measure int
	at      rhythm.Offset
	start   int64
	end     int64
	chord   theory.Chord
	breath  bool
}

// hear lists the notes of a read's page.
func hear(r *compose.Read) []heard {
	var out []heard
	part := &r.Score.Parts[0]
	chord, k, start := r.Chords[0].Chord, 0, int64(0)
	for i := range part.Measures {
		m := &part.Measures[i]
		for _, n := range m.Notes {
			for k < len(r.Chords) && (r.Chords[k].Measure < i || r.Chords[k].Measure == i && r.Chords[k].At <= n.At) {
				chord, k = r.Chords[k].Chord, k+1
			}
			end := start + int64(n.At) + int64(n.Value.Duration())
			at := n.At
			if m.Implicit { // an upbeat stands at its measure's end
				at = at.Add(r.Meter.Measure() - m.Length)
			}
			switch {
			case n.Rest:
			case n.TieStop:
				out[len(out)-1].end, out[len(out)-1].breath = end, n.Breath
			default:
				out = append(out, heard{n.Pitch.Transpose(part.Sounds), i, at, start + int64(n.At), end, chord, n.Breath})
			}
		}
		start += int64(m.Length)
	}
	return out
}

// sheet is the shipped sheet of a style.
func sheet(t testing.TB, style string) *styles.Sheet {
	t.Helper()
	s, err := styles.Shipped(style)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// made keeps the reads of someReads by form: the tests that are not run beside each other share
// them.
var made = map[string][]*compose.Read{}

// someReads makes reads over styles, rungs and instruments.
func someReads(t *testing.T, form string, count int) []*compose.Read {
	t.Helper()
	instruments := theory.Instruments()
	var more []compose.Request
	for i := len(made[form]); i < count; i++ {
		more = append(more, compose.Request{Style: sheet(t, styles.Names()[i%2]), Rung: 1 + i/2%12, Instrument: instruments[i%len(instruments)], Form: form, Seed: uint64(i)})
	}
	made[form] = append(made[form], composed(t, world(t), more)...)
	return made[form][:count]
}

// Accented notes belong to the chord; from rung 5 on they may lean, if the line then goes on by
// step (common practice of the styles). In measures of two beats the first alone is accented.
func TestAccentedNotesBelongToTheChord(t *testing.T) {
	looked, lean := 0, 0
	for _, r := range someReads(t, "strain", reads(120)) {
		notes := hear(r)
		for i, n := range notes {
			if n.at != 0 && (r.Meter.Count() == 2 || !r.Meter.Strong(n.at)) {
				continue
			}
			looked++
			if n.chord.Has(n.pitch.Class()) || enharmonic(n.chord, n.pitch) {
				continue
			}
			lean++
			if r.Rung >= 5 && i+1 < len(notes) {
				if d := notes[i+1].pitch.Step() - n.pitch.Step(); d == 1 || d == -1 {
					continue
				}
			}
			t.Errorf("%s: measure %d: %s over %s", r.Identity, n.measure+1, n.pitch, n.chord)
		}
	}
	t.Logf("%d of %d accented notes lean", lean, looked)
	if looked < 500 || 5*lean > looked {
		t.Errorf("%d of %d accented notes are not of the chord, want a fifth at most of 500 or more", lean, looked)
	}
}

// enharmonic reports whether the pitch sounds as a chord member, however spelled: a
// written key may be respelled against the concert one.
func enharmonic(c theory.Chord, p theory.Pitch) bool {
	for _, x := range c.Tones() {
		if x.Chroma() == p.Class().Chroma() {
			return true
		}
	}
	return false
}

// A leap wider than a fourth is answered by a step or leap back, or by repeating, where
// the same phrase goes on (real melodies answer four in five: the reference figures of
// marches and vocalises give 83 %; the composer's rule is stricter outside arpeggios).
func TestLeapsAreAnswered(t *testing.T) {
	leaps, answered := 0, 0
	for _, r := range someReads(t, "strain", reads(240)) {
		notes := hear(r)
		for i := 1; i+1 < len(notes); i++ {
			a, b := notes[i].pitch.MIDI()-notes[i-1].pitch.MIDI(), notes[i+1].pitch.MIDI()-notes[i].pitch.MIDI()
			if a > 5 && a <= 12 || a < -5 && a >= -12 {
				leaps++
				if a*b <= 0 {
					answered++
				}
			}
		}
	}
	t.Logf("%d of %d wide leaps answered", answered, leaps)
	if 100*answered < 75*leaps {
		t.Errorf("%d of %d wide leaps answered, want three quarters", answered, leaps)
	}
}

// Sections close on the tonic, mostly on a downbeat (of the real strains that the composer
// learned from 59 in 100 marches do, 81 songs); a half cadence stands on the dominant.
func TestCadencesClose(t *testing.T) {
	closes, down, halves := 0, 0, 0
	for _, r := range someReads(t, "strain", reads(240)) {
		notes := hear(r)
		for _, s := range r.Sections {
			for _, ph := range s.Phrases {
				switch last := finalNote(notes, ph); ph.Cadence {
				case "close":
					closes++
					if last.at == 0 {
						down++
					}
					if end := lastNote(notes, ph); end.pitch.Class().Chroma() != s.Key.Tonic().Chroma() {
						t.Errorf("%s: phrase at measure %d closes on %s in %s", r.Identity, ph.First+1, end.pitch, s.Key)
					}
				case "half":
					halves++
					if last.chord.Root.Chroma() != s.Key.Degree(5).Chroma() {
						t.Errorf("%s: phrase at measure %d: half cadence on %s in %s", r.Identity, ph.First+1, last.chord, s.Key)
					}
				}
			}
		}
	}
	t.Logf("%d of %d closes on a downbeat", down, closes)
	if closes < 40 || halves < 40 || 2*down < closes {
		t.Errorf("%d closes, %d of them on a downbeat, and %d half cadences; want 40, half of them, and 40", closes, down, halves)
	}
}

// finalNote finds the last of the longest notes in a phrase's last measure.
func finalNote(notes []heard, ph compose.Phrase) heard {
	var out heard
	for _, n := range notes {
		if n.measure == ph.First+ph.Measures-1 && (out.end == 0 || n.end-n.start >= out.end-out.start) {
			out = n
		}
	}
	return out
}

// lastNote finds the last note of a phrase.
func lastNote(notes []heard, ph compose.Phrase) heard {
	var out heard
	for _, n := range notes {
		if n.measure <= ph.First+ph.Measures-1 {
			out = n
		}
	}
	return out
}

// A player's breath lasts: between two breaths, marked or in rests of a fifth of a
// second or an eighth, no stretch is longer than the instrument's wind at the dynamic by
// more than two fifths, on tubas by three, and two in three not at all. Caps for
// brass: cautious design values from published flow measurements (Freour, Causse and
// Cossette 2010), the tuba's half of the euphonium's, see theory's instruments; how far
// players go beyond them: common practice.
func TestBreathsComeInTime(t *testing.T) {
	stretches, long, over := 0, 0, 0
	for _, r := range someReads(t, "strain", reads(240)) {
		in, reach := r.Request.Instrument, 1.4
		if in.Breath[1] < 3 {
			reach = 1.6
		}
		second := float64(r.Meter.Beat()) * float64(r.Tempo) / 60
		limit := in.Breath[0]
		switch loudest(r) {
		case "f", "ff":
			limit = in.Breath[2]
		case "mf":
			limit = in.Breath[1]
		}
		notes := hear(r)
		from := notes[0].start
		for i, n := range notes {
			last := i == len(notes)-1
			// The second ending follows the first on the page only.
			turns := !last && r.Score.Parts[0].Measures[notes[i+1].measure].Ending == 2 && r.Score.Parts[0].Measures[n.measure].Ending == 1
			if last || turns || n.breath || float64(notes[i+1].start-n.end) >= min(second/5, float64(rhythm.Eighth)) {
				stretches++
				lasts := float64(n.end-from) / second
				if lasts > limit {
					long++
				}
				if lasts > reach*limit+0.01 && n.start != from {
					over++
					t.Logf("%s: measure %d: %.1f s on one breath of %.1f", r.Identity, n.measure+1, lasts, limit)
				}
				if !last {
					from = notes[i+1].start
				}
			}
		}
	}
	t.Logf("%d of %d stretches are longer than the table's breath", long, stretches)
	if over > 0 || 3*long > stretches {
		t.Errorf("%d of %d stretches are longer than a breath, %d than the table's", over, stretches, long)
	}
}

func loudest(r *compose.Read) string {
	order := []string{"", "pp", "p", "mp", "mf", "f", "ff"}
	best := 0
	for _, s := range r.Sections {
		for i, m := range order {
			if (s.Dynamic == m || s.Again == m) && i > best {
				best = i
			}
		}
	}
	return order[best]
}

// A phrase that returns note for note does so; one that opens alike opens alike.
func TestMottosReturn(t *testing.T) {
	returns := 0
	for _, r := range someReads(t, "strain", reads(240)) {
		if len(r.Loosened) > 0 {
			continue
		}
		part := &r.Score.Parts[0]
		first := map[string]compose.Phrase{}
		for _, ph := range r.Sections[0].Phrases {
			was, ok := first[ph.Letter]
			if !ok {
				first[ph.Letter] = ph
				continue
			}
			if sameRhythm(&part.Measures[was.First], &part.Measures[ph.First]) {
				returns++
			}
		}
	}
	if returns < 40 {
		t.Errorf("only %d phrases return in rhythm", returns)
	}
}

func sameRhythm(a, b *score.Measure) bool {
	if len(a.Notes) != len(b.Notes) {
		return false
	}
	for i := range a.Notes {
		if a.Notes[i].Value != b.Notes[i].Value || a.Notes[i].Rest != b.Notes[i].Rest {
			return false
		}
	}
	return true
}
