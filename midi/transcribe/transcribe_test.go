package transcribe

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"onward/compose/figure"
	"onward/compose/score"
	"onward/midi/file"
	"onward/midi/timeline"
	"onward/rhythm"
	"onward/theory"

	"pgregory.net/rapid"
)

// played is the take of a part as the program writes it into a file, read back from there.
func played(t interface {
	Helper()
	Fatal(...any)
}, p *score.Part) *timeline.Timeline {
	t.Helper()
	l, err := timeline.LayOut(p, timeline.FullCountIn())
	if err != nil {
		t.Fatal(err)
	}
	tones, err := l.Melody()
	if err != nil {
		t.Fatal(err)
	}
	take := l.Timeline()
	take.Tracks = []string{"Line"}
	var events []timeline.Event
	for _, n := range tones {
		events = append(events, timeline.Event{At: n.At, Kind: timeline.NoteOn, A: uint8(n.Pitch.MIDI()), B: n.Velocity},
			timeline.Event{At: n.At.Add(n.Hold), Kind: timeline.NoteOff, A: uint8(n.Pitch.MIDI())})
	}
	take.Events = timeline.Merge(events)
	var b bytes.Buffer
	if err := file.Write(&b, take, "Exercise", ""); err != nil {
		t.Fatal(err)
	}
	back, err := file.Read(&b)
	if err != nil {
		t.Fatal(err)
	}
	return back
}

// line writes what sounds, and when, by measure: "m0 C4 at 0, m0 D4 at 5040".
func line(p *score.Part) string {
	var all []string
	for _, o := range figure.Onsets(p) {
		n := p.Measures[o.Measure].Notes[o.Note]
		all = append(all, fmt.Sprintf("m%d %s at %d", o.Measure, o.Pitch, n.At))
	}
	return strings.Join(all, ", ")
}

// page draws a part of cells of the catalogue in a key and meter, without grace notes, with
// plain, staccato and slurred notes.
func page(t *rapid.T) score.Part {
	m, err := rhythm.ParseMeter(rapid.SampledFrom([]string{"2/4", "3/4", "4/4", "cut", "6/8", "9/8", "3/8"}).Draw(t, "meter"))
	if err != nil {
		t.Fatal(err)
	}
	key := theory.Key{Fifths: rapid.IntRange(-6, 6).Draw(t, "fifths"), Mode: rapid.SampledFrom([]theory.Mode{theory.Major, theory.Minor}).Draw(t, "mode")}
	p := score.Part{Measures: make([]score.Measure, rapid.IntRange(1, 3).Draw(t, "measures"))}
	step := theory.MustPitch("C5").Step()
	for i := range p.Measures {
		bar := &p.Measures[i]
		*bar = score.Measure{Number: i + 1, Length: m.Measure()}
		for at := rhythm.Offset(0); at < rhythm.Offset(m.Measure()); {
			var fit []rhythm.Cell
			for _, c := range figure.Default().Cells {
				if c.Fits(m) && at.Add(c.Span) <= rhythm.Offset(m.Measure()) && !strings.Contains(c.Text, "g") {
					fit = append(fit, c)
				}
			}
			cell := rapid.SampledFrom(fit).Draw(t, "cell")
			staccato := rapid.Bool().Draw(t, "staccato")
			tied := false
			for _, e := range cell.Events {
				if !tied {
					step += rapid.IntRange(-3, 3).Draw(t, "step")
				}
				n := score.Note{At: at, Value: e.Value, Rest: e.Rest, Pitch: key.At(step), TieStop: tied, TieStart: e.Tied}
				n.Staccato = staccato && !e.Rest && !e.Tied && !tied
				bar.Notes, tied = append(bar.Notes, n), e.Tied
				at = at.Add(e.Value.Duration())
			}
		}
	}
	p.Measures[0].Key, p.Measures[0].Meter = &key, &m
	return p
}

// What the program writes into a MIDI file comes back note for note: each note begins
// where it began, with its pitch as it was spelled, and the page is legal.
func TestOwnFilesComeBackNoteForNote(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := page(t)
		take := played(t, &p)
		voices := Voices(take)
		if len(voices) == 0 {
			return
		}
		got, err := Write(take, voices[0])
		if err != nil {
			t.Fatal(err)
		}
		first := figure.Onsets(&p)[0].Measure // measures of rests before the first note are left out
		p.Measures = p.Measures[first:]
		want := line(&p)
		if l := line(&got.Part); l != want {
			t.Errorf("got  %s\nwant %s\nfrom %s\nto   %s", l, want, score.Text(p), score.Text(got.Part))
		}
		if report := score.Check(&score.Score{Title: "Exercise", Parts: []score.Part{got.Part}}); report.Err() != nil {
			t.Errorf("%v\nfrom %s\nto   %s", report.Err(), score.Text(p), score.Text(got.Part))
		}
	})
}

func TestPages(t *testing.T) {
	for _, text := range []string{
		"key Bb; 4/4 treble Bb4:4 C5:8 D5:8 Eb5:4 r:4 | F5:8 F5:16 G5:16 F5:8 Eb5:8 D5:4. C5:8 | Bb4:1 |]",
		"key G minor; 6/8 bass G3:4 A3:8 Bb3:8 A3:8 G3:8 | F#3:4. G3:4. |]",
		"key F; 3/4 treble F4:8t G4:8t A4:8t Bb4:4 C5:8 A4:8 | F4:2. |]",
		"key C; 2/4 treble C5:8 {D5,E5}F5:8 F#5:8 G5:8 | A5:8 Ab5:8 G5:4 |]",
		"key Db; 2/4 treble Cb5:16 Bb4:16 Db5:16 C5:16 Eb5:8 E5:8 | F5:4 B4:8 C5:8 | Db5:2 |]",
		"key B; 2/4 treble D#5:8 E#5:8 F#5:8 F5:8 | E5:4 C#5:4 | B4:2 |]",
		"key F; 2/4 treble tempo 4=90; F4:8 E4:8 {C4}Bb4:8 A4:16. G4:32 | F4:2 |]", // the grace note is a thirty-second long
	} {
		p := score.MustText(text)
		take := played(t, &p)
		p.Measures[0].Tempo = nil
		got, err := Write(take, Voices(take)[0])
		if err != nil {
			t.Fatal(err)
		}
		got.Part.Name = ""
		if want := score.Text(p); score.Text(got.Part) != want || len(got.Assumed) > 0 {
			t.Errorf("got  %s\nwant %s\nassumed %v", score.Text(got.Part), want, got.Assumed)
		}
	}
}

// takeOf plays keys in eighths of 120 beats a minute on one track without key or meter.
func takeOf(keys ...int) *timeline.Timeline {
	t := &timeline.Timeline{Tracks: []string{""}, Tempos: []timeline.Tempo{{MicrosPerQuarter: 500_000}}}
	for i, k := range keys {
		at := rhythm.Offset(i) * rhythm.Offset(rhythm.Eighth)
		t.Events = append(t.Events, timeline.Event{At: at, Kind: timeline.NoteOn, A: uint8(k), B: 80},
			timeline.Event{At: at.Add(rhythm.Eighth), Kind: timeline.NoteOff, A: uint8(k)})
		t.End = at.Add(rhythm.Eighth)
	}
	t.Events = timeline.Merge(t.Events)
	return t
}

// A scale, its triad and its leading note tell the key: all twelve major and minor keys.
func TestKeyIsFound(t *testing.T) {
	shapes := map[theory.Mode][]int{
		theory.Major: {0, 2, 4, 5, 7, 9, 11, 12, 11, 9, 7, 5, 4, 2, 0, 4, 7, 4, 0, 0},
		theory.Minor: {0, 2, 3, 5, 7, 8, 11, 12, 11, 8, 7, 5, 3, 2, 0, 3, 7, 3, 0, 0},
	}
	for mode, shape := range shapes {
		for tonic := range 12 {
			var keys []int
			for _, s := range shape {
				keys = append(keys, 60+tonic+s)
			}
			take := takeOf(keys...)
			page, err := Write(take, Voices(take)[0])
			if err != nil {
				t.Fatal(err)
			}
			key := *page.Part.Measures[0].Key
			if key.Tonic().Chroma() != tonic || key.Mode != mode {
				t.Errorf("%d semitones above C, %s: found %s", tonic, mode, key)
			}
			if len(page.Assumed) != 2 || !strings.Contains(page.Assumed[0], "4/4 is assumed") || !strings.Contains(page.Assumed[1], key.String()) {
				t.Errorf("assumed %q", page.Assumed)
			}
			var all []string
			for _, o := range figure.Onsets(&page.Part) {
				if o.Pitch.Alter != key.Alter(o.Pitch.Letter) && mode == theory.Major {
					all = append(all, o.Pitch.String())
				}
			}
			if len(all) > 0 {
				t.Errorf("%s: spelled off the key: %v", key, all)
			}
		}
	}
}

// Played by hand, up to 20 ms early or late, the same page comes out.
func TestPlayedByHand(t *testing.T) {
	p := score.MustText("key F; 4/4 treble F4:4 G4:8 A4:8 Bb4:8t A4:8t G4:8t F4:4 | E4:8. F4:16 G4:16 A4:16 Bb4:16 G4:16 A4:4 C5:8 A4:8 | F4:1 |]")
	for seed := range uint64(20) {
		r := rand.New(rand.NewPCG(seed, 1))
		take := played(t, &p)
		for i := range take.Events {
			e := &take.Events[i]
			if off := rhythm.Offset(rhythm.Quarter) / 25 * rhythm.Offset(r.IntN(41)-20) / 20; int(e.At+off) > int(take.CountIn) {
				e.At += off
			}
		}
		take.Events = timeline.Merge(take.Events)
		got, err := Write(take, Voices(take)[0])
		if err != nil {
			t.Fatal(err)
		}
		if line(&got.Part) != line(&p) {
			t.Errorf("seed %d: got  %s\nwant %s", seed, line(&got.Part), line(&p))
		}
	}
}

// Of chords the highest note is the line, a lower voice under a held note is left out, and
// an overlap of legato is none.
func TestHighestVoice(t *testing.T) {
	on := func(at, end, key int) []timeline.Event {
		q := rhythm.Offset(rhythm.Quarter)
		return []timeline.Event{{At: rhythm.Offset(at) * q / 4, Kind: timeline.NoteOn, A: uint8(key), B: 64},
			{At: rhythm.Offset(end) * q / 4, Kind: timeline.NoteOff, A: uint8(key)}}
	}
	take := &timeline.Timeline{Tracks: []string{""}, Tempos: []timeline.Tempo{{MicrosPerQuarter: 500_000}}, End: 8 * rhythm.Offset(rhythm.Quarter)}
	take.Events = timeline.Merge(slices.Concat(on(0, 4, 60), on(0, 4, 64), on(4, 12, 72), on(6, 8, 60), on(12, 17, 71), on(16, 20, 69)))
	got, err := Write(take, Voices(take)[0])
	if err != nil {
		t.Fatal(err)
	}
	if want := "m0 E4 at 0, m0 C5 at 10080, m0 B4 at 30240, m1 A4 at 0"; line(&got.Part) != want {
		t.Errorf("got %s, want %s", line(&got.Part), want)
	}
}

func TestRefusals(t *testing.T) {
	empty := &timeline.Timeline{Tempos: []timeline.Tempo{{MicrosPerQuarter: 500_000}}}
	if _, err := Write(empty, Voice{}); err == nil || !strings.Contains(err.Error(), "plays no notes") {
		t.Errorf("no notes: %v", err)
	}
	far := takeOf(60, 62)
	far.Events[2].At, far.Events[3].At, far.End = 1<<37, 1<<37+1000, 1<<38
	if _, err := Write(far, Voices(far)[0]); err == nil || !strings.Contains(err.Error(), "more than 10000 measures") {
		t.Errorf("a far note: %v", err)
	}
	strange := takeOf(60, 62)
	strange.Meters = []timeline.MeterChange{{Meter: rhythm.Meter{Beats: 3, Unit: 64}}}
	if _, err := Write(strange, Voices(strange)[0]); err == nil || !strings.Contains(err.Error(), "3/64 cannot be written") {
		t.Errorf("a strange meter: %v", err)
	}
}
