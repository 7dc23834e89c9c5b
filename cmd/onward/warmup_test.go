package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"onward/cmd/internal/journal"
	"onward/compose/warmup"
	"onward/midi/file"
	"onward/midi/timeline"
	"onward/theory"
)

func TestWarmupFlags(t *testing.T) {
	for _, c := range []struct {
		args string
		want warmupOptions
	}{
		{"", warmupOptions{Minutes: 10, Out: "."}},
		{"--minutes 15 --key Eb --instrument tuba-bb --rung 7", warmupOptions{Minutes: 15, Key: "Eb", Instrument: "tuba-bb", Rung: 7, Out: "."}},
		{"--figures a.xml --figures mine --by-name --day 2026-11-25", warmupOptions{Minutes: 10, Figures: []string{"a.xml", "mine"}, ByName: true, Day: "2026-11-25", Out: "."}},
		{"--written --drone --click --out pages --json", warmupOptions{Minutes: 10, Written: true, Drone: true, Click: true, Out: "pages", JSON: true}},
	} {
		var got *warmupOptions
		path := ""
		cmd := newWarmup(&env{}, &path, func(o *warmupOptions) error { got = o; return nil })
		execute(t, cmd, c.args)
		if got != nil {
			got.given = nil
		}
		if got == nil || !reflect.DeepEqual(*got, c.want) {
			t.Errorf("warmup %s:\n got %+v\nwant %+v", c.args, got, c.want)
		}
	}
}

func TestWarmupRefusals(t *testing.T) {
	for _, c := range []struct{ args, want string }{
		{"--minutes 4", "--minutes 4: write 5 to 30"},
		{"--minutes 31", "--minutes 31: write 5 to 30"},
		{"--rung 13", "--rung 13: write 1 to 12"},
		{"--by-name --written", "choose one"},
		{"--drone", "add --written"},
		{"--click", "add --written"},
		{"--out pages", "--out is for the files: add --written"},
		{"--day today", `--day "today": write a date, as 2026-11-25`},
		{"--day 2026-02-30", "write a date"},
		{"--key H", "letter H is not A to G"},
		{"--instrument trumpt", "try trumpet"},
		{"--figures nobody", "no vocabulary is saved yet"},
		{"--figures no.musicxml", "exercises no.musicxml: no such file"},
		{"--rung 1 --key Gb", "choose another key, or a higher rung"},
		{"now", "unknown command"},
	} {
		s := newStage(t)
		code, out, err := s.run(append([]string{"warmup"}, strings.Fields(c.args)...)...)
		if code != exitRequest || !strings.Contains(err, c.want) || !strings.HasPrefix(err, "onward: ") || out != "" {
			t.Errorf("onward warmup %s: exit code %d, printed %q and %q, want code 2 and %q", c.args, code, out, err, c.want)
		}
		if kept := s.warmups(t); len(kept) > 0 {
			t.Errorf("onward warmup %s: %d were kept", c.args, len(kept))
		}
	}
}

// warmups lists what the stage's journal keeps.
func (s *stage) warmups(t *testing.T) []journal.Warmup {
	t.Helper()
	j, err := s.openJournal(t.Context(), "")
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	all, err := j.Warmups(t.Context(), 1000)
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// The words fit a screen of 80 by 24 with a line left for the prompt, whatever is asked.
func TestWarmupWordsFitTheScreen(t *testing.T) {
	s := newStage(t)
	seeds := uint64(0)
	s.random = func(n uint64) uint64 { seeds++; return seeds * 7919 % n }
	narrow, all := 0, 0
	for _, minutes := range []string{"5", "10", "30"} {
		for rung := 1; rung <= 12; rung++ {
			for _, in := range []string{"euphonium-tc", "tuba-bb"} {
				s.clock = s.clock.Add(24 * time.Hour)
				code, out, err := s.run("warmup", "--minutes", minutes, "--rung", fmt.Sprint(rung), "--instrument", in)
				if code != exitFine {
					t.Fatalf("rung %d: exit code %d: %s", rung, code, err)
				}
				lines := strings.Split(strings.TrimSuffix(out, "\n"), "\n")
				widest := 0
				for _, l := range lines {
					widest = max(widest, utf8.RuneCountInString(l))
				}
				if all++; widest <= 56 {
					narrow++
				}
				if len(lines) > 23 || widest > 79 {
					t.Errorf("rung %d, %s minutes, %s: %d lines of up to %d:\n%s", rung, minutes, in, len(lines), widest, out)
				}
			}
		}
	}
	if 2*narrow < all {
		t.Errorf("only %d of %d are narrow enough for large letters", narrow, all)
	}
}

// Day after day, by the clock of the machine: another key in turn, no line of the day
// before; asked again on the same day, the same words.
func TestWarmupIsNeverTheSameTwoDaysRunning(t *testing.T) {
	s := newStage(t)
	var before []uint64
	var last string
	for day := range 10 {
		code, out, fault := s.run("warmup", "--rung", "6")
		if code != exitFine || out == last {
			t.Fatalf("day %d: exit code %d, %s%s", day, code, out, fault)
		}
		if _, again, _ := s.run("warmup"); again != out {
			t.Errorf("day %d, asked again:\n%s\nwas\n%s", day, again, out)
		}
		kept := s.warmups(t)
		if len(kept) != day+1 || kept[0].Day != s.clock.Format(time.DateOnly) {
			t.Fatalf("day %d: %d are kept, the last of %s", day, len(kept), kept[0].Day)
		}
		for _, l := range kept[0].Lines {
			if slices.Contains(before, l) {
				t.Errorf("day %d has a line of an earlier day", day)
			}
		}
		before, last = append(before, kept[0].Lines...), out
		s.clock = s.clock.Add(24 * time.Hour)
	}
}

// The figures that were in the fewest warm-ups come first, then the least drilled.
func TestWarmupDrillsWeakFiguresFirst(t *testing.T) {
	s := newStage(t)
	sheet, total := "", 0
	for i, f := range []string{"four up/four sixteenths/4", "three up and return/four eighths/4", "triad up/eighth triplet/3", "four down/four eighths/4"} {
		parts := strings.Split(f, "/")
		times := 1 + 10*i
		notes := times * int(parts[2][0]-'0')
		total += notes
		sheet += fmt.Sprintf("[[figure]]\nshape = %q\ncell = %q\ncount = %d\nwithin = 0\nnotes = %d\n", parts[0], parts[1], times, notes)
	}
	sheet = fmt.Sprintf("version = 1\ntotal = %d\nexplained = %d\n", total, total) + sheet
	if err := os.WriteFile("mine.toml", []byte(sheet), 0o666); err != nil {
		t.Fatal(err)
	}
	var got []string
	for range 4 {
		code, out, fault := s.run("warmup", "--rung", "7", "--figures", "mine.toml", "--json")
		if code != exitFine {
			t.Fatalf("exit code %d: %s", code, fault)
		}
		var doc warmupDocument
		if err := json.Unmarshal([]byte(out), &doc); err != nil {
			t.Fatal(err)
		}
		for _, e := range doc.Exercises {
			if e.Figure != nil {
				got = append(got, e.Figure.Shape)
			}
		}
		s.clock = s.clock.Add(24 * time.Hour)
	}
	if all := slices.Compact(slices.Sorted(slices.Values(got))); len(got) != 4 || len(all) != 4 {
		t.Errorf("four figures in four days, none before all were: got %v", got)
	}
}

// The sound: a measure of clicks ahead of each time through; a drone whose fifth is seven
// semitones over the tonic, silent in the rests; with --click a click on every beat.
func TestWarmupSound(t *testing.T) {
	s := newStage(t)
	read := func(more ...string) (warmupDocument, *timeline.Timeline) {
		code, out, fault := s.run(append([]string{"warmup", "--rung", "8", "--json", "--written"}, more...)...)
		if code != exitFine {
			t.Fatalf("exit code %d: %s", code, fault)
		}
		var doc warmupDocument
		if err := json.Unmarshal([]byte(out), &doc); err != nil {
			t.Fatal(err)
		}
		text, err := os.ReadFile("warmup-" + doc.Day + bandSuffix)
		if err != nil {
			t.Fatal(err)
		}
		line, err := file.Read(bytes.NewReader(text))
		if err != nil {
			t.Fatal(err)
		}
		return doc, line
	}
	doc, line := read()
	drone, clicks := struckKeys(line)
	entries, beats := 0, 0
	for _, e := range doc.Exercises {
		entries += e.Times
		beats += e.Times * map[string]int{"2/4": 2, "3/4": 3, "4/4": 4, "6/8": 2}[e.Meter]
	}
	if clicks != beats {
		t.Errorf("%d clicks, want %d: a measure ahead of each of %d entries", clicks, beats, entries)
	}
	if len(drone) < 2*entries || len(drone)%2 != 0 {
		t.Errorf("%d drone notes for %d entries", len(drone), entries)
	}
	concert, err := theory.ParseKey(doc.Key.Concert)
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i+1 < len(drone); i += 2 {
		if drone[i+1]-drone[i] != 7 {
			t.Errorf("drone of %d and %d", drone[i], drone[i+1])
		}
	}
	if len(drone) > 0 && int(drone[0])%12 != concert.Tonic().Chroma() {
		t.Errorf("the drone begins on %d, the key is %s", drone[0], doc.Key.Concert)
	}
	if got, want := line.Duration(), time.Duration(doc.Seconds.Total)*time.Second; (got - want).Abs() > 2*time.Second {
		t.Errorf("the file lasts %v, the document says %v", got, want)
	}
	_, line = read("--click")
	drone, more := struckKeys(line)
	if len(drone) > 0 || more < 10*clicks/4 {
		t.Errorf("with --click: %d drone notes, %d clicks, %d without", len(drone), more, clicks)
	}
}

// struckKeys lists the keys struck on the drone's channel, and counts the clicks.
func struckKeys(t *timeline.Timeline) (drone []uint8, clicks int) {
	for _, e := range t.Events {
		switch {
		case e.Kind != timeline.NoteOn:
		case e.Channel == timeline.DrumsChannel:
			clicks++
		default:
			drone = append(drone, e.A)
		}
	}
	return drone, clicks
}

// TestWarmupOutside has an independent validator find the pages of two weeks valid against
// the MusicXML 4.0 schema (W3C).
func TestWarmupOutside(t *testing.T) {
	schema, err := filepath.Abs(outsideSchema)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(schema); err != nil {
		absent(t, "the MusicXML schema is not at ../shared/musicxml-schema")
	}
	xmllint := lookedFor(t, "xmllint", " (Debian: libxml2-utils)")
	s := newStage(t)
	args := []string{"--noout", "--nonet", "--schema", filepath.Join(schema, "musicxml.xsd")}
	for day := range 14 {
		for i, in := range []string{"euphonium-tc", "trombone", "tuba-bb", "alto-sax", "horn"} {
			out := fmt.Sprintf("%s-%d", in, day)
			rung := fmt.Sprint(1 + (day+3*i)%12)
			if code, _, fault := s.run("warmup", "--written", "--instrument", in, "--rung", rung, "--out", out); code != exitFine {
				t.Fatalf("%s, rung %s: exit code %d: %s", in, rung, code, fault)
			}
			args = append(args, filepath.Join(out, "warmup-"+s.clock.Format(time.DateOnly)+pageSuffix))
		}
		s.clock = s.clock.Add(24 * time.Hour)
	}
	lint := exec.Command(xmllint, args...)
	lint.Env = append(os.Environ(), "XML_CATALOG_FILES="+filepath.Join(schema, "catalog.xml"))
	if out, err := lint.CombinedOutput(); err != nil {
		t.Errorf("%v\n%s", err, out)
	}
	t.Logf("%d pages are valid", len(args)-4)
}

// The recipe of the request: key, pattern, rhythm, articulation, tempo and number of times,
// in words.
func TestWarmupRecipe(t *testing.T) {
	e := warmup.Exercise{Title: "Scale to the ninth and back", Rhythm: "eighths", Tongue: "slur two, tongue two", Tempo: 84, Times: 3}
	e.Meter.Beats, e.Meter.Unit = 4, 4
	e.Key.Fifths = -3
	if got, want := e.Recipe(), "E-flat: scale to the ninth and back; eighths, slur two, tongue two; quarter = 84; three times"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}
