package main

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

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
