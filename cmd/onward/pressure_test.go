package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"

	"onward/cmd/internal/journal"
	"onward/compose/progress"
	"onward/midi/band"
	"onward/midi/file"
)

// The steps of pressure rise as the ladder that proposes them takes them, and each can be
// asked for by name and says what it asks.
func TestPressuresRise(t *testing.T) {
	var names []string
	for _, p := range pressures {
		names = append(names, p.name)
		var o pressureOptions
		if p.asked(&o) || o.kinds() != nil || len(o.words()) > 0 || len(o.again()) > 0 {
			t.Errorf("%s: without pressure there is %v", p.name, o.kinds())
		}
		if err := o.press([]string{p.name}); err != nil || !p.asked(&o) || !slices.Equal(o.kinds(), []string{p.name}) || len(o.words()) != 1 {
			t.Errorf("%s: asked for by name: %+v, %v", p.name, o, err)
		}
	}
	if !slices.Equal(names, progress.Pressures) {
		t.Errorf("the steps are %v, those of the ladder %v", names, progress.Pressures)
	}
	o := pressureOptions{Company: company(band.Counter)}
	if err := o.press([]string{journal.Panel, journal.Company, journal.Cold}); err != nil || fmt.Sprint(o.kinds()) != "[cold company panel]" || o.Company != company(band.Counter) {
		t.Errorf("three at once: %+v, %v", o, err)
	}
	if err := o.press([]string{"crowd"}); err == nil || !strings.Contains(err.Error(), "want one of cold, drop-out") {
		t.Errorf("an unknown one: %v", err)
	}
}

// Company and a band that drops out change the band alone: page and identity stay.
func TestPressureIsNoPartOfTheRead(t *testing.T) {
	s := newStage(t)
	const song = "write --style lyrical --rung 5 --seed 3 --measures 16 "
	fine(t, s, song)
	page, tune, plain := load(t, "lyrical-r5-3.musicxml"), load(t, "lyrical-r5-3.mid"), load(t, "lyrical-r5-3.json")
	if bytes.Contains(plain, []byte(`"take"`)) {
		t.Errorf("a plain read's document speaks of its take")
	}
	for _, flags := range []string{"--drop-out", "--company", "--company=counter"} {
		inOrder(t, fine(t, s, song+flags), "a repeat of your read", flags+" --seed 3\n")
		if !bytes.Equal(page, load(t, "lyrical-r5-3.musicxml")) {
			t.Errorf("%s: the page is another", flags)
		}
		if bytes.Equal(tune, load(t, "lyrical-r5-3.mid")) {
			t.Errorf("%s: the band is the same", flags)
		}
	}
	fine(t, s, song+"--company=off")
	if !bytes.Equal(tune, load(t, "lyrical-r5-3.mid")) || !bytes.Equal(plain, load(t, "lyrical-r5-3.json")) {
		t.Error("without pressure again: the band or the document is another")
	}
}

// rests reads where the document says that the band drops out.
func rests(t *testing.T, name string) takeDocument {
	t.Helper()
	var d struct{ Take takeDocument }
	if err := json.Unmarshal(load(t, name), &d); err != nil {
		t.Fatal(err)
	}
	return d.Take
}

// Where the band rests is told after the take and in the document, not before.
func TestDropOutIsToldAfterwards(t *testing.T) {
	s := newStage(t)
	out := fine(t, s, "read --out . --style march --form strain --rung 4 --seed 5 --drop-out")
	d := rests(t, "march-r4-5.json")
	if len(d.Rests) == 0 || d.Percent != 100 || d.Company != "" {
		t.Fatalf("document: %+v", d)
	}
	told := fmt.Sprintf("the band   rested in %d to %d", d.Rests[0].From, d.Rests[0].To)
	inOrder(t, out, "take       the band rests for some measures and comes back in time", "Look it over:", "The end.", told,
		"--drop-out --seed 5\n")
	before, _, _ := strings.Cut(out, "The end.")
	if strings.Contains(before, "rested") || strings.Contains(before, fmt.Sprintf(" %d to %d", d.Rests[0].From, d.Rests[0].To)) {
		t.Errorf("it is told ahead of the take:\n%s", before)
	}
	if all := takes(t, s); len(all) != 1 || fmt.Sprint(all[0].Pressure) != "[drop-out]" {
		t.Errorf("takes %+v", all)
	}
}

func TestRestWords(t *testing.T) {
	s := newStage(t)
	fine(t, s, "write --style march --form march --rung 5 --seed 1 --drop-out")
	d := rests(t, "march-r5-1.json")
	if len(d.Rests) < 2 {
		t.Fatalf("document: %+v", d)
	}
	out := fine(t, s, "read --out . --style march --form march --rung 5 --seed 1 --drop-out")
	last := d.Rests[len(d.Rests)-1]
	words := fmt.Sprintf(" and in %d to %d", last.From, last.To)
	if last.Pass > 1 {
		words += " the second time"
	}
	_, after, _ := strings.Cut(out, "The end.")
	if flat := strings.Join(strings.Fields(after), " "); !strings.Contains(flat, "the band rested in ") || !strings.Contains(flat, words) {
		t.Errorf("no %q in\n%s", words, after)
	}
}

// Cold there is the page's path and then the count-in: nothing to look for, no key, no
// waiting.
func TestColdShowsThePageAlone(t *testing.T) {
	s := newStage(t)
	began := s.clock
	out := fine(t, s, "read --rung 4 --seed 7 --measures 8 --cold")
	inOrder(t, out, "march, rung 4, seed 7\n", "page ", "march-r4-7.musicxml\n", "sound ", "tonic chord\n", "The end.", "--cold --seed 7\n")
	before, _, _ := strings.Cut(out, "tonic chord")
	for _, hint := range []string{"Look it over", "clef", "meter", "for  ", "new here", "count-in comes", "take  "} {
		if strings.Contains(before, hint) {
			t.Errorf("%q stands ahead of the count-in:\n%s", hint, before)
		}
	}
	if passed := s.clock.Sub(began); passed != s.rolls[0].End {
		t.Errorf("it took %v, the take alone takes %v", passed, s.rolls[0].End)
	}
	if all := takes(t, s); len(all) != 1 || fmt.Sprint(all[0].Pressure) != "[cold]" {
		t.Errorf("takes %+v", all)
	}
}

// A panel hears a read once, after one look-over, and what it heard is sealed until it is
// marked.
func TestPanelHearsAReadOnce(t *testing.T) {
	s := newStage(t)
	out := fine(t, s, "read --rung 4 --seed 7 --measures 8 --panel --company")
	inOrder(t, out, "take       another part plays beside you", "as before a jury", "the count-in comes in 30s\n", "The end.", "panel      one take, and this was it.")
	if strings.Contains(out, "onward read") {
		t.Errorf("it says how to play it again:\n%s", out)
	}
	if all := takes(t, s); len(all) != 1 || fmt.Sprint(all[0].Pressure) != "[panel company]" {
		t.Errorf("takes %+v", all)
	}
	page := load(t, "reads/march-r4-7.musicxml")
	for _, again := range []string{"read --rung 4 --seed 7 --measures 8 --panel", "read --again 1 --panel"} {
		code, printed, err := s.run(strings.Fields(again)...)
		if code != exitRequest || !strings.Contains(err, "a panel hears a read once: leave --panel out, or ask for another read") || printed != "" {
			t.Errorf("%s: exit code %d, %q, %q", again, code, printed, err)
		}
	}
	if len(s.rolls) != 1 || !bytes.Equal(page, load(t, "reads/march-r4-7.musicxml")) || len(pages(t, "reads")) != 3 {
		t.Errorf("%d takes, files %v", len(s.rolls), pages(t, "reads"))
	}
	fine(t, s, "read --rung 4 --seed 7 --measures 8")
	fine(t, s, "write --rung 4 --seed 8 --measures 8")
	if code, _, err := s.run(strings.Fields("read --rung 4 --seed 8 --measures 8 --panel")...); code != exitRequest {
		t.Errorf("a page that was written before: exit code %d, %s", code, err)
	}
	fine(t, s, "read --rung 4 --measures 8 --panel")
}

// All pressures go together, with another tempo, and the company's sound is the player's
// own.
func TestAllPressuresTogether(t *testing.T) {
	s := newStage(t)
	out := fine(t, s, "read --out . --instrument horn --rung 5 --seed 9 --measures 16 --slower 80% --cold --drop-out --company=counter --panel")
	if strings.Contains(out, "Look it over") {
		t.Errorf("cold, and yet\n%s", out)
	}
	all := takes(t, s)
	if want := []string{journal.Panel, journal.DropOut, journal.Cold, journal.Company}; len(all) != 1 || !reflect.DeepEqual(all[0].Pressure, want) || all[0].Percent != 80 {
		t.Errorf("takes %+v, want %v", all, want)
	}
	d := rests(t, "march-r5-9.json")
	if d.Company != "counter" || len(d.Rests) == 0 || d.Percent != 80 {
		t.Errorf("document: %+v", d)
	}
	text, err := os.ReadFile("march-r5-9.mid")
	if err != nil {
		t.Fatal(err)
	}
	line, err := file.Read(bytes.NewReader(text))
	if err != nil || !slices.Contains(line.Tracks, "Company") || slices.Contains(line.Tracks, "Horn in F") {
		t.Errorf("tracks %v, %v", line.Tracks, err)
	}
}
