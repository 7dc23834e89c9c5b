package main

import (
	"encoding/json"
	"strings"
	"testing"

	"onward/compose"
)

// What is asked of how much is known is met, said, told in the document, and asked again by
// the command that makes the read again; traps are only counted.
func TestAims(t *testing.T) {
	s := newStage(t)
	out := fine(t, s, "write --rung 8 --form strain --coverage 90% --traps 1 --new 1 --seed 4")
	out = strings.Join(strings.Fields(out), " ")
	inOrder(t, out, "asked 90 % of the notes in known figures: it has ", "1 trap: it has 1", "1 new figure: it has ", "--coverage 0.9 --traps 1 --new 1 --seed 4")
	var d compose.Document
	if err := json.Unmarshal(load(t, "march-r8-4.json"), &d); err != nil {
		t.Fatal(err)
	}
	if a := d.Aims; a == nil || a.Coverage.Asked != 0.9 || a.Traps.Asked != 1 || a.Traps.Had != len(d.Traps) || a.New.Had != len(a.Figures) {
		t.Errorf("aims %+v", d.Aims)
	}
	if !strings.Contains(d.Identity.Request, " coverage=0.9 traps=1 new=1") {
		t.Errorf("identity %s", d.Identity.Request)
	}
	for _, trap := range d.Traps {
		if strings.Contains(out, trap.Words) {
			t.Errorf("the trap is given away: %s", out)
		}
	}
	if again := fine(t, s, "write --rung 8 --form strain --coverage 0.9 --traps 1 --new 1 --seed 4 --out again"); !strings.Contains(again, "a repeat of your read") {
		t.Errorf("the same aims made another read:\n%s", again)
	}
	if a, b := load(t, "march-r8-4.musicxml"), load(t, "again/march-r8-4.musicxml"); string(a) != string(b) {
		t.Error("the page was made otherwise")
	}
	if plain := fine(t, s, "write --rung 8 --form strain --seed 4 --out plain"); strings.Contains(plain, "asked ") || strings.Contains(plain, "a repeat") {
		t.Errorf("without aims:\n%s", plain)
	}
}

func TestAimsRefused(t *testing.T) {
	s := newStage(t)
	for args, want := range map[string]string{
		"write --coverage 1.2":                  `--coverage "1.2": write 0 to 1, or 0% to 100%`,
		"write --coverage NaN":                  `--coverage "NaN": write 0 to 1`,
		"write --traps -1":                      `--traps "-1": write 0 to 32`,
		"write --new x":                         `--new "x": write 0 to 32`,
		"write --rung 5 --traps 1":              "rung 5 has no traps yet; rung 7 brings them",
		"read --piece a.musicxml --coverage .5": "--coverage with --piece: it is for fresh reads",
	} {
		if code, _, err := s.run(strings.Fields(args)...); code != exitRequest || !strings.Contains(err, want) {
			t.Errorf("%s: exit %d, %q; want %q", args, code, err, want)
		}
	}
}
