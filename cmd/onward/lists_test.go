package main

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"
)

// Each list reads in 80 columns, and has as JSON as many things as there should be.
func TestLists(t *testing.T) {
	for _, c := range []struct {
		verb  string
		least int
		want  string // in the table
	}{
		{"styles", 2, "march "},
		{"instruments", 14, "euphonium-tc "},
		{"rungs", 12, "Six notes"},
		{"figures", 2, "triad up "},
		{"ports", 0, "no MIDI port"},
	} {
		s := newStage(t)
		_, out, _ := s.run(c.verb)
		if !strings.Contains(out, c.want) {
			t.Errorf("onward %s: no %q in\n%s", c.verb, c.want, out)
		}
		for _, l := range strings.Split(out, "\n") {
			if len([]rune(l)) > lineWidth || strings.HasSuffix(l, " ") {
				t.Errorf("onward %s: more than %d columns, or blanks at the end: %q", c.verb, lineWidth, l)
			}
		}
		code, out, _ := s.run(c.verb, "--json")
		var items any
		if err := json.Unmarshal([]byte(out), &items); err != nil || code != exitFine {
			t.Errorf("onward %s --json: exit code %d, %v", c.verb, code, err)
		}
		n := 0
		switch list := items.(type) {
		case []any:
			n = len(list)
		case map[string]any:
			n = len(list)
		}
		if n < c.least {
			t.Errorf("onward %s --json: %d things, want %d at least", c.verb, n, c.least)
		}
	}
}

func TestWrap(t *testing.T) {
	for text, want := range map[string][]string{
		"":                     {""},
		"one two three":        {"one two", "three"},
		"a-very-long-word one": {"a-very-long-word", "one"},
		"é é é é é":            {"é é é é", "é"},
	} {
		if got := wrap(text, 7); !slices.Equal(got, want) {
			t.Errorf("wrap(%q): got %q, want %q", text, got, want)
		}
	}
}

// The shell is offered what the flags take.
func TestCompletion(t *testing.T) {
	for flag, want := range map[string]string{
		"--style": "lyrical\t", "--instrument": "tuba-bb\t", "--rung": "12\t", "--form": "strain\t", "--meter": "6/8\n",
	} {
		s := newStage(t)
		if _, out, _ := s.run("__complete", "read", flag, ""); !strings.Contains(out, want) {
			t.Errorf("%s: no %q in %q", flag, want, out)
		}
	}
}

func TestQuote(t *testing.T) {
	for s, want := range map[string]string{"Bb": "Bb", "G minor": `"G minor"`, "F#": `"F#"`, "": `""`, `a"$b`: `"a\"\$b"`} {
		if got := quote(s); got != want {
			t.Errorf("quote(%q) = %s, want %s", s, got, want)
		}
	}
}
