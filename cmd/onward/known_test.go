package main

import (
	"encoding/json"
	"errors"
	"strings"
	"testing"
	"time"

	"onward/cmd/internal/journal"
	"onward/compose"
	"onward/compose/figure"
	"onward/theory"
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

// metInTakes counts the figures of the journal's takes, by figure and keys.
func metInTakes(t *testing.T, s *stage) map[string]int {
	t.Helper()
	j, err := s.openJournal(t.Context(), "")
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	past, err := j.History(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	met := map[string]int{}
	for _, take := range past {
		var figures []metFigure
		if err := json.Unmarshal(take.Figures, &figures); err != nil {
			t.Fatal(err)
		}
		for _, f := range figures {
			key, err := theory.ParseKey(f.Key)
			if err != nil {
				t.Fatal(err)
			}
			met[f.Shape+", on "+f.Cell+", in "+figure.FamilyOf(key).String()] += f.Times
		}
	}
	return met
}

// Figures are known once they are learned, better after takes that have them, not after one
// that was left, and less as time goes by.
func TestKnownGrowsAndFades(t *testing.T) {
	s := newStage(t)
	inOrder(t, fine(t, s, "figures --known"), "nothing is known yet")
	const like = " --rung 6 --meter 2/4 --key F --measures 32 --instrument trombone"
	fine(t, s, "write --seed 1"+like)
	fine(t, s, "learn march-r6-1.musicxml --save warm-up")
	learned, learnedAt := knownNow(t, s), s.clock
	s.clock = s.clock.Add(24 * time.Hour)
	faded := knownNow(t, s)
	const read = "read --figures warm-up --look-over 0" + like + " --seed "
	for _, seed := range []string{"3", "4", "5"} {
		fine(t, s, read+seed)
	}
	played, met := knownNow(t, s), metInTakes(t, s)
	grew := 0
	for figure, first := range learned {
		if first.Share <= 0 || first.Share >= 1 || first.Times == 0 || !first.Last.Equal(learnedAt) {
			t.Errorf("%s: learned: %+v", figure, first)
		}
		if faded[figure].Share >= first.Share {
			t.Errorf("%s: a day later it is known by %v, before by %v", figure, faded[figure].Share, first.Share)
		}
		now := played[figure]
		switch {
		case now.Times != first.Times+met[figure]:
			t.Errorf("%s: met %d times, then %d in takes, and %d in all", figure, first.Times, met[figure], now.Times)
		case met[figure] == 0 && now.Share > faded[figure].Share:
			t.Errorf("%s: it is known by %+v, before takes without it by %+v", figure, now, faded[figure])
		case met[figure] > 0 && now.Share <= first.Share:
			t.Errorf("%s: played it is known by %+v, learned by %+v", figure, now, first)
		case met[figure] > 0:
			grew++
		}
	}
	t.Logf("%d of %d figures grew", grew, len(learned))
	if len(learned) == 0 || grew == 0 {
		t.Errorf("%d figures are learned, and %d of them stand in reads of them", len(learned), grew)
	}
	s.report.Left = true
	s.run(strings.Fields(read + "6")...)
	for figure, left := range knownNow(t, s) {
		if left.Times != played[figure].Times {
			t.Errorf("%s: a take that was left taught it: %+v", figure, left)
		}
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
