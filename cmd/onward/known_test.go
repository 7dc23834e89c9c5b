package main

import (
	"encoding/json"
	"errors"
	"strings"
	"testing"
	"time"

	"onward/cmd/internal/journal"
	"onward/compose"
)

// knownNow is what figures --known lists, by figure and keys.
func knownNow(t *testing.T, s *stage) map[string]knownItem {
	t.Helper()
	var items []knownItem
	if err := json.Unmarshal([]byte(fine(t, s, "figures --known --json")), &items); err != nil {
		t.Fatal(err)
	}
	all := map[string]knownItem{}
	for _, k := range items {
		all[k.Shape+", on "+k.Cell+", in "+k.Keys] = k
	}
	return all
}

// Figures are known once they are learned, better after a take that has them, not after one
// that was left, and less as time goes by.
func TestKnownGrowsAndFades(t *testing.T) {
	s := newStage(t)
	inOrder(t, fine(t, s, "figures --known"), "nothing is known yet")
	writeDrill(t, "scales.musicxml")
	fine(t, s, "learn scales.musicxml --save warm-up")
	const figure = "four up, on four eighths, in 1 sign or none, major"
	first := knownNow(t, s)[figure]
	if first.Share <= 0 || first.Share >= 1 || first.Times == 0 || first.Last != s.clock {
		t.Fatalf("learned: %+v", first)
	}
	s.clock = s.clock.Add(24 * time.Hour)
	faded := knownNow(t, s)[figure]
	if faded.Share >= first.Share {
		t.Errorf("a day later it is known by %v, before by %v", faded.Share, first.Share)
	}
	const read = "read --figures warm-up --rung 6 --meter 2/4 --key F --seed 3 --instrument trombone --look-over 0"
	fine(t, s, read)
	played := knownNow(t, s)[figure]
	if played.Share <= first.Share || played.Times <= first.Times {
		t.Errorf("played it is known by %+v, learned by %+v", played, first)
	}
	s.report.Left = true
	s.run(strings.Fields(read)...)
	if left := knownNow(t, s)[figure]; left.Times != played.Times {
		t.Errorf("a take that was left taught it: %+v", left)
	}
	inOrder(t, fine(t, s, "figures --known"), "known", "last met", "keys", "figure\n", " %  ", "2026-03-02")
}

// A slip in a measure in which a figure stands is a slip of it, and what lies after the
// measure at which the player stopped was not played.
func TestKnownBySlips(t *testing.T) {
	f := metFigure{Times: 4, Measures: []int{0, 2, 2, 5}}
	for _, c := range []struct {
		marks          journal.Marks
		clean, slipped int
	}{
		{journal.Marks{StoppedAt: journal.NotStopped}, 4, 0},
		{journal.Marks{StoppedAt: journal.NotStopped, Slips: []journal.Slip{{Measure: 1, Pitch: true}}}, 4, 0},
		{journal.Marks{StoppedAt: journal.NotStopped, Slips: []journal.Slip{{Measure: 2, Pitch: true}, {Measure: 5, Rhythm: true}}}, 1, 3},
		{journal.Marks{StoppedAt: 2}, 1, 2},
		{journal.Marks{StoppedAt: 3, Slips: []journal.Slip{{Measure: 0, Rhythm: true}}}, 2, 1},
		{journal.Marks{StoppedAt: 0, Slips: []journal.Slip{{Measure: 0, Rhythm: true}}}, 0, 1},
	} {
		if clean, slipped := f.came(c.marks); clean != c.clean || slipped != c.slipped {
			t.Errorf("%+v: %d came, %d slipped; want %d and %d", c.marks, clean, slipped, c.clean, c.slipped)
		}
	}
	if clean, slipped := (&metFigure{Times: 3}).came(journal.Marks{StoppedAt: journal.NotStopped}); clean != 3 || slipped != 0 {
		t.Errorf("of exercises %d came, %d slipped; want 3 and 0", clean, slipped)
	}
}

// A marked take teaches less than one without slips.
func TestKnownLessAfterSlips(t *testing.T) {
	s := newStage(t)
	fine(t, s, "read --rung 4 --measures 8 --meter 2/4 --seed 3 --look-over 0")
	before := knownNow(t, s)
	take := takes(t, s)[0]
	j, err := s.openJournal(t.Context(), "")
	if err != nil {
		t.Fatal(err)
	}
	past, err := j.History(t.Context())
	if err != nil || len(past) != 1 || past[0].Measures < 8 || past[0].Style != "march" || past[0].Rung != 4 {
		t.Fatalf("%d takes, %v", len(past), err)
	}
	var loads []float64
	if err := json.Unmarshal(past[0].Loads, &loads); err != nil || len(loads) != past[0].Measures || loads[1] <= 0 {
		t.Errorf("loads %v, %v", loads, err)
	}
	m := journal.Marks{StoppedAt: journal.NotStopped}
	for i := range past[0].Measures { // the upbeat too
		m.Slips = append(m.Slips, journal.Slip{Measure: i, Rhythm: true})
	}
	if err := errors.Join(j.Mark(t.Context(), take.ID, m), j.Close()); err != nil {
		t.Fatal(err)
	}
	after := knownNow(t, s)
	if len(before) == 0 || len(after) != len(before) {
		t.Fatalf("%d figures known before, %d after", len(before), len(after))
	}
	for name, k := range after {
		if k.Share != 0 || !k.Last.IsZero() || before[name].Share == 0 {
			t.Errorf("%s: known by %v, before by %v", name, k.Share, before[name].Share)
		}
	}
}

// --figures known is all that the journal knows of, weighed by how well; it copies none of
// the exercises.
func TestReadOfWhatIsKnown(t *testing.T) {
	s := newStage(t)
	code, _, err := s.run("write", "--figures", "known")
	if code != exitRequest || !strings.Contains(err, "nothing is known yet") {
		t.Errorf("exit code %d: %s", code, err)
	}
	code, _, err = s.run("learn", "x.musicxml", "--save", "known")
	if code != exitRequest || !strings.Contains(err, "choose another") {
		t.Errorf("exit code %d: %s", code, err)
	}
	part := writeDrill(t, "scales.musicxml")
	fine(t, s, "learn scales.musicxml --save warm-up")
	const args = "write --json --figures known --rung 6 --meter 2/4 --seed 3 --instrument trumpet"
	var d, later compose.Document
	if err := json.Unmarshal([]byte(fine(t, s, args)), &d); err != nil {
		t.Fatal(err)
	}
	if d.Coverage == nil || *d.Coverage < 0.5 {
		t.Errorf("coverage %v", d.Coverage)
	}
	sharesNothing(t, &part, "march-r6-3.musicxml", d.Certificate.Length)
	s.clock = s.clock.Add(5 * 24 * time.Hour)
	if err := json.Unmarshal([]byte(fine(t, s, args+" --out later")), &later); err != nil {
		t.Fatal(err)
	}
	if later.Identity == d.Identity {
		t.Error("what is known five days later makes the same request")
	}
}
