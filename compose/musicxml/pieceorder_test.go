package musicxml

import (
	"fmt"
	"strings"
	"testing"
)

// signsOf reads measures of a word of signs each: |: and :| repeats, :|3 one of three times,
// [1 [1,2 an ending begins, - it goes on, S segno, Q coda, q a coda sign, tc to coda, DC DS
// D.C. and D.S., f al Fine, c al Coda, fine, again repeats after jumps, . nothing.
func signsOf(t *testing.T, text string) []PieceMeasure {
	t.Helper()
	var all []PieceMeasure
	for i, word := range strings.Fields(text) {
		m := PieceMeasure{Number: i + 1, Label: fmt.Sprint(i + 1)}
		s := &m.signs
		for _, sign := range strings.Split(word, "/") {
			switch {
			case sign == ".":
			case sign == "|:":
				s.start = true
			case strings.HasPrefix(sign, ":|"):
				s.back = true
				fmt.Sscanf(sign, ":|%d", &s.times)
			case strings.HasPrefix(sign, "["):
				for _, n := range strings.Split(sign[1:], ",") {
					s.endings = append(s.endings, int(n[0]-'0'))
				}
				s.opens = true
			case sign == "-":
				s.endings = all[i-1].signs.endings
			case sign == "S":
				s.segno = unnamed
			case sign == "Q":
				s.coda = unnamed
			case sign == "q":
				s.codaSign = true
			case sign == "tc":
				s.toCoda = unnamed
			case sign == "DC":
				s.daCapo = true
			case sign == "DS":
				s.dalSegno = unnamed
			case sign == "f":
				s.toFine = true
			case sign == "c":
				s.alCoda = true
			case sign == "fine":
				s.fine = true
			case sign == "again":
				s.again = true
			default:
				t.Fatalf("sign %q", sign)
			}
		}
		all = append(all, m)
	}
	return all
}

// The order of measures, as players read it (common practice; no source says all of it).
func TestUnfoldPiece(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{". . .", "1 2 3"},
		{". :| .", "1 2 1 2 3"},
		{". |: :| .", "1 2 3 2 3 4"},
		{":|3 .", "1 1 1 2"},
		{":|1 .", "1 2"},
		{". :| . :| .", "1 2 1 2 3 4 3 4 5"},
		{". [1/:| [2 .", "1 2 1 3 4"},
		{". [1 -/:| [2 - .", "1 2 3 1 4 5 6"},
		{". [1,2/:| [3 .", "1 2 1 2 1 3 4"},
		{". [1/:| [2/:| [3 .", "1 2 1 3 1 4 5"},
		{". [1,3/:| [2/:| .", "1 2 1 3 1 2 4"},
		{". [1/:| .", "1 2 1 3"},
		{". [1/:| [2 |: [1/:| [2", "1 2 1 3 4 5 4 6"},
		{". [1/:| [2 . :| .", "1 2 1 3 4 5 4 5 6"},
		{". [1 [2 .", "1 2 3 4"}, // no repeat leads back: each is played
		{". [1 |:/-/:| -/:| |:/[2/:| - .", "1 2 3 3 4 1 5 5 6 7"},
		{". fine . DC/f .", "1 2 3 4 1 2"},
		{". fine . DC .", "1 2 3 4 1 2"},
		{". S . fine DS/f", "1 2 3 4 5 2 3 4"},
		{". S tc . DS/c Q .", "1 2 3 4 5 2 3 6 7"},
		{". S q . DS/c q .", "1 2 3 4 5 2 3 6 7"},
		{". tc fine DC/f Q", "1 2 3 4 1 2 3"},  // al Fine: "to coda" does not count
		{"fine tc . DC/c Q", "1 2 3 4 1 2 5"},  // al Coda: Fine does not
		{"|: :| fine DC", "1 2 1 2 3 4 1 2 3"}, // no repeats after the jump
		{"|: :|/again fine DC", "1 2 1 2 3 4 1 2 1 2 3"},
		{"|: [1/:| [2 fine DC", "1 2 1 3 4 5 1 3 4"},                     // the last ending alone
		{". S . :| tc DS/c Q :|", "1 2 3 4 1 2 3 4 5 6 2 3 4 5 7 8 7 8"}, // repeats of the coda are played
		{". DS .", "1 2 3"},                                              // no segno
		{". S DS . DS", "1 2 3 2 3 4 5 2 3 4 5"},
		{". tc DC", "1 2 3 1 2 3"}, // no coda
	} {
		order, err := unfold(signsOf(t, c.text))
		if err != nil {
			t.Errorf("%s: %v", c.text, err)
			continue
		}
		var got []string
		for _, o := range order {
			got = append(got, fmt.Sprint(o.Index+1))
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.text, strings.Join(got, " "), c.want)
		}
	}
}

// However signs stand, the piece ends, and without jumps each measure is played.
func TestUnfoldAlwaysEnds(t *testing.T) {
	words := []string{".", "|:", ":|", ":|3", "[1", "[2", "[1,2", "-", "S", "Q", "q", "tc", "DC", "DS", "fine", "again", "|:/:|", "[1/:|", "[2/:|", "[3", "DS/c", "DC/f", "|:/[1"}
	state := uint32(1)
	for round := range 20_000 {
		var text []string
		plain := true
		for range 2 + round%8 {
			state = state*1664525 + 1013904223
			w := words[int(state>>8)%len(words)]
			if w == "-" && (len(text) == 0 || !strings.ContainsAny(text[len(text)-1], "[-")) {
				w = "."
			}
			plain = plain && !strings.ContainsAny(w, "SQqtDf")
			text = append(text, w)
		}
		measures := signsOf(t, strings.Join(text, " "))
		order, err := unfold(measures)
		if err != nil || len(order) == 0 {
			t.Fatalf("%v: %d measures, %v", text, len(order), err)
		}
		seen := map[int]bool{}
		for _, o := range order {
			seen[o.Index] = true
		}
		if plain && len(seen) < len(measures) {
			t.Fatalf("%v: only %d of %d measures are played: %v", text, len(seen), len(measures), order)
		}
	}
}

// Marks are found as by looking through all of them: the first of the label, else the
// nearest.
func TestFindMarks(t *testing.T) {
	labels := []string{"", unnamed, "a", "A", "b"}
	state := uint32(7)
	draw := func(n int) int {
		state = state*1664525 + 1013904223
		return int(state>>8) % n
	}
	for range 2000 {
		var all []string
		var m marks
		for i := range 1 + draw(6) {
			all = append(all, labels[draw(len(labels))])
			m.add(i, all[i])
		}
		label, from := labels[1+draw(len(labels)-1)], draw(len(all))
		before, behind := -1, -1
		for i := len(all) - 1; i >= 0; i-- {
			switch {
			case all[i] == "":
			case i > from:
				behind = i
			case before < 0:
				before = i
			}
		}
		for i := len(all) - 1; i >= 0; i-- {
			if label != unnamed && strings.EqualFold(all[i], label) {
				before, behind = i, i
			}
		}
		if b, c := m.find(label, from); b != before || c != behind {
			t.Fatalf("%q, label %q from %d: %d and %d, want %d and %d", all, label, from, b, c, before, behind)
		}
	}
}
