package compose_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"onward/compose"
	"onward/compose/score"
	"onward/styles"
	"onward/theory"
)

// What stands here compares pages without any code of the composer: it plays a page with
// its repeats and endings, spells each run of notes as text, and compares the texts.

// A sounded note is a note as it is played: its pitch, and its start in ticks from the
// start of the performance.
type sounded struct{ midi, at int }

// performance lists the notes of a page as they are played, each strain with its repeat.
// Tied notes are one, grace notes do not count.
func performance(p *score.Part) []sounded {
	var out []sounded
	at, strain, second, tied := 0, 0, false, false
	for i := 0; i < len(p.Measures); i++ {
		m := &p.Measures[i]
		if m.RepeatStart && strain != i {
			strain, second = i, false
		}
		if m.Ending == 1 && second {
			continue
		}
		for _, n := range m.Notes {
			if !n.Rest && !(tied && n.TieStop) {
				out = append(out, sounded{n.Pitch.MIDI(), at + int(n.At)})
			}
			tied = !n.Rest && n.TieStart
		}
		at += int(m.Length)
		switch {
		case m.RepeatEnd && !second:
			i, second = strain-1, true
		case m.RepeatEnd || m.Ending == 2 && m.EndingStop:
			strain, second = i+1, false
		}
	}
	return out
}

// spelled lists the runs of so many notes as text, intervals and times from start to
// start, in order; "" for each that is a repeated note, a scale or an arpeggio one way in
// equal times.
func spelled(notes []sounded, length int) []string {
	var out []string
	for i := 0; i+length <= len(notes); i++ {
		run := notes[i : i+length]
		var words []string
		kinds, times := map[string]bool{}, map[int]bool{}
		for k := 1; k < length; k++ {
			d, time := run[k].midi-run[k-1].midi, run[k].at-run[k-1].at
			words = append(words, fmt.Sprintf("%+d:%d", d, time))
			kinds[kindOf(d)], times[time] = true, true
		}
		if len(kinds) == 1 && !kinds["leap"] && len(times) == 1 {
			words = nil
		}
		out = append(out, strings.Join(words, " "))
	}
	return out
}

// kindOf names what an interval in semitones may be a part of.
func kindOf(semitones int) string {
	way := " up"
	if semitones < 0 {
		semitones, way = -semitones, " down"
	}
	switch {
	case semitones == 0:
		return "repeat"
	case semitones <= 2:
		return "scale" + way
	case semitones <= 5:
		return "arpeggio" + way
	}
	return "leap"
}

// A past is what was heard, by how often each run came.
type past map[string]int

// hear remembers all runs of a performance that have so many notes.
func (p past) hear(notes []sounded, length int) {
	for _, run := range spelled(notes, length) {
		p[run]++
	}
	delete(p, "")
}

// returning lists the runs of a performance that were heard.
func (p past) returning(notes []sounded, length int) []string {
	return slices.DeleteFunc(spelled(notes, length), func(run string) bool { return p[run] == 0 })
}

// publishedRun is how many notes in a row may not return, at most, by rung (README, "Never
// seen").
func publishedRun(rung int) int {
	switch {
	case rung <= 2:
		return 20
	case rung <= 4:
		return 12
	}
	return 9
}

// On every kind of rung, in both styles, reads in sequence share no run with the drills or
// with any read before, whether it is one of the latest or has to be looked up. Each seed
// comes several times, and the drills are what the seeds give without a past: a composer
// that forgot any of it would give the same page again.
func TestNothingComesBack(t *testing.T) {
	for _, style := range styles.Names() {
		for _, rung := range []int{1, 4, 6, 11} {
			t.Run(fmt.Sprint(style, rung), func(t *testing.T) {
				t.Parallel()
				t.Logf("%d runs compared", sequence(t, style, rung, reads(42)))
			})
		}
	}
}

// sequence makes reads one after the other and compares each with all before; it reports
// how many runs were compared.
func sequence(t *testing.T, style string, rung, count int) int {
	t.Helper()
	const seeds, latest, back = 7, 4, 19 // back: notes before a seam that a run of 20 may hold
	in, err := theory.InstrumentByID("trombone")
	if err != nil {
		t.Fatal(err)
	}
	sheet, err := styles.Shipped(style)
	if err != nil {
		t.Fatal(err)
	}
	forms := []string{"strain", "snippet", sheet.Forms[len(sheet.Forms)-1].Name}
	w, older := world(t), newShelf()
	heard := map[int]past{9: {}, 12: {}, 20: {}}
	hear := func(p *score.Part) {
		for n, past := range heard {
			past.hear(performance(p), n)
		}
	}
	var drills []compose.Line
	var recent []*score.Part
	compared := 0
	for i := range seeds + count {
		req := compose.Request{Style: sheet, Rung: rung, Instrument: in, Form: forms[i%seeds%len(forms)], Seed: uint64(1000*rung + i%seeds)}
		if i >= seeds {
			w.Seen, req.Drills = older, drills
		}
		r, err := compose.Compose(w, req)
		if err != nil {
			t.Errorf("%s, rung %d, read %d: %v", style, rung, i-seeds, err)
			return compared
		}
		part := &r.Score.Parts[0]
		if i < seeds {
			drills = append(drills, compose.Lines(part, back)...)
			hear(part)
			continue
		}
		length := r.Certificate.Length
		if most := publishedRun(rung); heard[length] == nil || length > most {
			t.Fatalf("%s: runs of %d notes are compared, want 9, 12 or 20, at most %d", r.Identity, length, most)
		}
		notes := performance(part)
		if again := heard[length].returning(notes, length); len(again) > 0 {
			t.Errorf("%s, read %d: %d runs of %d notes come back, the first %s\n%s", r.Identity, i-seeds, len(again), length, again[0], score.Text(*part))
		}
		compared += len(spelled(notes, length))
		hear(part)
		if recent = append(recent, part); len(recent) > latest {
			older.add(compose.Runs(recent[0], w.Ladder.Runs()))
			recent = recent[1:]
		}
		w.Recent = nil
		for _, p := range recent {
			w.Recent = append(w.Recent, compose.Lines(p, back)...)
		}
	}
	return compared
}
